"""Pictures of a study."""

from dataclasses import replace
from pathlib import Path

import matplotlib.image
import numpy as np
import pytest
from matplotlib.axes import Axes

from fdm.errors import InputError
from fdm.output.drawing.study import draw_lines, draw_map, draw_study
from fdm.studies import best, designs, study
from fdm.studies.names import COUNT
from tests.studies.slab import COUPLING, MEAN, made_up, write_slab


@pytest.fixture
def slab(tmp_path: Path) -> Path:
    return write_slab(tmp_path)


def test_pictures_are_lines_or_a_map_by_what_varies(slab: Path, tmp_path: Path) -> None:
    one = study(slab, {"thick": "20:60:10"}, workers=1)
    (name_of_one,) = draw_study(one, tmp_path, [COUPLING])
    assert name_of_one == "network.coupling._inside_1.5_m_.outside.png"
    grid = study(slab, {"thick": "-5,20,40,60", "film": "5,10,20,40"}, workers=1)
    draw_map(grid, COUPLING, tmp_path / "map.png")
    draw_lines(grid, COUPLING, tmp_path / "lines.png")
    sample = study(slab, designs({"thick": "20:60", "film": "5:40"}, lhs=8), workers=1)
    draw_map(sample, COUPLING, tmp_path / "sample.png")
    seen = [matplotlib.image.imread(tmp_path / name) for name in (name_of_one, "map.png", "lines.png", "sample.png")]
    for picture in seen:
        assert picture.shape[1] == 1600 and len(np.unique(picture[::4, ::4, :3].reshape(-1, 3), axis=0)) > 20
    with pytest.raises(InputError, match="too many lines"):
        draw_lines(
            study(slab, designs({"thick": "20:60", "film": "5:40"}, lhs=9), workers=1), COUPLING, tmp_path / "no.png"
        )
    with pytest.raises(InputError, match="a map needs two names"):
        draw_map(one, COUPLING, tmp_path / "no.png")
    assert draw_study(study(slab, {"thick": "20"}, workers=1), tmp_path) == []
    line = study(slab, [{"thick": 20.0 + k, "film": 5.0 + k} for k in range(4)], workers=1)
    draw_map(line, COUPLING, tmp_path / "line.png")  # designs on one line: dots, and no levels between them
    picture = matplotlib.image.imread(tmp_path / "line.png")
    assert picture.shape[1] == 1600 and len(np.unique(picture[::4, ::4, :3].reshape(-1, 3), axis=0)) > 20


def test_counts_are_points_at_whole_numbers_and_what_coincides_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pairs = {"modules": [1.0, 2, 3] * 3, "wall": [20.0] * 3 + [30.0] * 3 + [40.0] * 3}
    made = replace(made_up(pairs, [3.0, 2, 1, 3, 2, 1, 9, 8, 7]), kinds={"modules": COUNT, "wall": "mm"})
    drawn: list[Axes] = []
    monkeypatch.setattr("fdm.output.drawing.study.save_chart", lambda figure, path: drawn.append(figure.axes[0]))
    draw_lines(made, MEAN, tmp_path / "lines.png")
    (a,) = drawn
    assert a.get_xlabel() == "modules (number)\nThe lines of wall = 20 and wall = 30 coincide."
    assert a.get_ylabel() == "mean spreading of LEDs on plate (K/W)"
    assert all(tick == round(tick) for tick in a.get_xticks()) and a.get_lines()[0].get_linestyle() == "None"
    draw_lines(replace(made, kinds={}), MEAN, tmp_path / "lines.png")
    assert drawn[1].get_lines()[0].get_linestyle() == "-" and drawn[1].get_xlabel().startswith("modules\n")


def test_nothing_reaches_beyond_the_picture(tmp_path: Path) -> None:
    """However long the names are."""
    names = {f"the_thickness_of_the_board_number_{k}": [3.0, 3, 3] for k in range(9)}
    made = made_up({"base": [1.0, 2, 3], **names}, [3.0, 2, 1])
    long = replace(MEAN, path=("spreading", "a plate of many words, " * 9, "mean"), words="a plate of many words " * 9)
    designs = tuple(replace(d, answers=replace(d.answers, quantities=(long,))) for d in made.designs)
    draw_lines(replace(made, designs=designs), long, tmp_path / "long.png")
    edge = np.concatenate([matplotlib.image.imread(tmp_path / "long.png")[:, k, :3].ravel() for k in (0, -1)])
    assert edge.min() > 0.99


def test_no_room_is_lost_beside_the_chart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Also where a line has no value at all, and long names stay beside their axes."""
    pairs = {"base": [1.0, 2, 3] * 2, "a_name_of_forty_letters_for_the_fins_here": [20.0] * 3 + [30.0] * 3}
    made = made_up(pairs, [3.0, 2, 1, None, None, None])
    drawn: list[Axes] = []
    monkeypatch.setattr("fdm.output.drawing.study.save_chart", lambda figure, path: drawn.append(figure.axes[0]))
    draw_lines(made, replace(MEAN, words="mean spreading of the LEDs " * 5), tmp_path / "a.png")
    (a,) = drawn
    figure = a.get_figure()
    assert figure is not None
    figure.canvas.draw()
    label, axes = a.yaxis.label.get_window_extent(), a.get_window_extent()
    assert 0 <= label.x0 < 20 and axes.y0 < 120
    heading = min(t.get_window_extent().y0 for t in figure.texts)
    assert label.y1 < heading


def test_the_word_best_keeps_off_the_lines(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[Axes] = []
    monkeypatch.setattr("fdm.output.drawing.study.save_chart", lambda figure, path: drawn.append(figure.axes[0]))
    for answer in ([9.0, 6, 4, 2, 1], [1.0, 2, 4, 6, 9], [5.0, 2, 1, 2, 5]):
        draw_lines(made_up({"base": [1.0, 2, 3, 4, 5]}, answer), MEAN, tmp_path / "a.png")
        a = drawn.pop()
        a.get_figure().canvas.draw()  # type: ignore[union-attr]
        (word,) = [t.get_window_extent() for t in a.texts if t.get_text() == "best"]
        line = a.get_lines()[0]
        at = line.get_transform().transform_path(line.get_path().interpolated(100)).vertices
        assert not any(word.contains(*place) for place in at)


def test_the_best_within_limits_is_the_one_marked(slab: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    optimum = best(slab, {"thick": "20:80"}, "let.thick", subject=[f"{COUPLING} < 0.4"], workers=1)
    marked = []
    monkeypatch.setattr("fdm.output.drawing.study.save_chart", lambda figure, path: None)
    monkeypatch.setattr("matplotlib.axes.Axes.annotate", lambda axes, text, xy, *_, **__: marked.append((text, xy)))
    draw_study(optimum.study, tmp_path, [COUPLING], best=0)
    ((text, (x, _)),) = marked
    assert text == "best" and x == pytest.approx(50, rel=0.01)
