"""A whole solve: the truth lies inside the band, the target decides how fine the grid gets, and the field fits."""

import math
from dataclasses import replace
from functools import cache
from itertools import count

import numpy as np
import pytest

from fdm import InputError, solve
from fdm.conduction import layout
from fdm.conduction.fields import superposed
from fdm.conduction.solver import unit_fields
from fdm.conduction.system import assemble
from fdm.grid import raster
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Part,
    Polygon,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
)
from fdm.solving.check import check_section
from fdm.solving.operating_point import at_operating_point
from validation.cases import air, box, held, patch_on_plate, solid
from validation.formulas import disc_on_disc, rectangle_on_thin_plate, strip_on_channel

HELD = math.inf


def wall(**more):
    """A foam wall with a block through it and a plate on it, heated; a void, two airs, two sensors."""
    return Section(
        **{
            "title": "wall",
            "depth": 0.5,
            "parts": (
                air("cabinet", box(0, 0.1, -0.02, 0)),
                solid("foam", 0.03, box(0, 0.1, 0, 0.03)),
                solid("plate", 200.0, box(0.02, 0.08, 0.03, 0.034)),
                solid("block", 200.0, box(0.045, 0.055, 0, 0.03)),
                Part("hole", (box(0.01, 0.03, 0.01, 0.02),), void=True),
            ),
            "environments": (Environment("cabinet", 7, 8), Environment("room", 28, 10)),
            "border": Border(top="room"),
            "sources": (Source("face", segment=Segment((0.04, 0.06), (0.034, 0.034)), heat=3),),
            "sensors": (Sensor("thermostat", at=(0.035, 0.0), should_read="cabinet"), Sensor("free", at=(0.09, 0.015))),
            **more,
        }
    )


@cache
def solved_wall():
    return solve(wall())


def strip(eps=0.2, tau=0.2, bi=1.0, k=160.0, c=0.05):
    a, t, h = eps * c, tau * c, bi * k / c
    return Section(
        "strip",
        (solid("plate", k, box(0, c, 0, t)),),
        (Environment("air", 0, h),),
        border=Border(bottom="air"),
        sources=(Source("source", segment=Segment((0, a), (t, t)), heat=1),),
        spreading=(Spreading(("plate",), "x"),),
    )


def coupling(solution, a=0, b=1):
    return float(solution.network.values.coupling[a, b]), float(solution.network.band.coupling[a, b])


def inside(found, true, widest=0.005):
    value, band = found
    return abs(value - true) <= band <= widest * abs(true)


# ---- known values ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("case", [(0.2, 0.2, 1.0), (0.1, 0.1, 1.0), (0.8, 0.1, 1.0)])
def test_strip_on_a_plate(case):
    """Yovanovich, Muzychka and Culham 1999, half of the plate."""
    mean, peak = (2 / 160 * v for v in strip_on_channel(*case))
    solution = solve(strip(*case))
    found = solution.spreading["plate"]["source"]
    assert solution.grid.target_met
    assert inside((found.mean, found.mean_band), mean)
    assert inside((found.max, found.max_band), peak)


def test_disc_on_a_disc_about_the_axis():
    """Kennedy 1960."""
    k, b = 200.0, 0.025
    a, t, h = 0.3 * b, 0.2 * b, 0.5 * k / b
    scale = k * a * math.sqrt(math.pi)
    solution = solve(
        Section(
            "disc",
            (solid("plate", k, box(0, b, 0, t)),),
            (Environment("air", 0, h),),
            view="axisymmetric",
            border=Border(bottom="air"),
            sources=(Source("source", segment=Segment((0, a), (t, t)), heat=1),),
            spreading=(Spreading(("plate",), "x"),),
        )
    )
    mean, peak = disc_on_disc(0.3, 0.2, 0.5)
    found = solution.spreading["plate"]["source"]
    assert inside((found.mean * scale, found.mean_band * scale), mean)
    assert inside((found.max * scale, found.max_band * scale), peak)


def test_patch_on_a_plate_seen_face_on():
    """Yovanovich, Muzychka and Culham 1999, where the plate is thin; a quarter of it, and the patch spreads too."""
    section = replace(patch_on_plate(0.001), spreading=(Spreading(("plate", "patch")),))
    mean, peak = (4 * v for v in rectangle_on_thin_plate((0.014, 0.014), (0.04, 0.04), 0.001, 25.0, 1000.0))
    found = solve(section).spreading["plate + patch"]["source"]
    assert inside((found.mean, found.mean_band), mean)
    assert inside((found.max, found.max_band), peak)


@pytest.mark.parametrize("films", [(HELD, HELD), (20, 20), (HELD, 30)])
@pytest.mark.parametrize("target", [0.005, 0.001])
def test_ring_between_two_airs(films, target):
    """Films and ln(b/a) / (2 pi k) in series (Incropera et al., Fundamentals of Heat and Mass Transfer)."""
    section = Section(
        "ring",
        (
            air("out", box(-0.035, 0.035, -0.035, 0.035)),
            solid("ring", 2.0, Disc((0, 0), 0.03)),
            air("in", Disc((0, 0), 0.01)),
        ),
        (Environment("in", 1, films[0]), Environment("out", 0, films[1])),
    )
    true = 2 * math.pi / (1 / films[0] / 0.01 + math.log(3) / 2.0 + 1 / films[1] / 0.03)
    assert inside(coupling(solve(section, target)), true, target)


