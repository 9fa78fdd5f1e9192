"""Fitting files to what was measured: known values are found again, and what cannot be told is said."""

from functools import cache
from pathlib import Path

import pytest

from fdm.cabinet.reader import read_cabinet
from fdm.errors import InputError
from fdm.inference.fit import fit
from fdm.inference.fitted import Fit
from fdm.inference.measured import read_measured
from fdm.output.tables.fit import fit_in_words
from fdm.section.reader import read_section

GEOMETRIES = Path(__file__).parents[2] / "geometries"

WALL = """
unit = "mm"
[let]
k = 0.04
inner = 8
out = {out}
foam = {foam}
[material."foam"]
conductivity = "k * foam"
[[environment]]
name = "room"
temperature = 20
film = "inner"
[[environment]]
name = "outside"
temperature = "out"
film = 20
[[part]]
name = "wall"
material = "foam"
rectangle = {{ x = [0, 100], y = [0, 30] }}
[border]
bottom = "room"
top = "outside"
[[sensor]]
name = "skin"
at = [50, 0]
"""


def wall_file(tmp_path: Path, out: str = "5", foam: str = "1") -> Path:
    path = tmp_path / "wall.toml"
    path.write_text(WALL.format(out=out, foam=foam))
    return path


def measured_file(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "measured.csv"
    path.write_text(text)
    return path


def reading(k: float = 0.04, inner: float = 8, out: float = 5) -> float:
    return 20 - (20 - out) / inner / (1 / inner + 0.03 / k + 1 / 20)


@cache
def light_bar() -> Fit:
    names = ["film", "pad", "aluminium 1050A"]
    return fit(GEOMETRIES / "light_bar.toml", GEOMETRIES / "light_bar_log.csv", names)


@cache
def cabinet() -> Fit:
    names = ["XPS foam", "bulbs", "room"]
    return fit(GEOMETRIES / "bulb_cabinet.toml", GEOMETRIES / "bulb_cabinet_log.csv", names, target=0.05)


# Known values are found again


def test_hidden_values_of_the_light_bar_are_found() -> None:
    found = light_bar()
    film, pad, metal = found.fitted
    assert (film.name, pad.name, metal.name) == ("let film", "pad", "material 'aluminium 1050A', conductivity")
    assert abs(film.value - 6.2) < 2 * film.uncertainty < 0.02 * 6.2
    assert abs(pad.value - 0.5) < 2 * pad.uncertainty < 0.6 * 0.5
    assert film.told and pad.told and not metal.told  # the readings hardly feel the board's alloy
    assert metal.value == pytest.approx(metal.before, rel=0.01)
    assert found.explained and 0.1 < found.reduced < 3
    changed = read_section(found.path, found.moved, **found.let)
    assert changed.let["film"] == pytest.approx(film.value)


def test_hidden_values_of_the_cabinet_are_found() -> None:
    found = cabinet()
    foam, bulbs, room = found.fitted
    for number, hidden in ((foam, 0.036), (bulbs, 13.1), (room, 29.2)):
        assert abs(number.value - hidden) < 2 * number.uncertainty, number
        assert abs(number.before - hidden) > 3 * number.uncertainty  # it was not there already
    assert found.explained
    assert {r.measurement.quantity for r in found.residuals} == {"air", "load", "power"}
    again = read_cabinet(found.path, found.moved, **found.let)
    assert again.room == pytest.approx(room.value) and again.load.mass == pytest.approx(bulbs.value)


def test_a_number_s_own_uncertainty_weighs_like_a_measurement(tmp_path: Path) -> None:
    """Weighted mean of 20 +- 1 and 22 +- 1 (any textbook), and what is left of both."""
    path = wall_file(tmp_path, out="{ value = 20, uncertainty = 1 }")
    found = fit(path, measured_file(tmp_path, "quantity,value,uncertainty\noutside,22,1\n"))
    (out,) = found.fitted
    assert out.name == "let out" and out.prior == 1
    assert out.value == pytest.approx(21) and out.uncertainty == pytest.approx(0.5**0.5)
    assert found.chi_square == pytest.approx(2) and found.freedom == 1 and found.explained
    assert found.residuals[0].scaled == pytest.approx(1)


def test_what_is_only_usually_uncertain_is_adjusted_where_it_is_named(tmp_path: Path) -> None:
    path = wall_file(tmp_path, out="{ value = 20, uncertainty = 1 }")
    measured = measured_file(tmp_path, "quantity,value,uncertainty\noutside,22,1\nskin,20.5,0.2\n")
    films = ("environment 'room', film", "environment 'outside', film")
    found = fit(path, measured)
    assert [f.name for f in found.fitted] == ["let out"] and found.kept == films
    assert f"how uncertain they are: {'; '.join(films)}. Name them with --adjust" in " ".join(fit_in_words(found))
    named = fit(path, measured, ["out", films[1]])
    assert [(f.name, f.prior) for f in named.fitted] == [("let out", 1), (films[1], 5)] and named.kept == ()


def test_temperatures_in_kelvin_are_refused(tmp_path: Path) -> None:
    measured = measured_file(tmp_path, "quantity,value,uncertainty\nskin,292.15,0.1\n")
    with pytest.raises(InputError, match=r"skin: 292.15 degC is measured where .* if this is kelvin, give 19$"):
        fit(wall_file(tmp_path), measured, ["inner"])


def test_a_free_number_goes_where_the_data_are(tmp_path: Path) -> None:
    path = wall_file(tmp_path)
    text = f"quantity,value,uncertainty\nskin,{reading(inner=5.5):.6f},0.1\n"
    found = fit(path, measured_file(tmp_path, text), ["inner"])
    (inner,) = found.fitted
    assert inner.value == pytest.approx(5.5, rel=1e-4) and inner.prior is None
    slope = (reading(inner=5.51) - reading(inner=5.49)) / 0.02
    assert inner.uncertainty == pytest.approx(0.1 / slope, rel=0.01)
    assert found.freedom == 0 and found.reduced is None and found.explained is None


def test_bounds_are_kept(tmp_path: Path) -> None:
    path = wall_file(tmp_path, out="{ between = [4, 6] }")
    text = f"quantity,value,uncertainty\nskin,{reading(out=9):.4f},0.05\nskin,{reading(out=9):.4f},0.05\n"
    found = fit(path, measured_file(tmp_path, text))
    (out,) = found.fitted
    assert out.value == pytest.approx(6, abs=1e-3) and out.at_bound
    assert not found.explained
    assert found.worst.scaled > 4


def test_a_number_is_held_by_its_uncertainty_and_torn_from_it_by_data_it_cannot_explain(tmp_path: Path) -> None:
    """The weighted mean of 20 +- 0.1 and 30 +- 1 (any textbook): a tenth of an uncertainty per kelvin of the data."""
    path = wall_file(tmp_path, out="{ value = 20, uncertainty = 0.1 }")
    (near,) = fit(path, measured_file(tmp_path, "quantity,value,uncertainty\noutside,21,1\n")).fitted
    assert near.moved == pytest.approx(1 / 1.01 / 10, rel=1e-3) and not near.told and not near.torn
    found = fit(path, measured_file(tmp_path, "quantity,value,uncertainty\noutside,60,1\n"))
    (far,) = found.fitted
    assert far.moved == pytest.approx(40 / 1.01 / 10, rel=1e-3) and far.told and far.torn
    assert found.explained is False


def test_the_light_bar_s_metal_alone_does_not_explain_its_log() -> None:
    found = fit(GEOMETRIES / "light_bar.toml", GEOMETRIES / "light_bar_log.csv", ["aluminium 6063-T5"])
    (metal,) = found.fitted
    assert metal.torn and metal.told and not found.explained
    assert metal.value < metal.before - 3 * metal.before * 0.03  # the table's spread


def test_a_number_between_bounds_stays_about_their_middle_where_the_data_do_not_tell_it(tmp_path: Path) -> None:
    """The skin moves by 0.14 K where it is 1 K warmer outside: readings to 0.5 K do not tell that."""
    path = wall_file(tmp_path, out="{ between = [4, 6] }")
    found = fit(path, measured_file(tmp_path, f"quantity,value,uncertainty\nskin,{reading(out=5.9):.4f},0.5\n"))
    (out,) = found.fitted
    assert 0 < out.moved < 0.2 and out.even and not out.told and not out.torn
    assert out.uncertainty == pytest.approx(1 / 3**0.5, rel=0.03) and found.freedom == 1


def test_two_numbers_that_cannot_be_told_apart(tmp_path: Path) -> None:
    """Only the product of k and foam conducts."""
    path = wall_file(tmp_path)
    row = f"skin,{reading(k=0.05):.4f},0.05\n"
    found = fit(path, measured_file(tmp_path, "quantity,value,uncertainty\n" + 2 * row), ["k", "foam"])
    k, foam = found.fitted
    assert k.value * foam.value == pytest.approx(0.05, rel=1e-3)
    assert not k.told and not foam.told
    with_prior = fit(
        wall_file(tmp_path, foam="{ value = 1, uncertainty = 0.1 }"),
        measured_file(tmp_path, "quantity,value,uncertainty\n" + row),
        ["k", "foam"],
    )
    k, foam = with_prior.fitted
    assert k.told and k.value == pytest.approx(0.05, rel=1e-3)
    assert not foam.told and foam.uncertainty == pytest.approx(0.1, rel=0.01)
    assert with_prior.correlation[0, 1] < -0.9


# Reading what was measured


def test_a_log_is_read_cell_by_cell(tmp_path: Path) -> None:
    text = "\ufeff# a remark\ntime_min,air,load\nuncertainty,0.5,0.2\n\n0,20,21\n30,,18.5\n"
    rows = read_measured(measured_file(tmp_path, text))
    assert [(m.time, m.quantity, m.value, m.uncertainty) for m in rows] == [
        (0, "air", 20, 0.5),
        (0, "load", 21, 0.2),
        (1800, "load", 18.5, 0.2),
    ]
    bare = measured_file(tmp_path, "time_s,air\n5,20\n")
    assert read_measured(bare, {"air": 0.3})[0].uncertainty == 0.3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty; give a line quantity,value,uncertainty"),
        ("# only a remark\n", "is empty;"),
        ("quantity,value,uncertainty\n", "holds no measured value;"),
        ("name,value\nskin,3\n", "line 1: is 'name,value'; give quantity,value,uncertainty, or time_s"),
        ("quantity,value,uncertainty\nskin,warm,1\n", "line 2, value: 'warm' is not a number;"),
        ("quantity,value,uncertainty\nskin,nan,1\n", "line 2, value: 'nan' is not a number;"),
        ("quantity,value,uncertainty\nskin,9,0\n", "line 2, uncertainty: 0 is not above 0;"),
        ("quantity,value,uncertainty\nskin,9\n", "line 2: has 2 cells, but the first line has 3;"),
        ("time_h,air\nuncertainty,1\n-1,20\n", "line 3, time_h: -1 is before switching on;"),
        ("time_h,air\n1,20\n", "air: has no uncertainty; add a line that begins with uncertainty"),
        ("time_h,air\nuncertainty,1\n", "holds no measured value;"),
        ("quantity;value;uncertainty\nair;9,4;0,2\n", "line 1: separate cells with commas, not semicolons, and write"),
        ("time_h,air,air\nuncertainty,1,1\n1,20,21\n", "there are two columns 'air'; keep one"),
    ],
)
def test_refused(tmp_path: Path, text: str, said: str) -> None:
    path = measured_file(tmp_path, text)
    with pytest.raises(InputError) as error:
        read_measured(path)
    assert str(error.value).startswith(f"{path}: {said}")


