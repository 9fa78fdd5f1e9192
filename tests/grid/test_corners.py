"""Exponents of corners: known ones, those of random wedges against finite elements in the angle, who lies around."""

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import eigh, eigvals, solve

from fdm.grid.corners import corners, slow_corners
from fdm.grid.exponents import chain_exponent, ring_exponent
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Joint,
    Material,
    Part,
    Polygon,
    Section,
    Segment,
    Source,
)
from validation.cases import box, solid

HELD = math.inf
QUARTER = math.pi / 2


def section(*parts, film=10.0, **more):
    return Section("drawing", parts, **{"environments": (Environment("air", 20, film),), **more})


def exponent_at(drawn, place, **more):
    found = [c.exponent for c in corners(drawn, **more) if np.allclose(c.place, place, atol=1e-9)]
    assert len(found) <= 1
    return found[0] if found else None


def chequered(contrast):
    quarters = (box(-1, 0, -1, 0), box(0, 1, -1, 0), box(-1, 0, 0, 1), box(0, 1, 0, 1))
    parts = (solid(f"quarter {k}", c, q) for k, (c, q) in enumerate(zip((1, contrast, contrast, 1), quarters)))
    return section(*parts, border=Border(bottom="air"))


ANGLE = Polygon(((0, 0), (2, 0), (2, 1), (1, 1), (1, 2), (0, 2)))  # re-entrant at (1, 1)


def test_re_entrant_right_angles_adiabatic_or_held():
    assert exponent_at(section(solid("a", 5, ANGLE)), (1, 1)) == pytest.approx(2 / 3)
    in_air = (Part("air", (box(1, 2, 1, 2),), environment="air"), solid("a", 5, ANGLE))
    assert exponent_at(section(*in_air, film=HELD), (1, 1)) == pytest.approx(2 / 3)
    assert [c.place for c in corners(section(solid("a", 5, ANGLE)))] == [(1.0, 1.0)]  # no other corner is singular


def test_a_held_side_beside_an_adiabatic_one():
    flat = section(
        solid("a", 1, box(0, 2, 0, 1)), sources=(Source("hot", segment=Segment((0.5, 1), (1, 1)), temperature=50),)
    )
    assert exponent_at(flat, (1, 1)) == pytest.approx(1 / 2)
    turning = section(solid("a", 1, ANGLE), sources=(Source("hot", segment=Segment((1, 2), (1, 1)), temperature=50),))
    assert exponent_at(turning, (1, 1)) == pytest.approx(1 / 3)


def test_ends_of_thin_sheets():
    held = section(
        solid("a", 1, box(0, 2, 0, 2)), sources=(Source("hot", segment=Segment((0, 1), (1, 1)), temperature=50),)
    )
    assert exponent_at(held, (1, 1)) == pytest.approx(1 / 2)
    slit = section(
        solid("a", 1, box(0, 2, 0, 1)), solid("b", 1, box(0, 1, 1, 2)), solid("a again", 1, box(1, 2, 1, 2)),
        joints=(Joint(("a", "b"), 1e-3), Joint(("b", "a again"), 0.0)),
    )  # fmt: skip
    assert exponent_at(slit, (1, 1)) == pytest.approx(1 / 2)
    assert exponent_at(slit, (1, 1), cell=0.01) is None  # over a centimetre this joint hardly matters


def test_the_end_of_a_heater_adds_a_logarithm():
    plate = solid("plate", 5, box(0, 3, 0, 1))
    on_top = section(plate, sources=(Source("foil", segment=Segment((1, 3), (1, 1)), heat=2),))
    (end,) = corners(on_top)
    assert end.place == (1.0, 1.0) and end.heated and end.exponent == pytest.approx(1)
    within = section(plate, sources=(Source("foil", segment=Segment((1, 2), (0.5, 0.5)), heat=2),))
    assert [c.place for c in corners(within) if c.heated] == [(1.0, 0.5), (2.0, 0.5)]


@pytest.mark.parametrize("contrast", [2, 10, 1000, 1e5])
def test_the_chequered_square(contrast):
    # J. B. Keller, J. Math. Phys. 5 (1964) 548, from memory
    exact = 4 / math.pi * math.atan(1 / math.sqrt(contrast))
    assert exponent_at(chequered(contrast), (0, 0)) == pytest.approx(exact, rel=1e-9)


