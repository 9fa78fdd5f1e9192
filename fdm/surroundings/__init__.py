"""Air, films, fans, fins and radiation: numbers in, coefficients out. No grids.

A *film* h (W/(m2 K)) stands for all that carries heat from a surface to the air around it, and to what it sees there:

    q = h (T_surface - T_air),    h = Nu k / L + h_r

The air's part is Nu k / L: its conductivity k, a length L of the surface, and a Nusselt number Nu. A relation gives Nu
from how strongly the air moves; a Reynolds number says so where a fan drives it, a Rayleigh number where only the
surface's own warmth does. h_r is radiation. Relations were measured or computed by others. Each has a range, and errs
by some 10 % inside of it.

A fan and the fins before it settle where the pressure that the fan gives is the one that the fins ask for:

    Pa │╲__          ╱         fan: pressure falls with flow
       │   ╲__     ╱           fins: pressure rises with flow
       │      ╲__╱  <- here
       └──────────────── m3/h

A builder's question is a dataclass, `film_of` answers it:

>>> sink = fins_across(width=0.1, length=0.1, height=0.03, thickness=0.001, count=25)  # m
>>> fan = fan_of_points(((0, 55), (75, 0)))  # m3/h, Pa
>>> found = film_of(Channels(sink, fan=fan, conductivity=200), Conditions(temperature=25))
>>> round(found.film), round(found.uncertainty * found.film), found.of  # W/(m2 K)
(482, 27, 'the base below the fins, fins included')
>>> [f"{n.value:.3g} {n.unit}" for n in found.numbers if n.key in ("volume_flow", "pressure_drop", "resistance")]
['39.9 m3/h', '25.4 Pa', '0.208 K/W']
>>> found.notes
("a straight line between free flow and shut-off pressure stands for the fan's curve",)

Files, relations first, as plain functions of numbers or arrays: `air` has the properties of air, `natural`, `gaps` and
`circulation` what moves by its own warmth, `forced` and `channels` what is driven, `fans` curves, `fins` how much of a
fin counts, `stems` what leads do to a sensor, `radiation` and `surfaces` the rest. Then questions as a builder asks
them: `still`, `driven`, `rooms`, each answered by a `film.Film` (`finned` has what fins have in common). `questions`
answers any of them.
"""

from fdm.surroundings.air import Air, air_at
from fdm.surroundings.driven import AlongPlate, Channels, Impinging
from fdm.surroundings.fans import Fan, at_speed, fan_of_points
from fdm.surroundings.film import Conditions, Film, Number
from fdm.surroundings.fins import FinArray, fins_across
from fdm.surroundings.questions import Curve, Question, curve_of, film_of
from fdm.surroundings.rooms import Indoors, Outdoors
from fdm.surroundings.still import Gap, StillFace, StillFins

__all__ = [
    "Air",
    "AlongPlate",
    "Channels",
    "Conditions",
    "Curve",
    "Fan",
    "Film",
    "FinArray",
    "Gap",
    "Impinging",
    "Indoors",
    "Number",
    "Outdoors",
    "Question",
    "StillFace",
    "StillFins",
    "air_at",
    "at_speed",
    "curve_of",
    "fan_of_points",
    "film_of",
    "fins_across",
]
