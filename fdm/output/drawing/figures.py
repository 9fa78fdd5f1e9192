"""What all pictures share: size, resolution, file format, the look of axes, and that names stand as they are."""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fdm.output.drawing.colours import FAINT, INK

if TYPE_CHECKING:
    from matplotlib.artist import Artist
    from matplotlib.axes import Axes

DPI = 160
WIDTH = 10.0  # inch
FRAME = "#d5d9de"
PNG_OPTIONS = {"compress_level": 3}  # files a tenth larger than with the usual 6, written in half the time


def style_axes(a: "Axes") -> None:
    """Small dark numbers, faint ticks and a faint frame."""
    a.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    for spine in a.spines.values():
        spine.set_color(FRAME)


def take_literally(drawn: "Artist") -> None:
    """Has all texts of a figure, or of a part of it, drawn as they stand: between two dollars matplotlib would see
    mathematics. To be called before anything is measured, and once more before the figure is saved."""
    from matplotlib.text import Text

    for text in drawn.findobj(Text):
        assert isinstance(text, Text)
        text.set_parse_math(False)


@contextmanager
def boxes_for_missing_letters() -> Iterator[None]:
    """Letters that the font lacks are drawn as boxes, without a word."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        yield