def test_eccentric_tube_in_a_round_sleeve():
    """2 pi / arccosh((R^2 + r^2 - e^2) / (2 R r)) (Incropera et al., Table 4.1)."""
    section = Section(
        "sleeve",
        (
            air("out", box(-0.035, 0.035, -0.035, 0.035)),
            solid("sleeve", 1.0, Disc((0, 0), 0.03)),
            air("in", Disc((0.012, 0.004), 0.01)),
        ),
        (Environment("in", 1, HELD), Environment("out", 0, HELD)),
    )
    e2 = 0.012**2 + 0.004**2
    true = 2 * math.pi / math.acosh((0.03**2 + 0.01**2 - e2) / (2 * 0.03 * 0.01))
    assert inside(coupling(solve(section)), true)


def test_straight_flow_has_next_to_no_band():
    section = Section(
        "slab",
        (solid("slab", 0.03, box(0, 0.1, 0, 0.04)),),
        (Environment("in", 20, 8), Environment("out", 0, 25)),
        border=Border(bottom="in", top="out"),
    )
    value, band = coupling(solve(section))
    assert value == pytest.approx(0.1 / (1 / 8 + 0.04 / 0.03 + 1 / 25), rel=1e-10)
    assert band < 1e-8 * value


def test_temperatures_that_meet_at_a_point_have_no_coupling_that_could_be_told():
    section = Section(
        "corner",
        (solid("block", 1.0, box(0, 0.1, 0, 0.1)),),
        (Environment("in", 20, HELD), Environment("out", 0, HELD)),
        border=Border(bottom="in", left="out"),
    )
    solution = solve(section)
    assert coupling(solution)[1] == math.inf
    assert any("'in'" in w and "'out'" in w and "meet at a point" in w for w in solution.warnings)


# ---- target and grids -----------------------------------------------------------------------------------------------


def test_a_tighter_target_gives_narrower_bands_on_finer_grids():
    solutions = [solve(strip(0.1, 0.1), target) for target in (0.02, 0.005, 0.001, 0.0002)]
    cells = [s.grid.cells[-1] for s in solutions]
    bands = [s.spreading["plate"]["source"].mean_band / s.spreading["plate"]["source"].mean for s in solutions]
    assert all(s.grid.target_met for s in solutions)
    assert cells == sorted(cells) and cells[-1] > 4 * cells[0]
    assert all(band <= target for band, target in zip(bands, (0.02, 0.005, 0.001, 0.0002)))
    true = 2 / 160 * strip_on_channel(0.1, 0.1, 1.0)[0]
    assert all(
        abs(s.spreading["plate"]["source"].mean - true) <= s.spreading["plate"]["source"].mean_band for s in solutions
    )


def test_each_grid_has_half_the_cell_sizes_of_the_last():
    cells = solved_wall().grid.cells
    assert cells[1] == 4 * cells[0] and cells[2] == 4 * cells[1]


@pytest.mark.parametrize("most", [5000, 10_000, 30_000])
def test_the_limit_of_cells_is_kept_and_said(most):
    solution = solve(wall(), 1e-6, max_cells=most)
    assert solution.grid.cells[-1] <= most
    assert not solution.grid.target_met
    assert "limit of cells" in solution.grid.note
    assert solution.grid.worst


def test_a_number_of_cells_can_be_forced():
    forced, free = solve(wall(), cells=40_000), solved_wall()
    assert 40_000 <= forced.grid.cells[-1] < 160_000
    assert forced.grid.cells[-1] == math.prod(forced.grid.shape)
    (value, band), (other, its) = coupling(forced), coupling(free)
    assert abs(value - other) <= band + its


@pytest.mark.parametrize(
    "wrong", [{"target": 0}, {"target": 1.0}, {"target": math.nan}, {"max_cells": 0}, {"cells": 0}]
)
def test_targets_and_cells_that_cannot_be_are_refused(wrong):
    with pytest.raises(InputError, match=next(iter(wrong))):
        solve(wall(), **wrong)


@pytest.mark.parametrize("ratio", [1.2, 1.5, 2.0, 4.0])
def test_a_symmetric_drawing_is_refined_symmetrically(ratio):
    """However rounding orders the intervals whose errors are equal."""
    parts = (solid("wall", 1.0, box(0, ratio, 0, ratio)), air("inside", box(0, 1, 0, 1)))
    airs = (Environment("inside", 0, HELD), Environment("outside", 0, HELD))
    raster = solve(Section("channel", parts, airs, border=Border(right="outside", top="outside"))).system.raster
    assert raster.x == pytest.approx(raster.y, abs=1e-12)


def test_progress_is_told():
    said = []
    solve(strip(), progress=said.append)
    assert len(said) >= 3 and all("cells" in line for line in said)


def test_how_long_the_next_grid_takes_is_told_where_it_is_long(monkeypatch):
    """By a clock of which each look takes 40 s: the first of these grids was solved before."""
    looks = count()
    monkeypatch.setattr("fdm.solving.grids.monotonic", lambda: 40.0 * next(looks))
    said = []
    solve(wall(), target=0.5, progress=said.append)
    assert [text.partition("cells")[2] for text in said] == [""] + 2 * [", about 3.2 min"]


