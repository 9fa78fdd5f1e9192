"""Leads, tubes and screws that bring heat to a sensor, and the watts that a sensor gives off itself.

    other air |  wall   |  the sensor's own surroundings, at T
    == stem ==|=through=|======== length L ========( bead )
        T_to  |         |                            watts P

A stem is a fin: m = sqrt(u / (k A)), with the conductance u (W/(m K)) to what lies along it and the k A (W m/K) of all
its leads. A bead at its end feels it as two conductances, to where it comes from and to what lies along it:

    to_end = k A m / sinh(m L),    around = k A m tanh(m L / 2)

What of it lies within a wall is a bar in series, whose sides give and take nothing.

The bead touches its surroundings by a conductance G (W/K) of its own. So it reads

    T + share (T_to - T) + resistance P,    share = to_end / (G + around + to_end),    resistance = 1 / (G + ..)

With G = 0 this is the error of immersion of a stem with an adiabatic tip, share = 1 / cosh(m L); with G = h A that of a
tip with a film. Fin theory is that of any textbook; one dimension, so the stem is thin beside its length.

Left out: heat along the insulation; that what lies along the stem may be at other temperatures than the sensor's place,
and is itself warmed by the stem; and that the stem is not quite at T_to where it enters the wall, so that the share is
an upper bound. Beside rods that are drawn whole, the fin is within 0.1 %, and the wall makes the share 4 to 17 % too
large (50 mm of foam, rods of 17 to 200 W/(m K)).
"""

import math
from dataclasses import dataclass

import numpy as np

from fdm.surroundings.air import air_at, rayleigh
from fdm.surroundings.natural import horizontal_cylinder, sphere
from fdm.surroundings.radiation import radiative_film

INSULATION = 0.17  # W/(m K), PVC and other plastics of leads; common practice, no source
STILL, DIFFERENCE = 20.0, 5.0  # degC, K: of the air and of its difference to leads and beads, where films are not given
DULL = 0.9  # emissivity of plastics and lacquer; bare metal hardly radiates
STILL_SPREAD = 0.2  # relative standard uncertainty of such a film: wires hang in draughts, or lie along something


@dataclass(frozen=True)
class Pull:
    """What a stem and its own watts do to a bead: it is pulled by `share` of the difference to where the stem comes
    from, and warmed by `resistance` (K/W)."""

    share: float
    resistance: float


def pull(bead: float, to_end: float, around: float) -> Pull:
    """Of a bead's own conductance to what it touches, and the two of its stem (W/K).

    The thermistor of 0.271 mW/K on two copper leads of 0.2 mm, 50 mm of them in air:

    >>> round(20 * pull(2.71434e-4, *stem_conductances(2 * 1.22522e-5, 2 * 1.22522e-5 * 76.4309**2, 0.05)).share, 3)
    0.765
    """
    whole = bead + to_end + around
    return Pull(to_end / whole, 1 / whole)


def stem_conductances(conduction: float, along: float, length: float, through: float = 0.0) -> tuple[float, float]:
    """W/K to the end of a stem and to what lies along it, of `conduction` k A (W m/K), the conductance `along` it
    (W/(m K)) and its length (m); both for all its leads together. `through` (m) is what lies within a wall before it.

    >>> [round(1e3 * g, 5) for g in stem_conductances(2.45e-5, 0.143, 0.05)]  # mW/K
    [0.08213, 1.79143]
    >>> [round(1e3 * g, 5) for g in stem_conductances(2.45e-5, 0.143, 0.05, through=0.05)]
    [0.01703, 1.85368]
    """
    ml = math.sqrt(along / conduction) * length
    plain = conduction / length
    decay = 2 * ml * math.exp(-ml) / -math.expm1(-2 * ml) if ml else 1.0  # m L / sinh(m L)
    to_end, around = plain * decay, plain * ml * math.tanh(ml / 2)
    into_wall = to_end + around  # of what comes through the wall and leaves it again, over what that conducts
    passed = 1 / (1 + into_wall * through / conduction)
    return to_end * passed, around + to_end * (1 - passed) * around / into_wall


