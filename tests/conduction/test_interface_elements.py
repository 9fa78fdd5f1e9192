"""Slanted edges between solids: what the interface elements on them must keep, and how fast they converge."""

import math

import numpy as np
import pytest

from fdm.answers.kinds import solved
from fdm.conduction.solver import prepared
from fdm.conduction.system import assemble
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines, halved
from fdm.grid.raster import middles
from fdm.section.model import Border, Disc, Joint, Polygon, Section
from validation.cases import air, box, held, solid
from validation.orders import disc_in_block


def two_halves(k, turn, view="section", joint=0.0, **more):
    """A block of conductivity 1, and over part of it one of conductivity k, whose edge is turned by an angle."""
    c, s = math.cos(turn), math.sin(turn)
    corners = tuple((0.5 + c * u - s * v, 0.5 + s * u + c * v) for u, v in ((0, -2), (2, -2), (2, 2), (0, 2)))
    inside = Polygon(corners if turn else tuple((min(max(x, -1), 2), min(max(y, -1), 2)) for x, y in corners))
    parts = (solid("block", 1, box(-1, 2, -1, 2), **more), solid("half", k, inside, **more))
    joints = (Joint(("block", "half"), joint),) if joint else ()
    border = Border(left="left", right="right")
    return Section("halves", parts, held("left", "right"), joints=joints, border=border, view=view)


def residual(system, field):
    """(n, m) W that leave each cell at a field of cell temperatures, over all that its links carry."""
    solver, number = prepared(system), system.unknown
    t = np.zeros(number.max() + 1)
    t[number[number >= 0]] = field[number >= 0]
    a, b, g = solver.direct.links
    flow = g * (t[a] - t[b])
    out = np.bincount(a, flow, len(t)) - np.bincount(b, flow, len(t))
    carried = np.bincount(a, abs(flow), len(t)) + np.bincount(b, abs(flow), len(t))
    return np.where(number >= 0, (out / carried)[number], 0.0)


def couplings(section, count):
    """Of left and right, on the first grid and its halvings."""
    x, y = first_lines(section)
    values = []
    for _ in range(count):
        values.append(solved(conduction_system(section, x, y)).answers.network.coupling[0, 1])
        x, y = halved(x), halved(y)
    return values


@pytest.mark.parametrize("k", [0.1, 10.0, 1e4])
@pytest.mark.parametrize("turn", [0.3, -0.7, 1.2])
@pytest.mark.parametrize("joint", [0.0, 0.02, 3.0])
def test_a_field_that_is_linear_on_either_side_of_a_slanted_edge_is_at_rest(k, turn, joint):
    section = two_halves(k, turn, joint=joint)
    x = y = np.linspace(-1, 2, 41)
    system = assemble(section, x, y)
    normal, along = (math.cos(turn), math.sin(turn)), (-math.sin(turn), math.cos(turn))
    cx, cy = middles(x)[:, None] - 0.5, middles(y)[None] - 0.5
    distance = cx * normal[0] + cy * normal[1]
    field = 0.7 * (cx * along[0] + cy * along[1]) + distance / np.where(distance > 0, k, 1.0) + joint * (distance > 0)
    inner = (abs(cx) < 0.6) & (abs(cy) < 0.6)  # away from the outer edge, and from the corners of the drawn half
    # to the part that `STIFF` takes of a gradient
    assert abs(residual(system, field)[inner]).max() < 5e-3
    without = abs(residual(system, field + (0.05 + joint) * (distance > 0))[inner]).max()  # a jump is seen
    assert without > 0.02


@pytest.mark.parametrize("k", [1e-4, 0.1, 10.0, 1e4])
def test_a_disc_between_solids_is_of_second_order_at_any_contrast(k):
    """W.T. Perrins, D.R. McKenzie & R.C. McPhedran, Proc. R. Soc. Lond. A 369 (1979) 207 (from memory)."""
    body = disc_in_block(k)
    x, y = first_lines(body.section)
    off = []
    for _ in range(5):
        off.append(abs(solved(conduction_system(body.section, x, y)).answers.network.coupling[0, 1] / body.true - 1))
        x, y = halved(x), halved(y)
    assert off[-1] < 3e-4
    assert math.log2(off[-3] / off[-1]) / 2 > 1.6


@pytest.mark.parametrize("joint", [0.0, 1e-6, 0.1])
def test_the_matrix_is_positive_where_links_are_not(joint):
    system = assemble(two_halves(1e4, 0.4, joint=joint), np.linspace(-1, 2, 21), np.linspace(-1, 2, 17))
    a, b, g = system.links
    assert (g < 0).any()
    solver = prepared(system)
    size = len(solver.direct.to_fixed)
    a, b, g = solver.direct.links
    matrix = np.diag(solver.direct.to_fixed)
    np.add.at(matrix, (np.r_[a, b, a, b], np.r_[a, b, b, a]), np.r_[g, g, -g, -g])
    assert abs(matrix - matrix.T).max() < 1e-9
    assert np.linalg.eigvalsh(matrix)[0] > 0
    assert len(matrix) == size