def test_corners_of_two_materials_and_t_junctions():
    c = 7.0

    def zero(f, low, high):
        for _ in range(60):
            middle = (low + high) / 2
            low, high = (middle, high) if f(middle) * f(low) > 0 else (low, middle)
        return low

    # a better block in another material: even about the diagonal, k1 tan(3 lambda pi / 4) = -k2 tan(lambda pi / 4)
    block = section(solid("ground", 1, box(0, 2, 0, 2)), solid("block", c, box(0, 1, 0, 1)))
    exact = zero(lambda v: c * math.tan(v * math.pi / 4) + math.tan(3 * v * math.pi / 4), 0.6667, 0.9999)
    assert exponent_at(block, (1, 1)) == pytest.approx(exact, abs=1e-9)
    # a row between adiabatic sides: k1 tan(lambda a1) = -k2 tan(lambda a2)
    row = section(solid("a", 1, box(0, 2, 0, 1)), solid("b", c, box(0, 1, 1, 2)))
    exact = zero(lambda v: math.tan(v * math.pi) + c * math.tan(v * math.pi / 2), 0.5001, 0.9999)
    assert exponent_at(row, (1, 1)) == pytest.approx(exact, abs=1e-9)
    # a T between a film side that is held and one that is adiabatic: tan(lambda pi / 2)^2 = k1 / k2
    held = Source("hot", segment=Segment((0, 1), (0, 0)), temperature=50)
    tee = section(solid("a", 1, box(0, 1, 0, 1)), solid("b", c, box(1, 2, 0, 1)), sources=(held,))
    assert exponent_at(tee, (1, 0)) == pytest.approx(2 / math.pi * math.atan(math.sqrt(1 / c)))


def test_films_hold_where_they_are_strong_over_a_cell():
    drawn = section(solid("a", 1, ANGLE), Part("air", (box(1, 2, 1, 2),), environment="air"), film=100)
    half_held = section(solid("a", 1, box(0, 2, 0, 1)), border=Border(top="air"), film=100)
    assert exponent_at(drawn, (1, 1)) == pytest.approx(2 / 3)
    assert exponent_at(half_held, (2, 1), cell=0.005) is None
    assert exponent_at(half_held, (2, 1), cell=0.02) is None  # a right angle, held and adiabatic
    wide = section(solid("a", 1, box(0, 3, 0, 1)), solid("b", 1, box(0, 1, 1, 2)),
                   Part("air", (box(1, 2, 1, 2),), environment="air"), film=100)  # fmt: skip
    assert exponent_at(wide, (2, 1), cell=0.005) is None
    assert exponent_at(wide, (2, 1), cell=0.02) == pytest.approx(1 / 2)
    kinds = {w.owner: w.kind for c in corners(wide, cell=0.02) for w in c.wedges}
    assert kinds == {"a": "solid", "b": "solid", "air": "fixed", "": "adiabatic"}


def test_wedges_are_told_in_order_with_their_owners():
    drawn = section(solid("a", 1, box(0, 2, 0, 1)), solid("b", 9, box(0, 1, 1, 2)), border=Border(left="air"))
    (corner,) = corners(drawn)
    assert corner.place == (1.0, 1.0) and corner.solids == ("b", "a") and corner.reach == pytest.approx(1)
    assert [(w.owner, w.kind) for w in corner.wedges] == [("", "adiabatic"), ("b", "solid"), ("a", "solid")]
    assert np.allclose([w.start for w in corner.wedges], [0, QUARTER, 2 * QUARTER])
    assert np.allclose([w.end for w in corner.wedges], [QUARTER, 2 * QUARTER, 4 * QUARTER])


