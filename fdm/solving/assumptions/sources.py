"""Sources of which a part lies where it cannot act; plates of [[spreading]] with a hole where they are heated."""

from collections.abc import Iterator

import numpy as np

from fdm.grid.raster import middles
from fdm.solving.cells import Drawing

WHOLE = 0.98  # share of a source from which on it counts as all of it


def sources_cut_short(drawing: Drawing) -> Iterator[str]:
    """Sources of which a part lies in air or void, or heat in parts that later ones cover."""
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
        if source.heat is None:  # what is seen of a part may be held
            continue
        own, r = drawing.uncovered(str(source.part)) & drawing.within(source.rectangle), drawing.raster
        size = np.outer(middles(r.x) if drawing.section.view == "axisymmetric" else np.ones(own.shape[0]), np.ones(1))
        size = size * r.area
        seen = own & (drawing.cells == drawing.number(str(source.part)))
        left = float(size[seen].sum() / max(size[own].sum(), 1e-300))
        if left < WHOLE:
            covering = np.unique(drawing.cells[own & ~seen])
            yield (
                f"source {source.name!r}: {drawing.names(covering)} covers part {source.part!r} but for {left:.0%}, "
                "and all of the source acts there; draw it later, or where it is free"
            )


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