def test_refused_where_it_cannot_be_read(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be read: .*; give the path of a CSV file"):
        read_measured(tmp_path / "none.csv")
    (tmp_path / "latin.csv").write_bytes(b"quantity,value,uncertainty\nsk\xe9n,1,1\n")
    with pytest.raises(InputError, match="is not UTF-8 text"):
        read_measured(tmp_path / "latin.csv")
    with pytest.raises(InputError, match="there is no column 'ari' to give an uncertainty; did you mean 'air'"):
        read_measured(measured_file(tmp_path, "time_s,air\n5,20\n"), {"ari": 0.3})
    with pytest.raises(InputError, match="uncertainties, 'air': -0.3 is not above 0; give the standard uncertainty"):
        read_measured(measured_file(tmp_path, "time_s,air\n5,20\n"), {"air": -0.3})
    with pytest.raises(InputError, match="uncertainties belong to the columns of a log, leave them out"):
        read_measured(measured_file(tmp_path, "quantity,value,uncertainty\nair,20,1\n"), {"air": 0.3})


@pytest.mark.parametrize(
    ("rows", "names", "said"),
    [
        ("skni,9,1", ["inner"], "the result has no 'skni'; did you mean 'skin'?"),
        (
            "skin,9,1",
            ["iner"],
            "'iner' is neither a number of [let] nor one with an uncertainty; did you mean 'inner'?",
        ),
        ("skin,9,1", None, "no number of the file has an uncertainty of its own; name numbers of [let], or films,"),
        ("skin,9,1", ["inner", "k"], "1 measured values cannot tell 2 numbers without an uncertainty;"),
    ],
)
def test_what_does_not_belong_to_the_file_is_refused(
    tmp_path: Path, rows: str, names: list[str] | None, said: str
) -> None:
    measured = measured_file(tmp_path, f"quantity,value,uncertainty\n{rows}\n")
    with pytest.raises(InputError) as error:
        fit(wall_file(tmp_path), measured, names)
    assert said in str(error.value)


def test_a_section_has_no_time(tmp_path: Path) -> None:
    measured = measured_file(tmp_path, "time_s,skin\nuncertainty,1\n5,20\n")
    with pytest.raises(InputError, match="a section has no time; give rows of quantity,value,uncertainty"):
        fit(wall_file(tmp_path), measured, ["inner"])


def test_data_that_lead_nowhere_are_refused(tmp_path: Path) -> None:
    text = "quantity,value,uncertainty\nskin,30,0.01\n"  # warmer than anything around
    with pytest.raises(InputError, match="fit: the data lead where the file makes no sense: .*adjust fewer"):
        fit(wall_file(tmp_path), measured_file(tmp_path, text), ["k"])


def test_uncertainties_that_are_none_are_refused(tmp_path):
    measured = tmp_path / "measured.csv"
    measured.write_text("quantity,value,uncertainty\nLEDs,48,1e-300\n", encoding="utf-8")
    with pytest.raises(InputError, match="line 2, uncertainty: 1e-300 is beyond all that is measured"):
        fit("geometries/light_bar.toml", measured, ["film"])
