"""Round and slanted edges: what leaves through them, and how fast the answers settle as the grid is halved."""

import math

import numpy as np
import pytest

from fdm.conduction.layout import Variant
from fdm.conduction.network import checks, network_values
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Polygon, Section, Source
from fdm.solving.steady import solve
from validation.cases import air, box, solid
from validation.formulas import annular_fin_efficiency

HELD = math.inf


def airs(inside, outside):
    return Environment("in", 1, inside), Environment("out", 0, outside)


def uniform(section, n):
    x0, x1, y0, y1 = section.extent
    return np.linspace(x0, x1, n + 1), np.linspace(y0, y1, round(n * (y1 - y0) / (x1 - x0)) + 1)


def network(section, x, y):
    system = assemble(section, x, y)
    return network_values(system, unit_fields(system))


def couplings(section, x, y, halvings):
    out = []
    for _ in range(halvings + 1):
        out.append(float(network(section, x, y).coupling[0, 1]))
        x, y = halved(x), halved(y)
    return np.array(out)


def turned(x0, x1, y0, y1, angle=0.3):
    """A rectangle turned about the origin."""
    c, s = math.cos(angle), math.sin(angle)
    return Polygon(tuple((c * x - s * y, s * x + c * y) for x, y in ((x0, y0), (x1, y0), (x1, y1), (x0, y1))))


def ring(films, view="section", k=2.0, **more):
    """Between radii 10 and 30 mm, air on both sides."""
    parts = (
        air("out", box(-0.035, 0.035, -0.035, 0.035)),
        solid("ring", k, Disc((0, 0), 0.03), **more),
        air("in", Disc((0, 0), 0.01)),
    )
    return Section("ring", parts, airs(*films), view=view)


def ring_coupling(films, k=2.0):
    """Per metre: films and ln(b/a) / (2 pi k) in series (Incropera et al., Fundamentals of Heat and Mass Transfer)."""
    return 2 * math.pi / (1 / films[0] / 0.01 + math.log(3) / k + 1 / films[1] / 0.03)


def bar(films, conductivities=(3.0, 3.0), joint=0.0):
    """A bar of two halves, 60 x 20 mm, turned by 0.3 rad, with air at its ends and nothing at its sides."""
    half, w = 0.03, 0.01
    return Section(
        "bar",
        (
            air("in", turned(-0.01, half, -w, w)),
            air("out", turned(half, 2 * half + 0.01, -w, w)),
            *(solid(n, k, turned(a, a + half, -w, w)) for n, k, a in zip(("one", "two"), conductivities, (0, half))),
        ),
        airs(*films),
        joints=(Joint(("one", "two"), joint),),
    )


def bar_coupling(films, conductivities=(3.0, 3.0), joint=0.0):
    return 0.02 / (1 / films[0] + 1 / films[1] + sum(0.03 / k for k in conductivities) + joint)


# ---- surfaces -------------------------------------------------------------------------------------------------------

TRIANGLE = Polygon(((-0.021, -0.019), (0.0243, -0.0066), (0.0039, 0.0231)))


def outline_length(polygon):
    p = polygon.outline()
    return float(np.hypot(*(np.roll(p, -1, 0) - p).T).sum())


@pytest.mark.parametrize("n", [7, 20, 41, 80])
@pytest.mark.parametrize("inside", [True, False])
@pytest.mark.parametrize(
    "shape, length",
    [
        (Disc((0, 0), 0.02), 2 * math.pi * 0.02),
        (Disc((0.0013, -0.002), 0.017), 2 * math.pi * 0.017),
        (TRIANGLE, outline_length(TRIANGLE)),
        (turned(-0.013, 0.021, -0.009, 0.012), 2 * (0.034 + 0.021)),
    ],
    ids=["disc on lines", "disc", "triangle", "bar"],
)
def test_a_surface_behind_a_weak_film_has_its_true_length(shape, length, inside, n):
    """With next to no film its whole resistance is the film's: 1 / (h A). Any piece of edge that is lost would show."""
    h = 1e-4
    parts = (air("air", box(-0.03, 0.03, -0.03, 0.03)), solid("body", 5.0, shape))
    if inside:
        parts = (solid("body", 5.0, box(-0.03, 0.03, -0.03, 0.03)), air("air", shape))
    section = Section("surface", parts, (Environment("air", 0, h),), sources=(Source("q", part="body", heat=1),))
    assert network(section, *uniform(section, n)).resistance[0, 0] == pytest.approx(1 / (h * length), rel=2e-5)


