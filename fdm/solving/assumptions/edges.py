"""Edges where no heat passes, or where two parts should meet: gaps, joints, cut tips."""

from collections.abc import Iterator
from itertools import groupby

import numpy as np
from scipy.ndimage import label

from fdm.conduction.arrays import Bools, Integers
from fdm.grid.raster import NOTHING, middles
from fdm.section.model import SIDES, Rectangle
from fdm.solving.cells import Drawing

SHORT = 0.01  # of the drawing's size: shorter edges are not worth a word
SHALLOW = 0.5  # times its width: a gap no deeper than that is a step in the outline
MOST_TOLD = 3  # parts with edges beside nothing
SLIT, LONG = 0.001, 5.0  # m: parts so near were meant to touch, where they are as near over so many times that length


def slits(drawing: Drawing) -> Iterator[str]:
    """Solids of straight edges that face each other across a slit of nothing, too narrow to be drawn on purpose."""
    straight = [all(isinstance(s, Rectangle) for s in p.shapes) for p in drawing.section.parts]
    faces = drawing.solid & np.pad(straight, (0, len(drawing.solid) - len(straight)))
    pairs, widths, lengths = np.empty((0, 2), np.intp), np.empty(0), np.empty(0)
    for upright in (True, False):
        owner, across, along = drawing.turned(upright)
        i, j = np.nonzero((owner[1:-1, 1:-1] == NOTHING) & (owner[:-2, 1:-1] != NOTHING))  # where it begins
        end = _next_drawn(owner)[i + 1, j + 1]
        both, width = np.sort([owner[i, j + 1], owner[end, j + 1]], 0), across[end - 1] - across[i]
        narrow = (width <= SLIT) & faces[both].all(0) & (both[0] != both[1])
        pairs = np.concatenate([pairs, both.T[narrow]])
        widths, lengths = np.append(widths, width[narrow]), np.append(lengths, np.diff(along)[j][narrow])
    for pair in np.unique(pairs, axis=0):
        own = (pairs == pair).all(1)
        if lengths[own].sum() >= LONG * (width := widths[own].min()):
            yield (
                f"parts {drawing.names(pair.tolist())}: nothing is drawn in the {drawing.length(width)} between them, "
                "so no heat passes there; let them touch, or draw what lies between (air with gap = true; void = true "
                "where no heat is meant to pass)"
            )


def _next_drawn(owner: Integers) -> Integers:
    """(n + 2, m + 2) where, from each place on along the first axis, the first is that is not nothing."""
    number = np.where(owner == NOTHING, len(owner) - 1, np.arange(len(owner))[:, None])
    return np.asarray(np.minimum.accumulate(number[::-1])[::-1])


def edges_in_gaps(drawing: Drawing) -> Iterator[str]:
    """Edges of solids beside a gap within the drawing, where nothing is drawn, though air lies across the gap. Air
    beyond the border counts where every side that the gap reaches has some, or the gap is shallow: else a cut that
    leaves a corner out would be told."""
    empty = np.zeros(drawing.owner.shape, bool)
    empty[1:-1, 1:-1] = drawing.cells == NOTHING
    if not empty.any():
        return
    gaps, _ = label(empty)
    across = _airs_across(drawing, gaps)
    edges: dict[int, dict[str, float]] = {}  # m, by part and side
    beyond: dict[int, str] = {}
    for side, part, length, gap in drawing.edges_beside(np.where(np.isin(gaps, list(across)), gaps, 0)):
        edges.setdefault(part, {})[side] = length
        beyond[part] = across[gap]
    total = {part: sum(sides.values()) for part, sides in edges.items()}
    found = sorted((k for k, v in total.items() if v >= SHORT * drawing.section.size), key=lambda k: -total[k])
    more = f", and beside {len(found) - MOST_TOLD} more parts" if len(found) > MOST_TOLD else ""
    for part in found[:MOST_TOLD]:
        straight = all(isinstance(shape, Rectangle) for shape in drawing.section.parts[part].shapes)
        sides = " and ".join(f"{drawing.length(v)} of its {side}" for side, v in edges[part].items())
        where = f"{sides if straight else 'some of its edge'}{more}"
        yield (
            f"part {drawing.names([part])}: nothing is drawn beside {where}, so no heat passes there, although "
            f"{beyond[part]!r} lies across the gap; draw a part of that environment in it, or one with void = true "
            "where no heat is meant to pass"
        )


def joints_apart(drawing: Drawing) -> Iterator[str]:
    """Joints between parts that meet nowhere. Those of what is round or slanted, as cells cannot tell, or is covered,
    which is told elsewhere, are passed over."""
    owner, parts = drawing.owner, drawing.section.parts
    for joint in drawing.section.joints:
        a, b = map(drawing.number, joint.between)
        straight = all(isinstance(s, Rectangle) for k in (a, b) for s in parts[k].shapes)
        if not straight or not (owner == a).any() or not (owner == b).any():
            continue
        sides = ((o[:-1], o[1:]) for o in (owner, owner.T))
        if not any((((p == a) & (q == b)) | ((p == b) & (q == a))).any() for p, q in sides):
            yield f"{joint.where}: they meet nowhere as drawn, so it does nothing; name the two parts that touch there"


