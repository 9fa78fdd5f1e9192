"""Three grids to a value and its band: what is known of a sequence's limit decides whether the band was honest."""

import numpy as np
import pytest

from fdm.accuracy.extrapolation import CORNER, Rule, SlowCorners, endless_couplings, extrapolated, rule_of
from fdm.conduction.network import NetworkValues

H = np.array([4.0, 2.0, 1.0])


def of(sequence, **how):
    value, band = extrapolated(*np.asarray(sequence, float)[:, None], **how)
    return float(value[0]), float(band[0])


@pytest.mark.parametrize("size", [1e-3, -1e-3, 0.2, -0.2])
def test_second_order_is_extrapolated_exactly(size):
    value, band = of(10 + size * H**2)
    assert value == pytest.approx(10, rel=1e-13)
    assert 0 < band <= abs(size)  # no more than the finest grid's own error


@pytest.mark.parametrize("order", [2.0, 1.8, 1.5, 4 / 3, 1.2, 1.0, 0.8])
@pytest.mark.parametrize("size", [1e-3, -0.2])
def test_a_slower_order_is_inside_the_band(order, size):
    """4/3 is a re-entrant corner's (of 270 degrees), 1 a slanted edge's."""
    value, band = of(10 + size * H**order)
    assert abs(value - 10) <= band
    assert band < 4 * abs(size)


@pytest.mark.parametrize("order", [3.0, 4.0])
def test_a_faster_order_is_inside_the_band(order):
    value, band = of(10 + 0.01 * H**order)
    assert abs(value - 10) <= band


@pytest.mark.parametrize("fourth", [1e-3, -1e-3, 1e-4, -4e-4])
def test_a_smooth_answer_has_a_band_near_its_error(fourth):
    """Where the next term is of fourth order, the band is not a hundred times what is missed."""
    value, band = of(10 + 0.01 * H**2 + 0.01 * fourth * H**4)
    assert abs(value - 10) <= band <= max(8 * abs(value - 10), 0.012 * 0.03)


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize("sign", [1, -1])
def test_changes_that_turn_around_have_a_band_as_large_as_they_are(cut, sign):
    value, band = of([10 + 0.3 * sign, 10 - 0.1 * sign, 10 + 0.05 * sign], cut=cut)
    assert band > 0.15  # the last change
    assert abs(value - 10) < band


def test_round_edges_have_a_wider_band():
    sequence = 10 + 0.01 * H**2
    assert of(sequence, cut=True)[1] > of(sequence)[1] + abs(sequence[2] - sequence[1]) / 3


def test_what_does_not_change_has_a_band_of_rounding():
    value, band = of([3.0, 3.0, 3.0])
    assert value == 3.0
    assert 0 <= band < 1e-8


def test_nothing_to_read_stays_nothing_and_does_not_spoil_the_rest():
    sequence = np.array([[np.nan] * 3, 10 + 0.01 * H**2]).T
    value, band = extrapolated(*sequence)
    assert np.isnan(value[0]) and np.isnan(band[0])
    assert value[1] == pytest.approx(10) and 0 < band[1] < 0.01


def test_what_most_answers_of_a_solve_miss_holds_for_a_lucky_one():
    """One answer that seems of second order, among others of first: its ratio may be luck."""
    slow, lucky = 10 + 0.01 * H, 10 + 0.01 * H**2
    alone = of(lucky)[1]
    among = extrapolated(*np.array([slow, slow, slow, lucky]).T)[1][3]
    assert among > 3 * alone


def test_extrapolation_is_linear_so_sums_of_weights_stay():
    rng = np.random.default_rng(3)
    a, b = rng.random((3, 5)), rng.random((3, 5))
    for cut in (False, True):
        together = extrapolated(*(a + b), cut=cut)[0]
        assert together == pytest.approx(extrapolated(*a, cut=cut)[0] + extrapolated(*b, cut=cut)[0])
        ones = extrapolated(*(a / a), cut=cut)[0]
        assert ones == pytest.approx(np.ones(5), rel=1e-14)


