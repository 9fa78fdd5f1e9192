"""What a file answers in the place of each measurement."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from fdm.answers.quantity import Array, Path, Quantity, find
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.nodes import COLD, HOT, ROOM
from fdm.cabinet.supply import module_current, supply_power
from fdm.cabinet.transient import always_on
from fdm.errors import InputError, in_file
from fdm.inference.cabinet_reanalysis import CabinetReanalysis
from fdm.inference.measured import Measurement
from fdm.inference.section_reanalysis import Let, SectionReanalysis

Reanalysis = SectionReanalysis | CabinetReanalysis


@dataclass(frozen=True)
class Comparison:
    """M measurements, and the quantity of the file's answers that each of them measured."""

    data: tuple[Measurement, ...]
    quantities: tuple[Quantity, ...]  # (M,)

    @property
    def values(self) -> Array:
        """(M,) as measured."""
        return np.array([m.value for m in self.data])

    @property
    def uncertainties(self) -> Array:
        """(M,) standard uncertainties of the measurements."""
        return np.array([m.uncertainty for m in self.data])

    def answered(self, model: Reanalysis, moved: Mapping[str, float], let: Let) -> Array:
        """(M,) what the file answers with numbers `moved` by place and named numbers `let`."""
        if self.data[0].time is None:
            place = model.measurable.place
            return model.measured(moved, let)[[place[q.path] for q in self.quantities]]
        assert isinstance(model, CabinetReanalysis)
        times, number = np.unique([m.time for m in self.data], return_inverse=True)
        curves = _curves(model.circuit(moved, let), times)
        return np.array([curves[q.path][k] for q, k in zip(self.quantities, number)])


def compared(model: Reanalysis, data: tuple[Measurement, ...], path: str) -> Comparison:
    """The measurements of the file `path`, with the quantity that each of them measured.

    Raises InputError, with the nearest path, for what the model does not answer, and for a log of a section.
    """
    if data[0].time is None:
        known = [q for q, value, _ in model.measurable if math.isfinite(value)]
    elif isinstance(model, CabinetReanalysis):
        in_log = _curves(model.circuit({}), np.zeros(1))
        known = [q for q, _, _ in model.measurable if q.path in in_log]
    else:
        raise InputError(f"{path}: a section has no time; give rows of quantity,value,uncertainty")
    with in_file(path):
        found = {name: find(name, known, "quantity") for name in dict.fromkeys(m.quantity for m in data)}
    return Comparison(data, tuple(found[m.quantity] for m in data))


def _curves(c: Circuit, times: Array) -> dict[Path, Array]:
    """(K,) values over time of every quantity that a log may have, by its path."""
    supply, module = c.cabinet.bank.supply, c.cabinet.bank.module
    t = always_on(c, times)
    cold, hot = t[:, c.number(COLD)], t[:, c.number(HOT)]
    current = module_current(module, supply, cold, hot)
    found = {("temperature", node.name): column for node, column in zip(c.nodes, t.T) if node.kind != ROOM} | {
        ("thermostat_reading",): c.reading(t),
        ("current",): current,
        ("supply_current",): current * supply.parallel,
        ("power",): supply_power(module, supply, cold, hot),
    }
    return {("operating_point", *path): column for path, column in found.items()}
