"""Pieces of a section, each by itself: names, and what each refuses when it is made."""

import math
from dataclasses import replace

import pytest

from fdm.errors import InputError
from fdm.section.model import Bridge, Environment, Joint, Material, Part, Rectangle, Sensor, Source, Spreading

PLATE = Part("plate", (Rectangle((0, 0.1), (0, 0.005)),), Material("metal", (200.0, 200.0)))


def test_names_of_questions():
    assert Bridge(("bolt", "washer")).name == "bolt + washer"
    assert Bridge(("bolt",), name="the bolts").name == "the bolts"
    assert Spreading(("plate", "inlay")).name == "plate + inlay"


@pytest.mark.parametrize(
    "build, message",
    [
        (lambda: Environment("cold", -300, 8), "environment 'cold', temperature: -300 is not a temperature"),
        (lambda: Environment("cold", 5, 0), "environment 'cold', film: 0 is not a number above 0"),
        (lambda: Environment("cold", 5, -math.inf), "environment 'cold', film: -inf"),
        (lambda: Environment("a", 20, 8, humidity=0), "environment 'a', humidity: 0 is no relative humidity in %"),
        (lambda: Environment("a", 20, 8, humidity=100.1), "environment 'a', humidity: 100.1 is no relative humidity"),
        (lambda: Environment("a", 20, 8, humidity=math.nan), "environment 'a', humidity: nan"),
        (lambda: Environment("a", 20, 8, dew_point=21), "dew_point: 21 degC is above the air's temperature of 20"),
        (lambda: Environment("a", 20, 8, dew_point=-99), "dew_point: -99 degC is out of range; give at least -80"),
        (lambda: Environment("a", 298, 8, humidity=60), "and this is at 298; look at the temperature"),
        (lambda: Environment("a", 20, 8, humidity=60, dew_point=5), "environment 'a': give either humidity or dew"),
        (lambda: replace(PLATE, void=True), "part 'plate': give exactly one of material"),
        (lambda: replace(PLATE, material=None), "part 'plate': give exactly one of material"),
        (lambda: replace(PLATE, shapes=()), "part 'plate': it has no shape"),
        (lambda: Material("m", (0.0, 1.0)), "material 'm', conductivity: 0.0 is not a number above 0"),
        (lambda: Material("m", (1, 1, 1)), r"material 'm', conductivity: \(1, 1, 1\) is not .a number, a number."),
        (lambda: Material("m", (1, 1), -1), "material 'm', density: -1"),
        (lambda: Material("m", (1, 1), 1, math.nan), "material 'm', specific_heat: nan"),
        (lambda: Joint(("plate", "plate"), 1e-4), "joint between 'plate' and 'plate': a part has no joint with itself"),
        (lambda: Joint(("plate", "block"), -1e-4), "'block', resistance: -0.0001 is not a number of 0 or more"),
        (lambda: Source("s", heat=1), "source 's': give exactly one of segment and part"),
        (lambda: Source("s", part="plate"), "source 's': give exactly one of heat and temperature"),
        (lambda: Source("s", part="plate", heat=math.nan), "source 's', heat: nan"),
        (lambda: Source("s", part="plate", temperature=-300), "source 's', temperature: -300"),
        (lambda: Sensor("t"), "sensor 't': give exactly one of at and part"),
        (lambda: Sensor("t", at=(0, 0), should_read="t"), "it names the sensor itself"),
        (lambda: Sensor("t", at=(0, 0), should_read=-400.0), "should_read: -400.0 is not a temperature"),
        (lambda: Spreading(("plate",), "z"), "spreading of 'plate', along: 'z'"),
        (lambda: Bridge(("block",), ("air", "air")), "names 'air' twice"),
        (lambda: Bridge(()), "remove: names no part"),
    ],
)
def test_a_piece_that_cannot_be_is_refused_when_it_is_made(build, message):
    with pytest.raises(InputError, match=message):
        build()
