"""Closed forms and series of the literature, as plain functions. SI units; `inf` allowed where it makes sense.

Each docstring gives formula, units, source and a worked number. Citations and formulas are from memory of the cited
work unless marked "seen"; the numbers were all reproduced with independent finite elements or finite volumes.
"""

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import i0, i1, j0, j1, jn_zeros, k0, k1

Array = NDArray[np.float64]
TERMS = 20_000


# ---- spreading resistance -------------------------------------------------------------------------------------------


def _film_kernel(eigenvalue: Array, thickness: float, film_over_k: float) -> Array:
    """phi = [tanh(x t) + x/b] / [1 + (x/b) tanh(x t)]: a layer `thickness` on a film, b = h/k, seen by eigenvalue x."""
    tanh, x = np.tanh(eigenvalue * thickness), eigenvalue / film_over_k
    return (tanh + x) / (1 + x * tanh)


def _fade(n: int) -> Array:
    """Weights (n,) that end an alternating series smoothly: what averaging its last partial sums does, only better."""
    s = np.arange(1, n + 1) / n
    return np.where(s < 0.5, 1.0, 0.5 + 0.5 * np.cos(2 * np.pi * (s - 0.5)))


@lru_cache
def _bessel_extrema() -> Array:
    return np.asarray(jn_zeros(1, TERMS))


def disc_on_disc(eps: float, tau: float, bi: float) -> tuple[float, float]:
    """Dimensionless spreading resistance (mean, max) of an isoflux disc centred on a disc with a film on its back.

    psi = k sqrt(As) R_s; eps = a/b, tau = t/b, bi = h b/k for source radius a, plate radius b.

        psi_mean = 4/(sqrt(pi) eps) SUM J1(d eps)^2 phi(d) / (d^3 J0(d)^2),  J1(d) = 0
        psi_max  = 2/sqrt(pi)       SUM J1(d eps)   phi(d) / (d^2 J0(d)^2)      (centre)

    Source: D.P. Kennedy, J. Appl. Phys. 31 (1960) 1490; Yovanovich, Culham and Teertstra, IEEE Trans. CPMT-A 21
    (1998) 168.

    >>> [round(v, 6) for v in disc_on_disc(0.1, 0.1, 1)]
    [0.545895, 0.641638]
    >>> [round(v, 6) for v in disc_on_disc(0.2, math.inf, 1)]
    [0.354912, 0.439749]
    """
    d = _bessel_extrema()
    term = _film_kernel(d, tau, bi) / (d * j0(d)) ** 2
    source = j1(d * eps)
    tail = 1 / (np.pi**1.5 * (eps * d[-1]) ** 2)
    mean = 4 / (math.sqrt(np.pi) * eps) * np.sum(source**2 * term / d) + tail
    return float(mean), float(2 / math.sqrt(np.pi) * np.sum(source * term * _fade(len(d))))


def strip_on_channel(eps: float, tau: float, bi: float) -> tuple[float, float]:
    """k R' (mean, max) of an isoflux strip, width 2a, centred on a plate of width 2c, per metre of depth.

    eps = a/c, tau = t/c, bi = h c/k; R' in K m/W for the heat of the whole strip.

        k R'_mean = 1/(pi^3 eps^2) SUM sin(m pi eps)^2 phi(m pi)/m^3
        k R'_max  = 1/(pi^2 eps)   SUM sin(m pi eps)   phi(m pi)/m^2            (centre line)

    Source: Yovanovich, Muzychka and Culham, J. Thermophysics & Heat Transfer 13 (1999) 495 (limit of a rectangle).

    >>> [round(v, 6) for v in strip_on_channel(0.2, 0.2, 1)]
    [0.51686, 0.588022]
    >>> [round(v, 6) for v in strip_on_channel(0.5, 0.1, math.inf)]
    [0.044572, 0.049969]
    """
    m = np.arange(1.0, TERMS + 1)
    phi, source = _film_kernel(m * np.pi, tau, bi), np.sin(m * np.pi * eps)
    mean = (np.sum(source**2 * phi / m**3) + 0.25 / TERMS**2) / (np.pi**3 * eps**2)
    return float(mean), float(np.sum(source * phi / m**2 * _fade(TERMS)) / (np.pi**2 * eps))


