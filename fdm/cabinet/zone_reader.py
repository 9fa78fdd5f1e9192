"""Reads what a cabinet file says of air in zones, and of what stands in them."""

from collections.abc import Mapping
from dataclasses import replace

from fdm.cabinet.zones import HOUR, Exchange, Facing, Zone
from fdm.errors import InputError
from fdm.section.tables import Table

ZONE = ("name", "height", "share", "walls", "inside_heat")
EXCHANGE = ("name", "between", "flow", "along", "height", "perimeter", "gap", "factor")
PLATE = ("contact", "area", "gap", "emissivity")


def read_zones(top: Table) -> tuple[Zone, ...]:
    """The zones, in the order of the file."""
    return tuple(
        Zone(
            t.text("name"),
            t.optional(t.pair, "height"),
            t.optional(t.number, "share"),
            tuple(_shares(t, "walls").items()),
            t.number_or("inside_heat", 0.0),
        )
        for t in top.tables("zone", ZONE)
    )


def read_exchanges(top: Table) -> tuple[Exchange, ...]:
    """The exchanges of air between zones. What a sink moves by itself has the usual uncertainty of such a flow."""
    return tuple(_exchange(t) for t in top.tables("exchange", EXCHANGE))


def _exchange(t: Table) -> Exchange:
    natural = "height" in t.values
    if "factor" in t.values and not natural:
        raise t.fault(
            "factor", "belongs to what the sink moves by itself; give its height and perimeter, or leave it out"
        )
    if not natural and "flow" not in t.values:
        raise t.fault("flow", 'missing; give it in m3/h, or along = "cold sink" with the sink\'s height and perimeter')
    by_itself = replace(t, values={"factor": 1.0, **t.values})
    return Exchange(
        t.text("name"),
        t.two_names("between"),
        t.number("flow") / HOUR if "flow" in t.values else 0.0,
        t.optional(t.text, "along"),
        t.optional(t.length, "height"),
        t.optional(t.length, "perimeter"),
        t.optional(t.length, "gap"),
        by_itself.number("factor", "natural flow") if natural else 1.0,
    )


def read_load_zones(t: Table) -> tuple[tuple[str, float], ...]:
    """The shares of the load by zone."""
    if "zone" in t.values and "zones" in t.values:
        raise InputError(f"{t.where}: give either zone or zones")
    return ((t.text("zone"), 1.0),) if "zone" in t.values else tuple(_shares(t, "zones").items())


def read_cold_plate(t: Table) -> tuple[float, Facing | None]:
    """How the load touches the cold plate, W/K, or how it faces it."""
    if "cold_plate" not in t.values:
        return 0.0, None
    plate = t.table("cold_plate", PLATE)
    if plate.one_of("contact", "area") == "contact":
        plate.refuse_given(PLATE[2:], "belongs to a load that faces the plate, but contact is given")
        return plate.number("contact"), None
    emissivity = plate.two_numbers("emissivity", "those of load and plate, [.., ..]")
    return 0.0, Facing(plate.number("area"), plate.length("gap"), emissivity)


def _shares(t: Table, key: str) -> Mapping[str, float]:
    """Numbers by name; none where the key is missing."""
    given = t.optional(lambda k: t.value(k, dict, "a table of shares, { NAME = .. }"), key) or {}
    named = replace(t, where=t.place(key), values=given)
    return {name: named.number(name) for name in given}
