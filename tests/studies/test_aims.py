"""Limits, and what they miss."""

from contextlib import nullcontext

import pytest

from fdm.answers.quantity import Quantity
from fdm.answers.surfaces import thinkable
from fdm.errors import InputError
from fdm.section.model import Environment, Material, Part, Rectangle, Section
from fdm.studies import Design
from fdm.studies.aims import Aim, Limit, Wish, Wishes
from tests.studies.slab import COUPLING, MISREADING, READING, answered

HEAT, WATTS = (Quantity(("budget", name, "watts"), f"heat by {name}", "W", "budget") for name in ("lid", "door"))


def test_limits_are_read_with_spaces_in_names() -> None:
    wish = Wish.read('network.coupling."inside 1.5 m".outside >= 0.3')
    assert (wish.asked, wish.below, wish.bound) == (COUPLING, False, 0.3)
    known = Quantity(("network", "coupling", "inside 1.5 m", "outside"), "coupling", "W/K", "coupling")
    assert wish.among([READING, known]) == Limit(known, False, 0.3)


def test_wishes_become_an_aim_once_it_is_known_what_designs_answer() -> None:
    wishes = Wishes("sensors.bead.misreading", True, (Wish.read("bead < 4"),))
    assert wishes.among([READING, MISREADING]) == Aim(MISREADING, True, (Limit(READING, True, 4.0),))
    with pytest.raises(InputError, match="goal: the result has no 'sensors.bead.misreading'; did you mean 'sensors.b"):
        wishes.among([READING])
    with pytest.raises(InputError, match="limit 'bead < 4': the result has no 'bead'"):
        wishes.among([MISREADING])


@pytest.mark.parametrize(
    "goal, limit, said",
    [
        ("surface.fins.air.lowest", "surface.rib.air.highest < 9", None),  # as other designs may have it
        ("surface.fin.air.lowest", "bead < 4", r"goal: .* no 'surface.fin.air.lowest'; did you mean 'surface.fins"),
        ("bead", "surface.fins.room.lowest < 4", "limit 'surface.fins.room.lowest < 4': the result has no"),
        ("sensors.surface.reading", "bead < 4", "goal: the result has no 'sensors.surface.reading'"),
    ],
)
def test_wishes_for_surfaces_are_refused_where_no_design_can_have_them(goal: str, limit: str, said: str | None) -> None:
    parts = tuple(Part(name, (Rectangle((0, 1), (0, 1)),), Material("tin", (9.0, 9.0))) for name in ("fins", "rib"))
    known = (READING, *thinkable(Section("block", parts, (Environment("air", 20, 10),))))
    wishes = Wishes(goal, False, (Wish.read(limit),))
    with nullcontext() if said is None else pytest.raises(InputError, match=said):
        wishes.refuse_unknown(known)


def test_designs_are_ordered_by_what_they_miss_and_then_by_the_goal() -> None:
    """A limit of 4 missed by 1 counts a quarter; the size of a misreading counts; no value is worse than any miss."""
    aim = Aim(HEAT, False, (Limit(WATTS, True, 4.0), Limit(MISREADING, True, 1.0)))
    answers = [(3.0, 5.0, 0.0), (9.0, 4.0, -1.0), (7.0, 3.0, 0.5), (1.0, 4.0, -1.5), (None, 1.0, 0.0)]
    designs = [
        Design({"plate": float(k)}, answered({HEAT: heat, WATTS: watts, MISREADING: error}))
        for k, (heat, watts, error) in enumerate(answers)
    ]
    assert aim.misses(designs)[:4].tolist() == [0.25, 0, 0, 0.5]
    assert aim.order(designs) == [2, 1, 0, 3, 4]
    assert Aim(HEAT, True, aim.limits).order(designs)[:2] == [1, 2]