@pytest.mark.parametrize(
    "view, more, area",
    [
        ("section", {}, 2 * math.pi * 0.02),
        ("plate", {"thickness": 0.003}, 0.003 * 2 * math.pi * 0.02),
        ("axisymmetric", {}, 4 * math.pi**2 * 0.03 * 0.02),  # a torus
    ],
)
def test_the_area_of_a_round_surface_in_each_view(view, more, area):
    h = 1e-4
    parts = solid("body", 5.0, box(0, 0.06, -0.03, 0.03), **more), air("air", Disc((0.03, 0.0), 0.02))
    section = Section(
        "surface", parts, (Environment("air", 0, h),), view=view, sources=(Source("q", part="body", heat=1),)
    )
    assert network(section, *uniform(section, 23)).resistance[0, 0] == pytest.approx(1 / (h * area), rel=2e-5)


def block(*parts):
    """A block between two airs, drawn as these parts."""
    return Section("block", parts, airs(8, 25), border=Border(left="in", bottom="out"))


ALONE = solid("block", 2.0, box(-0.03, 0.03, -0.03, 0.03))
ROUND = Disc((0.002, 0.004), 0.015)


@pytest.mark.parametrize(
    "drawn, without, rel",
    [
        (block(ALONE, solid("disc", 2.0, ROUND)), (), 1e-10),
        (block(air("in", ROUND), ALONE), (), 1e-12),
        (block(ALONE, solid("disc", 90.0, ROUND)), ("disc",), 1e-12),
    ],
    ids=["within one material", "covered by another", "left out"],
)
def test_a_round_edge_that_is_none_leaves_no_trace(drawn, without, rel):
    x, y = uniform(block(ALONE), 30)
    system = assemble(drawn, x, y, Variant(without))
    found = network_values(system, unit_fields(system)).coupling
    assert found == pytest.approx(network(block(ALONE), x, y).coupling, rel=rel)


def test_a_held_disc_is_an_environment_that_holds():
    block = solid("block", 2.0, box(-0.03, 0.03, -0.03, 0.03))
    edge = Border(left="out", right="out")
    tube = Section("tube", (block, air("in", Disc((0.004, 0), 0.01))), airs(HELD, 25), border=edge)
    part = Section(
        "part",
        (block, solid("in", 9.0, Disc((0.004, 0), 0.01))),
        tube.environments[1:],
        border=edge,
        sources=(Source("held", part="in", temperature=1),),
    )
    x, y = uniform(tube, 25)
    assert network(part, x, y).coupling[0, 1] == pytest.approx(network(tube, x, y).coupling[0, 1], rel=1e-10)


# ---- order ----------------------------------------------------------------------------------------------------------


def test_held_disc_in_a_square_block_is_of_second_order():
    """The reference is extrapolated from the finest grid, which is six times finer than the last one judged."""
    block = solid("block", 1.0, box(-0.05, 0.05, -0.05, 0.05))
    section = Section("block", (block, air("in", Disc((0, 0), 0.02))), airs(HELD, HELD), border=Border(*["out"] * 4))
    found = couplings(section, *uniform(section, 10), 5)
    true = found[-1] + (found[-1] - found[-2]) / 3
    errors = abs(found[:4] / true - 1)
    assert errors[0] < 0.02
    assert (errors[:-1] > 2.5 * errors[1:]).all()
    assert (errors[0] / errors[-1]) ** (1 / 3) > 3.3
    # shape factor 2 pi / ln(1.08 w / D) of a round hole in a square block (Incropera et al., Table 4.1)
    assert true == pytest.approx(2 * math.pi / math.log(1.08 * 0.1 / 0.04), rel=2e-3)


@pytest.mark.parametrize("films", [(HELD, HELD), (HELD, 30), (20, 20)])
@pytest.mark.parametrize("n", [16, 20])
def test_ring_settles_to_films_and_logarithm(films, n):
    section, true = ring(films), ring_coupling(films)
    errors = abs(couplings(section, *uniform(section, n), 3) / true - 1)
    assert errors[0] < 0.015
    assert errors[-1] < 1.5e-4
    assert errors[-1] < errors[0] / 8 or errors.max() < 4e-4  # the weak film is as good as that from the start


@pytest.mark.parametrize("films", [(HELD, HELD), (20, 20)])
def test_ring_in_a_plate_is_the_same_times_the_thickness(films):
    flat, plate = ring(films), ring(films, "plate", thickness=0.003)
    x, y = uniform(flat, 40)
    assert network(plate, x, y).coupling == pytest.approx(0.003 * network(flat, x, y).coupling, rel=1e-10)


