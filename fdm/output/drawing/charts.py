"""What charts share: a figure with a heading, plain axes, and saving."""

import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.errors import visible
from fdm.output.drawing.colours import INK
from fdm.output.drawing.figures import (
    DPI,
    PNG_OPTIONS,
    WIDTH,
    boxes_for_missing_letters,
    style_axes,
    take_literally,
)
from fdm.section.files import written_beside

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

TITLE_LETTERS, LINE_LETTERS = 100, 140  # of a figure's width
PAPER: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0}  # behind words on lines


def new_chart(height: float) -> "Figure":
    """An empty figure, `height` in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def heading(figure: "Figure", title: str, below: str) -> None:
    """The title of a figure, and a line below it; what is too long for one line is broken."""
    titles, lines = wrapped(title, TITLE_LETTERS), wrapped(visible(below), LINE_LETTERS)
    room = "\n" * (1 + lines.count("\n"))
    figure.suptitle(titles + room, x=0.01, ha="left", fontsize=11, fontweight="bold", color=INK)
    down = 0.30 + 0.18 * titles.count("\n")  # inches
    figure.text(0.01, 1 - down / figure.get_size_inches()[1], lines, fontsize=9, color=INK, va="top")


def wrapped(text: str, letters: int) -> str:
    """The text in lines of at most so many letters."""
    return "\n".join(textwrap.wrap(text, letters, break_on_hyphens=False)) or text


def plain_axes(a: "Axes") -> None:
    """Axes with a faint grid, frame and labels."""
    style_axes(a)
    a.grid(color="#eceef1", lw=0.8)
    a.set_axisbelow(True)


def bar_axes(a: "Axes", names: list[str]) -> None:
    """Plain axes for horizontal bars at 0, 1, .., the first on top, with their names on the left."""
    plain_axes(a)
    a.set_yticks(range(len(names)), names)
    a.set_ylim(len(names) - 0.4, -0.6)
    a.grid(axis="y", visible=False)
    a.tick_params(axis="y", length=0)
    a.axvline(0, color=INK, lw=0.8, zorder=3)


def write_beside_bar(a: "Axes", text: str, number: int, value: float, band: float = 0.0) -> None:
    """Write beyond the end of bar `number`, on the left where its `value` is negative; bold for the first bar."""
    away = -1 if value < 0 else 1
    a.annotate(
        text, (value + away * band, number), (6 * away, 0), textcoords="offset points", va="center", fontsize=9,
        color=INK, ha="right" if value < 0 else "left", fontweight="bold" if number == 0 else "normal", in_layout=False,
    )  # fmt: skip


def bar_limits(a: "Axes", low: float, high: float, room: float) -> None:
    """Make room for bars from `low` (0 where none is negative) to `high`, and for words of the share `room` of all that
    beyond the bars' ends."""
    beside = room * max(high - low, 1e-9)
    a.set_xlim(low - beside if low < 0 else 0.0, high + beside)


def save_chart(figure: "Figure", path: str | Path) -> None:
    """Write the figure as PNG. Raises InputError where it cannot be written."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    take_literally(figure)
    with written_beside(path) as temporary, boxes_for_missing_letters():
        canvas: Any = FigureCanvasAgg(figure)  # its methods have no types
        # savefig would draw everything twice, the first time for the layout
        canvas.print_png(temporary, pil_kwargs=PNG_OPTIONS)
