"""What other mounts, other places and a fan leave of a thermostat's misreading: each evaluated, modules always on."""

from contextlib import suppress
from dataclasses import dataclass, replace

from fdm.cabinet.misreading import misreading
from fdm.cabinet.model import Cabinet
from fdm.cabinet.moisture import moist_circuit_at_work
from fdm.cabinet.sections import LumpedSections
from fdm.cabinet.steady import OperatingPoint, operating_point
from fdm.cabinet.zones import AIR, Exchange
from fdm.errors import InputError

FAN = 10 / 3600  # m3/s, of a small fan with free air before it: common practice, no source


@dataclass(frozen=True)
class Mend:
    """What a change does: `left` K of the misreading, and degC of the air at the load."""

    words: str
    left: float
    air: float


def mends(cabinet: Cabinet, sections: LumpedSections, point: OperatingPoint) -> tuple[Mend, ...]:
    """What another mount, another place, and a fan would leave of the misreading, each evaluated with the modules
    always on; none where the sensor is in the load's own air."""
    near, far, thermostat = cabinet.load_zone, cabinet.thermostat_zone, cabinet.thermostat
    if near == far:
        return ()
    air = point.temperature[near]
    changed = {}
    other = replace(thermostat, zone=near)
    if thermostat.sensor != AIR and not cabinet.thermostat_at_sink:
        changed["the same sensor and mount in the load's air"] = replace(cabinet, thermostat=other)
    fan = Exchange(f"a fan between {near} and {far}", (near, far), FAN)
    words = f"a fan that moves {3600 * FAN:g} m3/h between the two"
    changed[words] = replace(cabinet, exchanges=(*cabinet.exchanges, fan))
    out = [Mend(f"a bare sensor in the {far}", point.temperature[far] - air, air)] if thermostat.sensor != AIR else []
    for words, other_cabinet in changed.items():
        with suppress(ArithmeticError, InputError):  # it would not settle then
            c = moist_circuit_at_work(other_cabinet, sections)
            settled = operating_point(c, cabinet.bank.supply)
            out.append(Mend(words, misreading(c, settled).whole, settled.temperature[c.air]))
    return tuple(out)