@pytest.mark.parametrize("drawn", ["hole in a disc", "disc in air"])
def test_a_heated_part_behind_a_weak_round_film_has_its_mean_temperature(drawn):
    """Whichever side of the edge is drawn last. 1 W in the whole part, T'' + T' / r = -q / k between r1 and r2; the
    disc's mean is q r2 / 2 h + q r2^2 / 8 k."""
    r1, r2, k, film = 0.02, 0.05, 0.5, 20.0
    hole = solid("body", k, Disc((0, 0), r2)), air("air", Disc((0, 0), r1))
    disc = air("air", box(-0.08, 0.08, -0.08, 0.08)), solid("body", k, Disc((0, 0), r2))
    section = Section(
        drawn, hole if drawn == "hole in a disc" else disc, (Environment("air", 0, film),),
        sources=(Source("body", part="body", heat=1),),
    )  # fmt: skip
    if drawn == "hole in a disc":
        r, q = np.linspace(r1, r2, 20001), 1 / (math.pi * (r2**2 - r1**2))
        t = q * (r2**2 - r1**2) / (2 * r1 * film) + q / (2 * k) * (r2**2 * np.log(r / r1) - (r**2 - r1**2) / 2)
        mean = float((t * r).sum() / r.sum())
    else:
        mean = 1 / (math.pi * r2**2) * (r2 / (2 * film) + r2**2 / (8 * k))
    found = network(section, *(halved(halved(lines)) for lines in first_lines(section)))
    assert found.resistance[0, 0] == pytest.approx(mean, rel=0.004)


def test_round_void_settles():
    """A round hole in the way of heat from one side of a square to the other; against the finest grid, extrapolated."""
    section = Section(
        "block",
        (solid("block", 1.0, box(-0.05, 0.05, -0.05, 0.05)), Part("hole", (Disc((0.003, 0.005), 0.02),), void=True)),
        airs(HELD, HELD),
        border=Border("in", "out"),
    )
    found = couplings(section, *uniform(section, 10), 5)
    errors = abs(found[:4] / (found[-1] + (found[-1] - found[-2]) / 3) - 1)
    assert errors[0] < 0.01
    assert errors[3] < 2e-4
    # rather more than the block without the hole's whole width, less than with none
    assert 0.6 < found[-1] < 1.0


@pytest.mark.parametrize("films", [(20, 30), (200, HELD), (HELD, HELD)])
def test_slanted_bar_settles_to_films_and_length_in_series(films):
    section, true = bar(films), bar_coupling(films)
    errors = abs(couplings(section, *uniform(section, 24), 3) / true - 1)
    assert errors[0] < 3e-3
    assert errors[-1] < 1e-4
    assert errors[0] > 2.0**3 * errors[-1]


@pytest.mark.parametrize("joint", [1e-3, 1e-2, 1e-1])
@pytest.mark.parametrize("conductivities", [(3.0, 3.0), (3.0, 0.3)])
def test_slanted_joint_is_in_series(joint, conductivities):
    section, true = bar((200, 300), conductivities, joint), bar_coupling((200, 300), conductivities, joint)
    errors = abs(couplings(section, *uniform(section, 24), 3) / true - 1)
    assert errors[0] < 6e-3
    assert errors[-1] < 1e-3


@pytest.mark.parametrize("joint", [1e-4, 1e-2])
@pytest.mark.parametrize("films", [(50, 50), (HELD, HELD)])
def test_round_joint_is_in_series(joint, films):
    """Concentric discs pressed into one another: the joint's resistance over its circumference."""
    parts = (
        air("out", box(-0.035, 0.035, -0.035, 0.035)),
        solid("sleeve", 2.0, Disc((0, 0), 0.03)),
        solid("core", 5.0, Disc((0, 0), 0.02)),
        air("in", Disc((0, 0), 0.01)),
    )
    section = Section("ring", parts, airs(*films), joints=(Joint(("core", "sleeve"), joint),))
    resistance = 1 / films[0] / 0.01 + math.log(2) / 5.0 + joint / 0.02 + math.log(1.5) / 2.0 + 1 / films[1] / 0.03
    errors = abs(couplings(section, *uniform(section, 16), 3) / (2 * math.pi / resistance) - 1)
    assert errors[0] < 0.04
    assert errors[-1] < 4e-3
    assert errors[-1] < errors[0] / 8 or errors.max() < 4e-4


