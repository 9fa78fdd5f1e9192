"""fdm solve."""

import json
import re
from pathlib import Path

import meshio
import numpy as np
import pytest

from fdm.cli.main import main
from tests.cli.wall import TOP, WALL

FILES = {"parts.png", "temperature.png", "budget.png", "field.vtu", "result.json"}


def solved(capsys, *words):
    """Exit code, output and errors of a solve that draws nothing."""
    code = main(["solve", "wall.toml", "--no-files", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


def test_changed_numbers_have_a_folder_of_their_own(here, capsys):
    network = ["network", "wall.toml", "--format", "csv", "--target", "50%"]
    assert main(network) == 0
    assert main([*network, "plate=4", "wall=2 * 20/1"]) == 0
    assert main([*network, "plate=4", "wall=2 * 20/1"]) == 0
    assert {p.name for p in here.iterdir()} == {"wall.toml", "wall", "wall-plate=4-wall=2_20_1"}
    assert main([*network, f"plate={'+'.join(['1'] * 200)}"]) == 0


def test_solve_writes_its_files_and_prints_its_tables(here, capsys):
    assert main(["solve", "wall.toml", "--network", "--place", "thermostat"]) == 0
    said = capsys.readouterr()
    assert {p.name for p in (here / "wall").iterdir()} == FILES | {"place_thermostat.png"}
    assert {p.name for p in here.iterdir()} == {"wall.toml", "wall"}
    for words in (
        "Wall with a plate",
        "cabinet air",
        "hot face",
        "thermostat",
        "base plate",
        "Spreading",
        "Bridges",
        "±",
        "Balance",
        "target",
        "Written to wall",
    ):
        assert words in said.out
    assert "warning" not in said.err
    result = json.loads((here / "wall" / "result.json").read_text(encoding="utf-8"))
    assert list(result) == [*TOP[:-1], "places", "budget"]
    mesh = meshio.read(here / "wall" / "field.vtu")
    assert 0 < len(mesh.cells[0].data) <= result["grid"]["cells"][-1]
    assert mesh.cells[0].type == "quad" and mesh.cell_data
    for picture in ("parts.png", "temperature.png", "budget.png", "place_thermostat.png"):
        assert (here / "wall" / picture).read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_blank_line_stands_before_every_table(here, capsys):
    assert main(["solve", "wall.toml", "--no-files", "--network", "--sensitivity", "--uncertainty"]) == 0
    lines = [line.strip() for line in capsys.readouterr().out.splitlines()]
    lengths = "What 1 mm more of it changes; first where 1 % would change most"
    titles = ("Where it comes from", "What 1 % more of it changes", lengths, "Uncertain inputs")
    for title in titles:
        assert lines[lines.index(title) - 1] == ""


def test_json_on_the_output_is_all_there_is(here, capsys):
    code, out, err = solved(capsys, "--json", "-")
    assert (code, err) == (0, "")
    result = json.loads(out)
    assert list(result) == TOP
    assert result["let"] == {"wall": 30, "plate": 6, "top": 36}
    network, band = result["network"], result["band"]["network"]
    assert network["coupling"]["room"]["cabinet air"] == network["coupling"]["cabinet air"]["room"] > 0
    assert "room" not in network["coupling"]["room"]
    assert set(network["weight"]) == set(network["resistance"]) == {"hot face", "thermostat"}
    assert set(network["resistance_max"]) == {"hot face"}
    for key in ("coupling", "weight", "resistance", "resistance_max"):
        assert band[key].keys() == network[key].keys()
    assert sum(network["weight"]["thermostat"].values()) == pytest.approx(1)
    assert {"reading", "should_read", "misreading"} <= set(result["sensors"]["thermostat"])
    assert set(result["band"]["sensors"]["thermostat"]) == {"reading", "misreading"}
    flows = [terminal["heat"] for terminal in result["terminals"].values()]
    assert abs(sum(flows)) < 1e-8 * max(map(abs, flows))
    assert [p.name for p in here.iterdir()] == ["wall.toml"]


def test_json_to_a_file_beside_the_tables(here, capsys):
    code, out, _ = solved(capsys, "--json", "answers.json")
    assert code == 0 and "thermostat" in out
    assert list(json.loads(Path("answers.json").read_text(encoding="utf-8"))) == TOP


def test_no_files_prints_and_writes_nothing(here, capsys):
    code, out, _ = solved(capsys)
    assert code == 0 and "hot face" in out and "Written" not in out
    assert [p.name for p in here.iterdir()] == ["wall.toml"]


def test_quiet_writes_and_prints_nothing(here, capsys):
    assert main(["solve", "wall.toml", "--quiet", "--out", "deep/answers", "--format", "vtk"]) == 0
    said = capsys.readouterr()
    assert (said.out, said.err) == ("", "")
    assert {p.name for p in (here / "deep" / "answers").iterdir()} == FILES - {"field.vtu"} | {"field.vtk"}
    assert meshio.read(here / "deep" / "answers" / "field.vtk").cells[0].type == "quad"
    assert not (here / "wall").exists()


def test_numbers_of_the_file_can_be_changed(here, capsys):
    def answers(*words):
        return json.loads(solved(capsys, "--json", "-", *words)[1])

    thick, thin = answers("wall=60"), answers()
    assert thick["let"] == {"wall": 60, "plate": 6, "top": 66}
    assert (
        thick["network"]["coupling"]["room"]["cabinet air"] < 0.8 * thin["network"]["coupling"]["room"]["cabinet air"]
    )
    assert answers("wall=2 * 15", "plate=wall / 5")["network"] == thin["network"]


def test_places_and_ranges(here, capsys):
    words = ["--within", "1", "--between", "room=20:30", "--place", "thermostat", "--target", "10%"]
    code, out, _ = solved(capsys, *words, "--json", "answers.json")
    said = " ".join(out.split())
    assert code == 0 and "thermostat misreads" in said
    assert "reads cabinet air to within 1 K, with room from 20 to 30: in cabinet air" in said
    result = json.loads(Path("answers.json").read_text(encoding="utf-8"))
    ends = result["between"]["answers"]["sensors.thermostat.misreading"]
    assert ends["least"]["value"] < result["sensors"]["thermostat"]["misreading"] < ends["most"]["value"]
    assert result["places"]["thermostat"]["now"]["misreading"] == ends["most"]["value"]
    code, out, _ = solved(capsys, *words, "--place", "room", "--tables")
    assert code == 0 and "Least and most with room from 20 to 30" in out and "Places to read room" in out
    _, _, err = solved(capsys, "--between", "room=293:303", "--target", "10%", "--quiet")
    assert "warning: between, 'room': 303 degC is hotter" in err and "if these are kelvin, give 29.85" in err


@pytest.mark.parametrize(
    "words, code, said",
    [
        (
            ["--place", "thermostatt"],
            1,
            "wall.toml: place: there is no sensor, environment or source 'thermostatt'; did",
        ),
        (["--between", "roof=1:2"], 1, "wall.toml: between: there is no terminal 'roof'; did you mean 'room'?"),
        (["--between", "room=30:20"], 1, "'room': 30 to 20 is no range; give the lower end first"),
        (["--between", "room"], 2, """'room' is not NAME=LOW:HIGH, such as "greenhouse air=15:35\""""),
        (["--between", "room=1:2", "--between", "room=3:4"], 2, "--between: 'room' is given twice"),
        (["--within", "1"], 2, "--within belongs to --place SENSOR"),
        (["--place", "thermostat", "--within", "0"], 2, "'0' is not a number of kelvins above 0"),
    ],
)
def test_slips_of_places_and_ranges_are_said_before_a_solve(here, capsys, monkeypatch, words, code, said):
    monkeypatch.setattr("fdm.solving.steady.solve", None)
    try:
        assert main(["solve", "wall.toml", *words]) == code
    except SystemExit as end:
        assert end.code == code
    assert said in capsys.readouterr().err


def test_a_tighter_target_and_forced_cells(here, capsys):
    def grid(*words):
        return json.loads(solved(capsys, "--json", "-", *words)[1])["grid"]

    free, tight, forced = grid(), grid("--target", "0.2%"), grid("--cells", "1e4")
    assert (free["target"], tight["target"]) == (0.005, 0.002)
    assert tight["cells"][-1] > free["cells"][-1]
    assert forced["cells"][-1] >= 10_000 > free["cells"][-1]
    assert not grid("--target", "0.00001", "--max-cells", "5000")["target_met"]


def test_a_target_that_is_not_met_is_said(here, capsys):
    code, out, _ = solved(capsys, "--target", "1e-5", "--max-cells", "5000")
    assert code == 0
    assert "NOT met" in out


def test_names_with_brackets_and_letters_of_any_language(here, capsys):
    text = WALL.replace('"thermostat"', '"[bold]Fühler[/] 温度"').replace("Wall with a plate", "Wand [red]")
    Path("wall.toml").write_text(text, encoding="utf-8")
    code, out, _ = solved(capsys)
    assert code == 0
    assert "Wand [red]" in out and "Fühler[/]" in out
    assert np.isfinite(json.loads(solved(capsys, "--json", "-")[1])["sensors"]["[bold]Fühler[/] 温度"]["reading"])


@pytest.mark.parametrize(
    "words, said",
    [
        (["plat=8"], "wall.toml: let: .*'plat'.* 'plate'"),
        (["plate=thick"], "wall.toml: let, plate: .*'thick'"),
        (["wall=-5"], "wall.toml: part 'foam', rectangle: "),
        (["plate=9**9**9"], "wall.toml: let, plate: .* no finite real value"),
        (["--format", "exe"], "format 'exe'"),
        (["--json", "no/such/folder/answers.json"], "answers.json"),
        (["--json", "."], "folder"),
        (["--out", "wall.toml"], "wall.toml"),
    ],
)
def test_a_fault_on_the_command_line_leaves_nothing_behind(here, capsys, words, said):
    assert main(["solve", "wall.toml", "--quiet", *words]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1 and re.search(said, err), err
    assert [p.name for p in here.iterdir()] == ["wall.toml"]
