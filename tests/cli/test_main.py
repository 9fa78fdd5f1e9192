"""The command line: what it prints and writes, its exit codes, and one line for every fault of the input."""

import json
import re
import subprocess
import sys
from pathlib import Path

import meshio
import numpy as np
import pytest

from fdm.cli.main import main

WALL = """
title = "Wall with a plate"
view = "section"
unit = "mm"
depth = 40

[let]
wall = 30
plate = 6
top = "wall + plate"

[material."my foam"]
conductivity = 0.031

[[environment]]
name = "cabinet air"
temperature = 7
film = 8

[[environment]]
name = "room"
temperature = 28
film = 10

[[part]]
name = "foam"
material = "my foam"
rectangle = { x = [0, 120], y = [0, "wall"] }

[[part]]
name = "base plate"
material = "aluminium 6063-T5"
rectangle = { x = [20, 100], y = ["wall", "top"] }

[[part]]
name = "slot"
void = true
rectangle = { x = [0, 10], y = [10, 20] }

[border]
bottom = "cabinet air"
top = "room"

[[joint]]
between = ["foam", "base plate"]
resistance = 1e-4

[[source]]
name = "hot face"
segment = { x = [40, 80], y = "top" }
heat = 4

[[sensor]]
name = "thermostat"
at = [30, 0]
should_read = "cabinet air"

[[spreading]]
part = "base plate"

[[bridge]]
remove = ["base plate"]
"""
FILES = {"parts.png", "temperature.png", "budget.png", "field.vtu", "result.json"}
TOP = ["title", "view", "let", "grid", "terminals", "network", "sensors", "spreading", "bridge", "balance", "budget"]


@pytest.fixture
def here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("wall.toml").write_text(WALL, encoding="utf-8")
    return tmp_path


def solved(capsys, *words):
    """Exit code, output and errors of a solve that draws nothing."""
    code = main(["solve", "wall.toml", "--no-files", *words])
    said = capsys.readouterr()
    return code, said.out, said.err


# ---- solve ----------------------------------------------------------------------------------------------------------


def test_solve_writes_its_files_and_prints_its_tables(here, capsys):
    assert main(["solve", "wall.toml"]) == 0
    said = capsys.readouterr()
    assert {p.name for p in (here / "wall").iterdir()} == FILES
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
    assert list(result) == TOP
    mesh = meshio.read(here / "wall" / "field.vtu")
    assert 0 < len(mesh.cells[0].data) <= result["grid"]["cells"][-1]
    assert mesh.cells[0].type == "quad" and mesh.cell_data
    for picture in ("parts.png", "temperature.png", "budget.png"):
        assert (here / "wall" / picture).read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"


def test_a_blank_line_stands_before_every_table(here, capsys):
    assert main(["solve", "wall.toml", "--no-files", "--sensitivity", "--uncertainty"]) == 0
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
    network, band = result["network"], result["network"]["band"]
    assert network["coupling"]["room"]["cabinet air"] == network["coupling"]["cabinet air"]["room"] > 0
    assert "room" not in network["coupling"]["room"]
    assert set(network["weight"]) == set(network["resistance"]) == {"hot face", "thermostat"}
    assert set(network["resistance_max"]) == {"hot face"}
    for key in ("coupling", "weight", "resistance", "resistance_max"):
        assert band[key].keys() == network[key].keys()
    assert sum(network["weight"]["thermostat"].values()) == pytest.approx(1)
    assert {"reading", "should_read", "misreading", "band"} <= set(result["sensors"]["thermostat"])
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


def test_a_tighter_target_and_forced_cells(here, capsys):
    def grid(*words):
        return json.loads(solved(capsys, "--json", "-", *words)[1])["grid"]

    free, tight, forced = grid(), grid("--target", "0.1%"), grid("--cells", "4e4")
    assert (free["target"], tight["target"]) == (0.005, 0.001)
    assert tight["cells"][-1] > free["cells"][-1]
    assert forced["cells"][-1] >= 40_000
    assert not grid("--target", "0.00001", "--max-cells", "5000")["target_met"]


def test_a_target_that_is_not_met_is_said(here, capsys):
    code, out, _ = solved(capsys, "--target", "1e-5", "--max-cells", "5000")
    assert code == 0
    assert "NOT met" in out


def test_as_a_module_it_keeps_json_apart_from_progress(here):
    run = subprocess.run(
        [sys.executable, "-m", "fdm", "solve", "wall.toml", "--no-files", "--json", "-"],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    )
    assert list(json.loads(run.stdout)) == TOP