def test_a_solve_repeats_exactly():
    one, other = solved_wall(), solve(wall())
    assert np.array_equal(one.network.values.coupling, other.network.values.coupling)
    assert np.array_equal(one.field.temperature, other.field.temperature, equal_nan=True)


def strip_on_layers(layers, width, low, high, h):
    """K m/W, mean and middle of a strip from `low` to `high` on layers (thickness, conductivity), topmost last, above a
    film `h`.

    Separation of variables: each cosine along the width meets the layers in series, with tanh of its own.
    """
    wave = np.arange(1, 100_000) * np.pi / width
    mean = (np.sin(wave * high) - np.sin(wave * low)) / (wave * (high - low))
    series = straight = 1 / h
    for thickness, k in layers:
        across = np.tanh(wave * thickness) / (k * wave)
        series = (series + across) / (1 + series * (k * wave) ** 2 * across)
        straight += thickness / k
    middle = np.cos(wave * (low + high) / 2)
    return tuple((straight + 2 * np.sum(series * mean * read)) / width for read in (mean, middle))


def solved_strip_on_film(k, film, width, low, high, h):
    """Network of a heater on a film on a plate, and the true mean and middle."""
    top = 0.03 + film
    parts = (solid("plate", k, box(0, width, 0, 0.03)), solid("film", 0.3, box(0, width, 0.03, top)))
    heater = Source("heater", segment=Segment((low, high), (top, top)), heat=1)
    found = solve(Section("heated", parts, (Environment("air", 0, h),), border=Border(bottom="air"), sources=(heater,)))
    assert found.grid.target_met
    return found.network, strip_on_layers(((0.03, k), (film, 0.3)), width, low, high, h)


@pytest.mark.parametrize("film", [0.0005, 0.001, 0.002])
@pytest.mark.parametrize("k", [2, 5, 20])
def test_a_heater_on_a_film_far_thinner_than_it_is_long_stays_within_the_band(k, film):
    network, (true, _) = solved_strip_on_film(k, film, 0.12, 0.01, 0.06, 50)
    assert abs(network.values.resistance[0, 0] - true) < network.band.resistance[0, 0]


@pytest.mark.parametrize("k, film, h", [(2, 0.0003, 20), (5, 0.001, 20), (20, 0.0003, 200), (200, 0.001, 200)])
def test_the_highest_of_a_heater_in_the_middle_stays_within_the_band(k, film, h):
    network, (_, true) = solved_strip_on_film(k, film, 0.09, 0.025, 0.065, h)
    assert abs(network.values.resistance_max[0, 0] - true) < network.band.resistance_max[0, 0]


def test_a_grid_line_more_stays_within_the_bands():
    """Sensors far from everything add lines; no other answer may leave its band."""
    one = solved_wall()
    other = solve(wall(sensors=(*wall().sensors, Sensor("p", at=(0.0711, 0.0047)), Sensor("q", at=(0.0173, 0.0263)))))
    for key in ("coupling", "weight", "resistance", "resistance_max"):
        a, b = getattr(one.network.values, key), getattr(other.network.values, key)
        bands = getattr(one.network.band, key), getattr(other.network.band, key)
        rows = slice(0, len(a))
        assert (abs(b[rows] - a) <= bands[0] + bands[1][rows]).all(), key


def test_the_order_of_environments_and_sources_changes_nothing():
    section = wall(sources=(*wall().sources, Source("sun", segment=Segment((0, 0.01), (0.03, 0.03)), heat=1)))
    one, other = (
        solve(section),
        solve(replace(section, environments=section.environments[::-1], sources=section.sources[::-1])),
    )
    assert coupling(one)[0] == pytest.approx(coupling(other)[0], rel=1e-8)
    assert other.network.values.resistance[[1, 0, 2, 3]][:, [1, 0]] == pytest.approx(
        one.network.values.resistance, rel=1e-8
    )


# ---- sensors, bridges, balance --------------------------------------------------------------------------------------


def test_the_split_of_a_misreading_adds_up():
    solution = solved_wall()
    r, free = solution.sensors["thermostat"], solution.sensors["free"]
    assert r.should_read == 7
    assert r.misreading == pytest.approx(r.reading - 7, rel=1e-9)
    assert sum(r.split.values()) == pytest.approx(r.misreading, rel=1e-9)
    assert set(r.split) == {"cabinet", "room", "face"}
    assert abs(r.split["cabinet"]) < 1e-9
    assert r.split["face"] > 0
    assert (free.should_read, free.misreading, free.misreading_band) == (None, None, None)
    assert sum(free.split.values()) == pytest.approx(free.reading, rel=1e-9)


def test_a_reading_is_its_weights_and_resistances():
    solution = solved_wall()
    n = solution.network
    row = n.observed.index("thermostat")
    by_hand = n.values.weight[row] @ [7, 28] + n.values.resistance[row] @ [3]
    assert solution.sensors["thermostat"].reading == pytest.approx(by_hand, rel=1e-9)
    assert solution.sensors["thermostat"].band < 0.02


