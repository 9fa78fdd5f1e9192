"""Finned plates with every fin resolved: quadratic hexahedra (scikit-fem), beside plates in layers with smeared fins.

`python -m validation.sinks` prints how far the mean and the highest rise of each source are from those of the resolved
sink. It shares the drawing with the finite-difference solver and nothing of its numerics.
"""

import math
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse.linalg import LinearOperator, cg
from skfem import Basis, BilinearForm, ElementHex0, ElementHex2, FacetBasis, LinearForm, MeshHex

from fdm.section.model import Environment, Fins, Material, Part, Rectangle, Section, Source
from fdm.section.rules import fin_pitch
from fdm.solving.steady import solve

Array = NDArray[np.float64]

ALUMINIUM, COPPER = Material("aluminium", (209.0, 209.0)), Material("copper", (394.0, 394.0))


@BilinearForm
def conduction(u, v, w):  # type: ignore[no-untyped-def]
    """Heat that conduction carries, per kelvin."""
    return w.k * (u.grad[0] * v.grad[0] + u.grad[1] * v.grad[1] + u.grad[2] * v.grad[2])


@BilinearForm
def exchange(u, v, w):  # type: ignore[no-untyped-def]
    """Heat through the film, per kelvin."""
    return w.film * u * v


@LinearForm
def load(v, w):  # type: ignore[no-untyped-def]
    """Mean over a face, where each area counts alike."""
    return v


@dataclass(frozen=True)
class Rise:
    """K/W of a source by its own watt."""

    mean: float
    highest: float


def resolved(section: Section, fineness: int = 1) -> list[Rise]:
    """The rise of each source, all by its own watt, of a rectangular plate with one group of fins on its front and
    sources on its back, the rim adiabatic. `fineness` divides the elements."""
    plate, fins, film = section.parts[0], section.fins[0], section.environments[0].film
    assert plate.material is not None and plate.thickness is not None
    turned = fins.along == "x"  # here fins run along the second axis
    x0, x1, y0, y1 = section.extent
    across, along = ((y0, y1), (x0, x1)) if turned else ((x0, x1), (y0, y1))
    pitch = fin_pitch(fins, section.part_named)
    count = round((across[1] - across[0]) / pitch)
    middles = across[0] + pitch * (np.arange(count) + 0.5)
    edges = np.sort(np.concatenate([middles - fins.thickness / 2, middles + fins.thickness / 2]))
    patches = [s.rectangle or Rectangle((x0, x1), (y0, y1)) for s in section.sources]
    x = _lines([*across, *edges, *(v for p in patches for v in (p.y if turned else p.x))], pitch / 2, fineness)
    y = _lines([*along, *(v for p in patches for v in (p.x if turned else p.y))], (along[1] - along[0]) / 12, fineness)
    t, top = plate.thickness, plate.thickness + fins.height
    base = t * np.array([0.0, 0.25, 0.6, 1.0])
    z = _lines([*base, *(t + fins.height * np.array([0.08, 0.25, 0.5, 0.75, 1.0]))], top, fineness)
    mesh = MeshHex.init_tensor(x, y, z)
    centre = mesh.p[:, mesh.t].mean(1)
    in_fin = (np.searchsorted(edges, centre[0]) % 2) == 1
    mesh = mesh.restrict(np.nonzero((centre[2] < t) | in_fin)[0])
    centre = mesh.p[:, mesh.t].mean(1)
    k = np.where(centre[2] < t, plate.material.conductivity[0], fins.material.conductivity[0])
    basis = Basis(mesh, ElementHex2())
    matrix = conduction.assemble(basis, k=basis.with_element(ElementHex0()).interpolate(k))
    outside = mesh.boundary_facets()
    at = mesh.p[:, mesh.facets[:, outside]].mean(1)
    near = 1e-9 * top
    wetted = (at[2] > t - near) & (at[2] < top + near)
    facets = FacetBasis(mesh, ElementHex2(), facets=outside[wetted])
    matrix = matrix + exchange.assemble(facets, film=film)
    out = []
    diagonal = 1 / matrix.diagonal()
    jacobi = LinearOperator(matrix.shape, lambda r: diagonal * np.ravel(r))
    for p in patches:
        px, py = (p.y, p.x) if turned else (p.x, p.y)
        on = (at[2] < near) & (at[0] > px[0]) & (at[0] < px[1]) & (at[1] > py[0]) & (at[1] < py[1])
        watts = load.assemble(FacetBasis(mesh, ElementHex2(), facets=outside[on]))
        watts /= watts.sum()
        field, failed = cg(matrix, watts, rtol=1e-9, maxiter=20_000, M=jacobi)
        assert not failed
        out.append(Rise(float(watts @ field), float(field[watts != 0].max())))
    return out


