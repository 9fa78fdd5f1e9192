"""How well each answer is wanted, and the grid lines refined until the estimated errors are that small."""

import numpy as np

from fdm.accuracy.error_estimate import interval_errors
from fdm.answers.values import GridValues, OneGrid, arrays_of, bridge_ends, replaced
from fdm.conduction.arrays import Array, Integers
from fdm.conduction.readings import extended, highest_load, sensor_load
from fdm.conduction.solver import heat_loads, prepared
from fdm.conduction.system import System, assemble
from fdm.grid.lines import split
from fdm.section.model import Section

TARGET = 0.005  # relative
TARGET_KELVIN = 0.02  # at the default target
SMALL = 0.02  # an entry below this part of the largest of its kind is held to this part's target
SPREADING = 0.04  # the same for a spreading resistance, as part of the rise at the watts' own place
CROSS = 0.1  # the same for the rise by watts at another place
NEARLY = 0.6  # of what is allowed: answers so near to it are refined with those that miss it
LEAST_STEP, LARGEST_STEP = 2.0, 8.0  # by which the estimated error of what lacks is made smaller for another pass
NARROWEST = 1e-7  # cell on the coarsest of three grids, as part of the drawing's size


def refined(
    grid: OneGrid, values: GridValues, aim: float, most: int, lacking: GridValues | None = None
) -> tuple[Array, Array]:
    """The grid's lines, split where the estimated errors are largest, until each of these is below `aim`, relative to
    its answer in `values`, or a split would pass `most` cells. With bands over what is allowed, `lacking`, only
    for those answers that miss it, or nearly so, until their errors are smaller in proportion."""
    system, units, section = grid.system, grid.units, grid.system.section
    x, y = system.raster.x, system.raster.y
    pairs, scales, lacks = goals(section, values, lacking)
    if not len(pairs):
        return x, y
    fields, aims = with_adjoints(system, units), np.full(len(pairs), aim)
    if lacking is not None:
        # with twice the cells a band should be half as wide at least: more cells than that asks for miss the mark
        most = min(most, int(max(4.0, 2.0 * lacks.max()) * system.solid.size))
        errors, _ = interval_errors(system, fields, pairs, scales, aims)
        aims = np.where(
            lacks > NEARLY, np.minimum(errors, aim) / np.clip(1.5 * lacks, LEAST_STEP, LARGEST_STEP), np.inf
        )
    while True:
        errors, (ex, ey) = interval_errors(system, fields, pairs, scales, aims)
        if (errors <= aims).all():
            return x, y
        both = np.sort(np.concatenate([ex, ey]))[::-1]
        total = np.cumsum(both)
        # the intervals that hold half of the error; alike ones, as of a symmetric drawing, are split alike
        limit = (1 - 1e-6) * both[np.searchsorted(total, (1 - 1e-6) * total[-1] / 2)]
        wide_x, wide_y = (np.diff(lines) > NARROWEST * np.ptp(lines) for lines in (x, y))
        split_x, split_y = (ex >= limit) & wide_x, (ey >= limit) & wide_y
        if not (split_x.any() or split_y.any()) or (len(x) - 1 + split_x.sum()) * (len(y) - 1 + split_y.sum()) > most:
            return x, y
        x, y = split(x, split_x), split(y, split_y)
        system = assemble(section, x, y)
        fields = with_adjoints(system)


def with_adjoints(system: System, units: Array | None = None) -> Array:
    """(F + H + S + H, n, m) unit fields, then the adjoints of the sensors and of the highest temperatures."""
    sensors, heat = len(system.section.sensors), len(system.heat_inputs)
    if units is not None and sensors + heat == 0:
        return units
    solver = prepared(system, len(system.boundary.direct) + 2 * heat + sensors)
    if units is None:
        units = solver.fields(heat_loads(system), with_fixed=True, refine=False)
    loads = [sensor_load(system, k) for k in range(sensors)]
    if heat:
        ext = extended(system, units)
        loads += [highest_load(system, ext, h) for h in range(heat)]
    return np.concatenate([units, solver.fields(loads, refine=False)]) if loads else units


