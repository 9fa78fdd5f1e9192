"""Numbers of a film's question that are likely slips are told with its notes; usual ones are not."""

import pytest

from fdm.surroundings.driven import AlongPlate, Channels, Impinging
from fdm.surroundings.fans import fan_of_points
from fdm.surroundings.film import Conditions
from fdm.surroundings.fins import fins_across
from fdm.surroundings.plausible import unlikely_numbers
from fdm.surroundings.questions import film_of
from fdm.surroundings.rooms import Outdoors
from fdm.surroundings.still import Gap, StillFace, StillFins

SINK = fins_across(0.1, 0.1, 0.03, 0.001, count=25)
BAR = fins_across(0.1, 3.0, 0.03, 0.001, count=25)  # as long as no sink
APART = fins_across(1.0, 0.1, 0.03, 0.001, gap=0.2)
FLAT = fins_across(0.1, 0.1, 3e-5, 0.001, count=25)


def fan(flow, pressure):
    return fan_of_points(((0, pressure), (flow, 0)))


@pytest.mark.parametrize(
    "question, told",
    [
        (Channels(SINK, fan=fan(75, 55)), ""),
        (Channels(SINK, fan=fan(5000, 500)), ""),  # most of it the fins do not let through
        (Impinging(SINK, volume_flow=40 / 3600), ""),
        (StillFace("up", length=0.002, width=5.0), ""),
        (Channels(SINK, fan=fan(75 / 3600, 55)), "fan: at most 0.0208 m3/h, 0.00257 m/s between the fins, is less"),
        (Channels(SINK, fan=fan(75, 0.055)), "fan: at most 0.055 Pa is less than any fan has; give Pa"),
        (Impinging(SINK, volume_flow=0.01 / 3600), "volume_flow: 0.01 m3/h, 0.00123 m/s between the fins, is less"),
        (Channels(SINK, volume_flow=1.0), "volume_flow: 3.6e+03 m3/h, 444 m/s between the fins, is more than any fan"),
        (Channels(SINK, speed=3000), "speed: 3000 m/s is more than any fan does; give m/s"),
        (Channels(SINK, approach=0.001), "approach: 0.001 m/s is less than any fan does; give m/s"),
        (AlongPlate(0.1, 3000), "speed: 3000 m/s is more"),
        (StillFace("vertical", height=0.0003), "height: 0.0003 m is not what faces have (0.5 mm to 20 m); look at the"),
        (StillFace("up", length=0.1, width=100.0), "width: 100 m is not what"),
        (StillFins(BAR), "length: 3 m is not what fins have (1 mm to 2 m); look"),
        (Channels(APART, speed=3), "gap: 0.2 m is not what fins have (0.1 mm to 0.1 m)"),
        (Channels(SINK, speed=60), "speed: 60 m/s is more than any fan does"),
        (Channels(SINK, speed=3, conductivity=200_000), "conductivity: 200000 W/(m K) is not what fins have"),
        (Channels(SINK, fan=fan(75, 4000)), "fan: at most 4e+03 Pa is more than any fan for a heat sink has"),
        (Outdoors(60.0), "speed: 60 m/s of wind is more than a storm has"),
        (Outdoors(), ""),
        (StillFins(FLAT), "height: 3e-05 m is not what"),
        (Gap(1e-5, "up"), "thickness: 1e-05 m is not what"),
    ],
)
def test_likely_slips(question, told):
    said = list(unlikely_numbers(question))
    assert len(said) == bool(told) and all(s.startswith(told) for s in said)


def test_they_are_among_the_notes_of_a_film_and_leave_it_as_it_is():
    slow = film_of(Channels(SINK, volume_flow=0.01 / 3600), Conditions(25))
    assert slow.notes[0].startswith("volume_flow: 0.01 m3/h")
    assert slow.uncertainty == pytest.approx(0.06, rel=1e-3)
