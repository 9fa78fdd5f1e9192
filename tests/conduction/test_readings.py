"""Sensors: the temperature at a point, on a surface, a border, a corner, an edge of the drawing, or of a part."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fdm.conduction.network import network_values
from fdm.conduction.readings import sensor_load
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.errors import InputError
from fdm.grid.lines import first_lines, halved
from fdm.section.model import Border, Disc, Environment, Joint, Part, Polygon, Section, Segment, Sensor, Source
from fdm.solving.check import check_section
from fdm.solving.steady import solve
from validation.cases import air, box, solid

HELD = math.inf
T_A, T_B = 7.0, 28.0
TO_A = 1 / 8  # m2 K/W, film
LAYERS = (0.03 / 0.5, 0.02 / 2.0)  # m2 K/W: left, then right
TO_B = 1 / 25
WALL = (solid("left", 0.5, box(0, 0.03, 0, 0.2)), solid("right", 2.0, box(0.03, 0.05, 0, 0.2)))


def wall(*places, parts=WALL, **more):
    sensors = tuple(Sensor(f"s{k}", at=at) for k, at in enumerate(places))
    how = {
        "environments": (Environment("a", T_A, 8), Environment("b", T_B, 25)),
        "border": Border(left="a", right="b"),
        **more,
    }
    return Section("wall", parts, sensors=sensors, **how)


def readings(section, halvings=0):
    x, y = first_lines(section)
    for _ in range(halvings):
        x, y = halved(x), halved(y)
    system = assemble(section, x, y)
    found = network_values(system, unit_fields(system))
    read = found.weight @ section.fixed_temperatures + found.resistance @ section.watts
    assert found.weight.sum(1) == pytest.approx(np.ones(len(read)), abs=1e-10)
    return read[len(section.heat_names) :]


def behind(resistance):
    """Temperature at this resistance from a, with a to b in series."""
    return T_A + (T_B - T_A) * resistance / (TO_A + sum(LAYERS) + TO_B)


SURFACES = [behind(TO_A), behind(TO_A + LAYERS[0]), behind(TO_A + sum(LAYERS))]


@pytest.mark.parametrize("y", [0.0, 0.06, 0.2], ids=["lower edge", "inside", "upper edge"])
@pytest.mark.parametrize("drawn", [False, True])
def test_on_surfaces_and_borders_the_value_that_carries_the_flux(y, drawn):
    """Also on the drawing's insulated edges, and whether the air is drawn or lies beyond the edge."""
    parts = (air("a", box(-0.02, 0, 0, 0.2)), air("b", box(0.05, 0.08, 0, 0.2)), *WALL) if drawn else WALL
    read = readings(wall((0, y), (0.03, y), (0.05, y), parts=parts))
    assert read == pytest.approx(SURFACES, abs=1e-9)


def test_anywhere_inside_a_layer():
    read = readings(wall((0.012, 0.07), (0.041, 0.2), (0.041, 0.11)))
    expected = [behind(TO_A + 0.012 / 0.5)] + [behind(TO_A + LAYERS[0] + 0.011 / 2.0)] * 2
    assert read == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("axis", [0, 1])
def test_in_a_joint_the_middle_of_its_drop(axis):
    joint = 0.04
    if axis == 0:
        section = wall((0.03, 0.06), joints=(Joint(("left", "right"), joint),))
    else:
        turned = tuple(
            solid(n, k, box(0, 0.2, lo, hi)) for n, k, lo, hi in (("left", 0.5, 0, 0.03), ("right", 2.0, 0.03, 0.05))
        )
        section = wall(
            (0.06, 0.03), parts=turned, border=Border(bottom="a", top="b"), joints=(Joint(("left", "right"), joint),)
        )
    total = TO_A + sum(LAYERS) + TO_B + joint
    assert readings(section) == pytest.approx([T_A + (T_B - T_A) * (TO_A + LAYERS[0] + joint / 2) / total], abs=1e-9)


def test_on_a_held_surface_its_temperature():
    section = wall((0, 0.1), (0.05, 0.1), environments=(Environment("a", T_A, HELD), Environment("b", T_B, HELD)))
    assert readings(section) == pytest.approx([T_A, T_B], abs=1e-9)


