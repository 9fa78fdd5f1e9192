"""Stems and self-heating in the answers: the network stays exact, and each cause of a misreading has its share."""

import math
from dataclasses import replace

import pytest

import fdm
from fdm.answers.kinds import asked_of
from fdm.answers.stems import pull_of, with_stems
from fdm.section.model import (
    Bead,
    Border,
    Environment,
    Material,
    Part,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Stem,
)
from fdm.surroundings.stems import along_in_air, along_in_solid, bead_in_air, bead_in_solid, pull, stem_conductances
from tests.answers.bench import VIEWS, answered, bench, on_grid
from validation.cases import box, solid

COPPER = Material("copper", (390.0, 390.0))
LEADS = Stem(COPPER, 2e-4, 0.05, "room", count=2, insulation=4e-4, film=25.0)
PROBE = Sensor("bead", at=(0.02, 0.02), should_read="cabinet", stem=LEADS, bead=Bead(2.4e-3), self_heating=0.27e-3)


def probes(*sensors, view="section"):
    return bench(view, sensors=(*sensors, Sensor("core", part="block")))


@pytest.mark.parametrize("view", VIEWS)
def test_readings_are_those_of_the_place_and_what_pulls_from_them(view):
    section = probes(PROBE, view=view)
    place = answered(probes(replace(PROBE, stem=None, self_heating=None), view=view))
    values, found = answered(section), pull_of(section, PROBE)
    reading, to = place["sensors.bead.reading"], 28.0
    assert 0.01 < found.share < 0.9
    stem, heating = found.share * (to - reading), found.resistance * 0.27e-3
    assert values["sensors.bead.stem"] == pytest.approx(stem, rel=1e-9)
    assert values["sensors.bead.self_heating"] == pytest.approx(heating, rel=1e-12)
    assert values["sensors.bead.reading"] == pytest.approx(reading + stem + heating, rel=1e-12)
    assert values["sensors.bead.misreading"] == pytest.approx(reading + stem + heating - 7, rel=1e-12)
    assert {key: v for key, v in values.items() if "bead" not in key} == pytest.approx(
        {key: v for key, v in place.items() if "bead" not in key}, rel=1e-12
    )


def test_weights_still_sum_to_one_and_give_the_reading_at_any_temperatures():
    section = probes(PROBE)
    grid = on_grid(section)
    n = with_stems(section, grid.answers.network)
    assert n.weight.sum(1) == pytest.approx(1.0, abs=1e-12)
    other = replace(section, environments=(Environment("cabinet", -10, 8), Environment("room", 35, 25)))
    values = dict(
        zip((q.name for q in asked_of(grid.system).quantities), asked_of(grid.system).at(other).values(grid.answers))
    )
    rise = pull_of(section, PROBE).resistance * PROBE.self_heating
    expected = n.weight[2] @ [-10, 35, -4] + n.resistance[2] @ section.watts + rise
    assert values["sensors.bead.reading"] == pytest.approx(expected, rel=1e-12)
    assert with_stems(replace(section, sensors=section.sensors[1:]), grid.answers.network) is grid.answers.network


@pytest.mark.parametrize(
    "sensor, bead, along",
    [
        (PROBE, bead_in_solid(0.03, 2.4e-3), along_in_air(25, 2e-4, 4e-4)),
        (
            replace(PROBE, stem=replace(LEADS, film=None)),
            bead_in_solid(0.03, 2.4e-3),
            along_in_solid(0.03, 0.05, 2e-4, 4e-4),
        ),
        (replace(PROBE, at=(0.02, 0.0)), bead_in_solid(0.03, 2.4e-3, 0.5), along_in_air(25, 2e-4, 4e-4)),
        (replace(PROBE, bead=Bead(dissipation=1e-3)), 1e-3, along_in_air(25, 2e-4, 4e-4)),
        (replace(PROBE, bead=None), 0.0, along_in_air(25, 2e-4, 4e-4)),
        (
            replace(PROBE, bead=Bead(2.4e-3, film=100.0)),
            1 / (1 / bead_in_solid(0.03, 2.4e-3) + 1 / bead_in_air(100, 2.4e-3)),
            along_in_air(25, 2e-4, 4e-4),
        ),
    ],
)
def test_a_bead_is_tied_to_what_it_touches(sensor, bead, along):
    expected = pull(bead, *stem_conductances(2 * LEADS.conduction, 2 * along, 0.05))
    found = pull_of(probes(sensor), sensor)
    assert (found.share, found.resistance) == pytest.approx((expected.share, expected.resistance))


