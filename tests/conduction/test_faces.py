"""Conductances: exact wherever heat flows along one axis, in every view; void carries none."""

import math

import numpy as np
import pytest

from fdm.conduction.network import network_values
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Environment, Joint, Part, Section, Source
from validation.cases import box, solid

HELD = math.inf
EXACT = 1e-11


def network(section, halvings=0):
    x, y = first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    system = assemble(section, x, y)
    return network_values(system, unit_fields(system))


def coupling(section, halvings=0):
    return float(network(section, halvings).coupling[0, 1])


def between(films, axis=0):
    """Environments a and b behind these films, before and after the drawing along an axis."""
    border = Border(left="a", right="b") if axis == 0 else Border(bottom="a", top="b")
    return {"environments": (Environment("a", 1, films[0]), Environment("b", 0, films[1])), "border": border}


def along(axis, low, high, width):
    return box(low, high, 0, width) if axis == 0 else box(0, width, low, high)


@pytest.mark.parametrize("axis", [0, 1])
@pytest.mark.parametrize("films", [(8, 25), (HELD, 25), (8, HELD), (HELD, HELD)])
@pytest.mark.parametrize("joint", [0.0, 3e-3])
def test_slab_is_films_layers_and_joint_in_series(axis, films, joint):
    skin, foam = solid("skin", 0.17, along(axis, 0, 0.002, 0.5)), solid("foam", 0.033, along(axis, 0.002, 0.05, 0.5))
    section = Section("slab", (skin, foam), depth=0.4, joints=(Joint(("foam", "skin"), joint),), **between(films, axis))
    resistance = 1 / films[0] + 0.002 / 0.17 + joint + 0.048 / 0.033 + 1 / films[1]
    assert coupling(section) == pytest.approx(0.5 * 0.4 / resistance, rel=EXACT)


@pytest.mark.parametrize("films", [(8, 25), (HELD, HELD)])
@pytest.mark.parametrize("joint", [0.0, 3e-3])
def test_tube_is_films_logarithms_and_joint_in_series(films, joint):
    """Radial conduction: ln(b/a) / (2 pi k L) (Incropera et al., Fundamentals of Heat and Mass Transfer)."""
    steel, foam = solid("steel", 17, box(0.01, 0.012, 0, 0.3)), solid("foam", 0.033, box(0.012, 0.05, 0, 0.3))
    section = Section(
        "tube", (steel, foam), view="axisymmetric", joints=(Joint(("foam", "steel"), joint),), **between(films)
    )
    resistance = (
        1 / films[0] / 0.01 + math.log(1.2) / 17 + joint / 0.012 + math.log(0.05 / 0.012) / 0.033 + 1 / films[1] / 0.05
    )
    assert coupling(section) == pytest.approx(2 * math.pi * 0.3 / resistance, rel=EXACT)


def test_rod_along_the_axis_has_its_whole_area():
    rod = solid("rod", 50, box(0, 0.004, 0, 0.1))
    section = Section("rod", (rod,), view="axisymmetric", **between((10, 500), 1))
    assert coupling(section) == pytest.approx(math.pi * 0.004**2 / (1 / 10 + 0.1 / 50 + 1 / 500), rel=EXACT)


@pytest.mark.parametrize("films", [(8, 25), (HELD, HELD)])
def test_plate_seen_face_on_conducts_by_its_thickness(films):
    thick = solid("thick", 200, box(0, 0.03, 0, 0.02), thickness=0.004)
    thin = solid("thin", 150, box(0.03, 0.1, 0, 0.02), thickness=0.001)
    section = Section("strip", (thick, thin), view="plate", joints=(Joint(("thick", "thin"), 2e-4),), **between(films))
    # the two meet on the thinner one's edge; a film on an edge has the edge's own area
    resistance = 1 / films[0] / 0.004 + 0.03 / 200 / 0.004 + 2e-4 / 0.001 + 0.07 / 150 / 0.001 + 1 / films[1] / 0.001
    assert coupling(section) == pytest.approx(0.02 / resistance, rel=EXACT)


def test_plate_loses_through_both_faces():
    plate = solid("plate", 200, box(0, 0.03, 0, 0.02), thickness=0.004, front="room", back="cabinet")
    section = Section(
        "heated plate",
        (plate,),
        (Environment("room", 20, 12), Environment("cabinet", 7, 8)),
        view="plate",
        sources=(Source("heater", part="plate", heat=1),),
    )
    found, area = network(section), 0.03 * 0.02
    assert found.resistance[0, 0] == pytest.approx(1 / (area * (12 + 8)), rel=EXACT)
    assert found.weight[0] == pytest.approx([12 / 20, 8 / 20], rel=EXACT)
    assert found.coupling[0, 1] == pytest.approx(area * 12 * 8 / 20, rel=EXACT)


