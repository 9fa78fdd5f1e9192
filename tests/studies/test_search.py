"""The space that is searched for the best design."""

import numpy as np

from fdm.studies.choices import choices
from fdm.studies.search import Space


def test_points_of_the_space_are_designs_and_back() -> None:
    space = Space(choices({"wall": "20:80", "fins": "5,7,9", "depth": "300"}))
    assert space.free == ("wall", "fins") and space.whole.tolist() == [False, True]
    assert space.ends == [(0.0, 1.0), (0.0, 2.0)] and space.size == np.inf
    found = space.designs(np.array([[0.0, 0.5, 1.0], [0.0, 2.0, 1.2]]))
    assert found == [
        {"wall": 20, "fins": 5, "depth": 300},
        {"wall": 50, "fins": 9, "depth": 300},
        {"wall": 80, "fins": 7, "depth": 300},
    ]
    assert space.point(found[1]).tolist() == [0.5, 2.0]


def test_a_space_of_lists_has_so_many_designs() -> None:
    assert Space(choices({"wall": "20:80:20", "fins": "5,7,9"})).size == 12