def _rectangle_series(
    half: tuple[float, float], plate: tuple[float, float], kernel: Callable[[Array], Array], terms: int, tail: float
) -> tuple[float, float]:
    """(mean, max) of the double cosine series; `kernel(B)` is phi(B)/(k B), `tail` its limit of B kernel(B)."""
    (a, b), (c, d) = half, plate
    n = np.arange(1.0, terms + 1)
    x, y = n * np.pi / c, n * np.pi / d
    sx, sy = np.sin(a * x) / (a * x), np.sin(b * y) / (b * y)
    if a >= c:
        sx = np.zeros_like(sx)
    if b >= d:
        sy = np.zeros_like(sy)
    both = kernel(np.hypot(x[:, None], y[None, :]))
    mean = sx**2 @ kernel(x) / 2 + sy**2 @ kernel(y) / 2 + sx**2 @ both @ sy**2
    w = _fade(terms)
    peak = (sx * w) @ kernel(x) / 2 + (sy * w) @ kernel(y) / 2 + (sx * w) @ both @ (sy * w)
    for s, wave, size, p, other in ((sy, y, a, c, a < c), (sx, x, b, d, b < d)):  # sin^2 = 1/2 beyond the last term
        cut = (terms + 0.5) * np.pi / p
        along = (np.sqrt(cut**2 + wave**2) / cut - 1) / wave**2
        mean += other * tail * p / (2 * np.pi * size**2) * (0.25 / cut**2 + s**2 @ along)
    return float(mean / (c * d)), float(peak / (c * d))


def rectangle_on_plate(
    source: tuple[float, float], plate: tuple[float, float], thickness: float, k: float, h: float, terms: int = 800
) -> tuple[float, float]:
    """Spreading resistance (mean, max) in K/W of a centred isoflux rectangle on a rectangular plate, film h behind.

    `source` and `plate` are the full sides (along x, along y), m. With half sides a, b and c, d, l = m pi/c,
    n = n pi/d, B = sqrt(l^2 + n^2):

        R_mean = 1/(2 a^2 c d k) SUM sin(a l)^2 phi(l)/l^3 + 1/(2 b^2 c d k) SUM sin(b n)^2 phi(n)/n^3
                 + 1/(a^2 b^2 c d k) SUM SUM sin(a l)^2 sin(b n)^2 phi(B)/(l^2 n^2 B)
        R_max    likewise with sin(a l)/(a l) in place of its square (centre)

    Source: Yovanovich, Muzychka and Culham 1999 (mean); G.N. Ellison, IEEE Trans. CPT 26 (2003) 439 (max; abstract
    seen).

    >>> ["%.5g" % v for v in rectangle_on_plate((0.02, 0.01), (0.06, 0.04), 0.003, 160, 50)]
    ['0.27949', '0.35843']
    >>> ["%.5g" % v for v in rectangle_on_plate((0.01, 0.01), (0.04, 0.04), 0.002, 200, math.inf)]
    ['0.073743', '0.090722']
    """
    half, outer = (source[0] / 2, source[1] / 2), (plate[0] / 2, plate[1] / 2)
    return _rectangle_series(half, outer, lambda e: _film_kernel(e, thickness, h / k) / (k * e), terms, 1 / k)


