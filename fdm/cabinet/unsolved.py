"""What solving a cabinet would refuse or warn of, in words and without solving it."""

from collections.abc import Mapping
from dataclasses import dataclass

from fdm.answers.kinds import solved
from fdm.answers.network import Network
from fdm.cabinet.doubts import doubts_before_answers
from fdm.cabinet.model import Cabinet
from fdm.cabinet.nodes import nodes_of
from fdm.cabinet.pulldown import require_capacities
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import LumpedSection, heat_capacities
from fdm.conduction.systems import conduction_system
from fdm.errors import in_file
from fdm.grid.lines import first_lines
from fdm.section.model import UNITS
from fdm.solving.check import check_section
from fdm.surroundings import moist


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
    point = float(moist.settling_point(cabinet.room_pressure)) if cabinet.moist else 0.0
    air = f"; {'frost' if point < 0 else 'dew'} point {point:.3g} degC" if cabinet.moist else ""
    size = " x ".join(f"{v / u:g}" for v in cabinet.inside)
    lines = [
        cabinet.title,
        f"  {size} {unit} inside; room {cabinet.room:g} degC{air}, setpoint {cabinet.setpoint:g} degC",
        f"  walls: {', '.join(w.name for w in cabinet.walls)}",
        *([f"  air in zones: {', '.join(z.name for z in cabinet.zones)}"] if cabinet.zones else []),
        f"  {modules} module{'s' if modules > 1 else ''}",
    ]
    of_sections = {}
    for file, use in sections.items():
        with in_file(file.path):
            check = check_section(file.section)
        lines += [f"{file.path}, for {use}:", *(f"  {line}" for line in check.text.splitlines())]
        of_sections[file] = check.warnings
    coarse = _on_first_grids(cabinet)
    lacking = dict.fromkeys(w for lumped in coarse.values() for w in lumped.warnings)
    require_capacities(nodes_of(cabinet, coarse))
    return CabinetCheck("\n".join(lines), doubts_before_answers(cabinet, of_sections, lacking), sections)


def _uses(cabinet: Cabinet) -> dict[SectionFile, str]:
    """By section, what the cabinet takes from it."""
    names = [*(line.name for line in cabinet.lines), *(point.name for point in cabinet.points)]
    sinks = [f"the {key.replace('_', ' ')}" for key in cabinet.bank.plates]
    uses: dict[SectionFile, str] = {}
    for file, use in zip(cabinet.section_files, [*names, "the modules", "the thermostat", *sinks]):
        if file is not None:
            uses[file] = f"{uses[file]}, {use}" if file in uses else use
    return uses


def _on_first_grids(cabinet: Cabinet) -> dict[SectionFile, LumpedSection]:
    """The modules' section and their plates by first grids, for what their terminals store, with warnings of what is
    left out."""
    out = {}
    for file in (cabinet.bank.file, *(sink.file for sink in cabinet.bank.plates.values())):
        if file is not None:
            section = file.section.unasked
            grid = solved(conduction_system(section, *first_lines(section)))
            values = grid.answers.network
            stored, warnings = heat_capacities(grid, values)
            out[file] = LumpedSection(
                Network(section.fixed_names, section.heat_names, (), values, values), {}, stored, warnings
            )
    return out