@pytest.mark.parametrize("k", [2.0, 50.0])
def test_heated_wire_in_a_sleeve(k):
    """Mean rise of an evenly heated wire: 1 / (8 pi k) + ln(b/a) / (2 pi k') + 1 / (2 pi b h), per watt and metre
    (Incropera et al.). Between solids of very different conductivity a slanted edge is of first order."""
    section = Section(
        "wire",
        (
            air("out", box(-0.035, 0.035, -0.035, 0.035)),
            solid("sleeve", 2.0, Disc((0, 0), 0.03)),
            solid("wire", k, Disc((0, 0), 0.01)),
        ),
        (Environment("out", 0, 40.0),),
        sources=(Source("q", part="wire", heat=1),),
    )
    true = 1 / (8 * math.pi * k) + math.log(3) / (2 * math.pi * 2.0) + 1 / (2 * math.pi * 0.03 * 40)
    found = [network(section, *uniform(section, n)) for n in (16, 128)]
    assert found[0].resistance[0, 0] == pytest.approx(true, rel=0.03)
    assert found[1].resistance[0, 0] == pytest.approx(true, rel=5e-3)
    assert abs(found[1].resistance[0, 0] - true) < abs(found[0].resistance[0, 0] - true) / 3
    assert found[1].resistance_max[0, 0] == pytest.approx(true + 1 / (8 * math.pi * k), rel=5e-3)


@pytest.mark.parametrize("films", [(HELD, HELD), (30, 40), (HELD, 40)])
def test_sphere_about_the_axis(films):
    """A shell between radii 10 and 30 mm: (1/a - 1/b) / (4 pi k) (Incropera et al.), drawn with 96 corners, whose
    surface is 0.02 % short."""

    def half(radius, corners=96):
        a = np.linspace(-np.pi / 2, np.pi / 2, corners + 1)
        x, y = radius * np.cos(a).clip(0), radius * np.sin(a)
        x[[0, -1]] = 0.0
        return Polygon(tuple(zip(x.tolist(), y.tolist())))

    parts = air("out", box(0, 0.035, -0.035, 0.035)), solid("shell", 2.0, half(0.03)), air("in", half(0.01))
    section = Section("sphere", parts, airs(*films), view="axisymmetric")
    true = 4 * math.pi / (1 / films[0] / 0.01**2 + (1 / 0.01 - 1 / 0.03) / 2.0 + 1 / films[1] / 0.03**2)
    assert network(section, *uniform(section, 12)).coupling[0, 1] == pytest.approx(true, rel=0.01)
    assert network(section, *uniform(section, 96)).coupling[0, 1] == pytest.approx(true, rel=1e-3)


def test_annular_fin_seen_face_on():
    """Efficiency by Bessel functions (Incropera et al.) of a thin round fin on a held tube; its rim is insulated."""
    k, t, h = 5.0, 0.002, 40.0
    section = Section(
        "fin",
        (
            Part("round it", (box(-0.035, 0.035, -0.035, 0.035),), void=True),
            solid("fin", k, Disc((0, 0), 0.03), thickness=t, front="out", back="out"),
            air("in", Disc((0, 0), 0.01)),
        ),
        airs(HELD, h),
        view="plate",
    )
    true = annular_fin_efficiency(h, k, t, 0.01, 0.03) * 2 * h * math.pi * (0.03**2 - 0.01**2)
    errors = abs(couplings(section, *uniform(section, 16), 4) / true - 1)
    assert errors[0] < 0.06
    assert errors[-1] < 4e-3
    assert errors[-1] < errors[0] / 8


# ---- what must hold on any grid ------------------------------------------------------------------------------------


@pytest.mark.parametrize("n", [7, 12, 31])
def test_cut_cells_keep_symmetry_and_balance(n):
    section = Section(
        "cuts everywhere",
        (
            air("out", box(-0.03, 0.03, -0.03, 0.03)),
            solid("body", (3.0, 0.5), turned(-0.025, 0.022, -0.018, 0.02)),
            solid("cord", 90.0, Disc((0.008, 0.004), 0.007)),
            air("in", Disc((-0.012, 0), 0.006)),
            Part("slot", (turned(-0.002, 0.0005, -0.015, 0.01, 0.9),), void=True),
        ),
        airs(HELD, 15),
        joints=(Joint(("cord", "body"), 1e-3),),
        sources=(Source("q", part="cord", heat=1),),
    )
    system = assemble(section, *uniform(section, n))
    units = unit_fields(system)
    values = network_values(system, units)
    found = checks(system, units, values)
    assert max(found.asymmetry, found.imbalance, found.weight_error) < 1e-10
    assert values.coupling[0, 1] > 0 and values.resistance[0, 0] > 0
    fields = unit_fields(system)[:, system.solid]
    assert fields.min() > -1e-9 and fields[:2].max() < 1 + 1e-9


