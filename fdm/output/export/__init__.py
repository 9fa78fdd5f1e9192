"""Answers for other programs.

- JSON: plain data, Python's own types only, temperatures in degC, all else in SI units, and None for what is not finite
  (`json_file`, `budget`, `inference`, `networks`; `fdm.solving.result` and `fdm.cabinet.result`).
- CSV: matrices with names for rows and columns, and curves over time (`networks`, `cabinet_result`).
- Mesh files: the solid cells with their temperatures and fluxes (`mesh`).
- A section file, of the section that is made of a bolt through layers (`section_file`).
- SPICE netlists: heat flows as current does (`spice`), with

      1 V = 1 degC,   1 A = 1 W,   1 ohm = 1 K/W,   1 F = 1 J/K.

Every file is written beside its place first and then moved there, so that none is ever left half written.
"""
