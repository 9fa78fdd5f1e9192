"""What loses heat beside the walls: linear and point bridges, given or from a drawn section, and lids and doors."""

from dataclasses import dataclass

from fdm.cabinet.checks import require_count, require_known, require_not_negative, require_positive
from fdm.cabinet.section_file import SectionFile, check_sides
from fdm.errors import InputError, require_visible


@dataclass(frozen=True)
class LineLoss:
    """A linear bridge or a seal: `length` (m) times psi, W/(m K), given or from a section's bridge."""

    name: str
    length: float
    psi: float | None = None
    file: SectionFile | None = None
    bridge: str | None = None
    inside: tuple[str, ...] = ()  # environments of the section that are the cabinet's air, and the room's; none: those
    outside: tuple[str, ...] = ()  # that have the names of the modules' and the thermostat's
    zone: str | None = None  # of air inside; as the walls lie, if left out

    def __post_init__(self) -> None:
        where = f"line {self.name!r}"
        require_visible(where, self.name)
        require_positive(f"{where}, length", self.length)
        _check_loss(where, "psi", self.psi, self.file)
        if self.file is not None:
            _check_bridge(where, "psi", ("section",), self.file, self.bridge)
        _check_named_sides(where, self.file, self.inside, self.outside)


@dataclass(frozen=True)
class PointLoss:
    """Point bridges: `count` times chi, W/K, given or from an axisymmetric section's bridge."""

    name: str
    count: int
    chi: float | None = None
    file: SectionFile | None = None
    bridge: str | None = None
    inside: tuple[str, ...] = ()  # environments of the section that are the cabinet's air, and the room's; none: those
    outside: tuple[str, ...] = ()  # that have the names of the modules' and the thermostat's
    zone: str | None = None

    def __post_init__(self) -> None:
        where = f"point {self.name!r}"
        require_visible(where, self.name)
        require_count(f"{where}, count", self.count)
        _check_loss(where, "chi", self.chi, self.file)
        if self.file is not None:
            _check_bridge(where, "chi", ("axisymmetric", "plate"), self.file, self.bridge)
        _check_named_sides(where, self.file, self.inside, self.outside)


@dataclass(frozen=True)
class Opening:
    """A lid or a door: how often a day it is opened, and the share of the air inside that is then replaced by the
    room's."""

    name: str
    a_day: float
    share: float
    zone: str | None = None  # whose air is lost; that of all zones alike, if left out

    def __post_init__(self) -> None:
        where = f"opening {self.name!r}"
        require_visible(where, self.name)
        require_not_negative(f"{where}, a_day", self.a_day)
        if not 0 <= self.share <= 1:
            raise InputError(f"{where}, share: {self.share!r} is not a share of the air inside, from 0 to 1")

    @property
    def changes(self) -> float:
        """Of the inside air with the room's, per hour, on average."""
        return self.a_day * self.share / 24


def _check_loss(where: str, symbol: str, value: float | None, file: SectionFile | None) -> None:
    if (value is None) == (file is None):
        raise InputError(f"{where}: give exactly one of {symbol} and section")
    if value is not None:
        require_not_negative(f"{where}, {symbol}", value)


def _check_bridge(where: str, symbol: str, views: tuple[str, ...], file: SectionFile, bridge: str | None) -> None:
    """The section of a loss has a view that gives this kind of loss, and the bridge that is named."""
    if file.section.view not in views:
        raise InputError(
            f"{where}, section: {file.path} has the view {file.section.view!r}, but {symbol} needs {views[0]!r}"
        )
    names = [b.name for b in file.section.bridges]
    if bridge is None:
        raise InputError(
            f"{where}, bridge: missing; name the bridge of {file.path} to count: "
            f"{', '.join(map(repr, names)) or 'it has none'}"
        )
    require_known(f"{where}, bridge", bridge, names, f"bridge of {file.path}")


def _check_named_sides(where: str, file: SectionFile | None, inside: tuple[str, ...], outside: tuple[str, ...]) -> None:
    """The sides of a loss's section, if they are named at all."""
    if inside or outside:
        if file is None:
            raise InputError(f"{where}, {'inside' if inside else 'outside'}: belongs to a section, and none is given")
        check_sides(where, file, inside, outside)