@pytest.mark.parametrize("scale", [1e-9, 1e6])
def test_bands_scale_with_the_answer(scale):
    sequence = 10 + 0.01 * H**1.5
    assert of(scale * sequence)[1] == pytest.approx(scale * of(sequence)[1], rel=1e-9)


@pytest.mark.parametrize("second", [0.0, 0.25, -0.15])
def test_corners_and_second_order_are_extrapolated_exactly_together(second):
    """An error of order 3/2, as corners make on graded grids, beside one of second order."""
    value, band = of(10 + 0.01 * (H**1.5 + second * H**2))
    assert value == pytest.approx(10, rel=1e-13)
    assert 0 < band < 0.01  # the finest grid's own error, without the second order


@pytest.mark.parametrize("orders", [(4 / 3, 2.0), (1.5, 2.5), (1.7, 2.0), (1.4, 1.6)])
@pytest.mark.parametrize("share", [0.5, 0.7, 1.0])
def test_other_pairs_of_orders_are_inside_the_band(orders, share):
    value, band = of(10 + 0.01 * (share * H ** orders[0] + (1 - share) * H ** orders[1]))
    assert abs(value - 10) <= band < 0.01


def test_one_solve_is_extrapolated_in_one_way_so_that_sums_hold():
    """Weights sum to one, whichever of them corners spoil."""
    h = H[:, None]
    slow = np.array([0.01, -0.02, 0.01]) * h**1.5
    weights = np.array([0.2, 0.5, 0.3]) + slow + np.array([0.0, 1e-3, -1e-3]) * h**2
    value, band = extrapolated(*weights)
    assert value.sum() == pytest.approx(1, rel=1e-13)
    assert (abs(value - [0.2, 0.5, 0.3]) <= band).all()


SLOW, EVEN, TURNING = 10 + 0.01 * H**1.5, 10 + 0.01 * H**2, np.array([3.0, 4.0, 2.0])


@pytest.mark.parametrize("cut", [False, True])
@pytest.mark.parametrize(("counting", "other"), [(SLOW, EVEN), (EVEN, SLOW), (EVEN, TURNING)])
def test_what_does_not_count_moves_neither_the_rule_nor_the_bands_of_others(counting, other, cut):
    grids = np.stack([counting, 1.1 * counting, *[other] * 9], 1)
    counted = np.array([1, 1] + [0] * 9)
    rule, alone = rule_of(*grids, counted, cut), rule_of(*grids[:, :2], counted[:2], cut)
    assert rule == alone
    together, apart = rule.extrapolated(*grids), alone.extrapolated(*grids[:, :2])
    for of_all, of_two in zip(together, apart):
        assert np.array_equal(of_all[:2], of_two)
    assert rule_of(*grids, np.ones(11, int), cut) != rule  # if all of them counted, they would


def test_what_does_not_count_is_extrapolated_by_the_rule_of_what_does():
    """At another operating point, or one reading among others: the rule is the solve's."""
    rule = rule_of(*SLOW[:, None], np.array([1]))
    value, band = rule.extrapolated(*np.stack([EVEN, 2 * SLOW + 3], 1))
    assert rule.cornered and value[1] == pytest.approx(23, rel=1e-13)
    assert abs(value[0] - 10) <= band[0]


def test_what_counts_twice_counts_as_two():
    grids = np.stack([SLOW, EVEN, 2 * EVEN + 3], 1)
    repeated = grids[:, [0, 0, 0, 1, 2]]
    assert rule_of(*grids, np.array([3, 1, 1])) == rule_of(*repeated, np.ones(5, int))
    assert rule_of(*grids, np.array([3, 1, 1])) != rule_of(*grids, np.array([1, 1, 1]))


def test_where_nothing_counts_the_rule_is_that_of_second_order():
    rule = rule_of(*SLOW[:, None], np.array([0]))
    assert not rule.cornered and rule.extrapolated(*EVEN[:, None])[0] == pytest.approx(10, rel=1e-13)


