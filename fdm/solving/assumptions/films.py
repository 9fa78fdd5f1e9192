"""Films that stand for fins, or belong between them, where fins are not drawn as they mean."""

from collections.abc import Iterator

import numpy as np

from fdm.errors import InputError
from fdm.section.model import Fins, Section
from fdm.section.rules import fin_array
from fdm.solving.cells import Drawing
from fdm.surroundings.film import FACE
from fdm.surroundings.finned import BASE, WALLS


def _stand_close(fins: Fins, section: Section) -> bool:
    try:
        return fin_array(fins, section.part_named).gap < fins.height
    except InputError:  # a single fin
        return False


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
