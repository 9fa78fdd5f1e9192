"""fdm film."""

import json

import pytest

from fdm.cli.main import main

SINK = ["count=25", "thickness=1", "height=30", "length=100", "width=100"]


def test_a_film_with_the_numbers_in_between(here, capsys):
    words = ["film", "channels", *SINK, "conductivity=200", "fan.curve=[[0,55],[20,38],[35,30],[55,17],[75,0]]"]
    assert main([*words, "--out", "sink"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "film 485 ± 28 W/(m2 K) of the base below the fins" in out
    assert "flow between the fins 40.58 m3/h" in out and "pressure drop 26.02 Pa" in out
    result = json.loads((here / "sink" / "result.json").read_text())
    assert result["numbers"]["resistance"]["value"] == pytest.approx(0.20624, rel=1e-4)
    assert (here / "sink" / "film.png").stat().st_size > 10_000


def test_json_alone_goes_to_the_output(here, capsys):
    assert main(["film", "still", "face=vertical", "height=300", "warmer=20", "emissivity=0.9", "--json", "-"]) == 0
    result = json.loads(capsys.readouterr().out)
    assert result["film"] == pytest.approx(result["convective"] + result["radiative"])
    assert not list(here.glob("film*"))


def test_uncertain_words_units_and_expressions(here, capsys):
    assert main(["film", "plate", "length=10*1", "unit=cm", "speed={value=3, uncertainty=0.3}", "altitude=500"]) == 0
    out = capsys.readouterr().out
    assert "± 1.9 by what was put in: film, speed" in out


def test_words_after_options(here, capsys):
    assert main(["film", "indoor", "--json", "-", "heat=up"]) == 0
    assert json.loads(capsys.readouterr().out)["film"] == pytest.approx(10)


def test_it_says_what_it_knows(capsys):
    assert main(["film"]) == 0
    out = capsys.readouterr().out
    assert "impinging" in out and "emissivity" in out and "altitude" in out


@pytest.mark.parametrize(
    "words, told",
    [
        (["stil"], "fdm: film: 'stil' is no kind of flow; did you mean 'still'?"),
        (["plate", "lenght=100"], "fdm: film, lenght: unknown key; did you mean 'length'?"),
        (["plate", "length=100", "speed=3", "unit=inch"], "fdm: film, unit: 'inch' is not a unit of length"),
        (["plate", "length=100", "length=90"], "fdm: film, length: given twice; give it once"),
        (["channels", "fan=3", "fan.curve=[]"], "fdm: film, fan.curve: fan is given as a number, too"),
        (["plate", "length=100", "speed=1e400"], "fdm: film, speed: inf is not finite"),
        (["plate", "length=[1", "speed=1"], "fdm: film, length: '[1' is no expression"),
        (["plate", "length=1\nx=2", "speed=1"], "fdm: film, length: "),
        (["plate", "length=100", "speed=3", "temperature=-300"], "fdm: film, temperature: -300 is not a temperature"),
    ],
)
def test_slips_are_one_sentence(here, capsys, words, told):
    assert main(["film", *words]) == 1
    err = capsys.readouterr().err
    assert err.startswith(told) and err.count("\n") == 1


def test_wrong_usage(capsys):
    with pytest.raises(SystemExit) as end:
        main(["film", "plate", "speed"])
    assert end.value.code == 2
