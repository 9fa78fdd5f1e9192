"""The other bound of a section with parts that are less deep than the drawing: no heat passes along the depth.

`fdm.section.depths` has both bounds. A section is solved as `mixed`; here its slices, solved one by one, are put side
by side. What is given is alike in all of them: temperatures, and watts per metre of depth. So flows, losses and
couplings add up, and temperatures are means over the depth.
"""

from collections.abc import Sequence

import numpy as np

from fdm.answers.quantity import Answers, Quantity
from fdm.section.model import Section

TOLD = 0.1  # of an answer: a difference between the bounds that is worth a sentence


def side_by_side(asked: Sequence[Quantity], slices: Sequence[tuple[float, Answers]]) -> Answers:
    """Those of the `asked` answers that are linear in the fields, of slices with their shares of the depth."""
    quantities, value, band = [], [], []
    known = [(share, dict(zip((q.path for q in a.quantities), zip(a.value, a.band)))) for share, a in slices]
    for q in asked:
        there = [(share, *answers[q.path]) for share, answers in known if q.path in answers]
        if not there or q.peak or q.path[0] == "surface":
            continue
        # a bridge that is not there leaks nothing; a sensor is read where it is
        whole = 1.0 if q.path[0] == "bridge" else sum(share for share, *_ in there)
        quantities.append(q)
        value.append(sum(share * v for share, v, _ in there) / whole)
        band.append(sum(share * b for share, _, b in there) / whole)
    return Answers(tuple(quantities), np.array(value, float), np.array(band, float))


def between_bounds(section: Section, mixed: Answers, slices: Answers) -> tuple[str, ...]:
    """A sentence where the two bounds of what a builder asks are far apart."""
    worst, told = TOLD, ""
    coupled = max((abs(v) for q, v, _ in mixed if q.family == "coupling"), default=0.0)
    for q, value, _ in slices:
        first = mixed.at(q.path)[0]
        size = max(abs(first), abs(value), 1e-300)
        if q.family == "coupling" and not section.bridges and not q.role:
            size = max(size, coupled)
        elif q.family != "bridge" and not (q.family == "resistance" and q.path[2] == q.path[3]):
            continue
        if abs(first - value) > worst * size:
            worst = abs(first - value) / size
            told = f"the {q.words} is {first:.3g} {q.unit} then, and {value:.3g} if none did"
    return (f"{_taken(section)}: {told}; the truth lies between, {_NEARER}",) if told else ()


_NEARER = (
    "close to the first where metal as deep as the drawing joins both of their ends; for a round bolt through layers, "
    "a [bolt] in place of the drawing gives it (fdm start bolt_in_wall)"
)


def without_slices(section: Section, fault: str) -> str:
    """The sentence where the slices cannot be solved."""
    return f"{_taken(section)}; what comes of it if none did cannot be told, as, in some slice of the depth, {fault}"


def _taken(section: Section) -> str:
    names = dict.fromkeys(p.piece.of.name for p in section.parts if p.piece is not None)
    less = f"{', '.join(map(repr, names))} {'is' if len(names) == 1 else 'are'} less deep than the drawing"
    return f"{less}, and heat is taken to pass freely along the depth"
