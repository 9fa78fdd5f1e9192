import numpy as np
import pytest

from fdm.output.drawing.occupancy import STEP, Anchor, Occupancy


@pytest.fixture
def room():
    """100 x 60 steps without an edge of the drawing."""
    return Occupancy(np.zeros((100 * STEP, 60 * STEP), np.int32))


def point(i, j):
    return Anchor((i, j), (i, j), mark=1.5)


def test_a_label_goes_near_its_anchor_but_not_onto_it(room):
    spot = room.search().cheapest((12, 4), point(50.0, 30.0), 60)
    assert 3 <= spot.distance < 5
    assert spot.cost < 10


def test_a_label_covers_nothing_and_its_leader_crosses_nothing(room):
    room.occupy_box((70.0, 30.0), (60, 60))
    spot = room.search().cheapest((12, 4), point(38.0, 30.0), 60)
    assert spot.middle[0] <= 40 - 6
    room.occupy_line(np.array([[20.0, 0.0], [20.0, 60.0]]), 2)
    beyond = room.search().cheapest((24, 4), point(38.0, 30.0), 60)  # no room between the line and the box
    assert beyond.cost > 60


def test_no_spot_where_the_axes_are_too_small(room):
    assert room.search().cheapest((120, 4), point(50.0, 30.0), 60) is None


def test_room_in_a_region_is_far_from_its_edges(room):
    region = np.zeros((100 * STEP, 60 * STEP), bool)
    region[30 * STEP : 60 * STEP, 10 * STEP : 40 * STEP] = True
    free = room.free_region(region)
    assert free.spot((8, 4)) == pytest.approx((45, 25), abs=1.5)
    assert free.spot((40, 4)) is None
    assert room.free_region(region[::-1] & region[:, ::-1] & False) is None


def test_what_is_occupied_is_not_free(room):
    assert room.is_free((50.0, 30.0), (10, 4))
    room.occupy_box((50.0, 30.0), (2, 2))
    assert not room.is_free((50.0, 30.0), (10, 4))
    assert not room.is_free((2.0, 30.0), (10, 4))  # beyond the axes
