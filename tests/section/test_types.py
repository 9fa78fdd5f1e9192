"""What a section and the questions of films are made of refuses values of a wrong type, in one sentence each."""

from dataclasses import fields, replace

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.section.by_temperature import AirGap, Line, Pairs
from fdm.section.model import (
    Bead,
    Border,
    Bridge,
    Disc,
    Environment,
    Fins,
    Joint,
    Material,
    Part,
    Polygon,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
    Stem,
)
from fdm.surroundings.driven import AlongPlate, Channels, Impinging
from fdm.surroundings.fans import fan_of_points
from fdm.surroundings.film import Conditions
from fdm.surroundings.fins import fins_across
from fdm.surroundings.questions import Following, curve_of, film_of
from fdm.surroundings.rooms import Indoors, Outdoors
from fdm.surroundings.still import Gap, StillFace, StillFins

METAL = Material("metal", (200.0, 200.0))
PLATE, AIR = Part("plate", (Rectangle((0, 0.1), (0, 0.01)),), METAL), Environment("air", 20, 10)
FACE, SINK, FAN = (
    StillFace("vertical", 0.1),
    fins_across(0.1, 0.1, 0.03, 0.001, count=25),
    fan_of_points([(0, 9), (9, 0)]),
)
PIECES = (
    METAL,
    PLATE,
    AIR,
    Border(top="air"),
    Joint(("plate", "block"), 1e-4),
    Fins("fins", ("plate",), "front", "x", 0.001, 0.03, "air", METAL, count=10),
    Source("heater", Segment((0.01, 0.02), (0, 0)), heat=5),
    Sensor("probe", at=(0.01, 0.005), should_read="air"),
    Stem(METAL, 0.001, 0.05, "air"),
    Bead(0.003),
    Spreading(("plate",)),
    Bridge(("plate",)),
    PLATE.shapes[0],
    Disc((0, 0), 0.1),
    Polygon(((0, 0), (1, 0), (0, 1))),
    Segment((0, 1), (0, 0)),
    AirGap(),
    Line(0.03, 10, 1e-4),
    Pairs((0, 20), (0.03, 0.032)),
    Section("a plate", (PLATE,), (AIR,), border=Border(top="air")),
    *(FACE, SINK, FAN, StillFins(SINK), Gap(0.01, "up"), AlongPlate(0.1, 2), Channels(SINK, fan=FAN)),
    *(Impinging(SINK, volume_flow=0.01), Indoors("up"), Outdoors(3), Conditions(25, 40, 0.9), Following(FACE)),
)
WRONG = ("x", None, (1, 2, 3), [1, 2], object(), b"y", True, ("a", "b"), (None, None), {}, METAL)


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: type(piece).__name__)
def test_any_field_may_be_of_any_type(piece):
    refused = 0
    for field in fields(piece):
        for value in WRONG:
            try:
                replace(piece, **{field.name: value})
            except InputError as fault:
                refused += 1
                assert "\n" not in str(fault)
    assert refused >= len(WRONG) // 2


@pytest.mark.parametrize("value", WRONG[:-1])
def test_functions_refuse_it_as_well(value):
    for wrong in (
        lambda: film_of(value, Conditions(25, 40)),
        lambda: curve_of(FACE, value),
        lambda: fins_across(value or "none", 0.1, 0.03, 0.001, count=25),
        lambda: fan_of_points(value),
    ):
        with pytest.raises(InputError):
            wrong()


@pytest.mark.parametrize(
    "build, message",
    [
        (lambda: Environment("air", 20, "10"), "environment 'air', film: '10' is not a number"),
        (lambda: Environment(3, 20, 10), "environment, name: 3 is not a text"),
        (
            lambda: Part("plate", METAL),
            "part 'plate', shapes: a Material is not (a Rectangle, a Disc or a Polygon, ..)",
        ),
        (lambda: Source("lamp", part="plate", heat=None, temperature="7"), "'7' is not a number or None"),
        (lambda: Sensor("probe", at=(1, 2, 3)), "sensor 'probe', at: (1, 2, 3) is not (a number, a number) or None"),
        (lambda: Section("a plate", PLATE), "parts: a Part is not (a Part, ..)"),
        (lambda: replace(PIECES[5], count=2.5), "is not a whole number of fins"),
        (lambda: replace(PIECES[8], count=2.5), "stem, count: 2.5 is not a whole number"),
        (lambda: film_of(FACE, 25), "film_of, at: 25 is not a Conditions"),
    ],
)
def test_the_sentence_says_where_and_what_would_be_right(build, message):
    with pytest.raises(InputError) as fault:
        build()
    assert message in str(fault.value)


def test_lists_and_numbers_of_numpy_are_as_good():
    one = Section("a plate", [PLATE], [replace(AIR, temperature=np.float64(20), film=np.int64(10))])
    assert one.fixed_temperatures[0] == 20
    assert Sensor("probe", at=np.array([0.01, 0.02])).at[1] == 0.02
