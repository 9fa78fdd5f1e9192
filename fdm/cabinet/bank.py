"""All modules of a cabinet, and what carries their heat to the air: sinks by their resistance, or plates with fins."""

from dataclasses import dataclass

from fdm.cabinet.checks import require_known, require_not_negative, require_positive
from fdm.cabinet.datasheet import DataSheet
from fdm.cabinet.module import ThermoelectricModule
from fdm.cabinet.section_file import SectionFile, check_sides
from fdm.cabinet.supply import Supply
from fdm.errors import InputError, nearest
from fdm.section.model import Material


@dataclass(frozen=True)
class Sink:
    """The resistance (K/W, all modules together) between a face of the modules and its air, where no section gives
    it; None for a cold sink that gives the air what its natural flow takes (`Exchange`). And the watts of its fan."""

    resistance: float | None
    fan_power: float = 0.0


@dataclass(frozen=True)
class Block:
    """A block of metal between each module and its place on a plate: `length` (m) through the wall, and `area` (m2)
    across; None: that of the place."""

    material: Material
    length: float
    area: float | None = None


@dataclass(frozen=True)
class PlateSink:
    """A plate with fins, drawn face on, and the `places` on it (heat sources) where one module each sits; other sources
    of the plate stay empty. There are as many plates as all modules take.

    `inside` and `outside` name its fixed terminals that are the cabinet's air and the room's. `joint` (m2 K/W) lies
    wherever plate, block and module meet. `fan_power` (W) is that of all fans of this sink.
    """

    file: SectionFile
    places: tuple[str, ...]
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    joint: float = 0.0
    block: Block | None = None
    fan_power: float = 0.0

    def check(self, where: str, modules: int) -> None:
        """Raises InputError, which begins with `where`, for what cannot be."""
        path, section = self.file.path, self.file.section
        if section.view != "plate":
            raise InputError(
                f'{where}, section: {path} has the view {section.view!r}; draw a sink face on, with view = "plate"'
            )
        for name in self.places:
            require_known(f"{where}, sources", name, section.heat_names, f"source with heat of {path}")
        if not self.places or len(set(self.places)) < len(self.places):
            raise InputError(f"{where}, sources: name each source of {path} once where a module sits")
        if modules % len(self.places):
            raise InputError(
                f"{where}: {modules} module{'s do' if modules > 1 else ' does'} not fill plates with "
                f"{len(self.places)} places each; name in sources those places that are taken, or give other modules"
            )
        check_sides(where, self.file, self.inside, self.outside)
        require_not_negative(f"{where}, joint", self.joint)
        if self.block is not None:
            require_positive(f"{where}, block, length", self.block.length)
            if self.block.area is not None:
                require_positive(f"{where}, block, area", self.block.area)


@dataclass(frozen=True)
class Bank:
    """All modules, alike, each in one `file`'s section with heat terminals `cold` and `hot`; or between two sinks.

    On the side of a sink that is a plate, the section ends where the plate begins: its `cold` or `hot` is a source
    there that is held at a temperature.

    `inside` and `outside` name the section's fixed terminals that are the cabinet's air and the room's. The section
    takes the place of its own piece of `wall`, `wall_area` (m2) a module.
    """

    module: ThermoelectricModule
    supply: Supply
    file: SectionFile | None = None
    cold: str = "cold face"
    hot: str = "hot face"
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    wall: str | None = None
    wall_area: float = 0.0
    cold_sink: Sink | PlateSink | None = None
    hot_sink: Sink | PlateSink | None = None
    cold_capacity: float = 0.0  # J/K, of all modules together, beside what the section's materials have
    hot_capacity: float = 0.0
    data_sheet: DataSheet | None = None  # that the module's figures come from
    zone: str | None = None  # in whose air the cold sink stands

    def __post_init__(self) -> None:
        if self.file is None:
            for key in ("cold_sink", "hot_sink"):
                if getattr(self, key) is None:
                    raise InputError(
                        f"module, {key}: missing; without a section the module needs a cold_sink and a hot_sink"
                    )
        else:
            self._check_faces(self.file)
            check_sides("module", self.file, self.inside, self.outside, self.held)
        for key in ("cold_sink", "hot_sink"):
            sink = getattr(self, key)
            if isinstance(sink, PlateSink):
                sink.check(f"module, {key}", self.supply.modules)
            elif sink is not None and (sink.resistance is not None or key == "hot_sink"):
                require_positive(f"module, {key}, resistance", sink.resistance)
            if sink is not None:
                require_not_negative(f"module, {key}, fan_power", sink.fan_power)
        for key in ("cold_capacity", "hot_capacity", "wall_area"):
            require_not_negative(f"module, {key}", getattr(self, key))

    @property
    def faces(self) -> dict[str, str]:
        """By the key of each sink, the name of the face on its side in the modules' section."""
        return {"cold_sink": self.cold, "hot_sink": self.hot}

    @property
    def held(self) -> tuple[str, ...]:
        """The faces of the modules' section where a plate begins."""
        return tuple(self.faces[key] for key in self.plates)

    @property
    def plates(self) -> dict[str, PlateSink]:
        """The sinks that are plates, by key."""
        both = {"cold_sink": self.cold_sink, "hot_sink": self.hot_sink}
        return {key: sink for key, sink in both.items() if isinstance(sink, PlateSink)}

    @property
    def inside_fan_power(self) -> float:
        """W of the fan of the cold sink, which warms the air inside."""
        return 0.0 if self.cold_sink is None else self.cold_sink.fan_power

    @property
    def fan_power(self) -> float:
        """W of the fans of both sinks."""
        return sum(sink.fan_power for sink in (self.cold_sink, self.hot_sink) if sink is not None)

    def _check_faces(self, file: SectionFile) -> None:
        section = file.section
        if self.cold == self.hot:
            raise InputError("module: cold and hot name the same face; name the two faces of the module")
        held = tuple(s.name for s in section.held_sources)
        for key, name in (("cold", self.cold), ("hot", self.hot)):
            if name not in self.held:
                names, what = section.heat_names, "source with heat"
            elif name in section.heat_names:
                raise InputError(
                    f"module, {key}: {name!r} of {file.path} takes watts, so the section draws its own way from the "
                    f"module to the air, and {key}_sink would count that twice; draw the wall only as far as the plate "
                    f"and give {name!r} a temperature there, or leave {key}_sink out"
                )
            else:
                names, what = held, "source with a temperature, where the plate begins,"
            if name not in names:
                raise InputError(f"module, {key}: {file.path} has no {what} named {name!r}; {nearest(name, names)}")
        for name in section.heat_names:
            if name not in (self.cold, self.hot):
                raise InputError(
                    f"module, section: {file.path} has a third heat terminal {name!r}; leave it out of the file"
                )
