"""What all pictures share: size, resolution, file format, the look of axes, and that names stand as they are."""

import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fdm.output.drawing.colours import FAINT, INK

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

DPI = 160
WIDTH = 10.0  # inch
FRAME = "#d5d9de"
LITERAL = "literal"  # texts that are drawn as they stand
PNG_OPTIONS = {"compress_level": 3}  # files a tenth larger than with the usual 6, written in half the time


def told(title: str, failed: str) -> str:
    """The title of a picture, which says so where the answers failed their own checks: pictures are passed on without
    the warnings.

    >>> told("cold plate", ""), told("cold plate", "sums of weights are off by 3e-05")
    ('cold plate', 'cold plate (these answers failed their own checks)')
    """
    return f"{title} (these answers failed their own checks)" if failed else title


def style_axes(a: "Axes") -> None:
    """Small dark numbers, which are whole wherever the axes begin, faint ticks and a faint frame."""
    a.tick_params(labelsize=8.5, color=FAINT, labelcolor=INK)
    a.ticklabel_format(useOffset=False)
    for spine in a.spines.values():
        spine.set_color(FRAME)


def take_literally(figure: "Figure") -> None:
    """Has all texts of a figure drawn as they stand: between two dollars matplotlib would see mathematics. Texts that
    come later need it again."""
    from matplotlib.text import Text

    for text in figure.findobj(Text):
        assert isinstance(text, Text)
        if text.get_gid() == LITERAL:
            continue
        text.set_gid(LITERAL)
        if text.get_wrap():  # which looks for mathematics all the same
            text.set_text(text.get_text().replace("$", r"\$"))
        else:
            text.set_parse_math(False)


@contextmanager
def boxes_for_missing_letters() -> Iterator[None]:
    """Letters that the font lacks are drawn as boxes, without a word."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", "Glyph .* missing from")
        yield