def rectangle_anywhere_on_plate(
    x: tuple[float, float],
    y: tuple[float, float],
    plate: tuple[float, float],
    thickness: float,
    k: float,
    h: float,
    terms: int = 600,
) -> float:
    """Mean rise in K/W of an isoflux rectangle from x[0] to x[1] and y[0] to y[1] (m), anywhere on a rectangular plate
    with film h behind, and adiabatic edges: over the fluid, all resistances included.

    With p = m pi/c, q = n pi/d, B = sqrt(p^2 + q^2) on a plate c x d, X(p) the mean of cos(p x) over the source and
    w = 1 for m = 0, 2 for m > 0:

        R = 1/(c d) SUM SUM w_m w_n X(p)^2 Y(q)^2 phi(B)/(k B),  phi(0)/(k 0) = t/k + 1/h

    Source: Y.S. Muzychka, J.R. Culham and M.M. Yovanovich, J. Electronic Packaging 125 (2003) 178 (from memory).

    >>> centred = rectangle_anywhere_on_plate((0.02, 0.04), (0.015, 0.025), (0.06, 0.04), 0.003, 160, 50)
    >>> round(centred - (0.003 / 160 + 1 / 50) / (0.06 * 0.04), 4)  # as `rectangle_on_plate`
    0.2795
    """
    m = np.arange(1.0, terms)

    def means(ends: tuple[float, float], size: float) -> tuple[Array, Array]:
        p = m * np.pi / size
        mean = (np.sin(p * ends[1]) - np.sin(p * ends[0])) / (p * (ends[1] - ends[0]))
        return np.append(0.0, p), np.append(1.0, 2 * mean**2)

    (p, of_x), (q, of_y) = means(x, plate[0]), means(y, plate[1])
    b = np.hypot(p[:, None], q)
    b[0, 0] = 1.0
    rise = _film_kernel(b, thickness, h / k) / (k * b)
    rise[0, 0] = thickness / k + 1 / h
    return float(of_x @ rise @ of_y / (plate[0] * plate[1]))


def rectangle_on_plate_in_short(
    source: tuple[float, float], plate: tuple[float, float], thickness: float, k: float, h: float
) -> tuple[float, float]:
    """Spreading resistance (mean, max) in K/W of a centred isoflux source, by discs of the same areas and a closed form
    that is within some 7 % (mean) for sources of at most half the plate's size on plates that are not thin:

        e = sqrt(As/Ab), tau = t sqrt(pi/Ab), Bi = h sqrt(Ab/pi)/k, lambda = pi + 1/(sqrt(pi) e)
        Phi = [tanh(lambda tau) + lambda/Bi]/[1 + lambda/Bi tanh(lambda tau)]
        R_mean = (1 - e)^1.5 Phi/(2 k sqrt(As)),  R_max = (1 - e) Phi/(k sqrt(pi As))

    Source: S. Lee, S. Song, V. Au and K.P. Moran, 4th ASME/JSME Thermal Eng. Joint Conf. 4 (1995) 199 (from memory).

    >>> ["%.4g" % v for v in rectangle_on_plate_in_short((0.01, 0.01), (0.04, 0.04), 0.002, 200, 100)]
    ['0.3636', '0.4737']
    """
    area, base = source[0] * source[1], plate[0] * plate[1]
    radius, e = math.sqrt(base / math.pi), math.sqrt(area / base)
    tau, bi, wave = thickness / radius, h * radius / k, math.pi + 1 / (math.sqrt(math.pi) * e)
    tanh = math.tanh(wave * tau)
    phi = (tanh + wave / bi) / (1 + wave / bi * tanh)
    mean = (1 - e) ** 1.5 * phi / (2 * k * math.sqrt(area))
    return mean, (1 - e) * phi / (k * math.sqrt(math.pi * area))


def rectangle_on_thin_plate(
    source: tuple[float, float], plate: tuple[float, float], thickness: float, k: float, h: float, terms: int = 800
) -> tuple[float, float]:
    """The same where the plate is so thin that its temperature is one through the thickness: phi(B)/(k B) becomes
    1/(h + k t B^2). K/W, (mean, max). This is what a plate seen face on solves; exact there.

    >>> ["%.5g" % v for v in rectangle_on_thin_plate((0.02, 0.01), (0.06, 0.04), 0.003, 160, 50)]
    ['0.25392', '0.32978']
    """
    half, outer = (source[0] / 2, source[1] / 2), (plate[0] / 2, plate[1] / 2)
    return _rectangle_series(half, outer, lambda e: 1 / (h + k * thickness * e**2), terms, 0.0)


# ---- conduction shape factors, q = S k (T1 - T2) --------------------------------------------------------------------