def test_a_tube_with_a_wall_conducts_by_its_ring():
    tube = Stem(Material("stainless", (16.0, 16.0)), 6e-3, 0.06, "room", wall=1e-3, film=50.0)
    assert tube.conduction == pytest.approx(16 * math.pi / 4 * (6e-3**2 - 4e-3**2))
    section = probes(Sensor("bead", at=(0.02, 0.0), stem=tube))
    assert 20 * pull_of(section, section.sensors[0]).share == pytest.approx(1.014, rel=1e-3)


@pytest.fixture(scope="module")
def solution():
    """A slab of foam between cabinet and room, with a heated strip; the bead lies in the foam with its leads."""
    sensor = replace(PROBE, stem=replace(LEADS, film=None))
    foil = Source("foil", segment=Segment((0.03, 0.05), (0.04, 0.04)), heat=0.1)
    foam, airs = solid("foam", 0.03, box(0, 0.1, 0, 0.04)), (Environment("cabinet", 7, 8), Environment("room", 28, 25))
    return fdm.solve(
        Section("slab", (foam,), airs, border=Border(bottom="cabinet", top="room"), sources=(foil,), sensors=(sensor,)),
        0.02,
    )


def test_a_misreading_is_the_sum_of_its_causes(solution):
    found = solution.sensors["bead"]
    assert found.leads and found.stem > 0.1 and found.self_heating > 0.05
    assert found.misreading == pytest.approx(sum(found.split.values()) + found.stem + found.self_heating, abs=1e-9)
    assert found.reading == pytest.approx(found.should_read + found.misreading)
    assert solution.network.self_heating == (pytest.approx(found.self_heating),)


def test_another_operating_point_needs_no_new_solve(solution):
    warmer = fdm.at_operating_point(solution, {"room": 38})
    n, t = solution.network, [7, 38]
    expected = n.values.weight[1] @ t + n.values.resistance[1] @ solution.section.watts + n.self_heating[0]
    assert warmer.answers.at("bead")[0] == pytest.approx(expected, rel=1e-9)
    assert warmer.sensors["bead"].self_heating == solution.sensors["bead"].self_heating
    assert warmer.sensors["bead"].stem > solution.sensors["bead"].stem


def test_a_rod_that_is_drawn_reads_as_its_formula():
    """An axisymmetric rod in air, held at one end, in full; and the same as a stem, of which nothing is drawn."""
    k, d, length, film = 17.0, 4e-3, 0.04, 15.0
    air, steel = Part("air", (Rectangle((0, 0.02), (-0.05, 0)),), environment="in"), Material("steel", (k, k))
    rod = Part("rod", (Rectangle((0, d / 2), (-length, 0)),), material=steel)
    around = Environment("in", 5, film), Environment("out", 25, math.inf)
    more = {"environments": around, "border": Border(top="out"), "view": "axisymmetric"}
    drawn = fdm.solve(Section("rod", (air, rod), sensors=(Sensor("tip", at=(0, -length)),), **more), 0.002)
    stem, tip = Stem(steel, d, length, "out", film=film), Bead(dissipation=film * math.pi / 4 * d**2)
    told = Section("stem", (air, rod), sensors=(Sensor("tip", at=(0.01, -length), stem=stem, bead=tip),), **more)
    value, band = drawn.answers.at("tip")
    formula = 5 + 20 * pull_of(told, told.sensors[0]).share
    assert formula == pytest.approx(15.886, abs=1e-3)
    assert 0 < value - formula < 1e-3 * 20 + band  # the fin's one dimension