def test_a_slow_corner_of_known_order_is_taken_out_with_second_order():
    h, exponent = np.array([4.0, 2.0, 1.0]), 0.2
    grids = (10 + 0.3 * (h / 1000) ** (2 * exponent) + 0.001 * h**2)[:, None]
    ratio = 4**exponent
    alone = Rule(False, True, 0.3, SlowCorners(ratio, ratio, 0.01))
    value, band = alone.extrapolated(*grids)
    assert value == pytest.approx(10) and 0 < band < 0.01
    beside_others = Rule(False, True, 0.3, SlowCorners(ratio, CORNER, 0.01))
    value, wider = beside_others.extrapolated(*grids)
    ordinary, _ = Rule(False, True, 0.3).extrapolated(*grids)
    assert value == pytest.approx((10 + ordinary) / 2)
    assert wider == pytest.approx(band + abs(ordinary - 10) / 2, rel=1e-6)


@pytest.mark.parametrize("by_chance", [0.02, -0.02])
def test_a_change_that_slow_corners_do_not_explain_is_taken_for_small_by_chance(by_chance):
    """The last one of 0.1 is followed by 0.02, up or down, where slow corners make 0.06 of it."""
    rule = Rule(True, True, 0.3, SlowCorners(1.66, 2.3, 0.01))
    believed, doubted = (
        float(rule.extrapolated(*np.array([[10.0], [10.1], [10.1 + last]]))[1][0]) for last in (0.06, by_chance)
    )
    assert doubted > 0.8 * believed


# ---- couplings without a limit --------------------------------------------------------------------------------------


def couplings(*of_grids):
    """Networks of three terminals, any two of them coupled alike."""
    none = np.zeros((0, 3))
    return [NetworkValues(value * (1 - np.eye(3)), none, none, none) for value in of_grids]


def test_only_couplings_of_two_held_surfaces_can_be_endless():
    """Where two surfaces meet at a point, halving cells adds the same again each time; behind a film it cannot."""
    for held in ([True, True, False], [False, True, True], [True, False, False], [True] * 3):
        found = endless_couplings(couplings(10.0, 11.0, 12.0), np.array(held))
        assert np.array_equal(found, np.outer(held, held) & ~np.eye(3, dtype=bool))


@pytest.mark.parametrize(
    "of_grids", [(10.0, 11.0, 11.25), (10.0, 11.0, 11.6), (12.0, 11.0, 10.0), (10.0, 10.02, 10.04)]
)
def test_couplings_that_settle_fall_or_hardly_grow_are_not_endless(of_grids):
    assert not endless_couplings(couplings(*of_grids), np.full(3, True)).any()


def test_growth_that_a_drawings_slow_corners_explain_is_not_endless():
    """Changes that fall to 0.9 from grid to grid: without end among usual corners, but what a ratio of 1.1 makes."""
    assert endless_couplings(couplings(10.0, 11.0, 11.9), np.full(3, True)).any()
    assert not endless_couplings(couplings(10.0, 11.0, 11.9), np.full(3, True), slowest=1.1).any()


def test_an_answer_that_hardly_changes_has_little_weight_in_the_rule():
    grids = np.array([[1.08, 1.02, 1.005], [1.0, 1.0002, 1.0001]]).T  # the second turns around, by chance
    heavy, alike = (rule_of(*grids, np.array(weight), layered=True) for weight in ([1.0, 0.01], [1.0, 1.0]))
    assert heavy == rule_of(*grids[:, :1], np.ones(1), layered=True)
    assert heavy.common < 0.1 < alike.common


def test_cut_cells_add_less_to_the_band_of_a_plate_in_layers():
    grids = np.array([[1.08, 1.02, 1.005]]).T
    plane, plate = (rule_of(*grids, np.ones(1), cut=True, layered=on).extrapolated(*grids)[1] for on in (False, True))
    assert 0 < plate[0] < plane[0]
