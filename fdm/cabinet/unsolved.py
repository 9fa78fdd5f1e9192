"""What solving a cabinet would refuse or warn of, in words and without solving it."""

from collections.abc import Mapping
from dataclasses import dataclass

from fdm.answers.kinds import solved
from fdm.cabinet.circuit import nodes_of
from fdm.cabinet.model import Cabinet, SectionFile
from fdm.cabinet.plausible import implausible_figures
from fdm.cabinet.pulldown import require_capacities
from fdm.cabinet.sections import heat_capacities
from fdm.cabinet.solution import open_faces
from fdm.conduction.systems import conduction_system
from fdm.errors import in_file
from fdm.grid.lines import first_lines
from fdm.section.model import UNITS
from fdm.solving.check import check_section


@dataclass(frozen=True)
class CabinetCheck:
    """What would be solved, the warnings, and the sections that the cabinet names, each once, with what they are used
    for."""

    text: str
    warnings: tuple[str, ...]
    sections: Mapping[SectionFile, str]


def check_cabinet(cabinet: Cabinet) -> CabinetCheck:
    """What `solve_cabinet` would solve and warn of, but for warnings that need the answers. Raises InputError where it
    would, with the section's path before what is wrong in it."""
    sections = _uses(cabinet)
    unit, u, modules = cabinet.unit, UNITS[cabinet.unit], cabinet.bank.supply.modules
    size = " x ".join(f"{v / u:g}" for v in cabinet.inside)
    lines = [
        cabinet.title,
        f"  {size} {unit} inside; room {cabinet.room:g} degC, setpoint {cabinet.setpoint:g} degC",
        f"  walls: {', '.join(w.name for w in cabinet.walls)}",
        f"  {modules} module{'s' if modules > 1 else ''}",
    ]
    warnings: list[str] = []
    for file, use in sections.items():
        with in_file(file.path):
            check = check_section(file.section)
        lines += [f"{file.path}, for {use}:", *(f"  {line}" for line in check.text.splitlines())]
        warnings += [f"{file.path}: {w}" for w in check.warnings]
    stored, lacking = _stored(cabinet)
    require_capacities(nodes_of(cabinet, stored))
    return CabinetCheck(
        "\n".join(lines), (*implausible_figures(cabinet), *warnings, *lacking, *open_faces(cabinet)), sections
    )


def _uses(cabinet: Cabinet) -> dict[SectionFile, str]:
    """By section, what the cabinet takes from it."""
    names = [*(line.name for line in cabinet.lines), *(point.name for point in cabinet.points)]
    uses: dict[SectionFile, str] = {}
    for file, use in zip(cabinet.section_files, [*names, "the modules", "the thermostat"]):
        if file is not None:
            uses[file] = f"{uses[file]}, {use}" if file in uses else use
    return uses


def _stored(cabinet: Cabinet) -> tuple[dict[str, float], tuple[str, ...]]:
    """What the terminals of the modules' section store, J/K, by a first grid, and warnings of what is left out."""
    file = cabinet.bank.file
    if file is None:
        return {}, ()
    grid = solved(conduction_system(file.section.unasked, *first_lines(file.section.unasked)))
    return heat_capacities(grid, grid.answers.network)