def along_in_air(film: float, diameter: float, insulation: float = 0.0) -> float:
    """W/(m K) from one lead to air, of a film on its outside (W/(m2 K)), or of the contact to a solid that the film
    stands for; `insulation` is its thickness (m), of plastic.

    >>> round(along_in_air(25.53, 0.2e-3, 0.4e-3), 5)
    0.07156
    """
    outside = diameter + 2 * insulation
    return 1 / (1 / (film * math.pi * outside) + _through(insulation, diameter)) if film else 0.0


def along_in_solid(conductivity: float, length: float, diameter: float, insulation: float = 0.0) -> float:
    """W/(m K) from one lead to a solid all around it: 2 pi k / ln(2 L / D), that of a slender spheroid of the same
    length (textbooks of electrostatics have it as a capacity), with plastic insulation in series.

    Beside rods that are drawn in foam, shares of more than a third are within 4 %; smaller ones are up to a quarter too
    small, as the solid near the wall is warmed.

    >>> round(along_in_solid(0.034, 0.05, 1e-3), 4)
    0.0464
    """
    outside = diameter + 2 * insulation
    return 1 / (math.log(2 * length / outside) / (2 * math.pi * conductivity) + _through(insulation, diameter))


def _through(insulation: float, diameter: float) -> float:
    """m K/W of a lead's insulation."""
    return math.log1p(2 * insulation / diameter) / (2 * math.pi * INSULATION)


def bead_in_air(film: float, diameter: float) -> float:
    """W/K of a sphere with a film (W/(m2 K)).

    >>> round(1e3 * bead_in_air(15, 2.4e-3), 4)  # mW/K
    0.2714
    """
    return film * math.pi * diameter**2


def bead_in_solid(conductivity: float, diameter: float, share: float = 1.0) -> float:
    """W/K of a sphere of radius r within a solid, 4 pi k r; of one that is sunk half into its surface (`share` 0.5),
    2 pi k r. It is what heat has to pass to spread from so small a body into all that is around it (any textbook). It
    is larger by 1 / (1 - r / (2 z)) where metal, or a good film, lies near, at a distance z from the middle.

    >>> round(1e3 * bead_in_solid(0.034, 2.4e-3), 4)  # mW/K
    0.5127
    """
    return share * 2 * math.pi * conductivity * diameter


def still_lead_film(diameter: float, dull: bool) -> float:
    """W/(m2 K) on a level lead in still air, of its outside diameter (m): Churchill and Chu 1975 with 5 K between both
    at 20 degC, and with radiation where it is `dull`, as insulation is. It hardly depends on these: 20 K make it
    10 to 20 % more, 1 K 6 to 15 % less, and -20 degC 8 % less.

    >>> [round(still_lead_film(d, dull=False)) for d in (1e-4, 2e-4, 3e-4, 5e-4)], round(still_lead_film(1e-3, True), 2)
    ([124, 69, 50, 33], 25.54)
    """
    air = air_at(STILL)
    nusselt = horizontal_cylinder(rayleigh(air, DIFFERENCE, diameter), air.prandtl)
    return float(nusselt * air.conductivity / diameter) + (_radiation() if dull else 0.0)


def still_bead_film(diameter: float) -> float:
    """W/(m2 K) on a dull sphere in still air, of its diameter (m): Churchill 1983 as in `still_lead_film`, and
    radiation.

    >>> round(still_bead_film(2.4e-3), 1)
    34.7
    """
    air = air_at(STILL)
    nusselt = sphere(rayleigh(air, DIFFERENCE, diameter), air.prandtl)
    return float(nusselt * air.conductivity / diameter) + _radiation()


def _radiation() -> float:
    return float(np.asarray(radiative_film(DULL, STILL, STILL)))
