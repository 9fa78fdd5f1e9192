"""Which environments of a drawn section are the cabinet's air, in which zone, and which are the room's."""

from collections.abc import Sequence

from fdm.cabinet.model import Cabinet
from fdm.cabinet.section_file import SectionFile

INSIDE, OUTSIDE = "inside", "outside"


def zone_at(cabinet: Cabinet, file: SectionFile) -> str:
    """The zone that a section's inner side is in: the thermostat's, that of a line or point, or else the load's."""
    if file == cabinet.thermostat.file:
        return cabinet.thermostat_zone
    return next((x.zone for x in cabinet.losses if x.file == file and x.zone is not None), cabinet.load_zone)


def sides_said(file: SectionFile, inside: Sequence[str], outside: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """The environments of a section that are named as inside, and as outside."""
    names = [e.name for e in file.section.environments]
    return {
        INSIDE: tuple(n for n in names if n in inside and n not in outside),
        OUTSIDE: tuple(n for n in names if n in outside and n not in inside),
    }


def sides_of(cabinet: Cabinet, file: SectionFile) -> dict[str, tuple[str, ...]]:
    """Which environments of a section are the cabinet's air, and which the room's: as said where it is named, or by the
    names that the modules' and the thermostat's sections give them. Empty where that leaves any open."""
    bank, t = cabinet.bank, cabinet.thermostat
    said = [(bank.inside, bank.outside)] if file == bank.file else []
    said += [(sink.inside, sink.outside) for sink in bank.plates.values() if sink.file == file]
    said += [(t.inside, t.outside)] if file == t.file else []
    said += [(x.inside, x.outside) for x in cabinet.losses if x.file == file and (x.inside or x.outside)]
    sides = sides_said(file, *(said[0] if said else ((*bank.inside, *t.inside), (*bank.outside, *t.outside))))
    return sides if len(file.section.environments) == sum(map(len, sides.values())) else {}