def _lines(places: Sequence[float], largest: float, fineness: int) -> Array:
    """Lines through all places, closer beside each, no further apart than `largest`, each gap in `fineness` as many."""
    at = np.unique(np.round(places, 12))
    out = [at[:1]]
    for a, b in pairwise(at.tolist()):
        n = fineness * max(1, math.ceil((b - a) / largest * 0.999))
        s = np.linspace(0, 1, n + 1)[1:]
        out.append(a + (b - a) * (s if n < 4 else (1 - np.cos(np.pi * s)) / 2))
    return np.concatenate(out)


def sink(
    thickness: float,
    patches: Sequence[tuple[float, float, float, float]],
    film: float = 35.0,
    size: tuple[float, float] = (0.1, 0.15),
    fins: tuple[int, float, float] = (16, 1.5e-3, 0.04),
    plate: Material = ALUMINIUM,
) -> Section:
    """A plate with `fins` (count, thickness, height; m) along y on its front, and sources of 10 W on its back."""
    return Section(
        "sink",
        (Part("plate", (Rectangle((0, size[0]), (0, size[1])),), plate, thickness=thickness),),
        (Environment("air", 20, film),),
        view="plate",
        unit="mm",
        fins=(Fins("fins", ("plate",), "front", "y", *fins[1:], "air", ALUMINIUM, count=fins[0]),),
        sources=tuple(
            Source(f"source {k}", part="plate", heat=10, face="back", rectangle=Rectangle((a, b), (c, d)))
            for k, (a, b, c, d) in enumerate(patches, 1)
        ),
    )


CENTRED, SMALL, WHOLE = (0.03, 0.07, 0.055, 0.095), (0.04, 0.06, 0.065, 0.085), (0.0, 0.1, 0.0, 0.15)
CORNER, TWO = (0.06, 0.1, 0.0, 0.04), ((0.03, 0.07, 0.02, 0.06), (0.03, 0.07, 0.09, 0.13))
STILL = {"film": 6.0, "size": (0.12, 0.1), "fins": (12, 2e-3, 0.03)}
SINKS = {
    "2 mm": sink(0.002, [CENTRED]),
    "4 mm": sink(0.004, [CENTRED]),
    "8 mm": sink(0.008, [CENTRED]),
    "12 mm": sink(0.012, [CENTRED]),
    "20 mm": sink(0.020, [CENTRED]),
    "20 mm, tenth": sink(0.020, [(0.0342, 0.0658, 0.0513, 0.0987)]),
    "5 mm, small": sink(0.005, [SMALL]),
    "5 mm, whole": sink(0.005, [WHOLE]),
    "5 mm, corner": sink(0.005, [CORNER]),
    "6 mm, two": sink(0.006, TWO),
    "6 mm copper": sink(0.006, [CENTRED], plate=COPPER),
    "3 mm copper, corner": sink(0.003, [CORNER], plate=COPPER),
    "5 mm, still air": sink(0.005, [(0.045, 0.075, 0.035, 0.065)], **STILL),  # type: ignore[arg-type]
}


def main() -> None:
    """Print both answers for each sink whose name holds one of the words on the command line, or for all. `--fine`
    halves the elements of the resolved ones."""
    words, fineness = [w for w in sys.argv[1:] if w != "--fine"], 1 + ("--fine" in sys.argv)
    for name, section in SINKS.items():
        if words and not any(word in name for word in words):
            continue
        solution = solve(section)
        network = solution.network
        for h, true in enumerate(resolved(section, fineness)):
            told = []
            for what, of in (("resistance", true.mean), ("resistance_max", true.highest)):
                value, band = (float(getattr(n, what)[h, h]) for n in (network.values, network.band))
                told.append(f"{of:.5f} K/W, in layers {100 * (value / of - 1):+.2f} +- {100 * band / of:.2f} %")
            print(f"{name:20} mean {told[0]}; highest {told[1]}; {solution.grid.cells[-1]} cells", flush=True)


if __name__ == "__main__":
    main()