def test_links_keep_their_places_when_a_conductivity_changes():
    """Derivatives are taken of them one by one."""
    x = y = np.linspace(-1, 2, 20)
    one, other = (assemble(two_halves(k, 0.4), x, y).links for k in (10.0, 10.001))
    assert all((u == v).all() for u, v in zip(one[:2], other[:2]))
    assert one[2] == pytest.approx(other[2], rel=1e-2, abs=1e-3)


def test_no_element_lies_within_one_material_but_on_a_joint():
    x = y = np.linspace(-1, 2, 20)
    assert not len(assemble(two_halves(1.0, 0.4), x, y).links[0])
    assert len(assemble(two_halves(1.0, 0.4, joint=1e-3), x, y).links[0])


@pytest.mark.parametrize("k", [1.0, 10.0, 1e4])
@pytest.mark.parametrize("joint", [1e-9, 0.1, 10.0])
def test_a_round_joint_is_of_second_order(k, joint):
    """Two rings, one in the other, between held circles: three resistances in series."""
    parts = (
        air("outside", box(-1.1, 1.1, -1.1, 1.1)), solid("outer", 1, Disc((0, 0), 1)),
        solid("inner", k, Disc((0, 0), 0.6)), air("inside", Disc((0, 0), 0.3)),
    )  # fmt: skip
    section = Section("rings", parts, held("outside", "inside"), joints=(Joint(("outer", "inner"), joint),))
    true = 2 * math.pi / (math.log(1 / 0.6) + math.log(0.6 / 0.3) / k + joint / 0.6)
    x, y = first_lines(section)
    off = []
    for _ in range(4):
        off.append(abs(solved(conduction_system(section, x, y)).answers.network.coupling[0, 1] / true - 1))
        x, y = halved(x), halved(y)
    assert off[-1] < 2.5e-4
    assert off[-1] < max(off[0] / 30, 5e-5)


@pytest.mark.parametrize("k", [1.0, 1e4])
def test_a_field_across_a_round_joint_settles_evenly(k):
    """The heat goes round it and through it, so that the jump differs from place to place."""
    parts = solid("block", 1, box(0, 1, 0, 1)), solid("disc", k, Disc((0.47, 0.52), 0.25))
    border = Border(left="left", right="right")
    section = Section("disc", parts, held("left", "right"), joints=(Joint(("block", "disc"), 3.0),), border=border)
    change = np.diff(couplings(section, 5))
    assert ((change[:-1] / change[1:] > 2.8) & (change[:-1] / change[1:] < 5)).all()


BLOCK = solid("block", 1, box(0, 1, 0, 1))


def test_a_joint_through_cell_centres_settles():
    """Crossings fall on one another there, in triangles of no area."""
    half = solid("half", 5, Polygon(((0.4, 0), (1, 0), (1, 1), (0.6, 1))))
    joints, border = (Joint(("block", "half"), 0.5),), Border(left="left", right="right")
    section = Section("halves", (BLOCK, half), held("left", "right"), joints=joints, border=border)
    values = couplings(section, 5)
    assert np.ptp(values[1:]) < 2e-3 * values[-1]


THREE = {
    "bead on a wire": (BLOCK, solid("wire", 1e4, box(0.45, 1, 0.44, 0.57)), solid("bead", 3, Disc((0.4, 0.5), 0.2))),
    "disc half in it": (BLOCK, solid("upper", 0.1, box(0, 1, 0.5, 1)), solid("disc", 1e4, Disc((0.5, 0.55), 0.25))),
    "disc over disc": (BLOCK, solid("one", 1e4, Disc((0.37, 0.46), 0.22)), solid("two", 0.01, Disc((0.63, 0.56), 0.2))),
}


@pytest.mark.parametrize("name", THREE)
def test_the_error_falls_evenly_where_three_materials_meet(name):
    """By about 4, being of second order, or what the corner of the field leaves of that. On lines that miss the meeting
    points it fell by 19 and then by 0.4."""
    section = Section(name, THREE[name], held("left", "right"), border=Border(left="left", right="right"))
    change = np.diff(couplings(section, 4))
    ratio = change[:-1] / change[1:]
    assert ((ratio > 2.2) & (ratio < 5.5)).all()


def test_a_rod_about_its_axis_and_a_plate_take_part():
    """A cone frustum of its own material in a rod settles as fast about the axis as a slanted edge in a plane."""
    cone = Polygon(((0, 0.2), (0.3, 0.2), (0.2, 0.8), (0, 0.8)))
    rod = Section(
        "rod", (solid("rod", 1, box(0, 1, 0, 1)), solid("cone", 20, cone)), held("below", "above"),
        border=Border(bottom="below", top="above"), view="axisymmetric",
    )  # fmt: skip
    plate = Section(
        "plate",
        (solid("plate", 1, box(0, 1, 0, 1), thickness=0.002),
         solid("disc", 20, Disc((0.4, 0.5), 0.25), thickness=0.003)),
        held("below", "above"), border=Border(bottom="below", top="above"), view="plate",
    )  # fmt: skip
    for section in (rod, plate):
        values = couplings(section, 5)
        change = abs(np.diff(values))
        assert change[-1] < change[-2] / 2 < change[-3] / 4  # corners keep it from a full 4
        assert change[-1] < 1e-3 * values[-1]
