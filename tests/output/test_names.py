"""Names stand as they are, whatever other programs would see in them."""

import csv
import json
import warnings
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console

from fdm import placement
from fdm.cli.main import main
from fdm.inference.budget import budgets
from fdm.output.drawing.budget import draw_budget
from fdm.output.drawing.placement import draw_placement
from fdm.output.drawing.section import draw_parts, draw_temperature
from fdm.output.drawing.study import draw_study
from fdm.output.export.networks import write_network_csv
from fdm.output.export.spice import network_spice
from fdm.output.tables.section import print_solution
from fdm.output.tables.shown import as_html, as_text
from fdm.output.tables.study import print_study
from fdm.section.reader import read_section
from fdm.solving.solution import Solution
from fdm.solving.steady import solve
from fdm.studies import study

# markup, mathematics that is wrong, a picture's name, formulas, letters that fonts lack, and what legends leave out
TITLE = r"[/y] $\frac$ costs \$5 :fire: 温 <b>"
AIR, ROOM, FACE, PLATE, SENSOR = r"=1+$\frac$", "-2 [/y]", "+face [bold] $1 and $2", "_plate 温 :fire:", r"@bead $\x$"
METAL = r"[red] $\bad$"
TEXT = rf"""
title = '{TITLE}'
unit = "mm"
let = {{ _t = 3, base = 8 }}
environment = [
    {{ name = '{AIR}', temperature = 25, film = 10, humidity = 95 }}, {{ name = '{ROOM}', temperature = 5, film = 8 }}
]
part = [{{ name = '{PLATE}', material = '{METAL}', rectangle = {{ x = [0, 120], y = [0, "base"] }} }}]
border = {{ top = '{AIR}', bottom = '{ROOM}' }}
source = [{{ name = '{FACE}', segment = {{ x = [40, 80], y = "base" }}, heat = 6, fills_depth = true }}]
sensor = [{{ name = '{SENSOR}', at = [10, 0], should_read = '{ROOM}' }}]
spreading = [{{ part = '{PLATE}' }}]
[material.'{METAL}']
conductivity = "20 + _t"
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    (tmp_path / "named.toml").write_text(TEXT, "utf-8")
    return tmp_path / "named.toml"


@pytest.fixture
def named(file: Path) -> Solution:
    return solve(read_section(file), 0.1)


@pytest.fixture
def no_mathematics(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fails where matplotlib takes a text for mathematics."""

    def parse(*asked: object) -> None:
        pytest.fail("a name was taken for mathematics")

    monkeypatch.setattr("matplotlib.mathtext.MathTextParser.parse", parse)


@pytest.mark.usefixtures("no_mathematics")
def test_pictures_show_them_without_a_word(named: Solution, file: Path, tmp_path: Path) -> None:
    several = study(file, {"_t": "1,2,3", "base": "4,8"}, workers=1, target=0.1)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        draw_parts(named.section, tmp_path / "parts.png")
        draw_temperature(named, tmp_path / "temperature.png")
        draw_budget(budgets(named), tmp_path / "budget.png")
        draw_placement(placement(named, SENSOR, between={AIR: (20, 30)}), tmp_path / "place.png")
        drawn = draw_study(several, tmp_path)
    assert len(drawn) == len(set(drawn)) >= 3 and all((tmp_path / name).stat().st_size for name in drawn)


def test_pictures_of_names_that_differ_in_marks_alone_do_not_overwrite_each_other(tmp_path: Path) -> None:
    long = "bead " * 60
    more = f"[{{ name = 'a b', at = [9, 0] }}, {{ name = 'a/b', at = [1, 0] }}, {{ name = '{long}', at = [2, 0] }}]"
    lines = [f"sensor = {more}" if line.startswith("sensor") else line for line in TEXT.splitlines()]
    (tmp_path / "a.toml").write_text("\n".join(lines), "utf-8")
    found = study(tmp_path / "a.toml", {"base": "4,8"}, workers=1, target=0.1)
    drawn = draw_study(found, tmp_path, [f"sensors.{name}.reading" for name in ("a b", "a/b", long)])
    assert len(set(drawn)) == 3 and all((tmp_path / name).exists() for name in drawn)


def test_tables_show_them(named: Solution, file: Path) -> None:
    out = StringIO()
    print_study(study(file, {"_t": "1,2"}, workers=1, target=0.1), Console(file=out, width=200))
    assert "_t" in out.getvalue() and PLATE in out.getvalue() and FACE in out.getvalue() and SENSOR in out.getvalue()
    text = as_text(print_solution, named, 200)
    assert all(name in text for name in (TITLE, AIR, ROOM, FACE, PLATE, SENSOR))
    html = as_html(print_solution, named)
    assert "<b>" not in html and "&lt;b&gt;" in html and FACE in html


def test_a_spreadsheet_computes_none_of_them(named: Solution, tmp_path: Path) -> None:
    write_network_csv(named, tmp_path)
    with open(tmp_path / "conductance.csv", newline="", encoding="utf-8") as table:
        head, *rows = csv.reader(table)
    assert head[1:4] == [row[0] for row in rows] == [f"'{AIR}", f"'{ROOM}", f"'{FACE}"]
    assert all(float(cell) < 0 for row, k in zip(rows, (2, 1, 1)) for cell in row[k : k + 1])  # numbers stay numbers


def test_netlists_have_them_in_remarks_alone(named: Solution) -> None:
    for line in network_spice(named).splitlines():
        assert line.startswith("* ") or line.isascii() and not set("$\\[]<@'") & set(line), line


@pytest.mark.parametrize(
    "words",
    [
        ["solve", "--target", "10%", "--place", SENSOR, f"--between={ROOM}=1:9"],
        ["study", "_t=1,2", "base=4,8", "--answer", "sensors", "--workers", "1", "--target", "10%"],
        ["check"],
        ["network", "--format", "spice", "--target", "10%"],
    ],
)
@pytest.mark.usefixtures("no_mathematics")
def test_commands_show_them(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    monkeypatch.chdir(file.parent)
    assert main([words[0], "named.toml", *words[1:], "--out", "[/y] :fire:"]) == 0
    out, err = capsys.readouterr()
    assert err == "" and "[/y] :fire:" in " ".join(out.split()) and Path("[/y] :fire:").is_dir()


@pytest.mark.parametrize("name", ["esc\x1b[31m turn\u202e", "byte\udcff"])
def test_file_names_are_printed_without_hidden_characters(
    file: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    monkeypatch.chdir(file.parent)
    text = "\n".join(line for line in file.read_text("utf-8").splitlines() if not line.startswith("title"))
    try:
        Path(f"{name}.toml").write_text(text, "utf-8")
    except OSError:
        pytest.skip("this system has no such file names")
    assert main(["solve", f"{name}.toml", "--json", "result.json", "--target", "10%"]) == 0
    shown = name.encode("unicode_escape").decode()
    said = capsys.readouterr().out
    assert not {"\x1b", "\u202e", "\udcff"} & set(said)
    assert said.startswith(shown) and f"Written to {shown}:" in said
    assert json.loads(Path("result.json").read_text("utf-8"))["title"] == shown
    assert main(["solve", f"no {name}.toml"]) == 1
    assert capsys.readouterr().err.startswith(f"fdm: no {shown}.toml: cannot be read")