def test_points_where_circles_meet_straight_edges():
    half = section(solid("ground", 1, box(-2, 2, -2, 0)), solid("pipe", 1, Disc((0, 0), 1)))
    assert exponent_at(half, (1, 0)) == pytest.approx(2 / 3)
    assert exponent_at(half, (-1, 0)) == pytest.approx(2 / 3)
    shallow = section(solid("ground", 1, box(-2, 2, -2, 0.5)), solid("pipe", 1, Disc((0, 0), 1)))
    beside = math.pi / 2 - math.asin(0.5)  # how much the circle rises from the ground
    assert exponent_at(shallow, (math.sqrt(0.75), 0.5)) == pytest.approx(math.pi / (math.pi + beside))
    lens = section(solid("one", 1, Disc((0, 0), 1)), solid("two", 1, Disc((1, 0), 1)))
    assert exponent_at(lens, (0.5, math.sqrt(0.75))) == pytest.approx(math.pi / (math.pi + math.pi / 3))


def test_what_is_covered_makes_no_corner():
    covered = section(solid("low", 1, box(1, 2, 1, 2)), solid("all", 5, box(0, 3, 0, 3)))
    assert corners(covered) == ()
    alike = section(solid("a", 5, box(0, 1, 0, 1)), solid("b", 5, box(1, 2, 0, 1)), solid("c", 5, box(0, 2, 1, 2)))
    assert corners(alike) == ()


def test_about_an_axis_only_points_off_it_count():
    drawn = section(
        solid("ground", 1, box(0, 2, 0, 2)), solid("rod", 100, box(0, 1, 0, 1)),
        solid("cone", 100, Polygon(((0, 1), (0, 1.5), (0.4, 1)))), view="axisymmetric",
    )  # fmt: skip
    assert {c.place for c in corners(drawn)} == {(1.0, 1.0), (0.4, 1.0)}


def test_orthotropic_parts_are_those_of_a_stretched_drawing():
    def drawn(k, stretch):
        slanted = Polygon(((0.2, 0), (1.1, 1.0 * stretch), (2.5, 1.0 * stretch), (2.5, 0)))
        low = Part("low", (box(0, 2, 0, stretch),), Material("low", k))
        high = Part("high", (slanted,), Material("high", (9 * k[0], 9 * k[1])))
        return section(low, high)

    plain, stretched = ([c.exponent for c in corners(s)] for s in (drawn((2.0, 2.0), 2.0), drawn((4.0, 1.0), 1.0)))
    assert plain and plain == pytest.approx(stretched)


def by_finite_elements(angles, conductivities, held, pieces=60):
    """The smallest real part above 0, with r^-lambda w as test functions: linear elements in angle. Conductivities are
    (kx, ky); held: None all round, or whether the two ends are."""
    ends = np.concatenate([[0.0], np.cumsum(angles)])
    nodes = np.concatenate(
        [a + (b - a) * np.arange(pieces) / pieces for a, b in itertools.pairwise(ends)] + [ends[-1:]]
    )
    kx, ky = np.repeat(np.array(conductivities, float), pieces, axis=0).T
    width, middle = np.diff(nodes), (nodes[1:] + nodes[:-1]) / 2
    c, s = np.cos(middle), np.sin(middle)
    rr, tt, rt = kx * c * c + ky * s * s, kx * s * s + ky * c * c, (ky - kx) * s * c
    n = len(nodes)
    stiff, mass, skew = np.zeros((3, n, n))
    for e in range(n - 1):
        at = slice(e, e + 2), slice(e, e + 2)
        stiff[at] += tt[e] / width[e] * np.array([[1, -1], [-1, 1]])
        mass[at] += rr[e] * width[e] / 6 * np.array([[2, 1], [1, 2]])
        skew[at] += rt[e] * np.array([[0, -1], [1, 0]])
    if held is None:
        fold = np.eye(n)[:, :-1]
        fold[-1, 0] = 1
    else:
        fold = np.eye(n)[:, [k for k in range(n) if not (k == 0 and held[0]) and not (k == n - 1 and held[1])]]
    stiff, mass, skew = (fold.T @ m @ fold for m in (stiff, mass, skew))
    if not skew.any():  # then lambda^2 is an eigenvalue of a symmetric pair, which is found in a hundredth of the time
        values = np.emath.sqrt(eigh(stiff, mass, eigvals_only=True))
    else:
        one, none = np.eye(len(mass)), np.zeros(mass.shape)
        values = eigvals(np.block([[none, one], [solve(mass, stiff), solve(mass, skew)]]))
    return min(values.real[(values.real > 1e-4) & (abs(values.imag) < 1e-6)])


