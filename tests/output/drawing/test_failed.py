"""Pictures of answers that failed their own checks say so in their titles, and are the same else."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread

from fdm import solve
from fdm.inference.budget import budgets
from fdm.output.drawing.budget import draw_budget
from fdm.output.drawing.cabinet import draw_heat_budget, draw_pull_down, draw_supply
from fdm.output.drawing.plate_cut import draw_cut
from fdm.output.drawing.section import draw_temperature
from fdm.solving.solution import Solution
from tests.conduction.stack.plates import sink
from tests.output.cabinet_example import example


@pytest.fixture(scope="module")
def solution() -> Solution:
    return solve(sink(), target=0.05)


@pytest.mark.parametrize(
    "draw", [draw_temperature, draw_cut, lambda solution, path: draw_budget(budgets(solution), path)]
)
def test_their_titles_say_so(draw: Callable[[Solution, Path], None], solution: Solution, tmp_path: Path) -> None:
    told_by_title(draw, solution, replace(solution, failed="flows are out of balance"), tmp_path)


@pytest.mark.parametrize("draw", [draw_heat_budget, draw_pull_down, draw_supply])
def test_those_of_a_cabinet_do(draw: Callable[..., None], tmp_path: Path) -> None:
    solved = example()
    told_by_title(draw, solved, replace(solved, failed="flows are out of balance"), tmp_path)


def told_by_title(draw: Callable[..., None], sound: object, failed: object, folder: Path) -> None:
    draw(sound, folder / "sound.png")
    draw(failed, folder / "failed.png")
    pictures = [imread(folder / f"{name}.png") for name in ("sound", "failed")]
    assert pictures[0].shape == pictures[1].shape
    rows = np.nonzero((pictures[0] != pictures[1]).any((1, 2)))[0]
    assert len(rows) and rows.max() < 60
