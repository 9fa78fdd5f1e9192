"""The temperatures of a circuit over time: C dT/dt = heat into each node, integrated with one supply.

The room is held; every other node stores heat. Where a thermostat switches the supply, one integration ends and the
next begins (`fdm.cabinet.pulldown`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.circuit import Circuit
from fdm.cabinet.nodes import ROOM
from fdm.cabinet.steady import inflow, inflow_slopes
from fdm.cabinet.supply import Supply

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Tolerance:
    """The tolerances of an integration: relative, and absolute in K; and the method of `scipy.integrate.solve_ivp`."""

    relative: float
    absolute: float
    method: str = "BDF"


@dataclass(frozen=True)
class Event:
    """Ends an integration where `value(time, y)` passes 0: falling (`direction` -1) or rising (1)."""

    value: Callable[[float, Array], float]
    direction: int
    terminal: bool = True

    def __call__(self, time: float, y: Array) -> float:
        return self.value(time, y)


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
        """(N,) degC of all nodes."""
        t = np.full(len(self.circuit.nodes), float(self.circuit.cabinet.room))
        t[self.free] = y
        return t

    def rate(self, time: float, y: Array) -> Array:
        """(F,) K/s, the rates of change of temperatures y."""
        c = self.circuit
        return inflow(c, c.laplacian, self.supply, self.temperatures(y))[self.free] / self.capacity

    def slopes(self, time: float, y: Array) -> Array:
        """(F, F) 1/s derivatives of `rate`."""
        c, free = self.circuit, self.free
        return (
            inflow_slopes(c, c.laplacian, self.supply, self.temperatures(y))[np.ix_(free, free)]
            / self.capacity[:, None]
        )

    def integrate(self, y: Array, span: tuple[float, float], tolerance: Tolerance, events: Sequence[Event] = ()) -> Any:
        """From y over a span of time (s), or to the first event: what `scipy.integrate.solve_ivp` returns, with `sol`
        for any moment on the way. Raises ArithmeticError where the integration fails."""
        from scipy.integrate import solve_ivp  # a quarter of a second that solving a section is not to pay

        found = solve_ivp(
            self.rate,
            span,
            y,
            tolerance.method,
            events=list(events) or None,
            jac=self.slopes,
            rtol=tolerance.relative,
            atol=tolerance.absolute,
            dense_output=True,
        )
        if not found.success:
            raise ArithmeticError(f"the transient stopped: {found.message}")
        return found


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
    found = transient.integrate(start_temperatures(c)[transient.free], (0.0, end), Tolerance(1e-6, 1e-5))
    return np.array([transient.temperatures(y) for y in found.sol(times).T])
