"""What the answers feel of the grid's errors, and how far their bands are from what is allowed."""

import numpy as np
import pytest

from fdm.accuracy.refinement import bands_over_allowed, furthest, goals_of, refined
from fdm.answers.kinds import asked_of
from fdm.answers.quantity import Answers
from fdm.answers.sensors import KELVIN
from fdm.answers.spreading import LEAST
from fdm.conduction.systems import conduction_system
from fdm.section.model import Bridge, Spreading
from tests.answers.bench import bench, lines, on_grid

SECTION = bench(spreading=(Spreading(("block",)),), bridges=(Bridge(("block",), ("cabinet", "room")),))
ASKED = asked_of(conduction_system(SECTION, *lines(SECTION)))
FIXED = SECTION.fixed_names
FOIL, CORD = (len(FIXED) + k for k in range(2))  # their unit fields
HIGHEST_FOIL = len(FIXED) + 2 + len(SECTION.sensors)  # the adjoint behind its highest temperature
OWN = ("network", "resistance", "foil", "foil")
OWN_HIGHEST = ("network", "resistance_max", "foil", "foil")
COUPLING = ("network", "coupling", "cabinet", "room")
MEAN, HIGHEST = (("spreading", "block", "foil", which) for which in ("mean", "max"))
PSI = ("bridge", "block", "psi")


@pytest.fixture(scope="module")
def values():
    return ASKED.values(on_grid(SECTION).answers)


def number(path):
    return Answers(ASKED.quantities, np.zeros(len(ASKED.quantities)), np.zeros(len(ASKED.quantities))).number(path)


def vector(by_path):
    """(Q,) of all quantities: 0, but for some."""
    out = np.zeros(len(ASKED.quantities))
    for path, value in by_path.items():
        out[number(path)] = value
    return out


def by_pair(goals):
    """(field, adjoint) -> (size, lack)"""
    assert len({tuple(p) for p in goals.pairs.tolist()}) == len(goals.pairs)
    return {tuple(p): both for p, *both in zip(goals.pairs.tolist(), goals.size.tolist(), goals.lack.tolist())}


def test_a_product_behind_several_quantities_takes_the_smallest_size_and_the_largest_lack(values):
    """The foil's own field is behind its resistance and behind the spreading resistance of what it heats."""
    own = values[number(OWN)]
    spread, most = (max(values[number(path)], LEAST * own) for path in (MEAN, HIGHEST))
    assert spread < own and most < own
    for lacks in ({OWN: 3.0, MEAN: 2.0}, {OWN: 2.0, MEAN: 3.0}):
        found = by_pair(goals_of(ASKED, values, vector(lacks)))
        assert found[FOIL, FOIL] == [pytest.approx(spread, rel=1e-12), 3.0]
    found = by_pair(goals_of(ASKED, values, vector({OWN_HIGHEST: 4.0, HIGHEST: 5.0})))
    assert found[FOIL, HIGHEST_FOIL] == [pytest.approx(most, rel=1e-12), 5.0]
    assert found[FOIL, FOIL][1] == 0.0


def test_a_bridge_and_a_coupling_share_their_product(values):
    """What the bridge's parts cause is less than the whole coupling: it is wanted as exactly as that needs it."""
    psi, whole = values[number(PSI)], values[number(COUPLING)]
    loss = psi * SECTION.depth
    assert 0.02 * whole < loss < whole
    found = by_pair(goals_of(ASKED, values, vector({COUPLING: 0.5, PSI: 1.5})))
    assert found[1, 0] == [pytest.approx(loss, rel=1e-12), 1.5]


def test_without_bands_nothing_lacks_and_everything_with_a_target_is_felt(values):
    goals = goals_of(ASKED, values)
    assert not goals.lack.any() and np.isfinite(goals.size).all() and (goals.size > 0).all()
    fields, sensors = len(FIXED) + 2, len(SECTION.sensors)
    found = by_pair(goals)
    assert {(a, b) for a in range(len(FIXED)) for b in range(a)} <= set(found)  # couplings
    assert {(fields + s, k) for s in range(sensors) for k in range(fields)} <= set(found)  # readings
    assert {(CORD, CORD), (CORD, HIGHEST_FOIL + 1)} <= set(found)


