"""What loses heat beside the walls: linear and point bridges, given or from a drawn section, and lids and doors."""

from dataclasses import dataclass

from fdm.cabinet.checks import require_count, require_known, require_not_negative, require_positive
from fdm.cabinet.section_file import SectionFile, check_sides
from fdm.errors import InputError, require_visible


@dataclass(frozen=True, kw_only=True)
class Loss:
    """What lines and points have in common: where they are, and the section that their loss is taken from, unless it is
    given as a number."""

    file: SectionFile | None = None
    bridge: str | None = None
    inside: tuple[str, ...] = ()  # environments of the section that are the cabinet's air, and the room's; none: those
    outside: tuple[str, ...] = ()  # that have the names of the modules' and the thermostat's
    zone: str | None = None  # of air inside; as the walls lie, if left out

    def _check_loss(self, where: str, symbol: str, value: float | None, views: tuple[str, ...]) -> None:
        """Raises InputError unless the loss is given as a number, or by the bridge of a section of one of these
        views."""
        if (value is None) == (self.file is None):
            raise InputError(f"{where}: give exactly one of {symbol} and section")
        if value is not None:
            require_not_negative(f"{where}, {symbol}", value)
        if self.file is not None:
            _check_bridge(where, symbol, views, self.file, self.bridge)
        if self.inside or self.outside:
            if self.file is None:
                key = "inside" if self.inside else "outside"
                raise InputError(f"{where}, {key}: belongs to a section, and none is given")
            check_sides(where, self.file, self.inside, self.outside)


@dataclass(frozen=True)
class LineLoss(Loss):
    """A linear bridge or a seal: `length` (m) times psi, W/(m K), given or from a section's bridge."""

    name: str
    length: float
    psi: float | None = None

    def __post_init__(self) -> None:
        where = f"line {self.name!r}"
        require_visible(where, self.name)
        require_positive(f"{where}, length", self.length)
        self._check_loss(where, "psi", self.psi, ("section",))


@dataclass(frozen=True)
class PointLoss(Loss):
    """Point bridges: `count` times chi, W/K, given or from an axisymmetric section's bridge."""

    name: str
    count: int
    chi: float | None = None

    def __post_init__(self) -> None:
        where = f"point {self.name!r}"
        require_visible(where, self.name)
        require_count(f"{where}, count", self.count)
        self._check_loss(where, "chi", self.chi, ("axisymmetric", "plate"))


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
