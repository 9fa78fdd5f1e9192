"""One line for every fault of the input, exit codes, usage and help."""

import json
import re
import shlex
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest

from fdm.cli.main import main
from tests.cli.wall import TOP, WALL


def test_as_a_module_it_keeps_json_apart_from_progress(here):
    run = subprocess.run(
        [sys.executable, "-m", "fdm", "solve", "wall.toml", "--no-files", "--json", "-"],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    )
    assert list(json.loads(run.stdout)) == TOP


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
    "negative depth": (changed("depth = 40", "depth = -40"), "depth: -40 is not a length above 0"),
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
        r"source 'hot face', segment: y = 500 reaches beyond the drawing, which spans y = \[0, 36\] mm",
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


@pytest.mark.parametrize("command", ["cabinet", "network"])
@pytest.mark.parametrize("name", ["unknown key", "bad expression", "not TOML"])
def test_faults_under_the_other_commands(here, capsys, command, name):
    Path("bad.toml").write_bytes(FAULTS[name][0].encode("latin-1"))
    assert main([command, "bad.toml"]) == 1
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1 and err.startswith("fdm: bad.toml: "), err
    assert sorted(p.name for p in here.iterdir()) == ["bad.toml", "wall.toml"]


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
        ["solve", "wall.toml", "--target", "0.5"],
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


def test_a_misspelt_command_is_told_the_nearest(capsys):
    with pytest.raises(SystemExit):
        main(["cabnet", "box.toml"])
    assert "there is no command 'cabnet'; did you mean 'cabinet'?" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words, said",
    [
        (["solve", "wall.toml", "--tabels"], "solve has no option '--tabels'; did you mean '--tables'?"),
        (["--no-files", "solve", "wall.toml"], "--no-files belongs to a command; write it after solve"),
        (["check", "wall.toml", "--sensitivity=1"], "check has no option '--sensitivity=1'; known are '--no-files', "),
    ],
)
def test_an_unknown_option_is_told_the_nearest(capsys, words, said):
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2 and f"error: {said}" in capsys.readouterr().err


@pytest.mark.parametrize(
    "words, said",
    [
        (["solve", "wall.toml", "wall=40", "wall=50"], "'wall' is given twice"),
        (["solve", "wall.toml", "--json", "wall.toml"], "--json: wall.toml would be written over; name another file"),
        (["solve", "wall.toml", "--json", "other.toml"], "--json: other.toml would be written over"),
        (["fit", "wall.toml", "log.csv", "--json", "log.csv"], "--json: log.csv would be written over"),
        (["check", "wall.toml", "--section", "./wall.toml"], "--section: ./wall.toml would be written over"),
        (["fit", "log.csv", "wall.toml"], "the section or cabinet file comes first, then what was measured: wall.toml"),
        (["solve", "wall=40", "wall.toml"], "'wall.toml' is not name=value, such as plate=8; the file comes first"),
        (["solve", "wall.toml", "--no-files", "--out", "answers"], "--no-files writes nothing; leave one of them out"),
        (["check", "wall.toml", "--no-files", "--out", "answers"], "--no-files writes nothing; leave one of them out"),
        (["solve", "wall.toml", "--no-files", "--format", "vtk"], "--format vtk is that of a file, and --no-files"),
        (["solve", "wall.toml", "--cells", "9e3", "--max-cells", "5e3"], "whatever --max-cells says; give one of them"),
        (["solve", "wall.toml", "--tables", "--json", "-"], "--json - prints JSON in place of --tables"),
        (["solve", "wall.toml", "--no-table-spread"], "--no-table-spread belongs to --uncertainty or --sample COUNT"),
    ],
)
def test_words_that_cannot_be_meant_are_refused_before_anything_is_written(here, capsys, words, said):
    Path("log.csv").write_text("quantity,value,uncertainty\n", encoding="utf-8")
    before = {path: path.read_bytes() for path in here.iterdir()}
    with pytest.raises(SystemExit) as stopped:
        main(words)
    assert stopped.value.code == 2 and said in capsys.readouterr().err
    assert {path: path.read_bytes() for path in here.iterdir()} == before


