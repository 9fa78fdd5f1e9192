"""Films that stand for fins, or belong between them, where fins are not drawn as they mean."""

from collections.abc import Iterator

import numpy as np

from fdm.conduction.arrays import Bools
from fdm.errors import InputError
from fdm.section.model import FACES, Fins, Section
from fdm.section.rules import fin_array, fin_pitch
from fdm.solving.cells import Drawing
from fdm.surroundings.film import FACE
from fdm.surroundings.finned import BASE, WALLS

BARE = 0.05  # of all that is wetted, bare faces with the film of fins: where theirs is half as much, 2.5 % of the heat


def films_of_fins(drawing: Drawing) -> Iterator[str]:
    """Films on the walls of fins where no fins are drawn, films with fins in them where fins are drawn as well, and
    films of bare faces between fins that stand close."""
    section = drawing.section
    x0, x1, y0, y1 = section.extent
    seen_face_on = {name for part in section.parts for name in (part.front, part.back)}
    for e in section.environments:
        if e.film_from is None:
            continue
        if between := next((f for f in section.fins if f.environment == e.name), None):
            if e.film_from.of == FACE and _stand_close(between, section):
                yield (
                    f"environment {e.name!r}: its film is that of a bare face, but {between.name!r} stand in it, "
                    'closer than they are high; give flow = "channels", "impinging" or "still", without sizes of a face'
                )
            continue
        of_it = np.array([air == e.name for air in drawing.airs])[drawing.owner].astype(np.intp)
        edges = list(drawing.edges_beside(of_it))
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


def _stand_close(fins: Fins, section: Section) -> bool:
    try:
        return fin_array(fins, section.part_named).gap < fins.height
    except InputError:  # a single fin
        return False


def bare_faces_beside_fins(drawing: Drawing) -> Iterator[str]:
    """Faces of plates without fins that lie in the air of fins, and have the film which was made for these."""
    section, area = drawing.section, drawing.raster.area
    for e in section.environments:
        fins = [f for f in section.fins if f.environment == e.name]
        if e.film_from is None or e.film_from.of == FACE or not fins:
            continue
        ratios = [1 + 2 * f.height / fin_pitch(f, section.part_named) for f in fins]
        wetted = sum(ratio * area[_under(drawing, f)].sum() for ratio, f in zip(ratios, fins))
        bare = {(part, face): area[on].sum() for part, face, on in _bare_faces(drawing, e.name)}
        if (whole := sum(bare.values())) > BARE * (wetted + whole):
            part, face = max(bare, key=lambda at: bare[at])
            yield (
                f"environment {e.name!r}: its film is that of the air between {fins[0].name!r}, and faces without fins "
                f"have it, too: {whole / (wetted + whole):.0%} of all that it touches, the most of it the {face} of "
                f"{part!r}; give them an environment of their own as their {face}, of the same temperature, with the "
                "film of a bare face"
            )


def _bare_faces(drawing: Drawing, environment: str) -> Iterator[tuple[str, str, Bools]]:
    """Each part's faces in an environment: the part's name, the face, and (n, m) cells where nothing else lies on
    it."""
    section = drawing.section
    for face in FACES:
        taken = np.zeros(drawing.cells.shape, bool)
        for fins in (f for f in section.fins if f.face == face):
            taken |= _under(drawing, fins)
        for source in (s for s in section.heat_sources if s.face == face):
            taken |= drawing.warmed(source)
        for number, part in enumerate(section.parts):
            if getattr(part, face) == environment:
                yield part.name, face, (drawing.cells == number) & ~taken


def _under(drawing: Drawing, fins: Fins) -> Bools:
    """(n, m) the cells that fins stand on."""
    return np.isin(drawing.cells, [drawing.number(part) for part in fins.parts]) & drawing.within(fins.rectangle)