def edge_shape_factor(a: float, b: float) -> float:
    """Shape factor per metre of the edge of two walls, thicknesses a and b, beyond the walls' inner areas.

        S = 1/r - (2/pi) ln[4 r/(r^2+1)] + (r^2-1)/(pi r) arccos[(r^2-1)/(r^2+1)],  r = a/b;  a = b: 1 - (2/pi) ln 2

    Source: P.M. Hall, Thin Solid Films 1 (1968) 277, the conjugate thin-film bend. (The handbook's 0.54, I. Langmuir
    and others 1913, is 3.4 % low.)

    >>> round(edge_shape_factor(1, 1), 6), round(edge_shape_factor(1, 2), 6), round(edge_shape_factor(3, 1), 6)
    (0.558729, 0.643537, 0.763485)
    """
    r = a / b
    return (
        1 / r
        - 2 / math.pi * math.log(4 * r / (r * r + 1))
        + (r * r - 1) / (math.pi * r) * math.acos((r * r - 1) / (r * r + 1))
    )


SQUARE_CHANNEL = {1.1: 82.2349, 1.2: 42.2349, 1.4: 22.2350, 1.5: 18.2350, 2.0: 10.2341, 3.0: 6.2156, 4.0: 4.8444}
"""Shape factor per metre of a square channel, outer side over inner side -> S. Quadratic finite elements, +-0.0003; the
value at 2 is that of the square coaxial line. (Handbook formula of Incropera, Table 4.1, seen: 2 to 7.5 % high.)"""

HOLE_IN_SQUARE = {1.05: 62.2032, 1.1: 39.8792, 1.25: 21.3062, 1.5: 13.0802, 2.0: 8.17247, 4.0: 4.29750}
"""Shape factor per metre of a round hole centred in a square block, side over diameter -> S. Exact by collocation.
(Handbook 2 pi/ln(1.08 w/D), Incropera, Table 4.1, seen: 0.4 % low at 1.5.)"""


def eccentric_cylinders(outer: float, inner: float, eccentricity: float) -> float:
    """Shape factor per metre between eccentric cylinders, given their diameters and the distance of their axes.

        S = 2 pi / arccosh[(D^2 + d^2 - 4 z^2)/(2 D d)]             exact

    Source: Incropera and others, Fundamentals of Heat and Mass Transfer, Table 4.1 (seen).

    >>> round(eccentric_cylinders(2, 1, 0.25), 6)
    10.416653
    """
    return 2 * math.pi / math.acosh((outer**2 + inner**2 - 4 * eccentricity**2) / (2 * outer * inner))


def cylinder_between_planes(diameter: float, distance: float) -> float:
    """Shape factor per metre of a cylinder midway between two planes, each at `distance` from its axis.

        S = 2 pi / ln(8 z/(pi D))     a thin cylinder: its error is of order (pi D/(8 z))^4 / 10

    Source: Incropera and others, Table 4.1 (seen).

    >>> round(cylinder_between_planes(0.5, 1), 6)
    3.859785
    """
    return 2 * math.pi / math.log(8 * distance / (math.pi * diameter))


def disc_in_spheroid(radius: float, flatness: float) -> float:
    """Shape factor (m) of an isothermal disc on a half space that ends on the spheroid confocal with the disc.

    The spheroid's half axes are radius sqrt(1 + f^2) along the surface and radius f into the depth.

        S = 2 pi a / arctan(f);   f -> inf: S = 4 a, the disc on a half space

    Source: oblate spheroidal coordinates (Carslaw and Jaeger, Conduction of Heat in Solids, 1959, 8.2); the limit
    S = 2 D is in Incropera, Table 4.1 (seen).

    >>> disc_in_spheroid(1, math.inf), round(disc_in_spheroid(1, 5), 6)
    (4.0, 4.57491)
    """
    return 2 * math.pi * radius / math.atan(flatness)


# ---- fins -----------------------------------------------------------------------------------------------------------