def test_a_file_that_is_not_there_names_the_nearest(here, capsys):
    assert main(["solve", "wal.toml"]) == 1
    assert "give the path of a section file; did you mean 'wall.toml'?" in capsys.readouterr().err


def test_a_missing_file_alone_is_asked_for(capsys):
    with pytest.raises(SystemExit):
        main(["solve"])
    assert capsys.readouterr().err.endswith("the following arguments are required: FILE.toml\n")


def test_the_version_is_that_of_the_package(capsys):
    with pytest.raises(SystemExit) as stopped:
        main(["--version"])
    assert stopped.value.code == 0
    assert capsys.readouterr().out == f"fdm {version('fdm')}\n"


COMMANDS = {
    "start": "a demo, such as light_bar",
    "solve": "--sensitivity",
    "check": "draw nothing",
    "cabinet": "cabinet file",
    "network": "or a spice netlist",
    "study": "--subject LIMIT",
    "fit": "--adjust NAME",
    "materials": "name or source",
}


def test_help_lists_every_command(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as stopped:
        main(["--help"])
    assert stopped.value.code == 0
    out = capsys.readouterr().out
    assert "usage: fdm" in out and max(map(len, out.splitlines())) <= 80
    assert set(COMMANDS) <= set(re.findall(r"(?m)^ +(\w+)\b", out))


@pytest.mark.parametrize("command", COMMANDS)
def test_help_of_a_command_says_what_there_is(capsys, command, monkeypatch):
    """In a screen's width, with examples that the command understands."""
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as stopped:
        main([command, "--help"])
    assert stopped.value.code == 0
    out = capsys.readouterr().out
    said = " ".join(out.split())
    assert f"usage: fdm {command}" in said and COMMANDS[command] in said
    assert max(map(len, out.splitlines())) <= 80
    examples = re.findall(r"(?m)^  fdm (.*)\n      \w", out)
    assert len(examples) >= 2
    done = []
    monkeypatch.setattr(f"fdm.cli.{command}.run", done.append)
    for words in examples:
        assert main(shlex.split(words)) == 0 and words.startswith(command)
    assert len(done) == len(examples)


def test_options_that_say_the_same_are_called_the_same(capsys):
    metavars = {}
    for command in (*COMMANDS, "film"):
        with pytest.raises(SystemExit):
            main([command, "--help"])
        for option, name in re.findall(r"(?m)^  (--[a-z-]+) ([A-Z][A-Z.a-z]*)", capsys.readouterr().out):
            metavars.setdefault(option, set()).add(name)
    assert metavars["--out"] == {"FOLDER"} and metavars["--target"] == {"ERROR"}
    assert all(len(names) == 1 for names in metavars.values()), metavars


def test_words_are_parsed_before_anything_slow_is_imported():
    code = "import sys, fdm.cli.main; print(sorted({'numpy', 'scipy', 'rich', 'matplotlib'} & set(sys.modules)))"
    run = subprocess.run(
        [sys.executable, "-c", code],
        capture_output=True,
        text=True,
        check=True,
        env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    )
    assert run.stdout == "[]\n"


def test_a_command_that_is_stopped_says_so(capsys, monkeypatch):
    def stop(word):
        raise KeyboardInterrupt

    monkeypatch.setattr("fdm.section.materials.search_materials", stop)
    assert main(["materials"]) == 130
    assert capsys.readouterr() == ("", "fdm: stopped\n")


def test_a_reader_that_has_seen_enough_is_no_fault():
    with subprocess.Popen(
        [sys.executable, "-m", "fdm", "materials"],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env={"PYTHONPATH": str(Path(__file__).parents[2]), "PATH": ""},
    ) as process:
        process.stdout.close()
        assert process.stderr.read() == b""
    assert process.returncode == 0
