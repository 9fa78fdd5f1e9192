"""The cut through a plate in layers and its fins."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from matplotlib.figure import Figure
from matplotlib.image import imread

from fdm import solve
from fdm.output.drawing.plate_cut import draw_cut
from fdm.section.model import Rectangle, Section
from tests.conduction.stack.plates import AIR, PLATE, SOURCE, STILL, fins, sink


def drawn(section: Section, folder: Path) -> np.ndarray:
    """(rows, columns, 3) of the picture, within the frame and the colour bar."""
    draw_cut(solve(section, target=0.05), folder / "cut.png")
    return np.asarray(imread(folder / "cut.png"))[..., :3]


def test_a_cut_across_fins_shows_each_of_them_but_not_those_beside_it(tmp_path: Path) -> None:
    beside = fins(name="ribs", face="back", along="x", rectangle=Rectangle((0.0, 0.1), (0.1, 0.15)))
    picture = drawn(sink(fins=(fins(), beside)), tmp_path)
    coloured = np.ptp(picture, axis=2) > 0.07
    row = coloured[int(0.3 * len(picture)), : int(0.88 * picture.shape[1])]
    assert (np.diff(row.astype(int)) == 1).sum() == 16


def test_a_thin_plate_without_fins_is_drawn_higher_than_it_is(tmp_path: Path) -> None:
    picture = drawn(sink(parts=(replace(PLATE, thickness=0.002, front="air"),), fins=()), tmp_path)
    coloured = np.ptp(picture, axis=2) > 0.07
    assert coloured[:, picture.shape[1] // 4].sum() > 100


def test_a_cold_plate_is_cut_where_it_is_coldest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    titles: list[str] = []
    monkeypatch.setattr(Figure, "savefig", lambda figure, *_, **__: titles.append(figure.axes[0].get_title(loc="left")))
    for heat in (10, -10):
        section = sink(sources=(replace(SOURCE, heat=heat),), environments=(AIR, replace(STILL, temperature=20)))
        draw_cut(solve(section, target=0.2), tmp_path / "cut.png")
    assert titles[0] == titles[1] and "cut at y" in titles[0]