def fin_conductance(h: float, k: float, thickness: float, length: float, tip: float = 0.0) -> float:
    """Heat per metre of width and kelvin at the base (W/(m K)) of a straight fin cooled on both faces, 1-D.

        m = sqrt(2 h/(k t)), H = tip/(m k):  q' = sqrt(2 h k t) (tanh mL + H)/(1 + H tanh mL)

    `tip` is the film on the tip, W/(m2 K). Efficiency = q'/(h (2 L + t)), without the tip q'/(2 h L).
    Source: Incropera and others, ch. 3.

    >>> q = fin_conductance(100, 160, 2e-3, 40e-3, tip=100)
    >>> round(q / (100 * 82e-3), 6), round(fin_conductance(100, 160, 2e-3, 40e-3) / (100 * 80e-3), 6)
    (0.753071, 0.761594)
    """
    m = math.sqrt(2 * h / (k * thickness))
    tanh, ratio = math.tanh(m * length), tip / (m * k)
    return math.sqrt(2 * h * k * thickness) * (tanh + ratio) / (1 + ratio * tanh)


def _interlaced(residual: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """The root in each open interval (low, high), at whose ends `residual` is below and above 0; bisection."""
    for _ in range(100):
        middle = (low + high) / 2
        above = residual(middle) > 0
        low, high = np.where(above, low, middle), np.where(above, middle, high)
    return (low + high) / 2


def fin_conductance_2d(h: float, k: float, thickness: float, length: float, tip: float = 0.0) -> float:
    """`fin_conductance` without the 1-D assumption: the exact series for an isothermal base.

    With d = t/2, x tan x = h d/k, B = tip d/(k x):

        q' = 2 k SUM 2 sin^2 x/(x + sin x cos x) [tanh(x L/d) + B]/[1 + B tanh(x L/d)]

    Source: Kraus, Aziz and Welty, Extended Surface Heat Transfer, 2001.

    >>> round(fin_conductance_2d(500, 25, 3e-3, 10e-3, tip=500) / (500 * 23e-3), 6)
    0.650681
    >>> round(fin_conductance_2d(10, 0.2, 6e-3, 30e-3) / (10 * 60e-3), 6)
    0.252642
    """
    d = thickness / 2
    n = np.arange(2000.0)
    x = _interlaced(lambda x: (x * np.sin(x) - h * d / k * np.cos(x)) * (-1) ** n, n * np.pi, (n + 0.5) * np.pi)
    tanh, b = np.tanh(x * length / d), tip * d / (k * x)
    term = 2 * np.sin(x) ** 2 / (x + np.sin(x) * np.cos(x)) * (tanh + b) / (1 + b * tanh)
    return float(2 * k * np.sum(term))


def pin_fin_conductance_2d(h: float, k: float, radius: float, length: float, tip: float = 0.0) -> float:
    """Heat per kelvin (W/K) of a round pin with an isothermal base and the film h on its side; exact series.

    With x J1(x) = (h a/k) J0(x), B = tip a/(k x):

        q = 4 pi k a SUM J1(x)^2 / (x [J0(x)^2 + J1(x)^2]) [tanh(x L/a) + B]/[1 + B tanh(x L/a)]

    Source: Carslaw and Jaeger 1959, ch. 8 (finite cylinder). The 1-D limit is sqrt(h P k A) tanh(m L).

    >>> one_dimensional = math.sqrt(0.1 * math.pi**2 * 2 * 0.05 * 0.05**2) * math.tanh(math.sqrt(2 * 0.1 / 0.05) * 0.3)
    >>> round(pin_fin_conductance_2d(0.1, 1, 0.05, 0.3) / one_dimensional, 3)
    0.999
    """
    bi = h * radius / k
    ends = np.concatenate([[0.0], jn_zeros(1, 2000)])
    sign = np.where(np.arange(2000) % 2, -1, 1)
    x = _interlaced(lambda x: (x * j1(x) - bi * j0(x)) * sign, ends[:-1], np.asarray(jn_zeros(0, 2000)))
    tanh, b = np.tanh(x * length / radius), tip * radius / (k * x)
    term = j1(x) ** 2 / (x * (j0(x) ** 2 + j1(x) ** 2)) * (tanh + b) / (1 + b * tanh)
    return float(4 * np.pi * k * radius * np.sum(term))


def annular_fin_efficiency(h: float, k: float, thickness: float, inner: float, outer: float) -> float:
    """Efficiency of an annular fin cooled on both faces, adiabatic edge, radii `inner` and `outer`, 1-D.

        m = sqrt(2 h/(k t));  eta = 2 r1/(m (r2^2 - r1^2)) [K1(m r1) I1(m r2) - I1(m r1) K1(m r2)]
                                                         / [I0(m r1) K1(m r2) + K0(m r1) I1(m r2)]

    Source: Kern and Kraus 1972; Incropera and others, ch. 3.

    >>> round(annular_fin_efficiency(50, 200, 1e-3, 10e-3, 30e-3), 6)
    0.897451
    >>> round(annular_fin_efficiency(25, 17, 1e-3, 20e-3, 50e-3), 6)
    0.450807
    """
    m = math.sqrt(2 * h / (k * thickness))
    a, b = m * inner, m * outer
    bessel = (k1(a) * i1(b) - i1(a) * k1(b)) / (i0(a) * k1(b) + k0(a) * i1(b))
    return float(2 * inner / (m * (outer**2 - inner**2)) * bessel)


# ---- walls and cylinders --------------------------------------------------------------------------------------------


def series(*resistances: float) -> float:
    """Conductance of resistances one after the other: films 1/(h A), layers t/(k A), joints R''/A.

    >>> round(series(1 / 8, 0.03 / 0.03, 2e-4, 1 / 25), 6)
    0.858222
    """
    return 1 / sum(resistances)


def tube_resistance(inner: float, outer: float, k: float) -> float:
    """Resistance of a tube's wall per metre of length, K m/W: ln(r2/r1)/(2 pi k). Source: Incropera and others, ch. 3.

    >>> round(tube_resistance(0.01, 0.02, 0.04), 6)
    2.757945
    """
    return math.log(outer / inner) / (2 * math.pi * k)


# ---- ISO 10211:2017, annex C ----------------------------------------------------------------------------------------


def half_square_column(x: float, y: float) -> float:
    """Temperature in case 1: a square of side 1, its top (y = 1) at 20 degC, its three other edges at 0 degC.

        T = SUM_{n odd} 80/(n pi) sin(n pi x) sinh(n pi y)/sinh(n pi)

    Source: separation of variables; ISO 10211:2017, case 1 (figures from memory, all 28 equal this series rounded).

    >>> [round(half_square_column(i / 8, 7 / 8), 4) for i in (1, 2, 3, 4)]
    [9.6582, 13.3791, 14.7289, 15.0854]
    """
    n = np.arange(1.0, 400, 2) * np.pi
    ratio = np.exp(-n * (1 - y)) * -np.expm1(-2 * n * y) / -np.expm1(-2 * n)
    return float(np.sum(80 / n * np.sin(n * x) * ratio))


ISO_CASE_1 = (
    (9.7, 13.4, 14.7, 15.1),
    (5.3, 8.6, 10.3, 10.8),
    (3.2, 5.6, 7.0, 7.5),
    (2.0, 3.6, 4.7, 5.0),
    (1.3, 2.3, 3.0, 3.2),
    (0.7, 1.4, 1.8, 1.9),
    (0.3, 0.6, 0.8, 0.9),
)
"""Figures of case 1, degC: rows y = 7/8 .. 1/8, columns x = 1/8 .. 4/8. Tolerance 0.1 K."""

ISO_CASE_2 = {
    "A": ((0, 47.5), 7.1),
    "B": ((500, 47.5), 0.8),
    "C": ((0, 41.5), 7.9),
    "D": ((15, 41.5), 6.3),
    "E": ((500, 41.5), 0.8),
    "F": ((0, 36.5), 16.4),
    "G": ((15, 36.5), 16.3),
    "H": ((0, 0), 16.8),
    "I": ((500, 0), 18.3),
}
"""Figures of case 2: point -> ((x, y) in mm, degC). Tolerance 0.1 K; heat flow 9.5 W/m, tolerance 0.1 W/m."""
