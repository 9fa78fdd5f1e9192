"""Grid lines: through everything drawn straight, graded away from it, and split without moving."""

import math

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.grid.lines import MOST_LINES, first_lines, followed, halved, split, too_thin
from fdm.section.model import Border, Disc, Environment, Polygon, Section, Segment, Sensor, Source, repeated
from validation.cases import box, solid


def section(*parts, **more):
    return Section("drawing", parts, (Environment("air", 20, 10),), border=Border(bottom="air"), **more)


def passes_through(lines, places):
    return [min(abs(lines - p)) <= 1e-12 * np.ptp(lines) for p in places]


def test_lines_pass_through_every_edge_segment_end_and_sensor():
    drawn = section(
        solid("plate", 200, box(0, 0.12, 0, 0.006)),
        solid("fins", 200, *repeated(box(0.011, 0.0125, 0.006, 0.036), 12, (0.0081, 0))),
        solid("pipe", 50, Disc((0.061, 0.0213), 0.0037)),
        solid("wedge", 1, Polygon(((0.1, 0.006), (0.117, 0.006), (0.103, 0.029)))),
        sources=(
            Source("flat", segment=Segment((0.0407, 0.0809), (0, 0)), heat=1),
            Source("upright", segment=Segment((0.12, 0.12), (0.0011, 0.0047)), heat=1),
        ),
        sensors=(Sensor("bead", at=(0.0303, 0.0029)),),
    )
    x, y = first_lines(drawn)
    fins = [e + 0.0081 * k for k in range(12) for e in (0.011, 0.0125)]
    assert all(passes_through(x, [0, 0.12, *fins, 0.0573, 0.061, 0.0647, 0.1, 0.117, 0.103, 0.0407, 0.0809, 0.0303]))
    assert all(passes_through(y, [0, 0.006, 0.036, 0.0176, 0.0213, 0.025, 0.029, 0.0011, 0.0047, 0.0029]))
    assert (x[0], x[-1], y[0], y[-1]) == drawn.extent


BLOCK, BEAD = solid("block", 1, box(0, 1, 0, 1)), solid("bead", 1, Disc((0.4, 0.5), 0.2))
MEETINGS = {  # what the bead partly covers, and where its edge meets that one's
    "rectangle": (box(0.45, 1, 0.42, 0.57), [(0.4 + math.sqrt(0.2**2 - d**2), 0.5 + d) for d in (-0.08, 0.07)]),
    "disc": (Disc((0.6, 0.5), 0.2), [(0.5, 0.5 + d * math.sqrt(0.03)) for d in (-1, 1)]),
    "polygon": (Polygon(((0.48, 0.06), (0.9, 0.4), (0.6, 0.9))), [(0.52, 0.34), (0.56, 0.62)]),
}


@pytest.mark.parametrize("name", MEETINGS)
def test_lines_pass_where_a_round_edge_meets_another(name):
    shape, meetings = MEETINGS[name]
    x, y = first_lines(section(BLOCK, solid(name, 1, shape), BEAD))
    assert all(passes_through(x, [p[0] for p in meetings]) + passes_through(y, [p[1] for p in meetings]))


def test_lines_pass_where_slanted_edges_cross():
    one, two = Polygon(((0.1, 0.1), (0.8, 0.2), (0.8, 0.9))), Polygon(((0.1, 0.6), (0.9, 0.3), (0.9, 0.7)))
    x, y = first_lines(section(BLOCK, solid("one", 1, one), solid("two", 1, two)))
    across = [(1 + 56 / 17, 1 + 64 / 17), (1 + 280 / 57, 6 + 35 / 57), (8, 6 - 3 / 8 * 7), (8, 6 + 7 / 8)]
    assert all(passes_through(x, [p[0] / 10 for p in across]) + passes_through(y, [p[1] / 10 for p in across]))


def test_no_line_of_its_own_where_a_meeting_is_covered_or_hardly_one():
    shape, ((meeting, _), _) = MEETINGS["rectangle"]
    wire, cover = solid("wire", 1, shape), solid("cover", 1, box(0.1, 0.9, 0.2, 0.8))
    for parts, seen in (((cover, wire, BEAD), True), ((wire, BEAD, cover), False)):
        assert passes_through(first_lines(section(BLOCK, *parts))[0], [meeting]) == [seen]
    below, into = (solid("touched", 1, box(0.1, 0.9, 0.1, y)) for y in (0.3, 0.3 + 1e-11))
    assert len(first_lines(section(BLOCK, into, BEAD))[0]) == len(first_lines(section(BLOCK, below, BEAD))[0])


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


def test_too_many_different_edges_are_refused():
    rng = np.random.default_rng(1)
    corners = tuple(map(tuple, rng.random((MOST_LINES + 100, 2))))
    with pytest.raises(InputError, match="different edges along x"):
        first_lines(section(solid("dust", 1, Polygon(corners))))


def test_cells_follow_slanted_sheets_by_their_thickness_alone():
    c, s, thickness = 0.8, 0.6, 0.01

    def turned(*corners):
        return Polygon(tuple((c * u - s * v, s * u + c * v) for u, v in corners))

    sheet = turned((0.2, 0), (0.9, 0), (0.9, thickness), (0.2, thickness))
    drawn = section(BLOCK, solid("sheet", 1, sheet))
    first = first_lines(drawn)
    assert too_thin(drawn, *first) == ("sheet",)
    x, y = followed(drawn, *first, 100_000)
    low_x, high_x, low_y, high_y = sheet.bounds
    for lines, low, high in ((x, low_x, high_x), (y, low_y, high_y)):
        near = (lines[1:] > low + 0.01) & (lines[:-1] < high - 0.01)
        assert thickness / 2 < np.diff(lines)[near].max() <= thickness * 1.0001
        assert np.diff(lines).max() > 2 * thickness  # elsewhere as before
    assert too_thin(drawn, x, y) == ()
    x, y = followed(drawn, *first, 500)
    assert (len(x) - 1) * (len(y) - 1) <= 500 and too_thin(drawn, x, y) == ("sheet",)


def test_a_thick_part_with_thin_upright_fins_and_a_slanted_corner_is_not_thin():
    comb = Polygon(((0, 0), (1, 0), (1, 0.5), (0.995, 0.5), (0.995, 0.2), (0.1, 0.2), (0, 0.1)))
    drawn = section(solid("comb", 1, comb))
    first = first_lines(drawn)
    assert too_thin(drawn, *first) == ()
    assert all(map(np.array_equal, followed(drawn, *first, 100_000), first))