@pytest.mark.parametrize("view", ["section", "axisymmetric", "plate"])
@pytest.mark.parametrize("film", [8.0, HELD])
def test_in_an_environment_its_own_temperature(view, film):
    plate = {"thickness": 0.002} if view == "plate" else {}
    section = Section(
        "pipe",
        (
            solid("wall", 0.5, box(0, 0.05, 0, 0.2), **plate),
            air("a", box(0, 0.03, 0.05, 0.15)),
            air("b", box(0, 0.05, 0.18, 0.2)),
        ),
        (Environment("a", T_A, film), Environment("b", T_B, 25)),
        view=view,
        sensors=(
            Sensor("inside", at=(0.011, 0.1)),
            Sensor("on the left edge or axis", at=(0.0, 0.08)),
            Sensor("in the corner", at=(0.05, 0.2)),
        ),
    )
    assert readings(section) == pytest.approx([T_A, T_A, T_B], abs=1e-9)


def test_on_the_border_of_two_environments_between_them():
    section = wall((-0.01, 0.1), parts=(air("a", box(-0.02, 0, 0, 0.1)), air("b", box(-0.02, 0, 0.1, 0.2)), *WALL))
    assert T_A < readings(section)[0] < T_B


def test_on_the_axis_within_a_held_face():
    face = Segment((0.0, 0.02), (0.05, 0.05))
    section = Section(
        "rod", (solid("rod", 0.5, box(0, 0.1, 0, 0.1)),), (Environment("a", T_A, 8),), view="axisymmetric",
        border=Border(bottom="a"), sources=(Source("held", segment=face, temperature=T_B),),
        sensors=(Sensor("middle of the face", at=(0.0, 0.05)),),
    )  # fmt: skip
    assert readings(section, 2) == pytest.approx([T_B], abs=0.05)


def test_on_the_axis():
    section = Section(
        "rod",
        (solid("rod", 50.0, box(0, 0.004, 0, 0.1)),),
        (Environment("a", T_A, 10), Environment("b", T_B, 500)),
        view="axisymmetric",
        border=Border(bottom="a", top="b"),
        sensors=(Sensor("low", at=(0, 0)), Sensor("middle", at=(0, 0.04)), Sensor("high", at=(0, 0.1))),
    )
    r = np.cumsum([1 / 10, 0.04 / 50, 0.06 / 50, 1 / 500])
    assert readings(section) == pytest.approx(T_A + (T_B - T_A) * r[:3] / r[3], abs=1e-9)


def test_across_a_tube_wall():
    """Radial: the logarithm (Incropera et al., Fundamentals of Heat and Mass Transfer)."""
    section = Section(
        "tube",
        (solid("steel", 17.0, box(0.01, 0.012, 0, 0.3)), solid("foam", 0.033, box(0.012, 0.05, 0, 0.3))),
        (Environment("a", T_A, 500), Environment("b", T_B, 8)),
        view="axisymmetric",
        border=Border(left="a", right="b"),
        sensors=tuple(Sensor(f"at {r}", at=(r, 0.1)) for r in (0.01, 0.012, 0.05)),
    )
    r = np.cumsum([1 / 500 / 0.01, math.log(1.2) / 17, math.log(0.05 / 0.012) / 0.033, 1 / 8 / 0.05])
    assert readings(section) == pytest.approx(T_A + (T_B - T_A) * r[:3] / r[3], abs=1e-9)


def test_on_a_heated_face_the_face():
    section = wall(
        (0.03, 0.06), (0.03, 0.0), sources=(Source("foil", segment=Segment((0.03, 0.03), (0, 0.2)), heat=4),)
    )
    to_a, to_b = TO_A + LAYERS[0], LAYERS[1] + TO_B
    face = (T_A / to_a + T_B / to_b + 4 / 0.2) / (1 / to_a + 1 / to_b)
    assert readings(section) == pytest.approx([face, face], abs=1e-9)


def test_on_a_heated_surface_the_surface():
    section = wall((0.0, 0.06), (0.0, 0.2), sources=(Source("sun", segment=Segment((0, 0), (0, 0.2)), heat=4),))
    to_a, to_b = TO_A, sum(LAYERS) + TO_B
    face = (T_A / to_a + T_B / to_b + 4 / 0.2) / (1 / to_a + 1 / to_b)
    assert readings(section) == pytest.approx([face, face], abs=1e-9)