def open_gaps(drawing: Drawing) -> Iterator[str]:
    """Closed air gaps that an air touches."""
    parts = drawing.section.parts
    if all(p.gap is None for p in parts):
        return
    airs = np.array([air is not None for air in drawing.airs])[drawing.owner].astype(np.intp)
    for side, part, length, _ in drawing.edges_beside(airs):
        if parts[part].gap is not None:
            yield (
                f"part {parts[part].name!r}: it is a closed gap, but {drawing.length(length)} of its {side} lie open "
                "to an environment; draw what closes it, or make it a part of that environment"
            )


def _airs_across(drawing: Drawing, gaps: Integers) -> dict[int, str]:
    """By gap, numbered from 1 in `gaps` (n + 2, m + 2), the environment that a solid's edge looks at across it. One
    beyond the border does not count where the gap reaches a side that has none, unless it is shallow."""
    owner, border, r = drawing.owner, drawing.section.border, drawing.raster
    rims = zip(SIDES, (gaps[1], gaps[-2], gaps[:, 1], gaps[:, -2]))
    open_to = {k for side, rim in rims if getattr(border, side) is None for k in np.unique(rim).tolist()}
    out: dict[int, str] = {}
    turned = (owner, gaps, r.x, r.y), (owner.T, gaps.T, r.y, r.x)
    for own, gap, lines, along in ((o[::k], g[::k], x[::k], y) for o, g, x, y in turned for k in (1, -1)):
        number = np.where(gap > 0, len(gap) - 1, np.arange(len(gap))[:, None])
        ahead = np.take_along_axis(own, np.minimum.accumulate(number[::-1])[::-1], 0)  # the next that is no gap
        looks = drawing.solid[own[:-1]] & (gap[1:] > 0)
        for at, k in np.unique(np.column_stack([gap[1:][looks], ahead[1:][looks]]), axis=0).tolist():
            air = drawing.airs[k]
            if air is not None and at in open_to and k >= len(drawing.section.parts):
                i, j = np.nonzero(looks & (gap[1:] == at) & (ahead[1:] == k))
                deep, wide = np.abs(lines[-1] - lines[i]).max(), np.diff(along)[np.unique(j) - 1].sum()
                air = air if deep <= SHALLOW * wide else None
            if air is not None:
                out.setdefault(at, air)
    return out


def tips_without_border(drawing: Drawing) -> Iterator[str]:
    """Two or more solid stretches of a side without a border, each between stretches of the same air: tips of fins. One
    alone may be cut in its plane of symmetry."""
    section, airs, solid = drawing.section, drawing.airs, drawing.solid
    for side in SIDES if any(airs) else ():
        axis = section.view == "axisymmetric" and side == "left" and section.extent[0] <= 0
        if axis or getattr(section.border, side) is not None:
            continue
        owner, _, lines = drawing.turned(side in ("left", "right"))
        along = owner[1 if side in ("left", "bottom") else -2]
        sizes = np.concatenate([[0.0], np.diff(lines), [0.0]])
        warmed = np.concatenate([[False], _heated_along(drawing, side), [False]])
        kinds = [True if solid[k] else airs[k] for k in along.tolist()]
        runs = [list(run) for _, run in groupby(range(len(kinds)), key=lambda k: kinds[k])]
        tips = [
            run
            for before, run, after in zip(runs, runs[1:], runs[2:])
            if kinds[run[0]] is True
            and isinstance(kinds[before[0]], str)
            and kinds[before[0]] == kinds[after[0]]
            and not warmed[run].any()
        ]
        for air in dict.fromkeys(kinds[run[0] - 1] for run in tips):
            cells = [k for run in tips if kinds[run[0] - 1] == air for k in run]
            if sum(kinds[run[0] - 1] == air for run in tips) > 1:
                names = drawing.names(np.unique(along[cells]).tolist())
                yield (
                    f"border, {side}: missing, so no heat passes {drawing.length(sizes[cells].sum())} of {names} at "
                    f'the {side} of the drawing, between stretches of {air!r}; give [border] {side} = "{air}", or draw '
                    "that air on beyond"
                )


def _heated_along(drawing: Drawing, side: str) -> Bools:
    """(n or m,) cells along a side of the drawing on whose outer face a source lies."""
    section = drawing.section
    x0, x1, y0, y1 = section.extent
    place = {"left": x0, "right": x1, "bottom": y0, "top": y1}[side]
    upright = side in ("left", "right")
    mids = middles(drawing.raster.y if upright else drawing.raster.x)
    out = np.zeros(len(mids), bool)
    for s in (source.segment for source in section.sources):
        if s is not None and s.vertical == upright and abs((s.x if upright else s.y)[0] - place) < 1e-9 * section.size:
            low, high = s.y if upright else s.x
            out |= (mids > low) & (mids < high)
    return out