def test_another_operating_point_needs_no_new_solve():
    """The answers of another section's own solve, at other temperatures and watts, within the bands."""
    other = wall(
        environments=(Environment("cabinet", -18, 8), Environment("room", 40, 10)),
        sources=(replace(wall().sources[0], heat=-12.0),),
    )
    n, solution = solved_wall().network, solve(other)
    for name in ("thermostat", "free"):
        row = n.observed.index(name)
        foretold = n.values.weight[row] @ [-18, 40] + n.values.resistance[row] @ [-12]
        assert abs(foretold - solution.sensors[name].reading) < 0.1


def test_flows_sum_to_nothing_and_every_check_is_near_rounding():
    b = solved_wall().balance
    assert set(b.flow) == {"cabinet", "room", "face"}
    assert b.flow["face"] == 3
    assert abs(sum(b.flow.values())) < 1e-8 * max(map(abs, b.flow.values()))
    assert max(b.imbalance, b.weight_error, b.asymmetry) < 1e-8


def test_psi_is_the_coupling_with_less_the_coupling_without_per_metre():
    section = wall(
        bridges=(Bridge(("block", "hole"), name="holes"), Bridge(("block",), ("room", "cabinet"))), sources=()
    )
    solution, bare = solve(section), solve(replace(section, parts=section.parts[:3], bridges=()))
    bridge, turned = solution.bridges["holes"], solution.bridges["block"]
    (with_it, band), (without, its) = coupling(solution), coupling(bare)
    assert (bridge.symbol, bridge.between, turned.between) == ("psi", ("cabinet", "room"), ("room", "cabinet"))
    assert abs(bridge.value - (with_it - without) / 0.5) <= bridge.band + (band + its) / 0.5
    assert bridge.watts == pytest.approx(bridge.value * 0.5 * (7 - 28), rel=1e-9)
    assert turned.watts == pytest.approx(turned.value * 0.5 * (28 - 7), rel=1e-9)
    deeper = solve(replace(section, depth=1.0)).bridges["holes"]
    assert abs(deeper.value - bridge.value) <= deeper.band + bridge.band


def test_chi_is_of_the_whole_turn():
    bolt = Section(
        "bolt",
        (solid("foam", 0.03, box(0, 0.1, 0, 0.03)), solid("bolt", 50.0, box(0, 0.003, 0, 0.03))),
        (Environment("in", 7, 8), Environment("out", 28, 10)),
        view="axisymmetric",
        border=Border(bottom="in", top="out"),
        bridges=(Bridge(("bolt",)),),
    )
    bridge = solve(bolt).bridges["bolt"]
    assert bridge.symbol == "chi"
    assert bridge.watts == pytest.approx(bridge.value * -21, rel=1e-9)
    # the bolt alone between its own films, and with no film at all
    area = math.pi * 0.003**2
    assert area / (1 / 8 + 0.03 / 50 + 1 / 10) < bridge.value < area * 50 / 0.03


# ---- operating points -----------------------------------------------------------------------------------------------

SECTIONS = {
    "plain": {},
    "asked": {"spreading": (Spreading(("plate",)),), "bridges": (Bridge(("block",), ("room", "cabinet")),)},
    "held": {
        "sources": (*wall().sources, Source("held", segment=Segment((0.07, 0.08), (0.034, 0.034)), temperature=40))
    },
    "one air": {
        "parts": (*wall().parts[1:],),
        "environments": (wall().environments[1],),
        "sensors": (Sensor("free", at=(0.09, 0.015)),),
    },
}


@cache
def solved_section(which):
    return solve(wall(**SECTIONS[which])) if SECTIONS[which] else solved_wall()


def drives(section):
    """Temperatures and watts of all terminals by name."""
    temperatures = dict(zip(section.fixed_names, section.fixed_temperatures.tolist()))
    return temperatures | dict(zip(section.heat_names, section.watts.tolist()))


@pytest.mark.parametrize("which", SECTIONS)
def test_a_section_at_its_own_operating_point_is_as_solved(which):
    solution = solved_section(which)
    same = at_operating_point(solution, drives(solution.section))
    assert same.section == solution.section
    assert np.array_equal(same.answers.value, solution.answers.value)
    assert np.array_equal(same.answers.band, solution.answers.band)
    assert same.balance == solution.balance


@pytest.mark.parametrize("which", SECTIONS)
def test_another_operating_point_is_what_a_solve_of_it_answers(which):
    """On the same grids, to rounding: in all answers, those that do not depend on it too, and in the field."""
    solution = solved_section(which)
    section = solution.section
    other = {name: (-0.7 * v + 11 if name in section.fixed_names else -4 * v) for name, v in drives(section).items()}
    moved = at_operating_point(solution, other)
    fresh = solve(moved.section, like=solution)
    assert drives(moved.section) == other and fresh.grid.cells == solution.grid.cells
    assert moved.answers.quantities == fresh.answers.quantities
    assert moved.answers.value == pytest.approx(fresh.answers.value, rel=1e-11, abs=1e-11)
    assert moved.balance.flow == pytest.approx(fresh.balance.flow, rel=1e-11, abs=1e-11)
    assert np.allclose(moved.field.flux, fresh.field.flux, rtol=1e-9, atol=1e-9)
    for name, reading in fresh.sensors.items():
        assert moved.sensors[name].reading == pytest.approx(reading.reading, rel=1e-11)
        assert moved.sensors[name].split == pytest.approx(reading.split, rel=1e-11, abs=1e-11)
    different = [
        q.path[-1] for q, a, b in zip(moved.answers.quantities, moved.answers.value, solution.answers.value) if a != b
    ]
    assert (
        set(different) <= {"temperature", "heat", "reading", "misreading", "watts", "lowest", "highest"} and different
    )


