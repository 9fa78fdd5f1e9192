"""Numbers of a question about a film that are likely slips, mostly of unit. The limits are common practice, no source;
they are wide: what a heat sink, a small cabinet or a lamp has lies well within."""

from collections.abc import Iterator

from fdm.surroundings.driven import AlongPlate, Channels, Impinging
from fdm.surroundings.fans import HOUR, Fan
from fdm.surroundings.fins import FinArray
from fdm.surroundings.rooms import Outdoors

LEAST_LENGTH = {"thickness": 2e-5, "gap": 1e-4, "height": 5e-4, "length": 1e-3, "width": 2e-4}  # m
LONGEST = 20.0  # m
LARGEST_FINS = {"thickness": 0.02, "gap": 0.1, "height": 0.3, "length": 2.0, "width": 5.0}  # m
SLOWEST, FASTEST = 0.005, 40.0  # m/s, of driven air
STORM = 40.0  # m/s, of wind
LEAST_CONDUCTIVITY, LARGEST_CONDUCTIVITY = 0.05, 2500.0  # W/(m K): of fins; of diamond
WEAKEST, STRONGEST = 0.3, 2000.0  # Pa, of a fan at no flow, also where it runs slowly; of a large blower


def unlikely_numbers(question: object) -> Iterator[str]:
    """A sentence for each number of any question (`questions.Question`) that is likely a slip, with what to look at.

    >>> from fdm.surroundings.fins import fins_across
    >>> fins = fins_across(width=0.1, length=0.1, height=0.03, thickness=0.001, count=25)
    >>> list(unlikely_numbers(Channels(fins, volume_flow=0.01 / 3600)))
    ['volume_flow: 0.01 m3/h, 0.00123 m/s between the fins, is less than any fan does; give m3/h']
    """
    fins = getattr(question, "fins", None)
    for key, least in LEAST_LENGTH.items():
        metres = getattr(fins or question, key, None)
        most, what = (LARGEST_FINS[key], "fins") if fins else (LONGEST, "faces")
        if metres is not None and not least <= metres <= most:
            limits = f"{1e3 * least:g} mm to {most:g} m"
            yield f"{key}: {metres:.3g} m is not what {what} have ({limits}); look at the unit of lengths"
    conductivity = getattr(question, "conductivity", None)
    if conductivity is not None and not LEAST_CONDUCTIVITY <= conductivity <= LARGEST_CONDUCTIVITY:
        known = "plastics 0.2, metals 15 to 400"
        yield f"conductivity: {conductivity:g} W/(m K) is not what fins have ({known}); give W/(m K)"
    if isinstance(question, Outdoors) and (wind := question.speed or 0.0) > STORM:
        yield f"speed: {wind:g} m/s of wind is more than a storm has near a wall; give m/s"
    if isinstance(question, (AlongPlate, Channels)) and (speed := question.speed) is not None:
        yield from _unlikely_speed("speed", f"{speed:g} m/s is", speed, "m/s")
    if isinstance(question, Channels) and (speed := question.approach) is not None:
        yield from _unlikely_speed("approach", f"{speed:g} m/s is", speed, "m/s")
    if isinstance(question, (Channels, Impinging)):
        if (flow := question.volume_flow) is not None:
            yield from _unlikely_speed("volume_flow", *_between(question.fins, flow))
        if (fan := question.fan) is not None:
            yield from _weak(fan, question.fins)


def _between(fins: FinArray, flow: float) -> tuple[str, float, str]:
    """A flow (m3/s) in words, its speed between fins, and its unit in files."""
    speed = flow / fins.flow_area
    return f"{HOUR * flow:.3g} m3/h, {speed:.3g} m/s between the fins, is", speed, "m3/h"


def _unlikely_speed(key: str, told: str, speed: float, unit: str) -> Iterator[str]:
    """A sentence on air that no fan drives so slowly, or so fast."""
    if not SLOWEST <= speed <= FASTEST:
        yield f"{key}: {told} {'less' if speed < SLOWEST else 'more'} than any fan does; give {unit}"


def _weak(fan: Fan, fins: FinArray) -> Iterator[str]:
    """A sentence on a fan that hardly moves air; one that moves much more than the fins let through is none."""
    told, speed, unit = _between(fins, fan.free_flow)
    yield from _unlikely_speed("fan", f"at most {told}", min(speed, FASTEST), unit)
    if not WEAKEST <= (most := max(fan.pressure)) <= STRONGEST:
        than = "less than any fan has" if most < WEAKEST else "more than any fan for a heat sink has (20 to 500)"
        yield f"fan: at most {most:.3g} Pa is {than}; give Pa"
