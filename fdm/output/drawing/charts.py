"""What charts share: size, heading, axes and saving."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

from fdm.output.drawing.colours import FAINT, INK
from fdm.output.drawing.sheet import DPI, PNG, WIDTH
from fdm.section.files import written_beside

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

FRAME = "#d5d9de"
PAPER: dict[str, Any] = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0}  # behind words on lines


def new_chart(height: float) -> "Figure":
    """An empty figure, `height` in inches."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(WIDTH, height), dpi=DPI, layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def heading(figure: "Figure", title: str, below: str) -> None:
    """The title of a figure, and a line below it."""
    figure.suptitle(f"{title}\n", x=0.01, ha="left", fontsize=11, fontweight="bold", color=INK, wrap=True)
    figure.text(0.01, 1 - 0.30 / figure.get_size_inches()[1], below, fontsize=9, color=INK, va="top")


def plain_axes(a: "Axes") -> None:
    """Axes with a faint grid, frame and labels."""
    a.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    a.grid(color="#eceef1", lw=0.8)
    a.set_axisbelow(True)
    for spine in a.spines.values():
        spine.set_color(FRAME)


def save_chart(figure: "Figure", path: str | Path) -> None:
    """Written as PNG. Raises InputError where it cannot be."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    with written_beside(path) as temporary:
        # savefig would draw everything twice, the first time for the layout
        FigureCanvasAgg(figure).print_png(temporary, pil_kwargs=PNG)