def goals(section: Section, values: GridValues, lacking: GridValues | None = None) -> tuple[Integers, Array, Array]:
    """Pairs of fields (K, 2) whose product is an asked number; its scale (K,): an error of `target` on that scale is
    what is wanted of it; and how much the answers behind it lack (K,). Fields in the order of `with_adjoints`."""
    n, heat, fixed, sensors = values.network, len(section.heat_names), len(section.fixed_names), len(section.sensors)
    lack = lacking or replaced(values, [np.zeros_like(a) for a in arrays_of(values)])
    pairs, scales, lacks = [], [], []
    coupling, of_coupling = np.maximum(n.coupling, SMALL * n.coupling.max(initial=0.0)), lack.network.coupling.copy()
    for k in range(len(section.bridges)):
        a, b = bridge_ends(section, k)
        coupling[a, b] = coupling[b, a] = min(coupling[a, b], max(abs(values.bridge[k]), SMALL * n.coupling[a, b]))
        of_coupling[a, b] = of_coupling[b, a] = max(of_coupling[a, b], lack.bridge[k])
    for a in range(fixed):
        for b in range(a):
            if np.isfinite(of_coupling[a, b]):
                pairs.append((a, b))
                scales.append(coupling[a, b])
                lacks.append(of_coupling[a, b])
    for h in range(heat):
        own = n.resistance[h, h]
        least = min([own, *(max(abs(plate[h, 0]), SPREADING * own) for plate in values.spreading)])
        peak = min([own, *(max(abs(plate[h, 1]), SPREADING * own) for plate in values.spreading)])
        pairs += [(fixed + h, fixed + h), (fixed + h, fixed + heat + sensors + h)]
        scales += [least, peak]
        lacks += [max(lack.network.resistance[h].max(), lack.spreading[:, h, 0].max(initial=0.0)),
                  max(lack.network.resistance_max[h].max(), lack.spreading[:, h, 1].max(initial=0.0))]  # fmt: skip
        pairs += [(fixed + h, f) for f in range(fixed)]
        scales += [1.0] * fixed
        lacks += lack.network.weight[h].tolist()
    kelvin = TARGET_KELVIN / TARGET
    mean = section.fixed_temperatures.mean()
    for s in range(sensors):
        adjoint, row = fixed + heat + s, heat + s
        pairs += [(adjoint, f) for f in range(fixed)] + [(adjoint, fixed + h) for h in range(heat)]
        scales += [kelvin / max(abs(t - mean), 1e-9) for t in section.fixed_temperatures]
        scales += [kelvin / max(abs(q), 1e-9) for q in section.watts]
        of_weights = np.concatenate([lack.network.weight[row], lack.network.resistance[row]])
        lacks += np.maximum(of_weights, lack.reading[s]).tolist()
    return np.array(pairs, np.intp).reshape(-1, 2), np.maximum(scales, 1e-300), np.array(lacks)


def bands_over_allowed(section: Section, value: GridValues, band: GridValues, target: float) -> GridValues:
    """Each answer's band over what the target allows; infinite where there is no limit, 0 where nothing is asked."""
    kelvin = TARGET_KELVIN * target / TARGET
    n, heat = value.network, len(section.heat_names)
    own = abs(np.diag(n.resistance[:heat]))

    def relative(v: Array, floor: Array | float, small: float = SMALL) -> Array:
        return target * np.maximum(abs(v), small * floor)

    resistance = relative(n.resistance, own, CROSS)
    resistance[heat:] = np.maximum(resistance[heat:], kelvin / np.maximum(abs(section.watts), 1e-9))
    whole = np.array([n.coupling[bridge_ends(section, k)] for k in range(len(section.bridges))])
    allowed = [
        relative(n.coupling, n.coupling.max(initial=0.0)),
        np.full_like(n.weight, target),
        resistance,
        relative(n.resistance_max, own, CROSS),
        np.full_like(value.reading, kelvin),
        np.full_like(value.misreading, np.inf),  # follows from readings
        relative(value.spreading, own[:, None], SPREADING),
        relative(value.bridge, whole),
    ]
    return replaced(band, [b / np.maximum(a, 1e-300) for a, b in zip(allowed, arrays_of(band))])


def furthest(section: Section, lacking: GridValues) -> tuple[float, str]:
    """Largest band over what is allowed, and the name of that answer; but for couplings without limit, which are told
    in the warnings."""
    heat, fixed, sensors = section.heat_names, section.fixed_names, [s.name for s in section.sensors]
    observed = (*heat, *sensors)
    names = [f"coupling of {p} and {q}" for p in fixed for q in fixed]
    names += [f"weight of {q} in {p}" for p in observed for q in fixed]
    names += [f"resistance of {p} to {q}" for p in observed for q in heat]
    names += [f"highest resistance of {p} to {q}" for p in heat for q in heat]
    names += [f"reading of {s}" for s in sensors] + [f"misreading of {s}" for s in sensors]
    names += [f"spreading of {plate.name} for {h}" for plate in section.spreading for h in heat for _ in "mx"]
    names += [f"bridge {bridge.name}" for bridge in section.bridges]
    ratios = np.concatenate([a.ravel() for a in arrays_of(lacking)])
    ratios[~np.isfinite(ratios)] = 0.0
    k = int(np.argmax(ratios)) if len(ratios) else 0
    return (float(ratios[k]), names[k]) if len(ratios) and ratios[k] > 0 else (0.0, "")
