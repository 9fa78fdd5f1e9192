"""What named numbers are."""

from pathlib import Path

import pytest

from fdm.errors import InputError
from fdm.studies import best, designs
from fdm.studies.choices import choices, whole_numbers
from fdm.studies.names import COUNT, counted_names, kinds_of_names
from tests.studies.slab import SLAB


def test_names_mean_what_the_keys_do_in_which_they_stand() -> None:
    cabinet = kinds_of_names("geometries/bulb_cabinet.toml")
    assert cabinet["modules"] == COUNT and cabinet["bulbs"] == "kg" and cabinet["room"] == "degC"
    assert cabinet["wall"] == cabinet["cold_plate"] == "mm"  # in a sum, and in a section that it is handed to
    bar = kinds_of_names("geometries/light_bar.toml")
    assert (bar["fins"], bar["film"], bar["base"], bar["heat"]) == (COUNT, "W/(m2 K)", "mm", "W")


def test_a_name_in_a_product_or_with_two_meanings_is_unknown(tmp_path: Path) -> None:
    path = tmp_path / "slab.toml"
    path.write_text(
        SLAB.replace('film = "film"', 'film = "2 * film"').replace("film = 10\n[[part]]", 'film = "thick"\n[[part]]')
    )
    kinds = kinds_of_names(path)
    assert "film" not in kinds and "thick" not in kinds and kinds["warm"] == "degC"
    assert kinds_of_names(tmp_path / "none.toml") == {}


def test_a_count_is_searched_at_whole_numbers_only(tmp_path: Path) -> None:
    path = tmp_path / "slab.toml"
    fins = '[[part]]\nname = "fins"\nmaterial = "stone"\nrectangle = { x = [0, 2], y = [-10, 0] }\n'
    path.write_text(
        SLAB.replace("film = 10\n", "film = 10\nfins = 3\n", 1) + fins + 'repeat = { count = "fins", step = [10, 0] }\n'
    )
    found = best(path, {"fins": "1:4"}, "bead", workers=1, target=0.05)
    assert sorted(d.values["fins"] for d in found.study.designs) == [1, 2, 3, 4] and not found.study.failed
    assert counted_names(path) == ("fins",)
    for sample in ({"lhs": 12}, {"random": 12}):
        drawn = designs({"fins": "1:4", "thick": "20:80"}, counted=["fins"], **sample)
        assert {d["fins"] for d in drawn} == {1, 2, 3, 4} and len({d["thick"] for d in drawn}) == 12
    assert [d["fins"] for d in designs({"fins": "1.5:3"}, counted=["fins"])] == [2, 3]
    with pytest.raises(InputError, match="there is no whole number from 1.2 to 1.8"):
        whole_numbers(choices({"fins": "1.2:1.8"}), ["fins"])
