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
from fdm.cabinet.nodes import ROOM
from fdm.cabinet.steady import inflow, inflow_slopes
from fdm.cabinet.supply import Supply

Array = NDArray[np.float64]

TOLERANCE = 3e-3  # K, of each step; what comes of many is closer by two digits


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
        c = self.circuit
        return inflow(c, c.laplacian, self.supply, self.temperatures(y))[self.free] / self.capacity

    def slopes(self, y: Array) -> Array:
        """(F, F) 1/s derivatives of `rate`."""
        c, free = self.circuit, self.free
        return (
            inflow_slopes(c, c.laplacian, self.supply, self.temperatures(y))[np.ix_(free, free)]
            / self.capacity[:, None]
        )


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