@pytest.mark.parametrize("seed", range(12))
def test_random_wedges_against_finite_elements(seed):
    rng = np.random.default_rng(seed)
    count = int(rng.integers(1, 6))
    angles = rng.uniform(0.2, 1, count)
    k = 10 ** rng.uniform(-1.5, 1.5, count)
    ring = 2 * math.pi * angles / angles.sum()
    wedges = tuple((c, a, 0.0) for c, a in zip(k.tolist(), ring.tolist()))
    both = np.column_stack([k, k])
    assert ring_exponent(wedges) == pytest.approx(by_finite_elements(ring, both, None), rel=2e-3)
    for held in ((False, False), (True, False), (False, True), (True, True)):
        row = 0.8 * ring
        wedges = tuple((c, a, 0.0) for c, a in zip(k.tolist(), row.tolist()))
        assert chain_exponent(wedges, held) == pytest.approx(by_finite_elements(row, both, held), rel=2e-3)
        exact = chain_exponent(wedges, held)
        assert chain_exponent(wedges, held, below=0.999 * exact) == math.inf
        assert chain_exponent(wedges, held, below=1.001 * exact) == exact


@pytest.mark.parametrize("seed", range(6))
def test_random_orthotropic_corners_against_finite_elements(seed):
    rng = np.random.default_rng(seed)
    k = 10 ** rng.uniform(-1, 1, (4, 2))
    quarters = (box(0, 1, 0, 1), box(-1, 0, 0, 1), box(-1, 0, -1, 0), box(0, 1, -1, 0))
    parts = [Part(f"{i}", (q,), Material(f"{i}", tuple(c))) for i, (q, c) in enumerate(zip(quarters, k.tolist()))]
    true = by_finite_elements([QUARTER] * 3, k[:3], (False, False))
    found = exponent_at(section(*parts[:3]), (0, 0))
    assert (found or 1) == pytest.approx(min(true, 1), rel=2e-3)


@pytest.mark.parametrize("seed", [0, 3, 6, 21, 23])  # exponents that are real
def test_random_orthotropic_quarters_all_round_against_finite_elements(seed):
    k = 10 ** np.random.default_rng(seed).uniform(-1, 1, (4, 2))
    quarters = (box(0, 1, 0, 1), box(-1, 0, 0, 1), box(-1, 0, -1, 0), box(0, 1, -1, 0))
    parts = [Part(f"{i}", (q,), Material(f"{i}", tuple(c))) for i, (q, c) in enumerate(zip(quarters, k.tolist()))]
    true = by_finite_elements([QUARTER] * 4, k, None)
    assert exponent_at(section(*parts), (0, 0)) == pytest.approx(true, rel=2e-3)


def test_slow_corners_are_those_that_neither_film_nor_joint_bypasses():
    def touching(*extra, **more):
        return section(
            solid("foam", 0.03, box(0, 0.1, 0, 0.1)), solid("a", 200, box(0.03, 0.05, 0, 0.05)),
            solid("b", 200, box(0.05, 0.07, 0.05, 0.1)), *extra, border=Border(top="air"), **more,
        )  # fmt: skip

    (corner,) = slow_corners(touching())
    assert corner.place == (0.05, 0.05) and corner.exponent < 0.05 and corner.solids == ("b", "foam", "a")
    jointed = touching(solid("c", 200, box(0.05, 0.07, 0.03, 0.05)), joints=(Joint(("a", "c"), 1e-4),))
    assert any(c.exponent < 0.05 for c in corners(jointed)) and slow_corners(jointed) == ()
    # without its bridge, c, the others touch at a point
    bridged = touching(solid("c", 200, box(0.045, 0.055, 0.045, 0.055)),
                       environments=(Environment("air", 20, 10), Environment("under", 5, 10)),
                       bridges=(Bridge(("c",)),))  # fmt: skip
    assert slow_corners(replace(bridged, border=Border(top="air", bottom="under")))[0].place == (0.05, 0.05)
