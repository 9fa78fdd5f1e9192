"""Answers with other inputs, by fields that are sought among sums of known ones (Ritz): no new grid, no factorisation.

With other conductances g, the true field has the least energy, sum of g * drop^2, of all fields that keep the given
temperatures and watts. Here it is sought only among sums of K *trial fields*: the unit fields, the adjoints, and the
first change of the unit fields, per relative change of the inputs. With these three the error of a network entry is of
the fourth order in the change of the inputs; and there is none where one of several resistances in series changes.
"""

from dataclasses import dataclass, fields

import numpy as np

from fdm.conduction.adjoint.readers import Readers
from fdm.conduction.arrays import Array
from fdm.conduction.fins import FinTemperatures, no_fins
from fdm.conduction.network import NetworkValues
from fdm.conduction.peaks import face_middles, parabola_tops
from fdm.conduction.surfaces import SurfaceTemperatures, surface_factors

DEPENDENT = 1e-12  # of the largest eigenvalue: below this only rounding tells a trial field from sums of the others


@dataclass(frozen=True)
class FieldAnswers:
    """What fields answer: the network's values, temperatures on surfaces, and those of fins."""

    network: NetworkValues
    surfaces: SurfaceTemperatures | None
    fins: FinTemperatures | None = None


@dataclass(frozen=True)
class TrialFields:
    """K fields among whose sums others are sought: their drops, and what is read of them."""

    drops: Array  # (K, L) across all conductances
    means: Array  # (K, H) of each heat terminal
    readings: Array  # (K, R) by readers of cells
    around_points: Array  # (K, 4, P) in the cells around the grid points that are read
    on_faces: Array  # (K, N) on the faces where heat enters
    behind_surfaces: Array  # (K, places) in the cells behind the places on surfaces

    def joined(self, other: "TrialFields") -> "TrialFields":
        both = (self, other)
        return TrialFields(*(np.concatenate([getattr(b, f.name) for b in both]) for f in fields(TrialFields)))


def trial_fields(readers: Readers, nodes: Array, drops: Array) -> TrialFields:
    """Fields (K, nodes) with their drops (K, L), and what is read of them."""
    system, t = readers.system, readers.tangent
    n, m = system.raster.shape
    means = np.zeros((len(nodes), len(system.heat_inputs)))
    on_faces = nodes[:, system.solid.size + len(system.boundary.direct) :]
    for h, heat_input in enumerate(system.heat_inputs):
        share = heat_input.face_share
        means[:, h] = (
            nodes[:, heat_input.cell] @ heat_input.share if share is None else on_faces[:, t.face_of == h] @ share
        )
    zero = np.zeros(len(nodes))
    readings = [nodes[:, r.cell] @ r.weight if r.points is None else zero for r in readers.readers]
    points = readers.points
    around = np.zeros((len(nodes), 4, 0 if points is None else len(points.i)))
    if points is not None:
        i, j = points.i, points.j
        for k, (a, b) in enumerate(((i - 1, j - 1), (i, j - 1), (i - 1, j), (i, j))):
            inside = (a >= 0) & (b >= 0) & (a < n) & (b < m)
            around[:, k, inside] = nodes[:, (a * m + b)[inside]]
    behind = nodes[:, [] if readers.surfaces is None else readers.surfaces.cell]
    readings_by_field = np.reshape(readings, (len(readers.readers), len(nodes))).T
    return TrialFields(drops, means, readings_by_field, around, on_faces, behind)


def answers_with(readers: Readers, trial: TrialFields, factors: Array) -> list[FieldAnswers]:
    """The answers (E,) with each input `factors` (E, I) times as large, of the best sums of `trial`, which begins with
    the unit fields."""
    fixed = len(readers.system.boundary.direct)
    conductance = np.ascontiguousarray(readers.tangent.scaled_conductances(factors).T)[:, None]
    energy = (trial.drops * conductance) @ trial.drops.T
    means = np.broadcast_to(trial.means[fixed:], (len(energy), *trial.means[fixed:].shape))
    right = np.concatenate([-energy[:, fixed:, :fixed], means], 2)
    weights = np.zeros((*energy.shape[:2], right.shape[2]))  # (E, K, F + H) of the trial fields in the unit fields
    weights[:, :fixed, :fixed] = np.eye(fixed)
    weights[:, fixed:] = least_energy(energy[:, fixed:, fixed:], right)
    coupling = -energy[:, :fixed] @ weights[:, :, :fixed] * (1 - np.eye(fixed))
    return [_read(readers, trial, *one) for one in zip(weights, coupling, factors)]


def least_energy(energy: Array, right: Array) -> Array:
    """Weights (E, K, ..) of the sums of K fields with the least energy, for their energy matrices (E, K, K); the fields
    may nearly depend on each other."""
    size = np.sqrt(np.maximum(np.diagonal(energy, 0, 1, 2), 1e-300))[..., None]
    value, vector = np.linalg.eigh(energy / size / size.swapaxes(1, 2))
    on = value > DEPENDENT * value.max(1, initial=0.0, keepdims=True)
    inverse = np.divide(1.0, value, out=np.zeros_like(value), where=on)
    return np.asarray((vector * inverse[:, None]) @ (vector.swapaxes(1, 2) @ (right / size)) / size)


def _read(readers: Readers, trial: TrialFields, weights: Array, coupling: Array, factors: Array) -> FieldAnswers:
    """What is read of unit fields that are sums of trial fields with `weights` (K, F + H), each input being `factors`
    (I,) times as large."""
    system, t = readers.system, readers.tangent
    fixed, heat = len(system.boundary.direct), len(system.heat_inputs)
    readings = trial.readings.T @ weights
    if readers.points is not None:
        at = readers.points.scaled_weights(factors)
        of_cells = np.einsum("kcp,pc->pk", trial.around_points, at.cell) @ weights
        at_points = of_cells + np.concatenate([at.fixed, at.heat], 1)
        np.add.at(readings, readers.points.reader, readers.points.share[:, None] * at_points)
    rows = np.concatenate([trial.means.T @ weights, readings[: readers.sensors]])
    peak = np.zeros((heat, heat))
    for k, (h, by) in enumerate(readers.peaks, readers.sensors):
        reader = readers.readers[k]
        peak[h, by] = readings[k, fixed + by]
        if reader.points is None:
            on_faces = weights[:, fixed + by] @ trial.on_faces[:, t.face_of == h]
            peak[h, by] = parabola_tops(face_middles(system, h), on_faces[None])[0]
        elif reader.around is not None and readers.points is not None:
            near = at_points[readers.points.reader == k, fixed + by]
            peak[h, by] = reader.around.tops(near.reshape(1, 2, 3))[0]
    network, nothing = NetworkValues(coupling, rows[:, :fixed], rows[:, fixed:], peak), no_fins(weights.T)
    if readers.surfaces is None:
        return FieldAnswers(network, None, nothing)
    on_surfaces = readers.surfaces.rows(
        weights.T @ trial.behind_surfaces, surface_factors(system, readers.surfaces, factors)
    )
    return FieldAnswers(network, SurfaceTemperatures(readers.surfaces, on_surfaces), nothing)