# ---- check and materials --------------------------------------------------------------------------------------------


def test_check_draws_the_parts_and_says_what_would_be_solved(here, capsys):
    assert main(["check", "wall.toml", "wall=50"]) == 0
    said = capsys.readouterr()
    for words in ("Wall with a plate", "3 parts", "cabinet air", "hot face", "thermostat", "base plate"):
        assert words in said.out
    assert [p.name for p in (here / "wall").iterdir()] == ["parts.png"]


def test_network_hands_over_in_three_formats(here, capsys):
    assert main(["network", "wall.toml"]) == 0
    assert "cabinet air" in json.dumps(json.loads(capsys.readouterr().out))
    assert main(["network", "wall.toml", "--format", "spice"]) == 0
    assert re.search(r"(?im)^\.subckt\b", capsys.readouterr().out)
    assert [p.name for p in here.iterdir()] == ["wall.toml"]
    assert main(["network", "wall.toml", "--format", "csv", "--out", "tables"]) == 0
    written = list((here / "tables").iterdir())
    assert written and all(p.suffix == ".csv" and p.stat().st_size for p in written)


def test_materials_are_listed_and_searched(here, capsys):
    assert main(["materials", "copper"]) == 0
    few = capsys.readouterr().out
    assert "copper" in few and "380" in few and "XPS" not in few
    assert main(["materials"]) == 0
    assert "XPS foam" in capsys.readouterr().out
    assert main(["materials", "unobtainium"]) == 1
    assert re.fullmatch(r"fdm: .*'unobtainium'.*\n", capsys.readouterr().err)


# ---- faults of the input --------------------------------------------------------------------------------------------


def changed(old, new):
    assert old in WALL
    return WALL.replace(old, new)