@pytest.mark.parametrize("x", [0.0, 0.03])
def test_on_a_held_face_its_temperature(x):
    tube = Source("tube", segment=Segment((x, x), (0, 0.2)), temperature=-3)
    assert readings(wall((x, 0.06), (x, 0.0), (x, 0.2), sources=(tube,))) == pytest.approx([-3] * 3, abs=1e-9)


def test_on_a_held_face_its_temperature_where_there_is_no_air():
    """Between two held faces, one of them within the solid."""
    tubes = (Source("cold", segment=Segment((0.0, 0.0), (0, 0.2)), temperature=5),)
    tubes += (Source("warm", segment=Segment((0.03, 0.03), (0, 0.2)), temperature=20),)
    places = [(0.0, 0.1), (0.03, 0.1), (0.015, 0.1), (0.05, 0.1)]
    section = wall(*places, environments=(), border=Border(), sources=tubes)
    assert readings(section) == pytest.approx([5, 20, 12.5, 20], abs=1e-9)


def test_on_a_held_part_its_temperature():
    section = wall((0.012, 0.06), (0.03, 0.06), sources=(Source("block", part="left", temperature=-3),))
    assert readings(section) == pytest.approx([-3, -3], abs=1e-9)


def test_on_the_edge_of_a_void_the_solid():
    """Heat along a slot: its face has the temperature of the wall there."""
    slot = Part("slot", (box(0, 0.05, 0.08, 0.12),), void=True)
    read = readings(wall((0.03, 0.08), (0.03, 0.12), (0.05, 0.08), (0.012, 0.12), parts=(*WALL, slot)))
    assert read == pytest.approx([SURFACES[1], SURFACES[1], SURFACES[2], behind(TO_A + 0.012 / 0.5)], abs=1e-9)


def test_of_a_part_the_mean_over_its_volume():
    sensors = (Sensor("layer", part="left"), Sensor("air", part="side of b"))
    section = replace(wall(parts=(*WALL, air("b", box(0.05, 0.06, 0, 0.2)))), sensors=sensors)
    assert readings(section) == pytest.approx([behind(TO_A + LAYERS[0] / 2), T_B], abs=1e-9)


def test_of_a_held_part_its_temperature():
    section = replace(
        wall(sources=(Source("block", part="left", temperature=-3),)), sensors=(Sensor("bead", part="left"),)
    )
    assert readings(section) == pytest.approx([-3], abs=1e-9)


def test_of_a_round_bead_the_temperature_of_its_centre():
    """A bead of the wall's own material, in a linear field."""
    bead = solid("bead", 0.5, Disc((0.017, 0.1), 0.006))
    section = replace(wall(parts=(*WALL, bead)), sensors=(Sensor("bead", part="bead"),))
    assert readings(section, 1) == pytest.approx([behind(TO_A + 0.017 / 0.5)], abs=0.02)


def corner(at, **more):
    """A square post in air, heated from a held base: its outer corner is convex, with a film on both sides."""
    return Section(
        "post",
        (air("a", box(0, 0.05, 0, 0.06)), solid("post", 0.8, box(0, 0.02, 0, 0.03))),
        (Environment("a", T_A, 30), Environment("b", T_B, HELD)),
        border=Border(bottom="b"),
        sensors=(Sensor("s", at=at),),
        **more,
    )


@pytest.mark.parametrize(
    "at", [(0.02, 0.03), (0.02, 0.015), (0.01, 0.03), (0.0, 0.03)], ids=["corner", "side", "top", "mirror edge"]
)
def test_on_a_corner_and_its_faces_the_error_falls_by_halving(at):
    read = np.array([readings(corner(at), n)[0] for n in range(6)])
    true = read[-1] + (read[-1] - read[-2]) / 3
    errors = abs(read[:5] - true)
    assert errors[0] < 0.5
    assert errors[-1] < 2e-3
    assert errors[0] > 2.5**4 * errors[-1] or errors.max() < 2e-3
    assert T_A < true < T_B


@pytest.mark.parametrize("at", [(0.02, 0.03), (0.02, 0.015), (0.01, 0.03)])
def test_on_the_drawings_edge_beside_a_border_as_on_a_drawn_air(at):
    """The post without the drawn air around it, its sides and top on the border's environment."""
    drawn = corner(at)
    bare = replace(drawn, parts=drawn.parts[1:], border=Border(right="a", top="a", bottom="b"))
    assert readings(bare, 4) == pytest.approx(readings(drawn, 4), abs=2e-3)