def test_the_bands_of_another_operating_point_follow_its_temperatures():
    """The same network has the same bands, but that more watts ask more of a sensor's resistance. Those of readings are
    a part that all have, and one in proportion to what drives the section; heat flows have the latter alone."""
    solution = solved_section("asked")
    own = drives(solution.section)
    one, two, three = (
        at_operating_point(solution, {name: k * v for name, v in own.items()}).answers for k in (1, 2, 3)
    )
    changed = {"reading", "misreading", "heat", "watts", "temperature", "lowest", "highest"}
    for number, quantity in enumerate(one.quantities):
        bands = [answers.band[number] for answers in (one, two, three)]
        if quantity.path[-1] in changed:
            assert bands[2] - bands[1] == pytest.approx(bands[1] - bands[0], rel=1e-6, abs=1e-12), quantity.name
        elif quantity.path[:2] == ("network", "resistance") and quantity.path[2] in ("thermostat", "free"):
            assert bands[0] >= bands[1] >= bands[2], quantity.name
        else:
            assert bands[0] == bands[1] == bands[2], quantity.name
    number = one.number(("sensors", "free", "reading"))
    assert one.band[number] < two.band[number] < 2 * one.band[number]
    number = one.number(("terminals", "room", "heat"))
    assert two.band[number] == pytest.approx(2 * one.band[number], rel=1e-6)


# ---- field ----------------------------------------------------------------------------------------------------------


def slab(**more):
    return Section(
        **{
            "title": "slab",
            "parts": (
                air("out", box(0, 0.1, 0.05, 0.06)),
                solid("low", 2.0, box(0, 0.1, 0, 0.03)),
                solid("high", 0.5, box(0, 0.1, 0.03, 0.05)),
            ),
            "environments": (Environment("in", 30, HELD), Environment("out", 10, 40)),
            "border": Border(bottom="in"),
            **more,
        }
    )


def test_the_field_of_straight_flow_is_exact_at_cells_and_points():
    field = solve(slab()).field
    flux = 20 / (0.03 / 2 + 0.02 / 0.5 + 1 / 40)

    def true(y):
        drop = np.where(y <= 0.03, y / 2, 0.015 + (y - 0.03) / 0.5)
        return np.where(y <= 0.05 + 1e-12, 30 - flux * drop, 10.0)

    centre = (field.y[1:] + field.y[:-1]) / 2
    assert abs(field.temperature - true(centre)).max() < 1e-9
    assert abs(field.point_temperature - true(field.y)).max() < 1e-9
    in_solid = np.broadcast_to(centre < 0.05, field.solid.shape)
    assert np.array_equal(field.solid, in_solid)
    assert field.flux[in_solid] == pytest.approx(np.tile([0, flux], (in_solid.sum(), 1)), abs=1e-8)
    assert not field.flux[~in_solid].any() and not field.conductivity[~in_solid].any()


def test_a_cells_flux_is_that_at_its_middle():
    """In an evenly heated slab, insulated below, it grows with the height: exact, as it is linear."""
    section = slab(
        parts=(solid("slab", 2.0, box(0, 0.1, 0, 0.03)),),
        environments=(Environment("out", 10, 40),),
        border=Border(top="out"),
        sources=(Source("current", part="slab", heat=6),),
    )
    field = solve(section).field
    centre = (field.y[1:] + field.y[:-1]) / 2
    assert field.flux[..., 1] == pytest.approx(np.tile(6 / (0.1 * 0.03) * centre, (len(field.x) - 1, 1)), rel=1e-9)
    assert abs(field.flux[..., 0]).max() < 1e-7


def test_voids_have_no_temperature_and_their_edges_do():
    solution = solved_wall()
    field, hole = solution.field, 4
    void = field.part == hole
    assert void.any() and np.isnan(field.temperature[void]).all()
    assert np.isfinite(field.temperature[~void & (field.part >= 0)]).all()
    i, j = np.nonzero(np.isnan(field.point_temperature))
    x, y = field.x[i], field.y[j]
    inside_hole = (x > 0.01 + 1e-9) & (x < 0.03 - 1e-9) & (y > 0.01 + 1e-9) & (y < 0.02 - 1e-9)
    above_the_plate = (y > 0.03 + 1e-9) & ((x < 0.02 - 1e-9) | (x > 0.08 + 1e-9))
    assert (inside_hole | above_the_plate | ~np.isfinite(x)).all()
    assert inside_hole.any()


def test_environments_show_their_own_temperature():
    field = solved_wall().field
    assert set(field.temperature[field.part == 0].tolist()) == {7.0}


def test_the_flux_through_every_level_is_the_flow_between_the_airs():
    """Watts through any horizontal cut of a wall with insulated sides; a cell's flux is the mean of its two sides'."""
    section = wall(sources=(), parts=wall().parts[:4])
    solution = solve(section)
    field = solution.field
    through = (np.nansum(field.flux[..., 1] * np.diff(field.x)[:, None], 0) * section.depth)[
        (field.y[:-1] >= 0) & (field.y[1:] <= 0.03 + 1e-12)
    ]
    expected = solution.balance.flow["cabinet"]
    assert through == pytest.approx(np.full(len(through), expected), rel=1e-6)


