"""What is read of a system's fields, and with which weights: sensors, highest temperatures, and surfaces.

Nodes are those of a `Tangent`: the cells, then the fixed terminals, then the faces on which heat enters.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.cut_derivatives import varied
from fdm.conduction.derivatives import Tangent
from fdm.conduction.inputs import rows_of
from fdm.conduction.peaks import (
    AroundPoints,
    around_points,
    face_middles,
    face_temperatures,
    heated_points,
    parabola_top_weights,
)
from fdm.conduction.readings import PointWeights, at_points, point_weights, sensor_load, sensor_point
from fdm.conduction.solver import Load
from fdm.conduction.surfaces import SurfacePlaces
from fdm.conduction.system import System

STEP = 1e-6  # relative step of the differences that give the derivatives of a grid point's weights


@dataclass(frozen=True)
class Reader:
    """The weights with which one answer reads a field: on cells, on faces where heat enters, or at grid points, which
    are read by the cells around them."""

    cell: Integers
    weight: Array
    face: Array  # (N,) weights on the tangent's faces
    points: tuple[Integers, Integers] | None = None  # i, j (P,) of the grid points; None: it reads cells or faces
    share: Array = field(default_factory=lambda: np.ones(1))  # (P,) weights of the points
    around: AroundPoints | None = None  # one point and those beside it, (2, 3) = P, whose parabolas have the top


@dataclass(frozen=True)
class ReadPoints:
    """The P grid points that readers read. Their weights depend on the conductivities, films and joints around them."""

    system: System
    sign: Array  # (I,) as in the tangent: -1 for joints
    reader: Integers  # (P,) numbers of the readers
    share: Array  # (P,) weights of the points in what their readers read
    i: Integers  # (P,)
    j: Integers

    @cached_property
    def weights(self) -> PointWeights:
        return point_weights(self._system_without_far_cuts, self.i, self.j)

    def scaled_weights(self, factors: Array) -> PointWeights:
        """The weights with each input `factors` (I,) times as large."""
        rows = self._inputs_around
        conducts = factors[rows] ** self.sign[rows]
        if not len(rows):
            return self.weights
        if (conducts == conducts[0]).all():  # only the rise by watts on the faces changes
            return replace(self.weights, heat=self.weights.heat / conducts[0])
        return point_weights(varied(self._system_without_far_cuts, factors, self.i, self.j), self.i, self.j)

    def weight_changes(self, ext: Array) -> Array:
        """(P, F + H, I) change of the readings of unit fields, extended as by `extended`, that the weights alone cause,
        per relative change of each input. By differences for all inputs around the points but the last: that one
        follows from the degree of the readings in all conductances together (Euler), which is -1 for the rise by watts
        on faces and 0 for the rest."""
        fixed, count = len(self.system.boundary.direct), len(self.sign)
        out = np.zeros((len(self.i), len(ext), count))
        if not len(self._inputs_around):
            return out
        unchanged = at_points(ext, self.weights, self.i, self.j)
        *others, last = self._inputs_around
        rest = np.concatenate([np.zeros((fixed, len(self.i))), -self.weights.heat.T])
        for row in others:
            factors = np.ones(count)
            factors[row] += STEP
            change = (at_points(ext, self.scaled_weights(factors), self.i, self.j) - unchanged) / STEP
            out[:, :, row] = change.T
            rest -= self.sign[row] * change
        out[:, :, last] = (self.sign[last] * rest).T
        return out

    @cached_property
    def _cuts_around(self) -> Bools:
        """(C,) cut cells beside the points."""
        cut = self.system.cut
        if cut is None:
            return np.zeros(0, bool)
        beside = (abs(cut.i + 0.5 - self.i[:, None]) < 2) & (abs(cut.j + 0.5 - self.j[:, None]) < 2)
        return np.asarray(beside.any(0))

    @cached_property
    def _inputs_around(self) -> Integers:
        """Rows of the inputs on which the weights depend."""
        system, steps = self.system, range(-2, 2)
        owner = np.pad(system.raster.owner, 1, mode="edge")
        owners = [owner[self.i + a + 2, self.j + b + 2].ravel() for a in steps for b in steps]
        if system.cut is not None:
            owners.append(system.cut.owner[self._cuts_around].ravel())
        return rows_of(system.layout, np.unique(np.concatenate(owners)))

    @cached_property
    def _system_without_far_cuts(self) -> System:
        """The system; without its cut cells where none of them lies beside a point, which spares work."""
        system = self.system
        return system if self._cuts_around.any() else replace(system, layout=replace(system.layout, cut=None))


@dataclass(frozen=True)
class Readers:
    """All that is read of a system's fields: by R readers, which are the sensors, then the highest temperatures of
    `peaks`; and at places on surfaces."""

    system: System
    tangent: Tangent
    readers: tuple[Reader, ...]
    peaks: tuple[tuple[int, int], ...]  # two heat terminals: the warmest place of the first by a watt at the second
    surfaces: SurfacePlaces | None

    @property
    def sensors(self) -> int:
        """The number of sensors."""
        return len(self.readers) - len(self.peaks)

    @property
    def on_faces(self) -> Array:
        """(R, N) weights on the tangent's faces."""
        return np.reshape([r.face for r in self.readers], (len(self.readers), len(self.tangent.face_of)))

    @cached_property
    def points(self) -> ReadPoints | None:
        """The grid points that are read; None where there are none."""
        some = [(k, r.share, *r.points) for k, r in enumerate(self.readers) if r.points is not None]
        if not some:
            return None
        number, share, i, j = zip(*some)
        reader = np.repeat(number, [len(points) for points in i])
        return ReadPoints(self.system, self.tangent.sign, reader, *map(np.concatenate, (share, i, j)))

    def loads(self) -> list[Load]:
        """(R,) watts into cells by each reader's weights. Weights on a face go to the cells beside it, shared as watts
        that enter there are."""
        t, cells = self.tangent, self.system.solid.size
        g0, g1 = t.face_conductance
        out = []
        for reader in self.readers:
            cell, weight = [reader.cell], [reader.weight]
            for node, g in zip(t.face, (g0, g1)):
                on = (reader.face != 0) & (node >= 0) & (node < cells)
                cell.append(node[on])
                weight.append((reader.face * g / (g0 + g1))[on])
            out.append((np.concatenate(cell), np.concatenate(weight)))
        return out


