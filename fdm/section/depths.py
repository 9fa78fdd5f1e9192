"""Parts that are less deep than the drawing, such as bolts, pins and blocks, in the section view.

A part of `depth` d, `count` n times one behind the other, fills the share f = n d / depth of the drawing's depth. Two
plane sections bound what it does:

    mixed        heat passes freely along the depth: where the part lies, the section conducts
                 f k_part + (1 - f) k_beneath                                         conducts too well
    in slices    no heat passes along the depth: sections with the part and without it, side by side,
                 each weighing as its depth does                                      conducts too badly

The truth lies between. Where metal as deep as the drawing joins the part's ends, such as plates or sheets that a bolt
clamps, it lies close to the first (DEVELOPERS.md has figures). So a section is solved as `mixed`, and `slices` are the
other bound. Where several parts of different depths overlap, the less deep one is taken to lie within the deeper one,
as a bolt does in its sleeve: all are taken to begin at one plane.
"""

from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fdm.errors import InputError
from fdm.section.model import Bounds, Bridge, Material, Part, Piece, Section
from fdm.section.shapes import SAME

Array = NDArray[np.float64]

FINE = 8  # samples between two neighbouring edges, along x and along y: round and slanted edges are seen by them


def mixed(section: Section) -> Section:
    """The section with each part that is less deep than the drawing as pieces, one for each part that it lies on, of
    what both conduct side by side. A piece has the part's name where it is the only one, else `PART in OTHER`.

    Raises InputError where such a part does not lie in solids or voids alone, or has a source, a joint, or a sensor
    that cannot be told where it is.
    """
    if all(p.depth is None for p in section.parts):
        return section
    _refuse_unclear(section)
    found: dict[str, list[Part]] = {}  # the pieces of each part
    laid: list[Part] = []
    for part in section.parts:
        found[part.name] = [part] if part.depth is None else _pieces(section, part, laid)
        laid += found[part.name]
    names = {name: [p.name for p in pieces] for name, pieces in found.items()}
    for s in section.sensors:
        if s.part is not None and len(names[s.part]) != 1:
            raise InputError(
                f"sensor {s.name!r}, part: {s.part!r} lies in several parts ({', '.join(names[s.part])}); give a place "
                "(at) instead"
            )
    sensors = tuple(replace(s, part=names[s.part][0]) if s.part is not None else s for s in section.sensors)
    bridges = tuple(replace(b, remove=tuple(n for name in b.remove for n in names[name])) for b in section.bridges)
    return replace(section, parts=tuple(laid), sensors=sensors, bridges=bridges)


def slices(section: Section) -> tuple[tuple[float, Section], ...]:
    """The other bound of a `mixed` section: shares of the depth, and the plane section that lies there, with those
    parts that are so deep. Questions about parts that are not there are left out."""
    shares = {p.piece.of.name: _share(section, p.piece.of) for p in section.parts if p.piece is not None}
    starts = [0.0, *sorted(set(shares.values()))]
    ends = [*starts[1:], 1.0]
    return tuple((b - a, _slice(section, a, shares)) for a, b in zip(starts, ends) if b - a > SAME)


def _slice(section: Section, at: float, shares: dict[str, float]) -> Section:
    """The plane section at the share `at` of the depth."""
    parts: dict[str, Part] = {}
    for p in section.parts:
        if p.piece is None:
            parts[p.name] = p
        elif shares[p.piece.of.name] > at:
            parts[p.piece.of.name] = replace(p.piece.of, depth=None, count=1)
    name_of = {p.name: p.piece.of.name if p.piece is not None else p.name for p in section.parts}
    bridges = []
    for b in section.bridges:
        if remove := tuple(dict.fromkeys(name_of[n] for n in b.remove if name_of[n] in parts)):
            bridges.append(Bridge(remove, b.between, b.name))
    sensors = [replace(s, part=name_of[s.part]) if s.part is not None else s for s in section.sensors]
    return replace(
        section,
        parts=tuple(parts.values()),
        bridges=tuple(bridges),
        sensors=tuple(s for s in sensors if s.part is None or s.part in parts),
    )


def _refuse_unclear(section: Section) -> None:
    """Raise InputError where a source, a joint or a spreading plate is such a part."""
    shallow = {p.name for p in section.parts if p.depth is not None}
    for s in section.sources:
        if s.part in shallow:
            raise InputError(
                f"source {s.name!r}, part: {s.part!r} has a depth of its own, but heat enters all along the drawing's "
                "depth; let another part carry the source"
            )
    for j in section.joints:
        if found := shallow.intersection(j.between):
            raise InputError(
                f"{j.where}: {min(found)!r} has a depth of its own; draw the joint as a thin part of that depth"
            )
    for sp in section.spreading:
        if found := shallow.intersection(sp.parts):
            raise InputError(
                f"spreading of {sp.name!r}, part: {min(found)!r} has a depth of its own; name a plate that is as "
                "deep as the drawing"
            )