@pytest.mark.parametrize("films", [(HELD, HELD), (20, 20)])
def test_a_ring_anywhere_on_the_grid_couples_alike(films):
    section, true = ring(films), ring_coupling(films)
    x, y = uniform(section, 50)
    shifts = np.linspace(0, 1, 7)[:-1] * (x[1] - x[0])
    found = [float(network(section, x + a, y + b).coupling[0, 1]) for a, b in zip(shifts, 2.3 * shifts)]
    assert found == pytest.approx([true] * len(found), rel=2e-3)


def test_films_of_a_plate_reach_to_the_edge_of_a_held_disc():
    """Kern and Kraus 1972: a film so strong that the strip beside the disc loses a good part of all heat."""
    h, k, thickness, inner, outer = 1000.0, 20.0, 0.5e-3, 10e-3, 40e-3
    fin = solid("fin", k, Disc((0, 0), outer), thickness=thickness, front="out", back="out")
    section = Section("fin", (fin, air("in", Disc((0, 0), inner))), airs(HELD, h), view="plate")
    area = math.pi * (outer**2 - inner**2)
    true = annular_fin_efficiency(h, k, thickness, inner, outer) * 2 * h * area
    x = y = np.linspace(-outer, outer, 41)
    system = assemble(section, x, y)
    boundary = system.boundary
    assert boundary.value[boundary.terminal == 1].sum() + boundary.direct[0, 1] == pytest.approx(2 * h * area, rel=2e-3)
    values = couplings(section, x, y, 3)
    assert values[-1] == pytest.approx(true, rel=2e-3)


def test_parts_that_share_a_slanted_edge_with_a_held_one_conduct_to_it():
    """The edge passes through cell centres, where rounding may show what lies beneath: the air."""
    c, s = math.cos(math.radians(20)), math.sin(math.radians(20))

    def along(u0, u1, v):
        corners, mm = ((u0, -v), (u1, -v), (u1, v), (u0, v)), 1e-3
        return Polygon(tuple((mm * (u * c - w * s), mm * (u * s + w * c)) for u, w in corners))

    parts = air("out", along(0, 40, 10)), air("in", along(-5, 0, 10)), solid("fin", 160, along(0, 30, 1))
    section = Section("fin", parts, airs(HELD, 20))
    x, y = first_lines(section)
    for _ in range(3):
        system = assemble(section, x, y)
        assert (system.boundary.terminal >= 0).all()
        x, y = halved(x), halved(y)


@pytest.mark.parametrize("film", [0.0, 1.0, 1e4])  # 0: a void
@pytest.mark.parametrize("cut", [((0.03, 0), (0.04, 0.05), (0.036, 0.05)), ((0.02, 0), (0.05, 0.041), (0.05, 0.04))])
def test_no_heat_passes_a_cut_that_begins_in_a_point(cut, film):
    """A bar is cut right through at a slant, from a point in its lower edge on."""
    gap = Part("cut", (Polygon(cut),), **({"environment": "gap"} if film else {"void": True}))
    films = *airs(100, 100), Environment("gap", 0, film or 1)
    bar = Section("bar", (solid("bar", 10, box(0, 0.06, 0, 0.04)), gap), films, border=Border("in", "out"))
    x, y = first_lines(bar)
    for _ in range(2):
        assert network(bar, x, y).coupling[0, 1] == 0.0
        x, y = halved(x), halved(y)


def test_heat_goes_around_a_cut_that_is_narrower_than_the_cells_beside_its_tip():
    """An air between two solids narrows at 7 degrees to a point in which they meet; finite elements say 1.52857 W/K."""
    right = solid("right", 100, Polygon(((0.03, 0), (0.06, 0), (0.06, 0.04), (0.04, 0.04), (0.03, 0.01))))
    parts = (
        solid("bar", 10, box(0, 0.06, 0, 0.04)),
        right,
        air("gap", Polygon(((0.03, 0.01), (0.04, 0.04), (0.036, 0.04)))),
    )
    bar = Section("bar", parts, (*airs(100, 100), Environment("gap", 0, 1)), border=Border(left="in", right="out"))
    value, band = solve(bar).answers.at("network.coupling.in.out")
    assert abs(value - 1.52857) < band < 0.01 * value
