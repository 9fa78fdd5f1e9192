"""What a drawing takes for granted, and what of it is likely not so: each check yields sentences, without a solve.

The limits below are common practice, no source. Each is a guess at what a drawing means, so a check stays silent where
the drawing may well be right. All checks look at the cells of a first grid, whose lines pass through every straight
edge.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

import numpy as np
from scipy.ndimage import label

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.grid.raster import NOTHING, middles, raster_of
from fdm.section.model import SIDES, Disc, Rectangle, Section, Shape, Source
from fdm.solving.cells import Drawing
from fdm.surroundings.finned import BASE, WALLS

FAR = 2.0  # times: a depth this far from a heated width, or a plate this much wider than deep, is likely not meant
STRIP, NARROW = 5.0, 0.020  # a source narrower than this (m), and so many times as deep as wide, is a strip of LEDs
FOIL = 0.001  # m; a heated part as thin as this is a foil, which may be as long as it likes
METAL = 12.0  # W/(m K), a little less than stainless steel: what spreads heat, and what bolts are made of
JOINED = 0.2  # W/(m K) from which a layer, as of paste, carries heat on to the next part
POOR = 30.0  # times: a bolt conducts better than what it crosses
SLIM = 3.0  # times: a bolt is longer than wide, and its slab larger than its round section
WHOLE = 0.98  # share of a source from which on it counts as all of it
SHORT = 0.01  # of the drawing's size: shorter edges are not worth a word
SHALLOW = 0.5  # times its width: a gap no deeper than that is a step in the outline
MOST_TOLD = 3  # parts with edges beside nothing


def doubtful_assumptions(section: Section, x: Array, y: Array) -> tuple[str, ...]:
    """A sentence for each assumption of the drawing that is likely not meant, with what to do instead. `x`, `y` (m) are
    grid lines through every straight edge."""
    drawing = Drawing(section, raster_of(section, x, y))
    checks = (heated_depth, bolts_as_slabs, sources_cut_short, edges_in_gaps, joints_apart, open_gaps)
    more = (tips_without_border, films_of_fins, covered_patches)
    return tuple(sentence for check in (*checks, *more) for sentence in check(drawing))


# ---- depth ----------------------------------------------------------------------------------------------------------


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


# ---- bolts ----------------------------------------------------------------------------------------------------------


def bolts_as_slabs(drawing: Drawing) -> Iterator[str]:
    """Narrow metal that crosses a poor conductor, in a plane section. Silent are bars that end in it, slabs not much
    larger than the round section, and polygons."""
    section, d = drawing.section, drawing.section.depth
    for number, part in enumerate(section.parts if section.view == "section" else ()):
        crossing: dict[int, list[float]] = {}
        metal = part.piece is None and part.material is not None and max(part.material.conductivity) >= METAL
        bars = [shape.bounds for shape in part.shapes if metal and isinstance(shape, Rectangle)]
        for bounds in _slim_in_poor(drawing, number, np.array(bars).reshape(-1, 4)).tolist():
            if (layer := _crossed(drawing, number, bounds)) != NOTHING:
                crossing.setdefault(layer, []).append(min(bounds[1] - bounds[0], bounds[3] - bounds[2]))
        for layer, widths in crossing.items():
            w, many = min(widths), f"{len(widths)} times " if len(widths) > 1 else ""
            yield (
                f"part {part.name!r}, {many}{drawing.length(w)} wide, crosses {drawing.names([layer])} as a slab "
                f"{drawing.length(d)} deep, which has {4 * d / (math.pi * w):.2g} times the metal of a round bolt of "
                "that width and leaks as much more; say round = true if it is round, or give the depth of one, and a "
                "count (or ask for a [bolt]: fdm start bolt_in_wall), unless this is a sheet or a rail that runs on "
                "along the depth"
            )


def _poor_beside(drawing: Drawing, number: int) -> Bools:
    """(P + 5,) by owner: solids that conduct far worse than part `number`."""
    k = drawing.conductivity.max(-1)
    return np.asarray(drawing.solid & (POOR * k <= k[number]))


def _slim_in_poor(drawing: Drawing, number: int, bounds: Array) -> Array:
    """Those of the bounds (K, 4) of bars of part `number` that are slim, and at the middle of their length have one and
    the same poor conductor on both sides."""
    x, y = bounds[:, :2], bounds[:, 2:]
    upright = np.ptp(y, axis=1) > np.ptp(x, axis=1)
    w, length = np.sort([np.ptp(x, axis=1), np.ptp(y, axis=1)], axis=0)
    across, middle = np.where(upright[:, None], x, y), np.where(upright[:, None], y, x).mean(1)
    near, r = 1e-6 * w, drawing.raster
    owners = []
    for place in (across[:, 0] - near, across[:, 0] - w, across[:, 1] + near, across[:, 1] + w):
        i, j = (
            np.searchsorted(r.x, np.where(upright, place, middle)),
            np.searchsorted(r.y, np.where(upright, middle, place)),
        )
        owners.append(drawing.owner[i, j])
    poor = _poor_beside(drawing, number)
    between = np.any([(a == b) & poor[a] for a in owners[:2] for b in owners[2:]], 0)
    return np.asarray(
        bounds[between & (length >= SLIM * w * (1 - 1e-9)) & (4 * drawing.section.depth >= SLIM * math.pi * w)]
    )


def _crossed(drawing: Drawing, number: int, bounds: Sequence[float]) -> int:
    """The poor conductor that a slim bar of part `number` crosses from side to side: it lies on both of its sides along
    half of its length; NOTHING where there is none."""
    x, y = bounds[:2], bounds[2:]
    upright = y[1] - y[0] > x[1] - x[0]
    owner, across, along = drawing.turned(upright)
    width, length = (x, y) if upright else (y, x)
    slack = 1e-9 * drawing.section.size
    # the first cell, and the first beyond, with the ring
    i, j = (np.searchsorted(lines, np.subtract(v, slack)) + 1 for lines, v in ((across, width), (along, length)))
    w = width[1] - width[0]
    far = np.searchsorted(across, (width[0] - w, width[1] + w))
    poor = _poor_beside(drawing, number)
    beside = owner[[i[0] - 1, far[0], i[1], far[1]], j[0] : j[1]]  # next to it, and a width away: beyond a clearance
    low, high = beside.reshape(2, 2, -1)
    same = np.stack([(a == b) & poor[a] for a in low for b in high])
    crosses = same.any(0) & (owner[(i[0] + i[1]) // 2, j[0] : j[1]] == number)
    sizes = np.diff(along)[j[0] - 1 : j[1] - 1]
    run = float(sizes[crosses].sum())
    ends = owner[(i[0] + i[1]) // 2, [j[0] - 1, j[1]]]
    carries = (drawing.solid & ~poor) | [air is not None for air in drawing.airs]
    loose = [crosses[at] and not carries[end] for end, at in zip(ends, (0, -1))]  # it ends in the layer, or at nothing
    if any(loose) or run < max(SLIM * w, 0.5 * (length[1] - length[0])) * (1 - 1e-6):
        return NOTHING
    met = poor[beside] & crosses
    return int(np.bincount(beside[met], np.broadcast_to(sizes, met.shape)[met]).argmax())  # the thickest, of several


# ---- sources --------------------------------------------------------------------------------------------------------


def sources_cut_short(drawing: Drawing) -> Iterator[str]:
    """Sources of which a part lies in air or void, or is covered by later parts."""
    for source in drawing.section.sources:
        if source.segment is not None:
            at, area = drawing.beside(source.segment)
            owners = drawing.turned(source.segment.vertical)[0][at]
            left = float(area[drawing.solid[owners].any(0)].sum() / max(area.sum(), 1e-300))
            if left < WHOLE:
                yield (
                    f"source {source.name!r}: only {left:.0%} of its segment lies on a solid, and all of it acts "
                    "there; shorten the segment, or draw the solid that it lies on later than what covers it"
                )
            continue
        own, r = drawing.uncovered(str(source.part)) & drawing.patch(source), drawing.raster
        size = np.outer(middles(r.x) if drawing.section.view == "axisymmetric" else np.ones(own.shape[0]), np.ones(1))
        size = size * np.outer(np.diff(r.x), np.diff(r.y))
        seen = own & (drawing.cells == drawing.number(str(source.part)))
        left = float(size[seen].sum() / max(size[own].sum(), 1e-300))
        if left < WHOLE:
            covering = np.unique(drawing.cells[own & ~seen])
            yield (
                f"source {source.name!r}: {drawing.names(covering)} covers part {source.part!r} but for {left:.0%}, "
                "and all of the source acts there; draw it later, or where it is free"
            )


# ---- edges without heat ---------------------------------------------------------------------------------------------


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
    for side, part, length, gap in _edges_beside(drawing, np.where(np.isin(gaps, list(across)), gaps, 0)):
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
    for side, part, length, _ in _edges_beside(drawing, airs):
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


def _edges_beside(drawing: Drawing, gaps: Integers) -> Iterator[tuple[str, int, float, int]]:
    """Side, part, length (m) and one of the gaps, of all edges of solids at gaps (n + 2, m + 2), numbered from 1."""
    for upright, sides, at in ((True, ("left", "right"), gaps), (False, ("bottom", "top"), gaps.T)):
        owner, _, along = drawing.turned(upright)
        for side, solid, gap in ((sides[0], owner[1:], at[:-1]), (sides[1], owner[:-1], at[1:])):
            i, j = np.nonzero((gap[:, 1:-1] > 0) & drawing.solid[solid[:, 1:-1]])
            parts, first, which = np.unique(solid[i, j + 1], return_index=True, return_inverse=True)
            lengths = np.bincount(which.ravel(), np.diff(along)[j], len(parts))
            yield from zip([side] * len(parts), parts.tolist(), lengths.tolist(), gap[i, j + 1][first].tolist())


def tips_without_border(drawing: Drawing) -> Iterator[str]:
    """Two or more solid stretches of a side without a border, each between stretches of the same air: tips of fins. One
    alone may be cut in its plane of symmetry."""
    section, airs, solid = drawing.section, drawing.airs, drawing.solid
    for side in SIDES:
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


# ---- films ----------------------------------------------------------------------------------------------------------


def films_of_fins(drawing: Drawing) -> Iterator[str]:
    """Films on the walls of fins where no fins are drawn, and films with fins in them where fins are drawn as well."""
    section = drawing.section
    x0, x1, y0, y1 = section.extent
    seen_face_on = {name for part in section.parts for name in (part.front, part.back)}
    for e in section.environments:
        if e.film_from is None or any(f.environment == e.name for f in section.fins):
            continue
        of_it = np.array([air == e.name for air in drawing.airs])[drawing.owner].astype(np.intp)
        edges = list(_edges_beside(drawing, of_it))
        flat = len({side for side, *_ in edges}) == 1 or e.name in seen_face_on
        if e.film_from.of == WALLS and flat:
            yield (
                f"environment {e.name!r}: its film is that on the walls of fins, and none are drawn; give the fins' "
                "conductivity in it, and it is that of their base"
            )
        if e.film_from.of == BASE and sum(length for _, _, length, _ in edges) > 2 * (x1 - x0 + y1 - y0):
            yield (
                f"environment {e.name!r}: its film has fins in it already, and it touches drawn ones; leave the fins' "
                "conductivity out of it"
            )


# ---- spreading ------------------------------------------------------------------------------------------------------


def covered_patches(drawing: Drawing) -> Iterator[str]:
    """Plates of [[spreading]] on whose heated patch a part lies that is not in their list."""
    section = drawing.section
    for plate in section.spreading:
        own = drawing.uncovered(*plate.parts)
        listed = [k for k, p in enumerate(section.parts) if {p.name, p.piece and p.piece.beneath} & {*plate.parts}]
        for source in section.heat_sources:
            patch = drawing.warmed(source) & own
            covering = [k for k in np.unique(drawing.cells[patch]).tolist() if k not in listed]
            if covering and np.isin(drawing.cells, listed).any():
                names = ", ".join(f'"{n}"' for n in (*plate.parts, *(section.parts[k].name for k in covering)))
                yield (
                    f"spreading of {plate.name!r}: {drawing.names(covering)}, where {source.name!r} heats it, is laid "
                    f"over it and not in its list, so the plate has a hole there; give part = [{names}]"
                )