def test_an_endless_coupling_is_left_out(values):
    lacking = vector({("network", "coupling", "room", "coil"): np.inf, COUPLING: 2.0})
    all_, kept = (by_pair(goals_of(ASKED, values, lack)) for lack in (None, lacking))
    pair = FIXED.index("coil"), FIXED.index("room")
    assert set(all_) - set(kept) == {pair}
    assert kept[1, 0][1] == 2.0


def test_a_resistance_below_0_as_rounding_makes_it_is_left_out(values):
    wrong = np.where([q.path == OWN for q in ASKED.quantities], -1e13, values)
    all_, kept = (by_pair(goals_of(ASKED, v)) for v in (values, wrong))
    assert set(all_) - set(kept) == {(FOIL, FOIL), (FOIL, HIGHEST_FOIL)}
    assert all(size > 0 for size, _ in kept.values())


def test_quantities_without_a_target_lack_nothing(values):
    wide = np.full(len(values), 1e9)
    lacking = dict(zip((q.path for q in ASKED.quantities), bands_over_allowed(ASKED, values, wide, 0.005)))
    without = {path for path, lack in lacking.items() if lack == 0}
    follow = {path for path in lacking if path[0] in ("terminals", "surface")}
    assert without == follow | {("sensors", "bead", "misreading"), ("bridge", "block", "watts")}
    assert all(lack > 1 for path, lack in lacking.items() if path not in without)


@pytest.mark.parametrize("target", [0.005, 0.02])
def test_bands_are_told_in_what_the_target_allows(values, target):
    """A share of the answer itself, or of what it is small beside; temperatures in kelvin."""
    own, coupling = values[number(OWN)], values[number(COUPLING)]
    bands = vector({OWN: 3 * target * own, COUPLING: 0.5 * target * coupling, ("sensors", "core", "reading"): 0.02})
    lacking = bands_over_allowed(ASKED, values, bands, target)
    assert lacking[number(OWN)] == pytest.approx(3) and lacking[number(COUPLING)] == pytest.approx(0.5)
    assert lacking[number(("sensors", "core", "reading"))] == pytest.approx(0.005 / target)
    assert furthest(ASKED, lacking) == (pytest.approx(3), "resistance of foil to the surroundings")


def test_the_furthest_is_not_one_without_limit():
    assert furthest(ASKED, vector({COUPLING: np.inf, OWN: 0.3}))[0] == 0.3
    assert furthest(ASKED, vector({})) == (0.0, "")


def test_what_heats_and_what_is_read_is_felt_as_far_as_it_counts():
    """Of a source, its mean and its highest temperature by its own resistance; of a sensor, a kelvin at the terminals'
    own temperatures and watts."""
    section = bench()
    grid = on_grid(section)
    asked = asked_of(grid.system)
    values = asked.values(grid.answers)
    found = by_pair(goals_of(asked, values))
    fixed, own = len(FIXED), np.diag(asked.network(values).resistance[:2])
    for h in range(2):
        assert found[fixed + h, HIGHEST_FOIL + h][0] == own[h]
        assert found[fixed + h, fixed + h][0] == own[h]
    temperatures = section.fixed_temperatures
    factor = abs(np.append(temperatures - temperatures.mean(), section.watts))
    for sensor in range(2):
        sizes = [found[fixed + 2 + sensor, k][0] for k in range(fixed + 2)]
        assert sizes == pytest.approx(KELVIN / factor, rel=1e-12)


def test_refinement_narrows_cells_where_the_answers_feel_it(values):
    grid = on_grid(SECTION)
    finer = refined(grid, ASKED, values, 0.02, 4000)
    between = [np.diff(np.searchsorted(new, old)) for new, old in zip(finer, grid.system.lines)]
    assert all(np.isin(old, new).all() for new, old in zip(finer, grid.system.lines))
    assert all(parts.max() > 1 for parts in between) and min(parts.min() for parts in between) == 1
    true = ASKED.values(on_grid(SECTION, 3).answers)[number(OWN)]
    assert abs(ASKED.values(on_grid(SECTION, at=finer).answers)[number(OWN)] - true) < 0.5 * abs(
        values[number(OWN)] - true
    )