def test_on_a_round_surface():
    """A tube wall drawn as a ring: film and logarithm in series (Incropera et al.)."""
    films = (40.0, 15.0)
    section = Section(
        "ring",
        (
            air("b", box(-0.035, 0.035, -0.035, 0.035)),
            solid("ring", 2.0, Disc((0, 0), 0.03)),
            air("a", Disc((0, 0), 0.01)),
        ),
        (Environment("a", T_A, films[0]), Environment("b", T_B, films[1])),
        sensors=(
            Sensor("inner", at=(0.01, 0)),
            Sensor("inner, slanted", at=(0.006, 0.008)),
            Sensor("outer", at=(0, -0.03)),
            Sensor("outer, slanted", at=(0.018, 0.024)),
            Sensor("middle", at=(0.0, 0.02)),
        ),
    )
    r = np.cumsum([1 / films[0] / 0.01, math.log(2) / 2.0, math.log(1.5) / 2.0, 1 / films[1] / 0.03])
    inner, middle, outer = T_A + (T_B - T_A) * r[:3] / r[3]
    read = readings(section, 2)
    assert read == pytest.approx([inner, inner, outer, outer, middle], abs=0.05)


def test_a_sensor_in_a_void_is_refused():
    section = wall((0.03, 0.1), parts=(*WALL, Part("slot", (box(0, 0.05, 0.08, 0.12),), void=True)))
    with pytest.raises(InputError, match="sensor 's0', at: it lies in a void"):
        check_section(section)


def test_a_sensor_in_a_void_is_refused_also_where_its_cell_reaches_out_of_it():
    void = Part("void", (Disc((0.045, 0.0253), 0.01),), void=True)
    post = solid("post", 34.0, box(0.0427, 0.0525, 0.02, 0.0283))
    with pytest.raises(InputError, match="sensor 'on it', at: it lies in a void"):
        check_section(good(post, void, at=(0.0525, 0.02)))


def test_a_sensor_part_that_is_covered_is_refused():
    section = replace(wall(parts=(*WALL, solid("lid", 1.0, box(0, 0.03, 0, 0.2)))), sensors=(Sensor("s", part="left"),))
    with pytest.raises(InputError, match="sensor 's', part: 'left' is wholly covered by later parts"):
        check_section(section)


@pytest.mark.parametrize("x", [0.0099, 0.01, 0.0101])
def test_on_a_straight_surface_beside_the_round_edge_of_another_part_the_solid(x):
    """A bar lies across a round hole in a block; both are so good that they have one temperature."""
    section = Section(
        "bar over a hole",
        (
            solid("block", 1e6, box(0, 0.06, 0, 0.06)),
            air("a", Disc((0.0289, 0.0284), 0.0241)),
            solid("bar", 1e6, box(0.0075, 0.0101, 0.0136, 0.0187)),
        ),
        (Environment("a", T_A, 5.0),),
        sources=(Source("warm", part="block", heat=5.0),),
        sensors=(Sensor("on the bar", at=(x, 0.0136)), Sensor("bar", part="bar")),
    )
    on, whole = readings(section)
    assert on == pytest.approx(whole, abs=1e-3) and whole > T_A + 5


def good(*parts, at):
    """A block so good that it has one temperature, some 40 K above the air below it, with other parts laid on it."""
    return Section(
        "good block",
        (solid("block", 1e6, box(0, 0.06, 0, 0.04)), *parts),
        (Environment("a", T_A, 10.0),),
        border=Border(bottom="a", right="a"),
        sources=(Source("warm", part="block", heat=24.0),),
        sensors=(Sensor("on it", at=at), Sensor("block", part="block")),
    )


WEDGE = air("a", Polygon(((0.0, 0.0), (0.0407, 0.0), (0.02, 0.0045))))
TIP = solid("tip", 1e6, Polygon(((0.0388, 0.038), (0.0483, 0.0454), (0.038, 0.0493))))
OVER = air("a", Disc((0.03, 0.005), 0.0025)), solid("bar", 1e6, box(0.0071, 0.055, 0.0073, 0.0367))