HOT_FACE = 'segment = { x = [40, 80], y = "top" }'
FAULTS = {
    "unknown key": (
        changed("film = 8", "fillm = 8"),
        "environment 'cabinet air', fillm: unknown key; did you mean 'film'",
    ),
    "unknown table": (WALL + "\n[[sensors]]\nname = 'x'\n", "sensors: unknown key; did you mean 'sensor'"),
    "unknown material": (changed('"my foam"\nrect', '"my fom"\nrect'), "part 'foam', material: .* 'my foam'"),
    "unknown part": (
        changed('remove = ["base plate"]', 'remove = ["base plat"]'),
        "bridge .*'base plat'.* 'base plate'",
    ),
    "unknown part in a joint": (changed('["foam", "base', '["fom", "base'), "joint .*'fom'.* 'foam'"),
    "unknown environment": (changed('top = "room"', 'top = "rom"'), "border, top: .*'rom'.* 'room'"),
    "unknown goal": (
        changed('should_read = "cabinet air"', 'should_read = "cabinet"'),
        "thermostat', should_read: .*'cabinet'",
    ),
    "unknown view": (
        changed('view = "section"', 'view = "sections"'),
        "view: 'sections' is not a view; did you mean 'section'",
    ),
    "missing number": (changed("film = 8\n", ""), "environment 'cabinet air', film: missing"),
    "missing unit": (changed('unit = "mm"\n', ""), "unit: missing"),
    "negative film": (
        changed("film = 8", "film = -8"),
        "environment 'cabinet air', film: -8.0 is not a number above 0",
    ),
    "negative conductivity": (changed("0.031", "-0.031"), "material 'my foam', conductivity: -0.031 is not"),
    "negative depth": (changed("depth = 40", "depth = -40"), "depth: .* is not a number above 0"),
    "negative joint": (changed("1e-4", "-1e-4"), "joint .*resistance: .* is not a number of 0 or more"),
    "below absolute zero": (
        changed("temperature = 7", "temperature = -300"),
        "temperature: -300.0 is not a temperature",
    ),
    "not a number": (changed("film = 8", "film = nan"), "film: nan is not finite"),
    "bad expression": (changed('"wall + plate"', '"wall + * plate"'), "let, top: .* is no expression"),
    "unknown name in an expression": (changed('"wall + plate"', '"wall + plat"'), "let, top: .*'plat'.* 'plate'"),
    "code in an expression": (changed('"wall + plate"', "\"__import__('os')\""), "let, top: "),
    "expression in a circle": (changed("wall = 30", 'wall = "top - plate"'), "goes in a circle"),
    "tower of powers": (changed('"wall + plate"', '"9**9**9"'), "let, top: .* no finite real value"),
    "division by zero": (changed('"wall + plate"', '"1 / (wall - 30)"'), "let, top: .* divides by zero"),
    "a part twice": (changed('name = "slot"', 'name = "foam"'), "the name 'foam' is defined twice"),
    "an environment twice": (
        changed('name = "room"', 'name = "cabinet air"'),
        "the name 'cabinet air' is defined twice",
    ),
    "a source named like an environment": (
        changed('name = "hot face"', 'name = "room"'),
        "the name 'room' is defined twice",
    ),
    "source on no solid": (
        changed(HOT_FACE, "segment = { x = [2, 8], y = 15 }"),
        "source 'hot face', segment: .* touches no solid",
    ),
    "source outside": (
        changed(HOT_FACE, "segment = { x = [40, 80], y = 500 }"),
        "source 'hot face', segment: .* touches no solid",
    ),
    "source in an environment": (
        WALL.replace(HOT_FACE, "segment = { x = [40, 80], y = 45 }")
        + '\n[[part]]\nname = "air"\nenvironment = "room"\nrectangle = { x = [20, 100], y = [40, 50] }\n',
        "source 'hot face', segment: .* lies in an environment and touches no solid",
    ),
    "source of a void": (changed(HOT_FACE, 'part = "slot"'), "source 'hot face', part: 'slot' is no solid part"),
    "source of a hidden part": (
        WALL.replace(HOT_FACE, 'part = "base plate"').replace('[[bridge]]\nremove = ["base plate"]\n', "")
        + '\n[[part]]\nname = "lid"\nmaterial = "copper"\nrectangle = { x = [0, 120], y = [30, 36] }\n',
        "source 'hot face', part: 'base plate' is wholly covered",
    ),
    "slanted source": (
        changed(HOT_FACE, "segment = { x = [40, 80], y = [30, 36] }"),
        "source 'hot face', segment: .* slanted",
    ),
    "heat and temperature": (
        changed("heat = 4", "heat = 4\ntemperature = 50"),
        "source 'hot face': give exactly one of heat and temp",
    ),
    "sensor outside": (
        changed("at = [30, 0]", "at = [30, -1]"),
        r"sensor 'thermostat', at: \[30, -1\] lies outside the drawing",
    ),
    "sensor in a void": (changed("at = [30, 0]", "at = [5, 15]"), "sensor 'thermostat', at: it lies in a void"),
    "loose part": (
        WALL
        + '\n[[part]]\nname = "island"\nmaterial = "copper"\nrectangle = { x = [200, 210], y = [0, 10] }\n'
        + '[[part]]\nname = "ditch"\nvoid = true\nrectangle = { x = [200, 210], y = [0, 1] }\n'
        + '[[part]]\nname = "lid"\nvoid = true\nrectangle = { x = [200, 210], y = [9, 36] }\n',
        "part 'island': nothing ties it to any temperature",
    ),
    "nothing given": (
        re.sub(r"(?s)\[\[environment\]\].*?film = \d+\n|\[border\].*?\n\n|\[\[sensor.*", "", WALL),
        "nothing has a given temperature",
    ),
    "nothing drawn": ('unit = "mm"\n', "part: nothing is drawn"),
    "no size": (changed("x = [0, 10], y = [10, 20]", "x = [5, 5], y = [10, 20]"), "part 'slot', rectangle: .* no size"),
    "turned around": (
        changed("x = [0, 10], y = [10, 20]", "x = [10, 0], y = [10, 20]"),
        "part 'slot', rectangle: .* turned around",
    ),
    "disc of no size": (
        changed("rectangle = { x = [0, 10], y = [10, 20] }", "disc = { centre = [5, 15], radius = 0 }"),
        "part 'slot', disc: disc has no size",
    ),
    "polygon of no area": (
        changed("rectangle = { x = [0, 10], y = [10, 20] }", "polygon = { points = [[0, 10], [5, 15], [10, 20]] }"),
        "part 'slot', polygon: polygon has no area",
    ),
    "segment of no length": (
        changed(HOT_FACE, 'segment = { x = [40, 40], y = "top" }'),
        "source 'hot face', segment: ",
    ),
    "a million copies": (
        changed("y = [10, 20] }", "y = [10, 20] }\nrepeat = { count = 1000000, step = [1, 0] }"),
        r"part 'slot', repeat, count: 1e\+06 is not a whole number of copies",
    ),
    "half a copy": (
        changed("y = [10, 20] }", "y = [10, 20] }\nrepeat = { count = 2.5, step = [1, 0] }"),
        "part 'slot', repeat, count: 2.5 is not a whole number",
    ),
    "overlapping sources": (
        WALL + '\n[[source]]\nname = "second"\nsegment = { x = [70, 90], y = "top" }\nheat = 1\n',
        "source 'second', segment: it overlaps that of 'hot face'",
    ),
    "not TOML": ("part = [oops\n", "not valid TOML"),
    "a table of a picture": ("\x89PNG\r\n\x00\x00", "TOML|UTF-8"),
    "empty": ("", "unit: missing|part: nothing is drawn"),
}