def _share(section: Section, part: Part) -> float:
    """Of the drawing's depth, what a part fills."""
    return 1.0 if part.depth is None else min(part.count * part.depth / section.depth, 1.0)


def _pieces(section: Section, part: Part, laid: Sequence[Part]) -> list[Part]:
    """The pieces of a part on those that are `laid` already: where it is drawn, and where it lies without the parts
    that a bridge removes."""
    x, y = _samples(part, laid)
    below: dict[int, None] = {}
    for without in ((), *(b.remove for b in section.bridges if part.name not in b.remove)):
        below |= dict.fromkeys(np.unique(_owners(laid, x, y, without)).tolist())
    held = {s.part for s in section.held_sources}
    pieces = []
    for k in below:
        if k < 0 or laid[k].environment is not None or laid[k].name in held:
            what = "where nothing is drawn" if k < 0 else f"in {laid[k].name!r}"
            raise InputError(
                f"part {part.name!r}, depth: some of it lies {what}, but a part that is less deep than the drawing "
                "must lie in solids: what passes at its sides along the depth is not drawn; end it at their surface"
            )
        name = part.name if len(below) == 1 else f"{part.name} in {laid[k].name}"
        pieces.append(_piece(part, name, laid[k], _share(section, part)))
    return pieces


def _piece(part: Part, name: str, below: Part, share: float) -> Part:
    """The piece of a part that fills a share of the depth, on the part below."""
    assert part.material is not None
    layers: list[tuple[float, Material | None]] = [(share, part.material)]
    start = 0.0
    for size, fills in below.layers:
        if (left := start + size - max(start, share)) > SAME:
            layers.append((left, fills))
        start += size
    material = part.material if len(layers) == 1 else mixture(layers)
    return Part(name, part.shapes, material, piece=Piece(part, below.name, tuple(layers)))


def mixture(layers: Sequence[tuple[float, Material | None]]) -> Material:
    """One material that conducts, and stores heat, as the layers do side by side."""
    solid = [(share, m) for share, m in layers if m is not None]
    along_x, along_y = (sum(share * m.conductivity[axis] for share, m in solid) for axis in (0, 1))
    shares = ", ".join(f"{100 * share:.4g} % {'void' if m is None else m.name}" for share, m in layers)
    known = all(m.density is not None and m.specific_heat is not None for _, m in solid)
    density = sum(share * (m.density or 0.0) for share, m in solid)
    stored = sum(share * (m.density or 0.0) * (m.specific_heat or 0.0) for share, m in solid)
    return Material(
        shares, (along_x, along_y), density if known else None, stored / density if known else None, "mixed by area"
    )


def _samples(part: Part, laid: Sequence[Part]) -> tuple[Array, Array]:
    """(K,) x and y, m, of points in the part: some in each field between the edges of all that is laid below it."""
    bounds = np.array([s.bounds for p in laid for s in p.shapes]).reshape(-1, 4)
    found = []
    for shape in part.shapes:
        low_x, high_x, low_y, high_y = shape.bounds
        x, y = _between(bounds[:, :2], low_x, high_x), _between(bounds[:, 2:], low_y, high_y)
        inside = shape.contains(x[:, None], y[None])
        i, j = np.nonzero(np.broadcast_to(inside, (len(x), len(y))))
        found.append((x[i], y[j]))
    x, y = (np.concatenate(v) for v in zip(*found))
    return x, y


def _between(places: Array, low: float, high: float) -> Array:
    """Samples between neighbouring places, from low to high."""
    at = np.unique([low, *places[(places > low) & (places < high)], high])
    at = at[np.append(True, np.diff(at) > SAME * (high - low))]
    t = (np.arange(FINE) + 0.5) / FINE
    return np.asarray((at[:-1, None] + np.diff(at)[:, None] * t).ravel())


def _owners(parts: Sequence[Part], x: Array, y: Array, without: Collection[str]) -> NDArray[np.intp]:
    """(K,) the number of the part laid last at each point, -1 where there is none."""
    owner = np.full(x.shape, -1)
    number = {p.name: k for k, p in enumerate(parts)}
    low, high, bottom, top = x.min(initial=0.0), x.max(initial=0.0), y.min(initial=0.0), y.max(initial=0.0)
    for k, part in enumerate(parts):
        if part.name in without or (part.piece is not None and part.piece.of.name in without):
            continue
        below = None if part.piece is None else number[part.piece.beneath]
        for shape in part.shapes:
            if _apart(shape.bounds, (low, high, bottom, top)):
                continue
            inside = shape.contains(x, y)
            owner[inside if below is None else inside & (owner == below)] = k
    return owner


def _apart(a: Bounds, b: Bounds) -> bool:
    return a[0] > b[1] or b[0] > a[1] or a[2] > b[3] or b[2] > a[3]
