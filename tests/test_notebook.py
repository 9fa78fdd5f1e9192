"""The example notebook: its form, and its cells one after the other, as a notebook runs them."""

import ast
import json
import os
import shutil
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import numpy as np
import pytest

from fdm.studies.optimum import Optimum

NOTEBOOK = Path(__file__).parents[1] / "geometries" / "light_bar.ipynb"
CELLS = json.loads(NOTEBOOK.read_text("utf-8"))["cells"]


def run(source: str, names: dict[str, Any]) -> Any:
    """Runs a cell; the value of its last line where that is an expression, which a notebook shows."""
    body = ast.parse(source).body
    last = body.pop() if isinstance(body[-1], ast.Expr) else None
    exec(compile(ast.Module(body, []), NOTEBOOK.name, "exec"), names)  # noqa: S102
    return None if last is None else eval(compile(ast.Expression(last.value), NOTEBOOK.name, "eval"), names)


def test_it_is_a_notebook_without_outputs() -> None:
    notebook = json.loads(NOTEBOOK.read_text("utf-8"))
    assert (notebook["nbformat"], notebook["nbformat_minor"]) == (4, 5)
    assert set(notebook) == {"cells", "metadata", "nbformat", "nbformat_minor"}
    assert len({cell["id"] for cell in CELLS}) == len(CELLS)
    for cell in CELLS:
        code = cell["cell_type"] == "code"
        assert code or cell["cell_type"] == "markdown"
        assert set(cell) == {"cell_type", "id", "metadata", "source"} | (
            {"execution_count", "outputs"} if code else set()
        )
        assert not code or (cell["outputs"] == [] and cell["execution_count"] is None)
        assert all(line.endswith("\n") for line in cell["source"][:-1]) and not cell["source"][-1].endswith("\n")


def test_its_cells_run_and_say_what_the_words_promise(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("light_bar.toml", "light_bar_log.csv"):
        shutil.copy(NOTEBOOK.with_name(name), tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(os, "sched_getaffinity", lambda process: {0}, raising=False)  # no worker processes
    monkeypatch.setattr(plt, "show", lambda: plt.close())
    names: dict[str, Any] = {"__name__": "notebook"}
    shown = [run("".join(cell["source"]), names) for cell in CELLS if cell["cell_type"] == "code"]
    printed = capsys.readouterr().out
    assert "49.0 ± 0.002 degC" in printed and "34.5 W into all of them" in printed
    assert np.isfinite(names["watts"]).all() and sum(names["watts"]) < 40
    best = next(value for value in shown if isinstance(value, Optimum))
    assert best.feasible and best.values == {"base": 4}
    assert names["fitted"].explained
    assert abs(shown[-1][0] - 51.8) < 0.1  # as measured
    assert sorted(p.name for p in tmp_path.iterdir()) == ["light_bar.toml", "light_bar_log.csv"]
