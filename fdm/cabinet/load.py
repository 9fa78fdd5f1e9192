"""What is kept cold."""

import math
from dataclasses import dataclass

from fdm.cabinet.checks import require_not_negative, require_positive, require_temperature
from fdm.cabinet.zones import CLOSED, Facing
from fdm.errors import InputError


@dataclass(frozen=True)
class Load:
    """What is kept cold: kg, J/(kg K), m2, W/(m2 K), degC at the start, W that it gives off itself, kg/s of water that
    evaporate from it.

    `zones` has the shares of it that stand in zones of air, each with a temperature of its own. It may touch the cold
    plate (`contact` W/K), or face it.
    """

    mass: float
    specific_heat: float
    surface: float
    film: float
    start: float
    heat: float = 0.0
    moisture: float = 0.0
    zones: tuple[tuple[str, float], ...] = ()
    contact: float = 0.0
    facing: Facing | None = None

    def __post_init__(self) -> None:
        require_not_negative("load, moisture", self.moisture)
        for key in ("mass", "specific_heat", "surface", "film"):
            require_positive(f"load, {key}", getattr(self, key))
        require_not_negative("load, cold_plate, contact", self.contact)
        if self.zones and abs(sum(share for _, share in self.zones) - 1) > CLOSED:
            raise InputError("load, zones: the shares do not come to 1; give the share of the load in each zone")
        for name, share in self.zones:
            if not 0 < share <= 1:
                raise InputError(f"load, zones, {name}: {share:g} is not a share of the load, above 0 and at most 1")
        require_temperature("load, start", self.start)
        if not math.isfinite(self.heat):
            raise InputError(f"load, heat: {self.heat!r} is not a number of watts")