def test_plate_held_at_one_end_is_a_fin():
    """tanh(m L), m^2 = 2 h / (k t), of a thin fin with an insulated tip (Incropera et al.); second order."""
    k, t, h, length, width = 200.0, 0.001, 40.0, 0.06, 0.02
    plate = solid("fin", k, box(0, length, 0, width), thickness=t, front="air", back="air")
    section = Section(
        "fin",
        (plate,),
        (Environment("base", 1, HELD), Environment("air", 0, h)),
        view="plate",
        border=Border(left="base"),
    )
    m = math.sqrt(2 * h / (k * t))
    true = math.sqrt(2 * h * k * t) * width * math.tanh(m * length)
    errors = [abs(coupling(section, n) / true - 1) for n in (1, 2, 3)]
    assert errors[2] < 1e-3
    assert errors[0] > 3.5 * errors[1] > 3.5**2 * errors[2]


@pytest.mark.parametrize("view", ["section", "axisymmetric", "plate"])
@pytest.mark.parametrize("axis", [0, 1])
def test_each_axis_has_its_own_conductivity(view, axis):
    more = {"thickness": 0.003} if view == "plate" else {}
    board = solid("board", (0.8, 0.3), along(axis, 0.02, 0.05, 0.1), **more)
    section = Section("board", (board,), view=view, **between((HELD, HELD), axis))
    k = (0.8, 0.3)[axis]
    true = {
        "section": 0.1 * k / 0.03,
        "plate": 0.003 * 0.1 * k / 0.03,
        "axisymmetric": 2 * math.pi * 0.1 * k / math.log(2.5) if axis == 0 else math.pi * 0.1**2 * k / 0.03,
    }[view]
    assert coupling(section) == pytest.approx(true, rel=EXACT)


def test_an_anisotropic_part_is_an_isotropic_one_stretched():
    """With x' = x / sqrt(kx), y' = y / sqrt(ky) conduction is isotropic (H.S. Carslaw & J.C. Jaeger, Conduction of
    Heat in Solids, 1959, from memory); held edges, so that no film is stretched with them."""

    def block(kx, ky, sx, sy):
        return Section(
            "block",
            (
                solid("low", (kx, ky), box(0, 3 * sx, 0, 1 * sy)),
                solid("high", (kx, ky), box(1 * sx, 2 * sx, sy, 3 * sy)),
            ),
            (Environment("a", 1, HELD), Environment("b", 0, HELD)),
            border=Border(bottom="a", top="b"),
        )

    stretched = coupling(block(4.0, 9.0, 2.0, 3.0), 1)
    assert stretched == pytest.approx(6.0 * coupling(block(1.0, 1.0, 1.0, 1.0), 1), rel=1e-10)


@pytest.mark.parametrize("view", ["section", "plate"])
def test_no_heat_crosses_a_void(view):
    more = {"thickness": 0.01} if view == "plate" else {}
    wall = solid("wall", 2.0, box(0, 0.1, 0, 0.02), **more)
    slots = Part("slots", (box(0.02, 0.03, 0, 0.02), box(0.06, 0.09, 0, 0.02)), void=True)
    section = Section("wall", (wall, slots), view=view, **between((8, 25), 1))
    resistance = 1 / 8 + 0.02 / 2.0 + 1 / 25
    assert coupling(section) == pytest.approx(0.06 * (0.01 if view == "plate" else 1) / resistance, rel=EXACT)


def test_a_void_across_the_whole_wall_parts_its_two_sides():
    section = Section(
        "wall",
        (solid("wall", 2.0, box(0, 0.1, 0, 0.02)), Part("gap", (box(0, 0.1, 0.009, 0.011),), void=True)),
        **between((8, 25), 1),
    )
    assert abs(coupling(section)) < 1e-14


def test_nothing_drawn_carries_no_heat():
    """Two bars with open space between them; only their own area counts."""
    bars = solid("bars", 2.0, box(0, 0.01, 0, 0.02), box(0.05, 0.08, 0, 0.02))
    section = Section("bars", (bars,), **between((HELD, HELD), 1))
    assert coupling(section) == pytest.approx(0.04 * 2.0 / 0.02, rel=EXACT)


def test_an_environment_drawn_beside_a_solid_is_behind_its_film():
    section = Section(
        "wall between drawn airs",
        (
            Part("a side", (box(-0.05, 0, 0, 0.2),), environment="a"),
            Part("b side", (box(0.03, 0.05, 0, 0.2),), environment="b"),
            solid("wall", 0.5, box(0, 0.03, 0, 0.2)),
        ),
        (Environment("a", 1, 8), Environment("b", 0, 25)),
    )
    assert coupling(section) == pytest.approx(0.2 / (1 / 8 + 0.03 / 0.5 + 1 / 25), rel=EXACT)


def test_cells_of_any_size_give_the_same_in_one_dimension():
    section = Section("slab", (solid("slab", 0.7, box(0, 0.1, 0, 0.02)),), **between((8, 25)))
    rng = np.random.default_rng(5)
    x = np.concatenate([[0.0], np.sort(rng.random(20)) * 0.1, [0.1]])
    system = assemble(section, x, np.array([0, 0.013, 0.02]))
    found = network_values(system, unit_fields(system)).coupling[0, 1]
    assert found == pytest.approx(0.02 / (1 / 8 + 0.1 / 0.7 + 1 / 25), rel=EXACT)
