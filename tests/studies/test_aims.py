"""Limits, and what they miss."""

from fdm.studies import Design
from fdm.studies.aims import Aim, Limit
from tests.studies.slab import COUPLING


def test_limits_are_read_with_spaces_in_names() -> None:
    limit = Limit.read('network.coupling."inside 1.5 m".outside >= 0.3')
    assert (limit.path, limit.below, limit.bound) == (COUPLING, False, 0.3)


def test_designs_are_ordered_by_what_they_miss_and_then_by_the_goal() -> None:
    """A limit of 4 missed by 1 counts a quarter; the size of a misreading counts; no value is worse than any miss."""
    aim = Aim("heat", False, (Limit("watts", True, 4.0), Limit("sensors.bead.misreading", True, 1.0)))
    answers = [(3.0, 5.0, 0.0), (9.0, 4.0, -1.0), (7.0, 3.0, 0.5), (1.0, 4.0, -1.5), (None, 1.0, 0.0)]
    designs = [
        Design({"plate": float(k)}, {"heat": heat, "watts": watts, "sensors.bead.misreading": error})
        for k, (heat, watts, error) in enumerate(answers)
    ]
    assert aim.misses(designs)[:4].tolist() == [0.25, 0, 0, 0.5]
    assert aim.order(designs) == [2, 1, 0, 3, 4]
    assert Aim("heat", True, aim.limits).order(designs)[:2] == [1, 2]
