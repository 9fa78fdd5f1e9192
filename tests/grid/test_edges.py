"""Lines pass through everything drawn straight, and where round and slanted edges meet others."""

import math

import numpy as np
import pytest

from fdm.grid.lines import first_lines
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


def test_corners_of_many_have_no_lines_where_they_follow_a_curve_but_straight_and_sharp_ones_do():
    angle = np.linspace(0, np.pi, 61)
    bow = np.column_stack([0.5 + 0.3 * np.cos(angle), 0.4 + 0.3 * np.sin(angle)])
    dish = Polygon((*map(tuple, bow.tolist()), (0.2, 0.2), (0.47, 0.11), (0.8, 0.2)))
    x, y = first_lines(section(BLOCK, solid("dish", 1, dish)))
    assert all(passes_through(x, [0.2, 0.8, 0.47]) + passes_through(y, [0.2, 0.11]))
    assert not any(passes_through(x, bow[5:25, 0]))
    assert len(x) < 40 and len(y) < 40
