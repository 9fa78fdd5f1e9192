"""Sources that are likely square, in a drawing that is not as deep as they are, or as what they warm is wide."""

from collections.abc import Iterable, Iterator

import numpy as np
from scipy.ndimage import label

from fdm.section.model import Disc, Section, Shape, Source
from fdm.solving.cells import METAL, Drawing

FAR = 2.0  # times: a depth this far from a heated width, or a plate this much wider than deep, is likely not meant
STRIP, NARROW = 5.0, 0.020  # a source narrower than this (m), and so many times as deep as wide, is a strip of LEDs
FOIL = 0.001  # m; a heated part as thin as this is a foil, which may be as long as it likes
JOINED = 0.2  # W/(m K) from which a layer, as of paste, carries heat on to the next part


def heated_depth(drawing: Drawing) -> Iterator[str]:
    """Sources that are likely square, in a drawing that is not as deep as they are, or as what they warm is wide.
    Silent are strips of LEDs, foils, wires, sources as wide as all that lies about them, and those that fill the
    depth."""
    section = drawing.section
    heated = section.heat_sources if section.view == "section" else ()
    for source in heated:
        across, (low, high), long = _stretch(section, source)
        w, d = high - low, section.depth
        body, _ = _widest(section, range(len(section.parts)), across, (low, high))
        strip, whole = w < NARROW and d > STRIP * w, w > 0.9 * body
        if source.fills_depth or source.heat == 0 or long or strip or whole:
            continue
        what = f"source {source.name!r} is {drawing.length(w)} wide"
        width, plate = _widest(section, _warmed_parts(drawing, source), across, (low, high), METAL)
        if d > FAR * w * (1 + 1e-6):
            known = ", as it is where depth is left out" if d == 1 else ""
            fault = (
                f"{what}, but the drawing is {drawing.length(d)} deep{known}: its {abs(source.heat or 0):.4g} W are "
                "spread along all of that depth, as from a strip"
            )
        elif w > FAR * d * (1 + 1e-6):
            fault = (
                f"{what}, but the drawing is only {drawing.length(d)} deep: all of its {abs(source.heat or 0):.4g} W "
                "enter in that depth"
            )
        elif width > FAR * d * (1 + 1e-6):
            fault = (
                f"{what} in a drawing {drawing.length(d)} deep, but {plate!r}, which it warms, is "
                f"{drawing.length(width)} wide: heat spreads along {'xy'[across]} alone, as if {plate!r} ended with "
                "the depth"
            )
        else:
            continue
        face_on = 'draw the plate seen face on (view = "plate") for its spreading, or ' if plate else ""
        yield (
            f"{fault}; {face_on}give the depth over which the heat is shared (fills_depth = true in the [[source]] "
            "says that this one is)"
        )


def _stretch(section: Section, source: Source) -> tuple[int, tuple[float, float], bool]:
    """The axis along which a source lies, its ends there, and whether it is a foil, or round as what runs along the
    depth."""
    if source.segment is not None:
        across = int(source.segment.vertical)
        return across, (source.segment.x, source.segment.y)[across], False
    shapes = section.part_named[str(source.part)].shapes
    x0, x1, y0, y1 = zip(*(s.bounds for s in shapes))
    ends = (min(x0), max(x1)), (min(y0), max(y1))
    sizes = [b - a for a, b in ends]
    across = int(sizes[1] > sizes[0])
    return across, ends[across], min(sizes) <= FOIL or isinstance(shapes[0], Disc)


def _widest(
    section: Section, among: Iterable[int], across: int, stretch: tuple[float, float], least: float = 0.0
) -> tuple[float, str]:
    """Width along the axis `across`, and name, of the solid shape that carries most heat along it, of those that reach
    beyond the stretch and conduct `least` W/(m K); 0 where there is none."""
    slack, most, found = 1e-6 * section.size, 0.0, (0.0, "")
    for part in (section.parts[number] for number in among):
        k = 0.0 if part.material is None else part.material.conductivity[across]
        for shape in part.shapes if k >= least else ():
            (a, b), (c, d) = _bounds(shape, across)
            reaches = a <= stretch[0] + slack and b >= stretch[1] - slack and b - a > stretch[1] - stretch[0] + slack
            if reaches and k * (d - c) > most:
                most, found = k * (d - c), (b - a, part.name)
    return found


def _bounds(shape: Shape, first: int) -> tuple[tuple[float, float], tuple[float, float]]:
    """Low and high along the axis `first`, then along the other."""
    x0, x1, y0, y1 = shape.bounds
    return ((y0, y1), (x0, x1)) if first else ((x0, x1), (y0, y1))


def _warmed_parts(drawing: Drawing, source: Source) -> list[int]:
    """Numbers of the parts that a source warms through what conducts."""
    joined, _ = label(drawing.conductivity[drawing.cells].max(-1) >= JOINED)
    regions = np.unique(joined[drawing.warmed(source)])
    found: list[int] = np.unique(drawing.cells[np.isin(joined, regions[regions > 0])]).tolist()
    return found
