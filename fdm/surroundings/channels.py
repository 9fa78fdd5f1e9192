"""Air driven through the channels between fins: friction, pressure drop, heat transfer; how much of a stream enters.

    U mean speed in the channels, D = 2 b H / (b + H) hydraulic diameter of gap b and height H, L length, Re = U D / nu
    L+ = L / (D Re), f friction factor (Fanning), s share of the front that is open

Laminar and still developing, as it is in nearly all sinks. Above Re = 2300 turbulence takes over until 3000, and the
larger of both values counts. Properties are those of the air that enters. Numbers and arrays broadcast.
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq

from fdm.surroundings.air import Air, Array
from fdm.surroundings.fins import FinArray

LAMINAR, TURBULENT = 2300.0, 3000.0  # Re
BYPASS_LOSS = 0.2  # of entry into the space above fins, in units of rho V^2 / 2 (common practice, no source)
BEND_LOSS = 1.1  # of a stream that turns by 90 degrees onto fins (from memory)


def developed_friction(aspect: ArrayLike) -> Array:
    """f Re of developed laminar flow in a rectangle of this aspect ratio, 0 to 1 (Shah and London 1978); 0.05 %.

    >>> developed_friction([0.05, 0.5]).round(3)
    array([22.485, 15.557])
    """
    e = np.asarray(aspect, float)
    return np.asarray(24 * (1 + e * (-1.3553 + e * (1.9467 + e * (-1.7012 + e * (0.9564 - 0.2537 * e))))))


def apparent_friction(reynolds: ArrayLike, length: ArrayLike, diameter: ArrayLike, aspect: ArrayLike) -> Array:
    """f with what developing costs, over a channel of that length (m): f Re = sqrt((3.44 / sqrt(L+))^2 + (f Re)_d^2).

    The form of Muzychka and Yovanovich (from memory); 1 to 5 % above a numerical solution between plates. Turbulent:
    (0.79 ln Re - 1.64)^-2 / 4 (Petukhov).

    >>> float(apparent_friction(1830.3, 0.1, 0.0056604, 0.10417).round(6))
    0.022328
    """
    re = np.asarray(reynolds, float)
    developing = 3.44 * np.sqrt(np.asarray(diameter, float) * re / length)
    laminar = np.hypot(developing, developed_friction(aspect)) / re
    return _with_turbulence(re, laminar, petukhov(re) / 4)


def petukhov(reynolds: ArrayLike) -> Array:
    """The friction factor of Darcy, four times Fanning's, of turbulent flow in smooth ducts; 3000 < Re < 5e6; 5 %
    (from memory).

    >>> float(petukhov(1e4).round(5))
    0.03148
    """
    re = np.maximum(np.asarray(reynolds, float), LAMINAR)
    return np.asarray((0.79 * np.log(re) - 1.64) ** -2)


def _with_turbulence(reynolds: Array, laminar: Array, turbulent: Array) -> Array:
    share = np.clip((reynolds - LAMINAR) / (TURBULENT - LAMINAR), 0, 1)
    return np.asarray(laminar + share * np.maximum(turbulent - laminar, 0))


def reynolds(air: Air, speed: ArrayLike, diameter: ArrayLike) -> Array:
    """Re of a mean speed (m/s) in a channel of a hydraulic diameter (m)."""
    return np.asarray(np.asarray(speed, float) * diameter / air.kinematic_viscosity)


def pressure_drop(air: Air, fins: FinArray, speed: ArrayLike, entrance: float | None = None) -> Array:
    """Pa, from before the fins to behind them, at a speed (m/s) between them:

    [0.42 (1 - s) + 4 f L / D + (1 - s)^2] rho U^2 / 2, entrance, friction, exit (Borda and Carnot). Another form, with
    s^2 for s, is found in many places; it takes a ratio of diameters for one of areas. `entrance` replaces the loss at
    the entrance. Some 10 % in all.

    >>> from fdm.surroundings.air import air_at
    >>> from fdm.surroundings.fins import fins_across
    >>> fins = fins_across(0.1, 0.1, 0.03, 0.001, count=25)
    >>> float(pressure_drop(air_at(25), fins, 5.0381).round(2))
    26.22
    """
    u, d = np.asarray(speed, float), fins.hydraulic_diameter
    blocked = 1 - fins.open_share
    re = np.maximum(reynolds(air, u, d), 1e-12)  # 0 at no flow, where the drop is 0 all the same
    friction = 4 * apparent_friction(re, fins.length, d, fins.aspect) * fins.length / d
    losses = (0.42 * blocked if entrance is None else entrance) + friction + blocked**2
    return np.asarray(losses * air.density * u**2 / 2)


def nusselt_developing(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Between parallel fins of one temperature: Nu = h b / k, h on the difference between wall and *entering* air, so
    that the air's own warming is counted; over Re* = (U b / nu) (b / L).

    Nu = ([Re* Pr / 2]^-3 + [0.664 sqrt(Re*) Pr^(1/3) sqrt(1 + 3.65 / sqrt(Re*))]^-3)^(-1/3)

    Teertstra, Yovanovich and Culham, J. Electronics Manufacturing 10 (2000) 253, formula from memory; 0.1 < Re* < 100,
    2.1 % from their own data, within 3 % of a numerical solution. Slower, air leaves as warm as the walls.

    >>> nusselt_developing([0.1, 10, 31.577], 0.71).round(4)
    array([0.0355, 2.421 , 4.1989])
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    saturated = re * pr / 2
    developing = 0.664 * np.sqrt(re) * np.cbrt(pr) * np.sqrt(1 + 3.65 / np.sqrt(re))
    return np.asarray((saturated**-3 + developing**-3) ** (-1 / 3))


def nusselt_turbulent(reynolds: ArrayLike, prandtl: ArrayLike) -> Array:
    """Gnielinski (1976): Nu = h D / k of turbulent flow in ducts, on the local mean temperature of the air;
    3000 < Re < 5e6; 10 %.

    >>> nusselt_turbulent([3e3, 1e4], 0.707).round(3)
    array([10.038, 29.965])
    """
    re, pr = np.asarray(reynolds, float), np.asarray(prandtl, float)
    f = petukhov(re) / 8
    return np.asarray(f * (re - 1000) * pr / (1 + 12.7 * np.sqrt(f) * (np.cbrt(pr) ** 2 - 1)))


def channel_film(air: Air, fins: FinArray, speed: ArrayLike) -> Array:
    """h, W/(m2 K), of the walls of the channels on their difference to the air that enters.

    >>> from fdm.surroundings.air import air_at
    >>> from fdm.surroundings.fins import fins_across
    >>> fins = fins_across(0.1, 0.1, 0.03, 0.001, count=25)
    >>> float(channel_film(air_at(25), fins, 5.0381).round(2))
    35.21
    """
    u, b, d = np.asarray(speed, float), fins.gap, fins.hydraulic_diameter
    k, pr = air.conductivity, air.prandtl
    # no more than the air carries: the base between the fins has a share in that, which the relation leaves out
    carried = air.density * air.specific_heat * u * fins.flow_area / fins.area
    star = u * b**2 / (air.kinematic_viscosity * fins.length)
    laminar = np.minimum(nusselt_developing(star, pr) * k / b, carried)
    re = reynolds(air, u, d)
    if not np.any(re > LAMINAR):
        return np.asarray(laminar)
    # the short duct's factor, and from the local mean temperature to that of the entering air
    local = nusselt_turbulent(np.maximum(re, LAMINAR), pr) * (1 + (d / fins.length) ** (2 / 3)) * k / d
    turbulent = carried * -np.expm1(-local / carried)
    return _with_turbulence(re, laminar, turbulent)


def speed_in_free_stream(air: Air, fins: FinArray, approach: float) -> float:
    """The speed (m/s) between fins that stand free in a stream of the speed `approach`, with no duct around them.

    What the stream loses, rho (V^2 - s^2 U^2) / 2, is what the fins ask for: a balance of energy without suction behind
    the fins. No published source; 30 %.

    >>> from fdm.surroundings.air import air_at
    >>> from fdm.surroundings.fins import fins_across
    >>> fins = fins_across(0.1, 0.1, 0.03, 0.001, count=25)
    >>> [round(speed_in_free_stream(air_at(25), fins, v), 3) for v in (1, 3, 5)]
    [0.222, 1.393, 2.879]
    """
    head, share = float(air.density) / 2, fins.open_share

    def spare(speed: float) -> float:
        return head * (approach**2 - (share * speed) ** 2) - float(pressure_drop(air, fins, speed))

    return float(brentq(spare, 0.0, approach / share, xtol=1e-14, rtol=1e-11))


def bypass_speed(air: Air, fins: FinArray, clearance: float, drop: float) -> float:
    """The speed (m/s) above fins in a duct that is higher than they are by `clearance` (m), at a pressure drop (Pa)."""
    wide = fins.width if fins.count is not None else np.inf
    d = 2 * clearance / (1 + clearance / wide)
    aspect = min(wide, clearance) / max(wide, clearance)

    def spare(speed: float) -> float:
        re = max(float(reynolds(air, speed, d)), 1e-12)
        losses = 4 * float(apparent_friction(re, fins.length, d, aspect)) * fins.length / d + BYPASS_LOSS
        return losses * float(air.density) * speed**2 / 2 - drop

    if drop <= 0:
        return 0.0
    return float(
        brentq(spare, 0.0, np.sqrt(2 * drop / (BYPASS_LOSS * float(air.density))) + 1e-9, xtol=1e-14, rtol=1e-11)
    )


def flow_at(air: Air, fins: FinArray, clearance: float, speed: float) -> float:
    """The flow (m3/s) through the whole duct at a speed (m/s) between the fins; one pressure drop drives both ways.

    >>> from fdm.surroundings.air import air_at
    >>> from fdm.surroundings.fins import fins_across
    >>> fins = fins_across(0.1, 0.1, 0.03, 0.001, count=25)
    >>> speed = speed_at(air_at(25), fins, 0.0075, 3 * 0.1 * 0.0375)
    >>> round(speed * fins.flow_area / flow_at(air_at(25), fins, 0.0075, speed), 3)
    0.628
    """
    through = speed * fins.flow_area
    if clearance == 0:
        return through
    over = bypass_speed(air, fins, clearance, float(pressure_drop(air, fins, speed)))
    return through + over * fins.width * clearance


def speed_at(air: Air, fins: FinArray, clearance: float, flow: float) -> float:
    """The speed (m/s) between the fins where a flow (m3/s) passes the whole duct: the share above them passes by.

    Within 8 % of tests with clearances of a quarter to the whole of the height (seen in an abstract); below 5 % of the
    height it hardly matters.
    """
    most = flow / fins.flow_area
    if clearance == 0 or flow == 0:
        return most
    return float(brentq(lambda u: flow_at(air, fins, clearance, u) - flow, 0.0, most, xtol=1e-14, rtol=1e-11))
