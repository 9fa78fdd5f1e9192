"""The temperatures of a circuit over time: C dT/dt = heat into each node, integrated with one supply.

The room is held; every other node stores heat. Where a thermostat switches the supply, one integration ends and the
next begins (`fdm.cabinet.pulldown`).
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.exponential import integrate
from fdm.cabinet.nodes import COLD, HOT, ROOM
from fdm.cabinet.steady import module_heat, module_slopes
from fdm.cabinet.supply import Supply

Array = NDArray[np.float64]

TOLERANCE = 0.01  # K, of each step; what comes of them is closer by two digits


@dataclass(frozen=True)
class Transient:
    """The heat balance of every node over time, with one supply (None: off). `y` (F,) are the degC of all nodes but the
    room."""

    circuit: Circuit
    supply: Supply | None

    @cached_property
    def free(self) -> NDArray[np.int64]:
        """(F,) numbers of the nodes that store heat."""
        return np.array([k for k, node in enumerate(self.circuit.nodes) if node.kind != ROOM])

    @cached_property
    def capacity(self) -> Array:
        """(F,) J/K."""
        return self.circuit.capacity[self.free]

    def temperatures(self, y: Array) -> Array:
        """(..., N) degC of all nodes."""
        t = np.full((*y.shape[:-1], len(self.circuit.nodes)), float(self.circuit.cabinet.room))
        t[..., self.free] = y
        return t

    def rate(self, y: Array) -> Array:
        """(F,) K/s, the rates of change of temperatures y."""
        at_zero, matrix = self._linear
        out = at_zero + matrix @ y
        cold, hot = self._faces
        absorbed, rejected = module_heat(self.circuit, self.supply, float(y[cold]), float(y[hot]))
        out[cold] -= absorbed / self.capacity[cold]
        out[hot] += rejected / self.capacity[hot]
        return out

    def slopes(self, y: Array) -> Array:
        """(F, F) 1/s derivatives of `rate`."""
        out, faces = self._linear[1].copy(), self._faces
        of_modules = module_slopes(self.circuit, self.supply, *y[faces].tolist())
        out[faces[0], faces] -= of_modules[0] / self.capacity[faces[0]]
        out[faces[1], faces] += of_modules[1] / self.capacity[faces[1]]
        return out

    @cached_property
    def _linear(self) -> tuple[Array, Array]:
        """What is linear, all but the modules: (F,) K/s at 0 degC, and (F, F) 1/s."""
        c, free = self.circuit, self.free
        at_zero = (c.heat - c.laplacian @ self.temperatures(np.zeros(len(free))))[free]
        return at_zero / self.capacity, -c.laplacian[np.ix_(free, free)] / self.capacity[:, None]

    @cached_property
    def _faces(self) -> list[int]:
        """The numbers of the modules' cold and hot face in y."""
        return [self.free.tolist().index(self.circuit.number(face)) for face in (COLD, HOT)]


def start_temperatures(c: Circuit) -> Array:
    """(N,) degC of the nodes when the cabinet is switched on."""
    cabinet = c.cabinet
    t = np.full(len(c.nodes), float(cabinet.room if cabinet.start is None else cabinet.start))
    t[c.load > 0], t[c.number(ROOM)] = cabinet.load.start, cabinet.room
    return t


def always_on(c: Circuit, times: Array) -> Array:
    """(K, N) degC of the nodes at times (K,) s since the modules were switched on, never off again.

    Raises ArithmeticError where the integration fails.
    """
    transient = Transient(c, c.cabinet.bank.supply)
    end = max(float(times.max()), 1.0)
    found = integrate(transient, start_temperatures(c)[transient.free], (0.0, end), TOLERANCE)
    moments, which = np.unique(times, return_inverse=True)
    return transient.temperatures(found.at(moments))[which]
