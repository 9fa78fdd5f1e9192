"""How singular the temperature is where wedges of solids meet in a point.

Around a point where straight edges meet, the temperature goes as r^lambda u(angle), with (k u')' + lambda^2 k u = 0 and
u and k u' continuous from one wedge to the next:

      \\  k2  /             r^lambda: gradients grow without end where lambda < 1;
    k1 \\    /  k3          cells of size h at the point leave an error of h^(2 lambda)
    ----- o -----          in couplings and resistances
      held, or void

Within a wedge of conductivity k let k u = R sin(phi) and k u' / lambda = R cos(phi) (Pruefer's angle). Over the wedge
phi grows by lambda times its angle; from one wedge to the next it keeps its quarter turn, and tan(phi) is multiplied
by the ratio of conductivities. The turn of phi over a row of wedges rises with lambda, so that each exponent has a
bracket and none is missed. (E. A. Coddington & N. Levinson, Theory of Ordinary Differential Equations, 1955, chapter
8, from memory.) Where solids lie all round, the exponent is the first zero of 2 - trace of the transfer matrix. It
lies between the first two exponents of the same circle cut open and held at the cut.

A conductivity that differs along x and y is stretched to one that does not, sqrt(kx ky), within its own wedge.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from scipy.optimize import brentq

REGULAR = 1 - 1e-6  # exponents from here on leave gradients finite
FREE, HELD = 0.0, -math.inf  # in place of a wedge's conductivity: what is beside it

Wedges = tuple[tuple[float, float, float], ...]  # conductivity, angle, and logarithm of the stretch from start to end


class Sector(NamedTuple):
    """What lies between two neighbouring rays from a point, and what is on the first of them."""

    conductivity: float  # W/(m K); where it is not solid HELD, FREE, or below 0 a film times the cell that matters
    angle: float  # rad
    stretch: float  # logarithm of how much more its end is stretched than its start
    held: float  # 1 where a held segment lies along the first ray, else 0
    joint: float  # m2 K/W of a joint along the first ray
    heated: float  # 1 where a heated segment ends at the point, else 0

    @property
    def wedge(self) -> tuple[float, float, float]:
        """Its entry of Wedges."""
        return self.conductivity, self.angle, self.stretch


def chain_exponent(wedges: Wedges, held: tuple[bool, bool], below: float = math.inf) -> float:
    """The smallest exponent above 0 of wedges in a row, between two surfaces that are held or else adiabatic; infinite
    if it is not below `below`.

    >>> quarter = math.pi / 2
    >>> round(chain_exponent(((1.0, 3 * quarter, 0.0),), (False, False)), 6)
    0.666667
    """
    start = 0.0 if held[0] else math.pi / 2
    # an adiabatic surface has phi at a quarter turn, a held one at a half; the least that is further than the start
    end = math.pi if held[1] else (math.pi / 2 if held[0] else 3 * math.pi / 2)
    return _exponent_at(wedges, start, end) if _turn(wedges, below, start) > end else math.inf


def ring_exponent(wedges: Wedges, below: float = math.inf) -> float:
    """The smallest exponent above 0 of wedges all round a point; infinite if it is not below `below`.

    >>> round(ring_exponent(tuple((k, math.pi / 2, 0.0) for k in (1.0, 3.0, 1.0, 3.0))), 6)
    0.666667
    """
    turn = _turn(wedges, below, 0.0)
    if turn <= math.pi or (turn < 2 * math.pi and _mismatch(wedges, below) > 0):
        return math.inf
    low, high = (_exponent_at(wedges, 0.0, end) for end in (math.pi, 2 * math.pi))
    # equal to 0 there where two exponents are one, as in one material; above 0, by unlike stretches alone, where they
    # are complex, of a real part smaller than this (0.7 at least where this is 1, own trials with contrasts up to 100)
    if _mismatch(wedges, high) > -1e-10:
        return high
    return float(brentq(lambda exponent: _mismatch(wedges, exponent), low, high, xtol=1e-13))


def _exponent_at(wedges: Wedges, start: float, end: float) -> float:
    """The exponent with which Pruefer's angle goes from `start` to `end`; in the widest wedge alone it gets beyond."""
    above = (end + math.pi) / max(angle for _, angle, _ in wedges)
    return float(brentq(lambda exponent: _turn(wedges, exponent, start) - end, 0.0, above, xtol=1e-13))


def _turn(wedges: Wedges, exponent: float, start: float) -> float:
    """Pruefer's angle after the last wedge."""
    if math.isinf(exponent):
        return math.inf
    phi, before = start, wedges[0][0]
    for k, angle, _ in wedges:
        if k != before:
            quarters = math.floor(phi / math.pi + 0.5) * math.pi  # atan2 within half a turn of it
            phi = quarters + math.atan2(k * math.sin(phi - quarters), before * math.cos(phi - quarters))
        phi += exponent * angle
        before = k
    return phi


def _mismatch(wedges: Wedges, exponent: float) -> float:
    """Zero where u and k u' come back to themselves all round: c + 1/c - trace, with c what stretches leave."""
    a, b, c, d = 1.0, 0.0, 0.0, 1.0  # of u and k u' / lambda
    left = 0.0
    for k, angle, stretch in wedges:
        cosine, sine = math.cos(exponent * angle), math.sin(exponent * angle)
        a, b, c, d = (
            cosine * a + sine / k * c,
            cosine * b + sine / k * d,
            cosine * c - k * sine * a,
            cosine * d - k * sine * b,
        )
        left += stretch
    return 2 * math.cosh(exponent * left) - a - d


def point_exponent(sectors: Sequence[Sector], cell: float, below: float) -> tuple[float, bool]:
    """The smallest exponent of the sectors round a point, infinite if it is not below `below`, and whether a heated
    segment's end adds r log r to it. A joint counts where it lets less through than a length `cell` (m) of the least
    conductive of the solids."""
    n = len(sectors)
    least = min((s.conductivity for s in sectors if s.conductivity > 0), default=0.0)
    solid = [s.conductivity > 0 for s in sectors]
    joined = [s.joint > 0 and cell <= least * s.joint for s in sectors]
    cut = [not (solid[k] and solid[k - 1]) or bool(sectors[k].held) or joined[k] for k in range(n)]
    log = bool(sectors[0].heated) and below == REGULAR
    limit = 1.1 if log else below  # r log r comes with the exponent 1
    if not any(cut):
        exponent = ring_exponent(tuple(s.wedge for s in sectors), limit)
        return exponent, log and abs(exponent - 1) < 1e-6
    exponent, begin = math.inf, cut.index(True)
    for k in range(begin, begin + n):
        if not (cut[k % n] and solid[k % n]):
            continue
        stop = next(m for m in range(k + 1, k + n + 1) if cut[m % n])
        row = tuple(sectors[m % n].wedge for m in range(k, stop))
        ends = (
            _is_held(sectors[k % n], sectors[(k - 1) % n].conductivity, row[0][0]),
            _is_held(sectors[stop % n], sectors[stop % n].conductivity, row[-1][0]),
        )
        exponent = min(exponent, chain_exponent(row, ends, limit))
    return exponent, log and abs(exponent - 1) < 1e-6


def _is_held(end: Sector, beside: float, conductivity: float) -> bool:
    """Whether what ends a row of wedges holds it: a held segment, a held part, or a film that is strong over a cell."""
    return bool(end.held) or -beside > conductivity
