"""Which designs a study tries."""

import pytest

from fdm.errors import InputError
from fdm.studies import designs


def test_ranges_include_both_ends_and_lists_may_hold_ranges() -> None:
    assert [d["plate"] for d in designs({"plate": "0.1:0.5:0.1"})] == [0.1, 0.2, 0.3, 0.4, 0.5]
    assert [d["plate"] for d in designs({"plate": "3:12:4"})] == [3, 7, 11]
    assert [d["plate"] for d in designs({"plate": "2,3:5:1,8,3"})] == [2, 3, 4, 5, 8]
    assert designs({"plate": "3"}) == [{"plate": 3.0}]


def test_a_grid_has_every_combination_with_the_last_name_fastest() -> None:
    grid = designs([("plate", "3,4"), ("wall", "20:40:10")])
    assert [tuple(d.values()) for d in grid] == [(3, 20), (3, 30), (3, 40), (4, 20), (4, 30), (4, 40)]


def test_samples_fill_their_ranges_and_are_always_the_same() -> None:
    asked = {"plate": "3:12", "fins": "5:9:2", "wall": "30"}
    sample = designs(asked, lhs=9)
    assert sample == designs(asked, lhs=9) != designs(asked, lhs=9, seed=1)
    assert sorted(int(d["plate"] - 3) for d in sample) == list(range(9))  # one in each ninth of the range
    assert sorted(d["fins"] for d in sample) == [5, 5, 5, 7, 7, 7, 9, 9, 9]
    assert {d["wall"] for d in sample} == {30}
    loose = designs(asked, random=50)
    assert len(loose) == 50 and all(3 <= d["plate"] <= 12 for d in loose)


@pytest.mark.parametrize(
    ("asked", "more", "said"),
    [
        ({"plate": "3:12"}, {}, "plate: 3:12 has no step; give 3:12:1"),
        ({"plate": "3:x:1"}, {}, "plate: 'x' in '3:x:1' is no number; give low:high:step such as 3:12:1"),
        ({"plate": "thick"}, {}, "plate: 'thick' is no number"),
        ({"plate": "3:12:1:2"}, {}, "plate: '3:12:1:2' is not understood"),
        ({"plate": "3,,4"}, {}, "is no number"),
        ({"plate": "12:3:1"}, {}, "leads nowhere"),
        ({"plate": "3:12:0"}, {}, "leads nowhere"),
        ({"plate": "2:8:100"}, {}, "the step of '2:8:100' leads beyond 8 at once; the third number is the step"),
        ({"plate": "12:3"}, {"lhs": 3}, "no room between its ends"),
        ({"plate": "nan"}, {}, "no number"),
        ({"plate": "0:1:1e-9"}, {}, "more than 100000 values"),
        ({"a": "1:1000:1", "b": "1:1000:1"}, {}, "1000000 designs are more than"),
        ({}, {}, "no name to vary"),
        ({"plate": "3:12"}, {"lhs": 0}, "a sample of 0 designs"),
        ({"plate": "3:12"}, {"lhs": 2, "random": 2}, "give one of them"),
        ([("plate", "3"), ("plate", "4")], {}, "plate: given twice"),
    ],
)
def test_what_is_no_choice_of_designs_is_refused(asked: object, more: dict[str, int], said: str) -> None:
    with pytest.raises(InputError) as fault:
        designs(asked, **more)  # type: ignore[arg-type]
    assert said in str(fault.value)