def test_the_field_at_another_point_is_that_of_the_section_there():
    other = wall(
        environments=(Environment("cabinet", -18, 8), Environment("room", 40, 10)),
        sources=(replace(wall().sources[0], heat=-12.0),),
    )
    one = solved_wall()
    system = assemble(other, one.field.x, one.field.y)
    two = superposed(system, unit_fields(system), other.fixed_temperatures, other.watts)
    at_other = one.field_at([-18, 40], [-12])
    for key in ("temperature", "point_temperature", "flux"):
        found, true = getattr(at_other, key), getattr(two, key)
        assert found.shape == true.shape and np.array_equal(np.isnan(found), np.isnan(true))
        assert np.nanmax(abs(found - true) - np.maximum(1e-9 * abs(true), 1e-9)) <= 0
    assert not np.allclose(at_other.flux, one.field.flux)


def test_field_and_sensors_agree():
    solution = solved_wall()
    field, (x, y) = solution.field, (0.09, 0.015)
    i, j = int(abs(field.x - x).argmin()), int(abs(field.y - y).argmin())
    assert field.point_temperature[i, j] == pytest.approx(solution.sensors["free"].reading, abs=0.02)


# ---- said and refused -----------------------------------------------------------------------------------------------


def test_a_part_that_shows_in_cut_cells_alone_is_not_covered():
    """Four corners of a void around a disc, each within one cell of the coarsest grid."""
    section = Section(
        "rod",
        (Part("gap", (box(0, 1, 0, 1),), void=True), solid("rod", 1.0, Disc((0.5, 0.5), 0.5), box(0, 1, 0.4, 0.6))),
        (Environment("cold", 0, 10), Environment("warm", 1, 10)),
        border=Border(left="cold", right="warm"),
    )
    assert check_section(section).warnings == ()


def slanted_foil(thickness, k, film=math.inf):
    """60 mm of foam, 60 mm high, between two environments, and along its middle a foil; all of it turned."""

    def turned(x0, x1, y0, y1):
        corners = (x0, y0), (x1, y0), (x1, y1), (x0, y1)
        return Polygon(tuple((1e-3 * (0.8 * x - 0.6 * y), 1e-3 * (0.6 * x + 0.8 * y)) for x, y in corners))

    parts = (
        solid("foam", 0.03, turned(0, 60, 0, 60)),
        solid("foil", k, turned(-1, 61, 29, 29 + thickness)),
        air("hot", turned(-5, 0, 0, 60)),
        air("cold", turned(60, 65, 0, 60)),
    )
    return Section("foil", parts, (Environment("hot", 50, film), Environment("cold", 5, film)))


def test_a_slanted_sheet_is_followed_as_far_as_the_cells_go():
    def true(thickness):
        return (0.03 * (60 - thickness) + 160 * thickness) / 60

    thick = solve(slanted_foil(2, 160), max_cells=100_000)
    band = thick.network.band.coupling[0, 1]
    assert abs(thick.network.values.coupling[0, 1] - true(2)) <= band < 0.3 * true(2) and not thick.warnings
    thin = solve(slanted_foil(0.02, 160), max_cells=40_000)  # lost between the cells
    assert abs(thin.network.values.coupling[0, 1] - true(0.02)) > 0.1 * true(0.02)
    assert thin.network.band.coupling[0, 1] == math.inf and not thin.grid.target_met
    assert thin.grid.worst == "all that depends on part 'foil'"
    assert any(w.startswith("part 'foil' is too thin for this grid") for w in thin.warnings)


def test_surfaces_behind_films_never_meet_at_a_point():
    """What grows from grid to grid may be a sheet that the grid does not follow yet."""
    solution = solve(slanted_foil(0.5, 160, film=8), max_cells=40_000)
    assert not any("no limit" in w for w in solution.warnings)


def test_what_is_likely_not_meant_is_said():
    section = wall(
        parts=(solid("hidden", 1.0, box(0.01, 0.02, 0.001, 0.002)), *wall().parts),
        environments=(*wall().environments, Environment("cellar", 12, 8)),
    )
    solution = solve(section)
    more = {"part 'hidden' is wholly covered by later parts", "environment 'cellar' touches no solid part"}
    assert set(solution.warnings) == more | set(solved_wall().warnings)
    slab, *steps = [w[:30] for w in solved_wall().warnings]
    assert slab == "part 'block', 0.01 m wide, cro"  # a slab, where it is a bolt
    assert steps and all("nothing is drawn" in w for w in solved_wall().warnings[1:])  # beside its plate
    assert check_section(section).warnings == solution.warnings


def test_loose_parts_are_refused_by_solve_and_check():
    section = wall(parts=(*wall().parts, solid("island", 1.0, box(0.04, 0.05, 0.05, 0.06))), border=Border())
    for job in (solve, check_section):
        with pytest.raises(InputError, match="part 'island': nothing ties it to any temperature"):
            job(section)


