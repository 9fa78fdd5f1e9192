"""The face of the package: what its objects show of themselves, also in notebooks, and how it refuses wrong types."""

import builtins
from collections.abc import Callable, Iterator
from dataclasses import replace
from importlib import import_module
from io import StringIO

import pytest
from rich.console import Console

import fdm
from fdm import InputError, Solution
from fdm.section.model import Section
from fdm.solving.steady import solve
from tests.output.cabinet_example import example
from tests.sections import slab_section, wall_section

CABINET = "geometries/bulb_cabinet_single.toml"
BOLT = "geometries/bolt.toml"


@pytest.fixture(scope="module")
def slab() -> Solution:
    return fdm.solve(slab_section())


@pytest.fixture(scope="module")
def shown(slab: Solution) -> dict[str, tuple[object, str]]:
    """Objects, and what each should show of itself."""
    named = fdm.read_section("geometries/light_bar.toml")
    found = fdm.study(bolt, {"foam": [40, 60]}, target=0.5, workers=1)
    best = fdm.best(bolt, {"foam": [40, 60]}, "bridge.bolt with its bush.chi", target=0.5, workers=1)
    return {
        "section": (wall_section(), "wall [red] <b> (section, 500 mm deep; x = 0 to 100, y = -20 to 34 mm)"),
        "section of a file": (named, "named numbers: base = 3, width = 80"),
        "solution": (slab, "Couplings"),
        "answers": (slab.answers, "network.coupling.cold.warm"),
        "cabinet": (fdm.read_cabinet(CABINET), "400 x 350 x 450 mm inside, room 30 degC"),
        "solved cabinet": (example(), "Operating point, modules always on"),
        "study": (found, "The lowest chi of bolt with its bush"),
        "best": (best, "2 designs were tried."),
    }


def bolt(foam: float) -> Section:
    return fdm.read_section(BOLT, foam=foam)


KINDS = ("section", "section of a file", "solution", "answers", "cabinet", "solved cabinet", "study", "best")