@pytest.mark.parametrize("name", FAULTS)
@pytest.mark.parametrize("command", ["solve", "check"])
def test_a_fault_of_the_input_is_one_line_that_names_the_file(here, capsys, name, command):
    text, said = FAULTS[name]
    Path("bad.toml").write_bytes(text.encode("latin-1"))
    assert main([command, "bad.toml"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1, err
    assert err.startswith("fdm: bad.toml: "), err
    assert re.search(said, err), err
    assert sorted(p.name for p in here.iterdir()) == ["bad.toml", "wall.toml"]


@pytest.mark.parametrize("path", ["missing.toml", "no/such/folder.toml", "."])
def test_a_file_that_is_not_there(here, capsys, path):
    assert main(["solve", path]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1 and err.startswith(f"fdm: {path}: cannot be read")
    assert [p.name for p in here.iterdir()] == ["wall.toml"]


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


@pytest.mark.parametrize("command", ["cabinet", "network"])
@pytest.mark.parametrize("name", ["unknown key", "bad expression", "not TOML"])
def test_faults_under_the_other_commands(here, capsys, command, name):
    Path("bad.toml").write_bytes(FAULTS[name][0].encode("latin-1"))
    assert main([command, "bad.toml"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1 and err.startswith("fdm: bad.toml: "), err
    assert sorted(p.name for p in here.iterdir()) == ["bad.toml", "wall.toml"]


def test_what_is_likely_not_meant_is_a_warning(here, capsys):
    more = """
[[environment]]
name = "cellar"
temperature = 12
film = 8

[[part]]
name = "lid"
material = "my foam"
rectangle = { x = [20, 100], y = [30, 36] }
"""
    Path("wall.toml").write_text(WALL[: WALL.index("[[bridge]]")] + more, encoding="utf-8")
    assert main(["check", "wall.toml"]) == 0
    err = capsys.readouterr().err
    assert "fdm: wall.toml: warning: part 'base plate' is wholly covered by later parts\n" in err
    assert "fdm: wall.toml: warning: environment 'cellar' touches no solid part\n" in err
    assert len(err.splitlines()) == 2


# ---- usage ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "words",
    [
        [],
        ["solv", "wall.toml"],
        ["solve"],
        ["solve", "wall.toml", "plate"],
        ["solve", "wall.toml", "plate="],
        ["solve", "wall.toml", "--target", "0"],
        ["solve", "wall.toml", "--target", "150%"],
        ["solve", "wall.toml", "--target", "tight"],
        ["solve", "wall.toml", "--cells", "0"],
        ["solve", "wall.toml", "--cells", "nan"],
        ["solve", "wall.toml", "--max-cells", "-5"],
        ["solve", "wall.toml", "--no-such-option"],
        ["materials", "copper", "brass"],
    ],
)
def test_wrong_usage_exits_with_two(here, capsys, words):
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2
    out, err = capsys.readouterr()
    assert out == "" and "usage:" in err
    assert [p.name for p in here.iterdir()] == ["wall.toml"]


@pytest.mark.parametrize("words", [["--help"], ["solve", "--help"], ["check", "--help"], ["materials", "--help"]])
def test_help_says_what_there_is(capsys, words):
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 0
    assert "usage: fdm" in capsys.readouterr().out


def test_names_with_brackets_and_letters_of_any_language(here, capsys):
    text = WALL.replace('"thermostat"', '"[bold]Fühler[/] 温度"').replace("Wall with a plate", "Wand [red]")
    Path("wall.toml").write_text(text, encoding="utf-8")
    code, out, _ = solved(capsys)
    assert code == 0
    assert "Wand [red]" in out and "Fühler[/]" in out
    assert np.isfinite(json.loads(solved(capsys, "--json", "-")[1])["sensors"]["[bold]Fühler[/] 温度"]["reading"])