def readers_of(
    system: System, tangent: Tangent, ext: Array, peaks: Sequence[tuple[int, int]], surfaces: SurfacePlaces | None
) -> Readers:
    """The readers of all sensors and of the highest temperatures of `peaks` in unit fields `ext`, see `extended`."""
    readers = [_sensor_reader(system, tangent, k) for k in range(len(system.section.sensors))]
    readers += [_peak_reader(system, tangent, ext, heat, by) for heat, by in peaks]
    return Readers(system, tangent, tuple(readers), tuple(peaks), surfaces)


def _sensor_reader(system: System, t: Tangent, sensor: int) -> Reader:
    nothing = np.zeros(len(t.face_of))
    if system.section.sensors[sensor].at is None:
        return Reader(*sensor_load(system, sensor), nothing)
    i, j = sensor_point(system, sensor)
    return Reader(*sensor_load(system, sensor), nothing, (np.array([i]), np.array([j])))


def _peak_reader(system: System, t: Tangent, ext: Array, heat: int, by: int) -> Reader:
    """The highest temperature of heat terminal `heat` by a watt at terminal `by`, as `peaks.highest` finds it."""
    row, heat_input = len(system.boundary.direct) + by, system.heat_inputs[heat]
    nothing = np.zeros(len(t.face_of))
    points = heated_points(system, heat)
    i, j = np.divmod(points, system.raster.shape[1] + 1)
    at_each = at_points(ext, point_weights(system, i, j), i, j)[row]
    k = int(np.argmax(at_each))
    if heat_input.axis is None:
        around = around_points(system, heat, points, np.array([k]))
        on, share = around.point.ravel(), around.top_weights(at_each[around.point]).ravel()
        return Reader(*_cells_around(system, i[on], j[on], share), nothing, (i[on], j[on]), share, around)
    on_faces = face_temperatures(system, ext, heat)[row]
    peak = parabola_top_weights(face_middles(system, heat), on_faces)
    if peak @ on_faces >= at_each[k]:
        faces = nothing.copy()
        faces[t.face_of == heat] = peak
        return Reader(np.empty(0, np.intp), np.empty(0), faces)
    at, share = np.array([k]), np.ones(1)
    return Reader(*_cells_around(system, i[at], j[at], share), nothing, (i[at], j[at]))


def _cells_around(system: System, i: Integers, j: Integers, share: Array) -> tuple[Integers, Array]:
    """Solid cells around grid points (P,), and their weights in a sum of these points."""
    m = system.solid.shape[1]
    a, b = (k[:, None] - 1 + np.array(step) for k, step in ((i, (0, 1, 0, 1)), (j, (0, 0, 1, 1))))
    on = np.pad(system.solid, 1)[a + 1, b + 1]
    return (a * m + b)[on], (share[:, None] * point_weights(system, i, j).cell)[on]