@pytest.fixture
def in_a_notebook(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """What rich takes for a notebook."""
    shell = type("ZMQInteractiveShell", (), {})
    monkeypatch.setattr(builtins, "get_ipython", shell, raising=False)
    assert Console(file=StringIO()).is_jupyter
    yield


@pytest.mark.parametrize("kind", KINDS)
def test_everything_shows_itself_where_it_is_printed(shown: dict[str, tuple[object, str]], kind: str) -> None:
    thing, words = shown[kind]
    assert words in repr(thing) and str(thing) == repr(thing)
    assert max(map(len, repr(thing).splitlines())) <= 200 and "\x1b" not in repr(thing)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.usefixtures("in_a_notebook")
def test_in_a_notebook_it_is_shown_once(
    shown: dict[str, tuple[object, str]], kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """A notebook shows `_repr_html_`; a console of rich that shows its tables there as well would do it twice."""
    thing, words = shown[kind]
    html = thing._repr_html_()  # type: ignore[attr-defined]
    assert words.split(" <b>")[0] in html and html.count("<pre") == 1
    print(thing)
    out = capsys.readouterr().out
    assert out.count(words) == 1 and out == f"{thing}\n"


def test_the_warnings_of_a_cabinet_are_shown_with_it() -> None:
    warned = replace(example(), warnings=("the door is open",))
    assert repr(warned).endswith("\nWarning: the door is open") and "Operating point" in repr(warned)


def test_each_display_belongs_to_a_class_and_has_a_printer() -> None:
    for place, printer in fdm._PRINTED_BY.items():
        home, _, name = place.rpartition(".")
        assert isinstance(getattr(import_module(home), name), type)
        home, name = printer.split(".")
        assert callable(getattr(import_module(f"fdm.output.tables.{home}"), name))


def test_a_display_is_as_wide_as_the_terminal(slab: Solution, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "64")
    assert max(map(len, repr(slab).splitlines())) <= 64


# ---- what is given --------------------------------------------------------------------------------------------------


def test_a_path_a_section_and_a_function_are_solved_alike() -> None:
    section = fdm.read_section(BOLT)
    value = solve(section, 0.3).answers
    assert fdm.solve(BOLT, 0.3).answers == value and fdm.solve(lambda: section, 0.3).answers == value


def test_what_is_left_out_of_an_operating_point_stays(slab: Solution) -> None:
    warm = fdm.at_operating_point(slab, {"warm": 50})
    assert warm.section.fixed_temperatures.tolist() == [10, 50]


MISTAKES: dict[str, tuple[Callable[[Solution], object], str]] = {
    "solve a number": (lambda s: fdm.solve(3), "solve: got 3; give a Section, the path of a section file, or"),
    "solve a solution": (lambda s: fdm.solve(s), "solve: got a Solution; give"),
    "solve a cabinet": (lambda s: fdm.solve(CABINET), "solve it with the command cabinet, or with solve_cabinet"),
    "a function of nothing": (lambda s: fdm.solve(lambda: None), "solve: the function returned None; let it return"),
    "a function of something": (lambda s: fdm.solve(bolt), "missing a required argument: 'foam' of the function"),
    "a target": (lambda s: fdm.solve(s.section, "fine"), "target: 'fine' is not a share between 0 and 1"),
    "cells": (lambda s: fdm.solve(s.section, cells="many"), "cells: 'many' is no number of cells; give 1 or more"),
    "read nothing": (lambda s: fdm.read_section(None), "read_section: None is no path; give that of a section file"),
    "read a number": (lambda s: fdm.read_cabinet(3), "read_cabinet: 3 is no path; give that of a cabinet file"),
    "a second argument": (lambda s: fdm.read_section(BOLT, 3), "read_section: 3 is no mapping; change named numbers"),
    "a cabinet that is a section": (lambda s: fdm.solve_cabinet(BOLT), "solve it with the command solve, or"),
    "a cabinet that is none": (lambda s: fdm.solve_cabinet(s), "solve_cabinet: got a Solution; give a Cabinet, or"),
    "a path that is a number": (lambda s: s.answers.at(5), "answer: 5 is no path; give text, such as 'terminals."),
    "a name that is a number": (lambda s: s.answers.at(("sensors", 5)), "answer: a tuple is no path; give text, such"),
    "no terminals": (lambda s: fdm.at_operating_point(s, "x"), "'x' names no terminals; give their temperatures and"),
    "a wrong terminal": (lambda s: fdm.at_operating_point(s, {"warn": 5}), "no terminal 'warn'; did you mean 'warm'?"),
    "no temperature": (lambda s: fdm.at_operating_point(s, {"warm": "5"}), "'warm': '5' is no number; give degC or W"),
    "of no solution": (lambda s: fdm.at_operating_point(BOLT, {}), "'geometries/bolt.toml' is no solution; give one"),
    "field_at": (lambda s: s.field_at([1], []), r"field_at: temperatures has the shape \(1,\); give one for each of"),
    "designs as text": (lambda s: fdm.study(BOLT, "foam=40"), "varied: give names with their values, such as"),
    "values of nothing": (lambda s: fdm.study(BOLT, {"foam": None}), "foam: None is no number; give low:high:step"),
    "values as words": (lambda s: fdm.study(BOLT, {"foam": ["a"]}), "foam: 'a' is no number; give low:high:step"),
    "study a number": (lambda s: fdm.study(3, {"foam": [4]}), "study: got 3; give the path of a file, a Section read"),
    "answers": (lambda s: fdm.study(BOLT, {"foam": [40]}, answers=3), "answers: 3 is no text; give such as 'sensors'"),
    "workers": (lambda s: fdm.study(BOLT, {"foam": [40]}, workers=0), "workers: 0 is no number of processes"),
    "ranges": (lambda s: fdm.best(BOLT, "foam=3:4", "let.foam"), "names that vary: give each with its values, such as"),
    "a goal": (lambda s: fdm.best(BOLT, {"foam": "40:50"}, 3), "goal: 3 is no text; give such as 'let.base'"),
    "tries": (lambda s: fdm.best(BOLT, {"foam": "40:50"}, "let.foam", tries="x"), "tries: 'x' is no number of designs"),
    "measured": (lambda s: fdm.fit(BOLT, None), "fit: None is no path; give that of a CSV file"),
    "a model": (lambda s: fdm.uncertainty(s), "uncertainty: got a Solution; give the path of a file, or what"),
    "a list to place": (lambda s: fdm.placement(s, []), "place: a list is no name; give that of a sensor, an environ"),
    "no place": (lambda s: s.field.at(None, 1), "x: None is no number, and no list of numbers"),
    "a place as text": (lambda s: s.field.at(1, ["3"]), r"y: \['3'\] is no number, and no list of numbers"),
    "an empty path": (lambda s: fdm.read_section(""), "read_section: '' is no path; give that of a section file"),
    "moved by number": (lambda s: fdm.read_section(BOLT, {3: 1}), "read_section: 3 is no name; give such as"),
    "like": (lambda s: fdm.solve(BOLT, like=BOLT), "like: 'geometries/bolt.toml' is no solution; give one that solve"),
    "sections": (lambda s: fdm.solve_cabinet(CABINET, 3), "sections: 3 is none; give those of a solved cabinet"),
    "no ranges": (lambda s: fdm.best(BOLT, None, "let.foam"), "names that vary: give each with its values, such as"),
    "let": (lambda s: fdm.reanalysis(BOLT, "foam=3"), "let: 'foam=3' is no mapping; give such as"),
    "uncertainties": (lambda s: fdm.fit(BOLT, "x.csv", uncertainties=3), "uncertainties: 3 is no mapping; give such"),
    "a seed": (lambda s: fdm.sample(BOLT, 4, seed="a"), "seed: 'a' is no whole number of 0 or more"),
    "samples": (lambda s: fdm.sample(BOLT, "many"), "sample: 'many' is no number of samples; give 1 or more"),
}  # fmt: skip


@pytest.mark.parametrize("mistake", MISTAKES)
def test_a_mistake_of_type_is_one_sentence(slab: Solution, mistake: str) -> None:
    call, said = MISTAKES[mistake]
    with pytest.raises(InputError, match=said) as refused:
        call(slab)
    assert "\n" not in str(refused.value) and len(str(refused.value)) < 250


def test_a_misspelt_name_of_the_package_is_told_the_nearest() -> None:
    with pytest.raises(AttributeError, match="no attribute 'solv'; did you mean 'solve'?"):
        fdm.solv  # noqa: B018
