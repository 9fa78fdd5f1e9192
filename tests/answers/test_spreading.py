"""Spreading resistance on one grid."""

import numpy as np
import pytest

from fdm.answers.spreading import sizes
from fdm.section.model import Border, Environment, Section, Segment, Source, Spreading
from tests.answers.bench import answered, bench, lines, on_grid
from validation.cases import box, solid


def both(values, plate, heat):
    """Of the mean and of the highest temperature."""
    return np.array([values[f"spreading.{plate}.{heat}.{which}"] for which in ("mean", "max")])


def test_a_face_as_wide_as_its_plate_has_nothing_to_spread():
    section = Section(
        "plate",
        (solid("plate", 160.0, box(0, 0.05, 0, 0.01)),),
        (Environment("air", 0, 50.0),),
        border=Border(bottom="air"),
        sources=(Source("q", segment=Segment((0, 0.05), (0.01, 0.01)), heat=1),),
        spreading=(Spreading(("plate",)),),
    )
    values = answered(section, 1)
    whole = values["network.resistance.q.q"]
    assert both(values, "plate", "q") == pytest.approx([0, 0], abs=1e-5 * whole)


def test_a_small_spreading_is_wanted_as_exactly_as_a_share_of_the_whole_rise():
    section = bench(spreading=(Spreading(("block",)),))
    network = on_grid(section).answers.network
    own = np.diag(network.resistance[:2])
    none, much = np.zeros(4), np.repeat(own, 2)
    assert sizes(section, network, none) == pytest.approx(0.04 * np.repeat(own, 2), rel=1e-12)
    assert sizes(section, network, -much) == pytest.approx(much, rel=1e-12)


def test_spreading_takes_the_longer_side_unless_told():
    own, along_x, along_y = (
        both(answered(section), "block", "foil")
        for section in (bench(spreading=(Spreading(("block",), along),)) for along in (None, "x", "y"))
    )
    assert own == pytest.approx(along_y, rel=1e-9)
    assert abs(along_x - along_y).min() > 0.1 * abs(along_y).max()


def test_a_plate_that_stands_spreads_like_one_that_lies():
    def plate(lies):
        def turned(x, y):
            return (x, y) if lies else (y, x)

        return Section(
            "plate",
            (solid("plate", 40.0, box(*sum(turned((0, 0.05), (0, 0.01)), ()))),),
            (Environment("air", 0, 500.0),),
            border=Border(bottom="air") if lies else Border(left="air"),
            sources=(Source("q", segment=Segment(*turned((0, 0.01), (0.01, 0.01))), heat=1),),
            spreading=(Spreading(("plate",)),),
        )

    lying, standing = plate(True), plate(False)
    x, y = lines(lying)
    one, two = both(answered(lying, at=(x, y)), "plate", "q"), both(answered(standing, at=(y, x)), "plate", "q")
    assert two == pytest.approx(one, rel=1e-9)
    assert one[1] > one[0] > 0


@pytest.mark.parametrize("lies", [True, False])
def test_seen_face_on_a_plate_spreads_both_ways_to_what_it_touches(lies):
    """A strip carries the heat off to its far end; the plate itself, of one temperature, adds nothing to that."""

    def turned(x, y):
        return box(*x, *y) if lies else box(*y, *x)

    k, thick, wide, long = 40.0, 0.002, 0.01, 0.05
    section = Section(
        "plate and strip",
        (
            solid("plate", k, turned((0, 0.02), (0, wide)), thickness=thick),
            solid("strip", k, turned((0.02, 0.02 + long), (0, wide)), thickness=thick),
        ),
        (Environment("end", 0, 1e4),),
        view="plate",
        border=Border(right="end") if lies else Border(top="end"),
        sources=(Source("q", part="plate", heat=1),),
        spreading=(Spreading(("plate",)),),
    )
    values = answered(section)
    perfect = values["network.resistance.q.q"] - values["spreading.plate.q.mean"]
    assert perfect == pytest.approx((long / k + 1e-4) / (thick * wide), rel=1e-6)


def test_plates_that_spread_together_are_one_plate():
    """A plate drawn in two halves spreads like one drawn whole."""

    def plate(*parts, names):
        return Section(
            "plate",
            parts,
            (Environment("air", 0, 500.0),),
            border=Border(bottom="air"),
            sources=(Source("q", segment=Segment((0, 0.01), (0.01, 0.01)), heat=1),),
            spreading=(Spreading(names, "x"),),
        )

    whole = plate(solid("plate", 40.0, box(0, 0.05, 0, 0.01)), names=("plate",))
    halves = plate(
        solid("a", 40.0, box(0, 0.02, 0, 0.01)), solid("b", 40.0, box(0.02, 0.05, 0, 0.01)), names=("a", "b")
    )
    x, y = lines(halves)
    one, two = both(answered(whole, at=(x, y)), "plate", "q"), both(answered(halves, at=(x, y)), "a + b", "q")
    assert two == pytest.approx(one, rel=1e-9)
    assert one[0] > 0
