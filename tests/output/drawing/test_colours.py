from itertools import combinations

import numpy as np
import pytest

from fdm.output.drawing import cabinet, colours
from fdm.output.drawing.colours import KINDS, Look, contour_levels, environment_looks, material_looks, paint
from fdm.output.drawing.study import line_colours
from fdm.section.model import Border, Environment, Material, Part, Rectangle, Section
from tests.output.drawing.colour_vision import lab, nearest

APART = 7  # three times what eyes just notice: 2.3 in CIELAB (Mahy, Van Eycken and Oosterlinck 1994, from memory)


def section_of(*conductivity: float) -> Section:
    materials = [Material(f"material {i}", (k, k)) for i, k in enumerate(conductivity)]
    parts = tuple(Part(m.name, (Rectangle((i, i + 1), (0, 1)),), m) for i, m in enumerate(materials))
    return Section("t", parts, (Environment("e", 0, 1),), border=Border(bottom="e"))


def told_apart(one: Look, other: Look) -> bool:
    return one.hatch != other.hatch or nearest([one.colour, other.colour]) >= APART


def test_levels_of_a_field_at_one_temperature():
    levels, ends = contour_levels(np.full((3, 3), 7.0), 10)
    assert ends == (6.5, 7.5) and 7.0 in levels


def test_materials_differ_in_hatch_or_colour_to_all_eyes():
    """Up to nine of each kind, some of them equally good conductors, and beside all airs and voids."""
    several = [k for kind in (0.03, 0.2, 3.0, 200.0) for k in [kind] * 3 + [kind * (1 + 0.01 * i) for i in range(6)]]
    materials = material_looks(section_of(*several)).values()
    assert len({m.hatch for m in materials}) == 3 * len(KINDS)
    airs = environment_looks([Environment(f"air {k}", t, 8) for k, t in enumerate((7, 7, 30, 40))]).values()
    assert all(told_apart(a, b) for a, b in combinations([*materials, *airs, colours.VOID], 2))


def test_kinds_follow_the_conductivity():
    foam, wood, paste, steel, copper = material_looks(section_of(0.033, 0.13, 3.5, 50.0, 390.0)).values()
    assert [look.hatch[0] for look in (foam, wood, paste, steel)] == [kind.hatch for kind in KINDS]
    assert steel.hatch == copper.hatch


def test_words_can_be_read_on_every_colour():
    ink = lab([colours.INK])[0, 0]
    assert min(lab([c for kind in KINDS for c in kind.colours] + colours.ENVIRONMENT_COLOURS)[:, 0]) > ink + 35


def test_colours_of_charts_stay_apart():
    kinds = {cabinet.KIND_COLOURS[k] for k in cabinet.KIND_WORDS}
    curves = [cabinet.AIR_COLOUR, cabinet.LOAD_COLOUR, colours.SENSOR, colours.HEAT]
    marks = [colours.HEAT, colours.HELD, colours.JOINT, colours.SENSOR]
    assert min(map(nearest, [kinds, curves, marks, *(line_colours(n) for n in range(2, 9))])) >= APART


def test_warm_air_is_redder_than_cold(wall):
    numbers = np.array([[0, len(wall.section.parts) + 3, -1]], np.int32)
    cold, warm, nothing = paint(wall.section, numbers)[0].astype(int).tolist()
    assert cold[2] > cold[0] and warm[0] > warm[2]
    assert nothing == [255, 255, 255, 255]
    assert np.all(paint(wall.section, numbers, 0.5)[0, :2, :3] >= [cold[:3], warm[:3]])


def test_hatches_are_lines_of_two_pixels_on_their_own_part():
    section = section_of(200.0, 0.2)
    owner = np.repeat(np.int32([[0], [1], [-1]]), 56, 0).repeat(56, 1)
    painted = paint(section, owner)
    metal, plastic = (len(np.unique(painted[a : a + 56].reshape(-1, 4), axis=0)) for a in (0, 56))
    assert (metal, plastic) == (2, 2) and (painted[112:] == 255).all()
    lines = (painted[:56] != painted[3, 0]).any(2)
    assert lines.mean() == pytest.approx(2 / 14, abs=0.01)
    assert (lines[1:, 1:] == lines[:-1, :-1]).all()  # they rise to the right