@pytest.mark.parametrize(
    "section",
    [
        good(WEDGE, at=(0.0, 0.0)),  # one cell of the block is left at the wedge's sharp corner
        good(OVER[1], OVER[0], at=(0.03097979589711325, 0.0073)),  # the hole reaches a trace into the bar
        good(TIP, at=(0.038, 0.0493)),  # a corner that lies in nothing, at the drawing's edge
        good(solid("ball", 1e6, Disc((0.06, 0.02), 0.005)), at=(0.065, 0.02)),  # it touches the edge in a point
    ],
)
def test_on_a_corner_where_a_single_cell_is_solid_that_solid(section):
    on, whole = readings(section)
    assert on == pytest.approx(whole, abs=1e-2) and whole > T_A + 20


def test_at_a_corner_of_air_in_a_void_the_air_though_a_cell_beside_holds_a_trace_of_a_solid():
    void = Part("void", (Polygon(((0.0, 0.02), (0.075, 0.04), (0.05, 0.014))),), void=True)
    section = good(void, air("a", box(0.02, 0.05, 0.02, 0.04)), at=(0.05, 0.02))
    assert [readings(section, halvings)[0] for halvings in (0, 1)] == [T_A, T_A]


def test_the_tip_of_a_slot_lies_between_the_cells_beside_it():
    """Two cells, the one nearly behind the other as seen from the slot's edge, tell no slope along that."""
    section = good(air("a", Polygon(((0.065, 0.035), (0.0388, 0.0), (0.03, 0.04)))), at=(0.0388, 0.0))
    _, weights = sensor_load(assemble(section, *first_lines(section)), 0)
    assert len(weights) == 2 and weights.min() >= 0 and weights.max() <= 1


# ---- on and beside a rim --------------------------------------------------------------------------------------------


def rim(at, view="section"):
    """A ring behind a film around a held core, and a sensor; in the plane about its middle, or about an axis."""
    ring = Disc((0, 0), 0.01) if view == "section" else Disc((0.03, 0), 0.01)
    core = Disc(ring.centre, 0.004)
    (x, y) = ring.centre
    return Section(
        "rim",
        (air("out", box(x - 0.02, x + 0.02, y - 0.02, y + 0.02)), solid("ring", 1.0, ring), solid("core", 1.0, core)),
        (Environment("out", 0.0, 100.0),),
        view=view,
        sources=(Source("core", part="core", temperature=1.0),),
        sensors=(Sensor("bead", at=(x + at[0], y + at[1])),),
    )


@pytest.mark.parametrize("degrees", [0, 10, 33, 45, 71, 90, 123, 200])
@pytest.mark.parametrize("beside", [-2e-4, -1e-5, 0.0, 1e-5])
def test_a_sensor_on_or_beside_a_rim_reads_the_skin_or_the_air(degrees, beside):
    radius, angle = 0.01 + beside, math.radians(degrees)
    sensor = solve(rim((radius * math.cos(angle), radius * math.sin(angle)))).sensors["bead"]
    film, ring = 1 / (100 * 0.01), math.log(0.01 / 0.004)
    true = 0.0 if beside > 0 else (film + math.log(0.01 / radius)) / (film + ring)
    assert sensor.reading == pytest.approx(true, abs=sensor.band + 1e-9) and sensor.band < 0.02


@pytest.mark.parametrize("degrees", [20, 100, 250])
def test_a_sensor_on_a_rim_about_an_axis_reads_the_skin(degrees):
    """As a sensor does a hair's breadth below it, whose cells are read as everywhere else."""
    angle = math.radians(degrees)
    on, below = (
        solve(rim((r * math.cos(angle), r * math.sin(angle)), "axisymmetric"), 0.002).sensors["bead"]
        for r in (0.01, 0.0094)
    )
    flux = 100 * on.reading
    assert below.reading - on.reading == pytest.approx(flux * 0.0006 / 1.0, rel=0.15)


def test_a_sensors_load_reads_the_cells_that_the_sensor_reads():
    """Where no film and no heat is read besides: within a part, and between two."""
    block = solid("block", 20.0, box(0, 0.02, 0.06, 0.1))
    section = wall((0.01, 0.05), (0.03, 0.12), parts=(*WALL, block))
    system = assemble(section, *first_lines(section))
    fields = unit_fields(system)
    read = network_values(system, fields).weight
    for k in range(2):
        cell, weight = sensor_load(system, k)
        assert fields.reshape(len(fields), -1)[:, cell] @ weight == pytest.approx(read[k], rel=1e-12)
