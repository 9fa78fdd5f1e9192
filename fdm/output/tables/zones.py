"""Air in zones, in words: what a thermostat misreads by its mount and by its place, and how the air moves."""

from collections.abc import Iterator

from fdm.answers.rounding import brief
from fdm.cabinet.misreading import misreading
from fdm.cabinet.nodes import load_node
from fdm.cabinet.solution import SolvedCabinet
from fdm.cabinet.zones import air_in_words

LEAST = 1e-3  # K worth a word


def misreading_in_words(solved: SolvedCabinet) -> Iterator[str]:
    """What of the misreading is the thermostat's mount, what its place, and what would be left of it; nothing where the
    sensor is in the load's own air."""
    c, point = solved.circuit, solved.point
    if c.sensed_air == c.air:
        return
    found, there = misreading(c, point), air_in_words(c.sensed_air)
    degrees = brief(point.temperature[c.sensed_air], point.band[c.sensed_air], "degC")
    yield (
        f"Of that its mount makes {_too(found.mount)}, beside the air around it, and its place {_too(found.place)}: "
        f"the {there} is at {degrees}"
    )
    if solved.mends:
        left = [f"{m.words}, {_too(m.left)}, with the {air_in_words(c.air)} at {m.air:.3g} degC" for m in solved.mends]
        yield f"What others would read: {'; '.join(left)}"


def _too(kelvins: float) -> str:
    if abs(kelvins) < LEAST:
        return "nothing"
    return f"{abs(kelvins):.2g} K too {'much' if kelvins > 0 else 'little'}"


def flows_in_words(solved: SolvedCabinet) -> Iterator[str]:
    """How much air moves between zones, and how cold each piece of the load stands."""
    c, point = solved.circuit, solved.point
    for flow in (f for f in c.flows if f.volume):
        first, second = (air_in_words(zone) for zone in flow.exchange.between)
        along = " along the cold sink" if flow.exchange.along_sink else ""
        share = f", {3600 * flow.natural:.2g} of them" if flow.exchange.flow else ""
        by_itself = f"{share} by itself" if flow.natural else ""
        yield f"From the {first} to the {second} pass {3600 * flow.volume:.2g} m3/h{along}{by_itself}"
    if len(c.cabinet.load_shares) > 1:
        pieces = [(air_in_words(zone), load_node(c.cabinet, zone)) for zone in c.cabinet.load_shares]
        settled = [f"{point.temperature[node]:.3g} degC in the {air}" for air, node in pieces]
        yield f"With the modules always on the load settles at {', '.join(settled)}"
