"""A section that a cabinet takes something of, and which of its fixed terminals are the cabinet's air or the room's."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from fdm.cabinet.checks import require_known
from fdm.errors import InputError
from fdm.section.model import Section


@dataclass(frozen=True)
class SectionFile:
    """A section, and the file, overrides, moves of uncertain numbers and `altitude` (m) of the cabinet that it comes
    from: two uses of the same are solved once. One that is `made` of a bolt through a wall has no file: its path says
    what it is, and `moved` holds all of its numbers."""

    path: str
    let: tuple[tuple[str, str], ...]
    section: Section = field(compare=False)
    moved: tuple[tuple[str, float], ...] = ()
    made: bool = False
    altitude: float = 0.0


def check_sides(
    where: str, file: SectionFile, inside: tuple[str, ...], outside: tuple[str, ...], held: Sequence[str] = ()
) -> None:
    """Raises InputError unless every fixed terminal of the section is named as the cabinet's air, or as the room's, but
    for the `held` ones."""
    names = [name for name in file.section.fixed_names if name not in held]
    for key, group in (("inside", inside), ("outside", outside)):
        for name in group:
            require_known(f"{where}, {key}", name, names, f"environment of {file.path}")
    for name in names:
        if (name in inside) == (name in outside):
            raise InputError(f"{where}: {name!r} of {file.path} must be named in exactly one of inside and outside")
