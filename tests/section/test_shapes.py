"""Shapes: their geometry, their copies, and what they refuse."""

import math

import numpy as np
import pytest

from fdm.errors import InputError
from fdm.section.shapes import Disc, Polygon, Rectangle, Segment, repeated


def area(points):
    x, y = points.T
    return np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2


def test_outlines_have_the_area_of_the_shape():
    assert area(Rectangle((1, 3), (2, 5)).outline()) == pytest.approx(6)
    assert area(Disc((1, 2), 0.5).outline()) == pytest.approx(math.pi * 0.25, rel=1e-12)
    assert area(Polygon(((0, 0), (4, 0), (0, 3))).outline()) == pytest.approx(6)


@pytest.mark.parametrize(
    "shape",
    [Rectangle((0, 2), (0, 1)), Disc((1, 0.5), 0.5), Polygon(((0, 0), (2, 0), (2, 1), (1, 0.2), (0, 1)))],
)
def test_share_of_a_fine_raster_inside_is_the_area(shape):
    x, y = np.meshgrid((np.arange(800) + 0.5) / 400, (np.arange(400) + 0.5) / 400, indexing="ij")
    assert np.mean(shape.contains(x, y)) * 2 == pytest.approx(area(shape.outline()), abs=2e-3)


@pytest.mark.parametrize("shape", [Rectangle((0, 2), (0, 1)), Disc((1, 1), 0.5), Polygon(((0, 0), (2, 0), (1, 1)))])
def test_copies_are_moved_on_by_the_step(shape):
    copies = repeated(shape, 3, (0.5, -0.25))
    assert len(copies) == 3
    for i, copy in enumerate(copies):
        np.testing.assert_allclose(copy.outline(), shape.outline() + [0.5 * i, -0.25 * i], atol=1e-15)


@pytest.mark.parametrize(
    "build, message",
    [
        (lambda: Rectangle((1, 1), (0, 1)), "rectangle has no size"),
        (lambda: Rectangle((0, 1), (1, 0)), "rectangle has no size or is turned around"),
        (lambda: Rectangle((0, math.nan), (0, 1)), r"rectangle: \(0, nan\) is not two finite numbers"),
        (lambda: Rectangle((0, 1, 2), (0, 1)), r"rectangle: \(0, 1, 2\) is not two finite numbers"),
        (lambda: Rectangle((0, math.inf), (0, 1)), "rectangle: .* is not two finite numbers"),
        (lambda: Disc((0, math.nan), 1), "disc: .* is not two finite numbers"),
        (lambda: Disc((0, 0), None), "disc has no size"),
        (lambda: Polygon(((0, 0), ("a", 1), (1, 0))), r"polygon: \('a', 1\) is not two finite numbers"),
        (lambda: Segment((0, 1), None), "segment: None is not two finite numbers"),
        (lambda: Disc((0, 0), 0), "disc has no size"),
        (lambda: Disc((0, 0), -1), "disc has no size"),
        (lambda: Polygon(((0, 0), (1, 1))), "polygon has 2 points"),
        (lambda: Polygon(((0, 0), (1, 1), (2, 2))), "polygon has no area"),
        (lambda: Segment((0, 1), (0, 1)), "slanted"),
        (lambda: Segment((1, 1), (2, 2)), "no length"),
        (lambda: Segment((1, 0), (2, 2)), "no length"),
    ],
)
def test_shapes_without_size_are_refused(build, message):
    with pytest.raises(InputError, match=message):
        build()


def test_segments_know_their_direction():
    assert Segment((1, 1), (0, 2)).vertical
    assert not Segment((0, 2), (1, 1)).vertical