@pytest.mark.parametrize(
    ("remove", "said"),
    [
        (("plate",), "source 'held', segment: x = .* touches no solid; leave in place what carries a source"),
        (("block",), "part 'knob': nothing ties it to any temperature; .* remove as well what would hang loose"),
    ],
)
def test_a_bridge_without_which_the_section_makes_no_sense_is_named(remove, said):
    """The plate carries a held segment; a knob in a gap touches the block alone."""
    held = Source("held", segment=Segment((0.07, 0.08), (0.034, 0.034)), temperature=40)
    *below, block, hole = wall().parts
    gap = Part("gap", (box(0.05, 0.075, 0.01, 0.02),), void=True)
    parts = (*below, gap, block, hole, solid("knob", 1.0, box(0.055, 0.06, 0.012, 0.018)))
    sources = (*wall().sources, held)
    section = wall(parts=parts, sources=sources, bridges=(Bridge(remove, between=("cabinet", "room")),))
    for job in (solve, check_section):
        with pytest.raises(InputError, match=f"^bridge '{remove[0]}', remove: without '{remove[0]}', {said}"):
            job(section)


def test_check_says_what_would_be_solved():
    text = check_section(wall(spreading=(Spreading(("plate",)),), bridges=(Bridge(("block",)),))).text
    for words in (
        "wall",
        "environment cabinet: 7 degC",
        "source face: 3 W",
        "sensor thermostat, should read cabinet",
        "spreading resistance of plate along x",
        "bridge: what leaks by block",
        "3 unit fields, 3 factorisations a grid",
    ):
        assert words in text


def test_a_solution_prints_its_tables():
    text = repr(solved_wall())
    for words in ("wall", "cabinet", "room", "face", "thermostat", "±"):
        assert words in text


def test_a_forced_grid_has_narrower_bands_than_the_default():
    """The three grids of a forced solve are those that halve up to it, none of them the first one."""
    section = strip(0.1, 0.1)
    default, forced = solve(section), solve(section, cells=20_000)
    assert forced.grid.cells[0] > default.grid.cells[0]
    assert [b / a for a, b in zip(forced.grid.cells, forced.grid.cells[1:])] == [4, 4]
    one, other = (s.spreading["plate"]["source"] for s in (default, forced))
    assert other.mean_band < one.mean_band / 4
    assert abs(other.mean - one.mean) <= one.mean_band + other.mean_band


def other_numbers(section):
    return replace(
        section,
        environments=(Environment("cabinet", 5, 20), Environment("room", 31, 4)),
        parts=tuple(replace(p, material=replace(p.material, conductivity=(90.0, 90.0))) if p.name == "plate" else p
                    for p in section.parts),
    )  # fmt: skip


def test_the_grids_of_a_section_drawn_alike_are_used_again(monkeypatch):
    section, like = other_numbers(wall()), solved_wall()
    fresh = solve(section)
    laid = []
    monkeypatch.setattr(layout, "raster_of", lambda *given: laid.append(given) or raster.raster_of(*given))
    again = solve(section, like=like)
    assert again.grid.cells == like.grid.cells and not laid
    assert again.system.section is section
    both = fresh.network.band.coupling + again.network.band.coupling
    assert (abs(again.network.values.coupling - fresh.network.values.coupling) <= both).all()


def test_grids_used_again_are_refined_where_the_target_asks_for_it():
    rough = solve(wall(), 0.05)
    again = solve(other_numbers(wall()), like=rough)
    assert again.grid.note == "target met" and again.grid.cells[-1] > rough.grid.cells[-1]


def test_a_section_drawn_otherwise_begins_anew():
    section = wall(parts=(*wall().parts[:-1], Part("hole", (box(0.01, 0.03, 0.01, 0.021),), void=True)))
    fresh, again = solve(section), solve(section, like=solved_wall())
    assert (fresh.network.values.coupling == again.network.values.coupling).all()
    small = solve(wall(), max_cells=solved_wall().grid.cells[-1] - 1, like=solved_wall())
    assert small.grid.cells[-1] < solved_wall().grid.cells[-1]


def chequered(contrast, **more):
    quarters = (box(-1, 0, -1, 0), box(0, 1, -1, 0), box(-1, 0, 0, 1), box(0, 1, 0, 1))
    parts = tuple(solid(f"quarter {k}", c, q) for k, (c, q) in enumerate(zip((1, contrast, contrast, 1), quarters)))
    return Section("chequered", parts, held("below", "above"), border=Border(bottom="below", top="above"), **more)


# the coupling of two opposite sides is the root of the contrast, J. B. Keller, J. Math. Phys. 5 (1964) 548, from memory


@pytest.mark.parametrize(("contrast", "cells"), [(10, 300), (10, 20_000), (20, 20_000), (50, 3_000), (100, 20_000)])
def test_slow_corners_are_extrapolated_by_their_own_order(contrast, cells):
    solution = solve(chequered(contrast), max_cells=cells)
    value, band = solution.answers.at(("network", "coupling", "above", "below"))
    assert abs(value - contrast**0.5) < 0.7 * band < 0.1 * value
    assert not solution.warnings


@pytest.mark.parametrize("contrast", [1000, 10_000])
def test_corners_too_singular_for_any_grid_are_named_and_leave_no_band(contrast):
    solution = solve(chequered(contrast), max_cells=20_000)
    _, band = solution.answers.at(("network", "coupling", "above", "below"))
    assert band == math.inf and not solution.grid.target_met
    (warning,) = solution.warnings
    assert warning.startswith("at x = 0, y = 0 m, where the temperature of 'quarter 3', 'quarter 2', ")


