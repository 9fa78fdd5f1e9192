"""What a lumped model takes of a solved section: its network, its bridges, and the heat capacity of each terminal."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from fdm.answers.bridges import BridgeLoss
from fdm.answers.grid import KELVIN, SolvedGrid
from fdm.answers.network import Network, conductance_matrix
from fdm.cabinet.model import Cabinet
from fdm.cabinet.section_file import SectionFile
from fdm.conduction.network import NetworkValues
from fdm.conduction.surfaces import Pair, SurfaceTemperatures
from fdm.section.model import Section
from fdm.solving.solution import LOCAL, Solution
from fdm.solving.steady import solve

Array = NDArray[np.float64]
Sections = Mapping[SectionFile, Solution]


@dataclass(frozen=True)
class SectionSurfaces:
    """The surfaces of a solved section; or as they are on its coarsest grid, also of a section that differs little from
    it and is solved on a grid alike."""

    solution: Solution
    coarse: SolvedGrid | None = None

    @property
    def section(self) -> Section:
        return self.solution.section if self.coarse is None else self.coarse.system.section

    @property
    def finest(self) -> SurfaceTemperatures:
        """All places on them."""
        return _surfaces(self.solution.grids[-1] if self.coarse is None else self.coarse)

    def lowest(self, terminals: Mapping[str, float]) -> dict[Pair, tuple[float, float]]:
        """Lowest temperature (degC) of each part in each environment, with its band, at degC and W of the terminals by
        name; those that are left out keep their own."""
        section = self.solution.section
        own = dict(zip((*section.fixed_names, *section.heat_names), (*section.fixed_temperatures, *section.watts)))
        loads = np.array([terminals.get(name, value) for name, value in own.items()], float)
        grids = [_lowest(grid, loads) for grid in self.solution.grids]
        coarse = self.coarse or self.solution.grids[0]
        moved = grids[0] if coarse is self.solution.grids[0] else _lowest(coarse, loads)
        pairs = [pair for pair in grids[0] if all(pair in found for found in (*grids, moved))]
        *on_grids, on_moved = (np.array([found[pair] for pair in pairs]) for found in (*grids, moved))
        value, band = self.solution.extrapolation.of_places(on_grids, KELVIN, LOCAL)
        return dict(zip(pairs, zip((value + (on_moved - on_grids[0])).tolist(), band.tolist())))


def _lowest(grid: SolvedGrid, loads: Array) -> dict[Pair, float]:
    surfaces = _surfaces(grid)
    return dict(zip(surfaces.places.pairs, surfaces.extremes(loads)[:, 0].tolist()))


def _surfaces(grid: SolvedGrid) -> SurfaceTemperatures:
    assert grid.answers.surfaces is not None  # known of every grid that is solved
    return grid.answers.surfaces


@dataclass(frozen=True)
class LumpedSection:
    """A section as the circuit sees it, for its whole depth or turn."""

    network: Network
    bridges: Mapping[str, BridgeLoss]
    stored: Mapping[str, float]  # J/K by terminal
    warnings: tuple[str, ...] = ()  # of materials whose heat capacity is left out
    surfaces: SectionSurfaces | None = None  # None: of a section that is not solved yet


LumpedSections = Mapping[SectionFile, LumpedSection]


def lumped(solution: Solution) -> LumpedSection:
    """What a lumped model takes of a solved section."""
    stored, warnings = heat_capacities(solution.grids[-1], solution.network.values)
    return LumpedSection(solution.network, solution.bridges, stored, warnings, SectionSurfaces(solution))


def solve_sections(
    cabinet: Cabinet,
    known: Sections | None = None,
    target: float = 0.005,
    progress: Callable[[str], None] | None = None,
) -> dict[SectionFile, Solution]:
    """Every section that the cabinet names, each solved once; those in `known` are taken from there."""
    out: dict[SectionFile, Solution] = {}
    for file in cabinet.section_files:
        if file is not None and file not in out:
            if known is not None and file in known:
                out[file] = known[file]
            else:
                say = partial(_say, progress, file.path) if progress else None
                out[file] = solve(file.section, target, progress=say)
    return out


def _say(progress: Callable[[str], None], path: str, text: str) -> None:
    progress(f"{path}: {text}")


def heat_capacities(grid: SolvedGrid, values: NetworkValues) -> tuple[dict[str, float], tuple[str, ...]]:
    """The heat capacity of a section, J/K, shared among its terminals, for the whole depth or turn; and warnings of
    materials without density or specific heat.

    The capacity of a place, density x specific heat x volume, is shared by the weights of the terminals' temperatures
    in the temperature of the place. The unit fields of heat terminals are for one watt; the network's `values` convert
    them to one kelvin.
    """
    section, system = grid.system.section, grid.system
    fixed, heat = len(section.fixed_names), len(section.heat_names)
    materials = [*(p.material for p in section.parts), *(f.material for f in section.fins)]
    per_volume, lacking = np.zeros(len(materials)), set()
    for k, m in enumerate(materials):
        if m is not None:
            if m.density is None or m.specific_heat is None:
                lacking.add(m.name)
            else:
                per_volume[k] = m.density * m.specific_heat
    stored = np.zeros(fixed + heat)
    for k in np.nonzero(per_volume)[0].tolist():
        stored += system.part_integrals(k, grid.units) * per_volume[k]
    if heat:
        by_watt = np.linalg.solve(values.resistance[:heat].T, stored[fixed:])
        stored = np.concatenate([stored[:fixed] - values.weight[:heat].T @ by_watt, by_watt])
    names = (*section.fixed_names, *section.heat_names)
    warnings = tuple(
        f"material {name!r} has no density and specific heat; its heat capacity is left out" for name in sorted(lacking)
    )
    return dict(zip(names, stored.tolist())), warnings


def section_mesh(network: Network) -> tuple[tuple[str, ...], Array, Array]:
    """Terminals (T,) (fixed, then heat), the conductances (T, T) W/K between each two of them, and their bands; these
    are infinite where they depend on a number whose own band is."""
    mesh = _mesh(network.values)
    band = np.zeros_like(mesh)
    for key, symmetric in (("coupling", True), ("weight", False), ("resistance", True)):
        values, bands = getattr(network.values, key), getattr(network.band, key)
        rows = range(len(network.heat)) if key != "coupling" else range(len(values))
        for i in rows:
            for j in range(values.shape[1]):
                if (symmetric and j > i) or np.isnan(bands[i, j]):
                    continue
                known = np.isfinite(bands[i, j])
                step = bands[i, j] if known else 0.1 * values[i, j]
                changed = values.copy()
                changed[i, j] += step
                if symmetric and i != j:
                    changed[j, i] += step
                change = abs(_mesh(replace(network.values, **{key: changed})) - mesh)
                band += change if known else np.where(change > 1e-6 * abs(mesh), np.inf, 0.0)
    return (*network.fixed, *network.heat), mesh, band


def _mesh(values: NetworkValues) -> Array:
    out = -conductance_matrix(values)
    np.fill_diagonal(out, 0.0)
    return out
