"""What switches the modules, and by which temperature."""

from dataclasses import dataclass

from fdm.cabinet.checks import require_known, require_positive
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.zones import AIR
from fdm.errors import InputError


@dataclass(frozen=True)
class Thermostat:
    """Switches the modules at the setpoint +- hysteresis / 2 (K), by a sensor of a section, or by the air itself."""

    hysteresis: float
    file: SectionFile | None = None
    sensor: str = AIR
    inside: tuple[str, ...] = ()
    outside: tuple[str, ...] = ()
    switches: str = "all"  # or "half" of the modules
    zone: str | None = None  # whose air the sensor is in, or its section's `inside`

    def __post_init__(self) -> None:
        require_positive("thermostat, hysteresis", self.hysteresis)
        if self.switches not in ("all", "half"):
            raise InputError(f'thermostat, switches: {self.switches!r} is neither "all" nor "half" of the modules')
        if self.sensor == AIR:
            return
        if self.file is None:
            raise InputError(
                f'thermostat, sensor: {self.sensor!r} needs the section it is in; name a section, or take "{AIR}"'
            )
        sensors = [s.name for s in self.file.section.sensors]
        require_known("thermostat, sensor", self.sensor, sensors, f"sensor of {self.file.path}")