@pytest.mark.parametrize(("thickness", "cells"), [(1e-3, 300_000), (1e-5, 20_000)])
def test_thin_rings_between_discs_are_resolved_or_told(thickness, cells):
    """A heated core in a ring of plastic, in metal: the ring has ln(outer / inner) / (2 pi k)."""
    k, radius = 0.002, 0.01
    discs = (Disc((0.03, 0.02), radius), Disc((0.03, 0.02), radius - thickness))
    parts = solid("plate", 1e6, box(0, 0.06, 0, 0.04)), solid("ring", k, discs[0]), solid("core", 1e6, discs[1])
    heater = Source("heater", part="core", heat=2)
    section = Section("t", parts, (Environment("air", 25, 10),), border=Border(left="air"), sources=(heater,))
    solution = solve(section, max_cells=cells)
    value, band = solution.answers.at("terminals.heater.temperature")
    by_hand = 25 + 2 / (10 * 0.04) + 2 * math.log(radius / (radius - thickness)) / (2 * math.pi * k)
    assert abs(value - by_hand) <= band
    told = any(w.startswith("part 'ring' is too thin for this grid") for w in solution.warnings)
    assert told == (thickness < 5e-5) == math.isinf(band)


def core_in_a_gap(hole, core, *within):
    """A core that a void parts from its frame, between two airs."""
    parts = (
        solid("frame", 200, box(0, 0.1, 0, 0.1)),
        Part("gap", (hole,), void=True),
        solid("core", 200, core),
        *within,
    )
    airs = Environment("cold", 5, 10), Environment("warm", 25, 10), Environment("water", 15, 1000)
    return Section("core", parts, airs[: 2 + len(within)], border=Border(left="cold", right="warm"))


TURNED = Polygon(((0.0335, 0.0085), (0.0915, 0.0335), (0.0665, 0.0915), (0.0085, 0.0665)))  # a square


@pytest.mark.parametrize(
    ("hole", "core", "known"),
    [
        (Disc((0.05, 0.05), 0.03), Disc((0.0697, 0.05), 0.01), True),
        (Disc((0.05, 0.05), 0.03), Polygon(((0.03, 0.05), (0.06, 0.04), (0.0799, 0.051), (0.06, 0.06))), True),
        (Disc((0.05, 0.05), 0.03), Polygon(tuple(Disc((0.05, 0.05), 0.0299).outline(40).tolist())), False),
        (TURNED, Disc((0.05, 0.05), 0.0314), False),
    ],
)
def test_a_core_that_a_thin_gap_parts_is_parted_or_nothing_is_known_of_it(hole, core, known):
    x, y = np.mean(core.bounds[:2]), np.mean(core.bounds[2:])
    solution = solve(core_in_a_gap(hole, core, air("water", Disc((x, y), 0.003))), max_cells=60_000)
    value, band = solution.answers.at(("network", "coupling", "cold", "water"))
    assert (abs(value) < 1e-9 and band < 0.01) if known else (math.isinf(band) and not solution.grid.target_met)
    assert any(w.startswith("part 'gap' is too thin for this grid at x = ") for w in solution.warnings) != known


@pytest.mark.parametrize("radius", [0.0295, 0.0315])
def test_a_core_that_a_thin_gap_leaves_loose_is_refused(radius):
    section = core_in_a_gap(TURNED, Disc((0.05, 0.05), radius))
    section = replace(section, sources=(Source("heater", part="core", heat=5.0),))
    with pytest.raises(InputError, match="part 'core': nothing ties it to any temperature"):
        solve(section, max_cells=6_000, cells=10_000)


@pytest.mark.parametrize("low", [0, -0.01])
def test_a_cut_parts_a_bar_also_where_it_begins_in_a_point(low):
    """A bar is cut right through by a void with a slanted tip on its lower edge; then by one that reaches beyond it."""
    bar, ends = solid("bar", 100, box(0, 0.06, 0, 0.04)), (Environment("cold", 7, 10), Environment("warm", 30, 10))
    cut = Part("cut", (Polygon(((0.03, low), (0.04, 0.04), (0.035, 0.04))),), void=True)
    solution = solve(Section("t", (bar, cut), ends, border=Border(left="cold", right="warm")))
    assert solution.answers.at(("network", "coupling", "cold", "warm")) == (0.0, 0.0)
    assert solution.grid.target_met


def test_solids_that_a_gap_parts_wholly_have_no_coupling_and_meet_their_target():
    """Rounding alone is left, of which no share can be asked for."""
    bent = Polygon(((0.3, -0.1), (0.34, -0.1), (0.54, 0.5), (0.24, 1.1), (0.2, 1.1), (0.5, 0.5)))
    gap = Part("gap", (bent,), void=True)
    block = solid("block", 200, box(0, 1, 0, 1))
    section = Section("t", (block, gap), held("left", "right"), border=Border("left", "right"))
    solution = solve(section)
    value, band = solution.answers.at("network.coupling.left.right")
    assert abs(value) <= band < 1e-9 and solution.grid.target_met and not solution.failed
