"""How well each answer is wanted, and the grid lines refined until the estimated errors are that small."""

import numpy as np
from numpy.typing import NDArray

from fdm.conduction.conductances import Array
from fdm.conduction.solver import System, assemble, prepared, unit_fields
from fdm.grid.lines import split
from fdm.network.points import extended, highest_load, sensor_load
from fdm.network.refinement import interval_errors
from fdm.network.values import GridValues, OneGrid, bridge_ends
from fdm.section.model import Section

TARGET = 0.005  # relative
TARGET_KELVIN = 0.02  # at the default target
SMALL = 0.02  # an entry below this part of the largest of its kind is held to this part's target
SPREADING = 0.04  # the same for a spreading resistance, as part of the rise at the watts' own place
CROSS = 0.1  # the same for the rise by watts at another place
NARROWEST = 1e-7  # cell on the coarsest of three grids, as part of the drawing's size


def refined(
    grid: OneGrid, values: GridValues, aim: float, most: int, endless: NDArray[np.bool_] | None = None
) -> tuple[Array, Array, float]:
    """The grid's lines, split where the estimated errors are largest, until each of these is below `aim`, relative to
    its answer in `values`, or a split would pass `most` cells; and the largest estimated error that is left."""
    system, units, section = grid.system, grid.units, grid.system.section
    x, y = system.raster.x, system.raster.y
    pairs, scales = goals(section, values)
    if endless is not None:
        fixed = len(endless)
        apart = (pairs < fixed).all(1)
        apart[apart] = endless[pairs[apart, 0], pairs[apart, 1]]
        pairs, scales = pairs[~apart], scales[~apart]
    if not len(pairs):
        return x, y, 0.0
    while True:
        errors, (ex, ey) = interval_errors(system, with_adjoints(system, units), pairs, scales, aim)
        if errors.max() <= aim:
            return x, y, float(errors.max())
        both = np.sort(np.concatenate([ex, ey]))[::-1]
        total = np.cumsum(both)
        # the intervals that hold half of the error; alike ones, as of a symmetric drawing, are split alike
        limit = (1 - 1e-6) * both[np.searchsorted(total, (1 - 1e-6) * total[-1] / 2)]
        wide_x, wide_y = (np.diff(lines) > NARROWEST * np.ptp(lines) for lines in (x, y))
        split_x, split_y = (ex >= limit) & wide_x, (ey >= limit) & wide_y
        if not (split_x.any() or split_y.any()) or (len(x) - 1 + split_x.sum()) * (len(y) - 1 + split_y.sum()) > most:
            return x, y, float(errors.max())
        x, y = split(x, split_x), split(y, split_y)
        system = assemble(section, x, y)
        units = unit_fields(system)


def with_adjoints(system: System, units: Array) -> Array:
    """(F + H + S + H, n, m) unit fields, then the adjoints of the sensors and of the highest temperatures."""
    loads = [sensor_load(system, k) for k in range(len(system.section.sensors))]
    if system.inlets:
        ext = extended(system, units)
        loads += [highest_load(system, ext, h) for h in range(len(system.inlets))]
    return np.concatenate([units, prepared(system, len(loads)).fields(loads)]) if loads else units


def goals(section: Section, values: GridValues) -> tuple[Array, Array]:
    """Pairs of fields (K, 2) whose product is an asked number, and its scale (K,): an error of `target` on that scale is
    what is wanted of it. Fields in the order of `with_adjoints`."""
    n, heat, fixed, sensors = values.network, len(section.heat_names), len(section.fixed_names), len(section.sensors)
    pairs, scales = [], []
    coupling = np.maximum(n.coupling, SMALL * n.coupling.max(initial=0.0))
    for k in range(len(section.bridges)):
        a, b = bridge_ends(section, k)
        coupling[a, b] = coupling[b, a] = min(coupling[a, b], max(abs(values.bridge[k]), SMALL * n.coupling[a, b]))
    for a in range(fixed):
        for b in range(a):
            pairs.append((a, b))
            scales.append(coupling[a, b])
    for h in range(heat):
        own = n.impedance[h, h]
        least = min([own, *(max(abs(plate[h, 0]), SPREADING * own) for plate in values.spreading)])
        peak = min([own, *(max(abs(plate[h, 1]), SPREADING * own) for plate in values.spreading)])
        pairs += [(fixed + h, fixed + h), (fixed + h, fixed + heat + sensors + h)]
        scales += [least, peak]
        pairs += [(fixed + h, f) for f in range(fixed)]
        scales += [1.0] * fixed
    kelvin = TARGET_KELVIN / TARGET
    mean = section.fixed_temperatures.mean()
    for s in range(sensors):
        adjoint = fixed + heat + s
        pairs += [(adjoint, f) for f in range(fixed)] + [(adjoint, fixed + h) for h in range(heat)]
        scales += [kelvin / max(abs(t - mean), 1e-9) for t in section.fixed_temperatures]
        scales += [kelvin / max(abs(q), 1e-9) for q in section.watts]
    return np.array(pairs, np.intp).reshape(-1, 2), np.maximum(scales, 1e-300)


def excess_of(section: Section, value: GridValues, band: GridValues, target: float) -> tuple[float, str]:
    """Largest band over its target, and the name of that answer."""
    kelvin = TARGET_KELVIN * target / TARGET
    heat, fixed = section.heat_names, section.fixed_names
    observed = (*heat, *(s.name for s in section.sensors))
    worst = (0.0, "")

    def look(v: Array, b: Array, scale: Array | float, names: list[str]) -> None:
        nonlocal worst
        if v.size:
            ratio = (b / np.maximum(scale, 1e-300)).ravel()
            ratio[~np.isfinite(ratio)] = -1.0  # nothing to be read; or endless, which is said in the warnings
            k = int(np.argmax(ratio))
            worst = max(worst, (float(ratio[k]), names[k]))

    def relative(v: Array, floor: Array | float, small: float = SMALL) -> Array:
        return target * np.maximum(abs(v), small * floor)

    n, b = value.network, band.network
    look(
        n.coupling,
        b.coupling,
        relative(n.coupling, n.coupling.max(initial=0.0)),
        [f"coupling of {p} and {q}" for p in fixed for q in fixed],
    )
    look(n.weight, b.weight, target, [f"weight of {q} in {p}" for p in observed for q in fixed])
    own = abs(np.diag(n.impedance[: len(heat)])) if heat else np.zeros(0)
    allowed = relative(n.impedance, own, CROSS)
    allowed[len(heat) :] = np.maximum(allowed[len(heat) :], kelvin / np.maximum(abs(section.watts), 1e-9))
    look(n.impedance, b.impedance, allowed, [f"impedance of {p} to {q}" for p in observed for q in heat])
    look(
        n.impedance_max,
        b.impedance_max,
        relative(n.impedance_max, own, CROSS),
        [f"highest impedance of {p} to {q}" for p in heat for q in heat],
    )
    look(value.reading, band.reading, kelvin, [f"reading of {s.name}" for s in section.sensors])
    for k, plate in enumerate(section.spreading):
        names = [f"spreading of {plate.name} for {h}" for h in heat for _ in "mx"]
        look(
            value.spreading[k],
            band.spreading[k],
            relative(value.spreading[k], np.reshape(own, (-1, 1)), SPREADING),
            names,
        )
    for k, bridge in enumerate(section.bridges):
        whole = n.coupling[bridge_ends(section, k)]
        look(
            value.bridge[k : k + 1], band.bridge[k : k + 1], relative(value.bridge[k], whole), [f"bridge {bridge.name}"]
        )
    return worst
