"""Grid lines: graded away from what is drawn, and split without moving."""

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.grid.lines import MOST_LINES, first_lines, halved, split
from fdm.section.model import Border, Disc, Environment, Polygon, Section, Segment, Source
from validation.cases import box, solid


def section(*parts, **more):
    return Section("drawing", parts, (Environment("air", 20, 10),), border=Border(bottom="air"), **more)


def test_lines_rise_and_neighbouring_cells_are_alike_except_across_an_edge():
    thin = section(solid("skin", 1, box(0, 0.0002, 0, 1)), solid("wall", 1, box(0.0002, 0.3, 0, 1)))
    x, _ = first_lines(thin)
    size = np.diff(x)
    assert (size > 0).all()
    # from an edge on, cells grow by no more than a factor each (log1p(GROWTH) per cell, rounding to whole cells)
    beyond = size[x[:-1] >= 0.0002 - 1e-12]
    ratio = beyond[1:] / beyond[:-1]
    assert ratio.max() < 4 and ratio.min() > 1 / 4
    assert size[0] < 1e-3 * size.max()
    assert len(x) < 40


def test_a_length_that_differs_by_rounding_gives_one_line():
    apart = 0.1 + 0.2  # 0.30000000000000004
    x, _ = first_lines(section(solid("a", 1, box(0, 0.3, 0, 1)), solid("b", 1, box(apart, 1, 0, 1))))
    assert np.diff(x).min() > 1e-3


def heated_on_a_film(film, *more, upright=False):
    """A plate, a film on it and a heater, 0.01 to 0.06 m along it, on the film."""
    top = 0.03 + film

    def turned(along, across):
        return (across, along) if upright else (along, across)

    def layer(name, k, low, high):
        return solid(name, k, box(*sum(turned((0, 0.12), (low, high)), ())))

    heater = Source("heater", segment=Segment(*turned((0.01, 0.06), (top, top))), heat=1)
    parts = (layer("plate", 20, 0, 0.03), layer("film", 0.3, 0.03, top), *more)
    return Section(
        "heated",
        parts,
        (Environment("air", 20, 50),),
        border=Border(**{"left" if upright else "bottom": "air"}),
        sources=(heater,),
    )


@pytest.mark.parametrize("upright", [False, True])
@pytest.mark.parametrize("film", [0.0005, 0.002])
def test_cells_beside_the_end_of_a_heater_are_about_as_wide_as_the_layer_behind_it(film, upright):
    lines = first_lines(heated_on_a_film(film, upright=upright))[int(upright)]
    for end in (0.01, 0.06):
        k = int(np.argmin(abs(lines - end)))
        assert lines[k] == pytest.approx(end)
        assert max(np.diff(lines)[k - 1 : k + 1]) < 2.5 * film
    assert len(lines) < 60


def test_the_thinner_of_the_layers_on_both_sides_of_a_heater_counts():
    (below, _), (above, _) = (
        first_lines(heated_on_a_film(0.004, solid("lid", 1, box(0, 0.12, 0.034, 0.034 + lid))))
        for lid in (0.04, 0.0004)
    )
    beside = [np.diff(x)[int(np.argmin(abs(x - 0.01)))] for x in (below, above)]
    assert beside[1] < 2.5 * 0.0004 < beside[0]


def test_a_scaled_drawing_has_scaled_lines():
    def drawn(s):
        return section(solid("a", 1, box(0, s, 0, 0.1 * s)), solid("b", 1, box(0.3 * s, 0.4 * s, 0.1 * s, 0.9 * s)))

    for small, large in zip(first_lines(drawn(1e-3)), first_lines(drawn(1.0))):
        assert large == pytest.approx(1000 * small, rel=1e-9)


def test_a_mirrored_drawing_has_mirrored_lines():
    left = section(solid("a", 1, box(-1, 0.4, 0, 1)), solid("b", 1, box(-1, -0.99, 0.2, 1)))
    right = section(solid("a", 1, box(-0.4, 1, 0, 1)), solid("b", 1, box(0.99, 1, 0.2, 1)))
    assert first_lines(right)[0] == pytest.approx(-first_lines(left)[0][::-1], abs=1e-12)


def test_halving_keeps_every_line_and_adds_the_middles():
    lines = np.array([0.0, 0.1, 0.3, 0.9])
    once = halved(lines)
    assert once[::2] == pytest.approx(lines, abs=0)
    assert once[1::2] == pytest.approx([0.05, 0.2, 0.6], rel=1e-15)
    assert len(halved(once)) == 4 * 3 + 1


def test_splitting_divides_the_chosen_intervals_only():
    lines = np.array([0.0, 1.0, 2.0, 4.0])
    assert split(lines, np.array([False, True, False])).tolist() == [0, 1, 1.5, 2, 4]
    assert split(lines, np.zeros(3, bool)).tolist() == lines.tolist()


def test_cells_are_narrow_around_shapes_without_lines_and_grow_away_from_them():
    pins = [Disc((0.2 + 0.05 * a, 0.2 + 0.05 * b + 0.003 * a), 0.01 + 0.0005 * b) for a in range(5) for b in range(10)]
    x, y = first_lines(section(solid("block", 1, box(0, 3, 0, 1)), solid("pins", 9, *pins)))
    assert (x[0], x[-1], y[0], y[-1]) == (0, 3, 0, 1)
    for lines, axis in ((x, 0), (y, 1)):
        for low, high in (p.bounds[2 * axis : 2 * axis + 2] for p in pins):
            assert np.diff(lines)[(lines[:-1] > low) & (lines[1:] < high)].max() < 0.0145
        assert np.diff(lines).max() > 0.05
    assert len(x) < 80 and len(y) < 90


def test_a_few_round_shapes_have_their_lines_and_many_none_but_all_straight_edges_do():
    wall = solid("wall", 1, box(0, 1, 0, 1)), solid("strip", 2, box(0.313, 1, 0, 1))
    for count, has in ((8, True), (9, False)):
        pins = [Disc((0.1 + 0.09 * k, 0.5), 0.03) for k in range(count)]
        x, y = first_lines(section(*wall, solid("pins", 9, *pins)))
        ends = np.array([p.bounds[:2] for p in pins]).ravel()
        assert (abs(ends[:, None] - x).min(1) < 1e-12).all() == has
        assert abs(x - 0.313).min() < 1e-12
        assert abs(y - 0.47).min() < 1e-12  # three lines along y, whatever their number


def test_too_many_different_edges_are_refused():
    rng = np.random.default_rng(1)
    corners = tuple(map(tuple, rng.random((MOST_LINES + 100, 2))))
    with pytest.raises(InputError, match="different edges along x"):
        first_lines(section(solid("dust", 1, Polygon(corners))))
