"""Unit fields to the values of one grid: network, readings, spreading, bridges; the checks every solve must pass."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fdm.answers.results import NetworkValues
from fdm.conduction.arrays import Array
from fdm.conduction.readings import extended, heated_points, highest, part_number, read_points, sensor_point
from fdm.conduction.solver import heat_loads, prepared, unit_fields
from fdm.conduction.system import System, assemble
from fdm.section.model import Section


@dataclass(frozen=True)
class Checks:
    """Departures from what conduction guarantees; all near rounding."""

    weight_error: float
    asymmetry: float
    imbalance: float


@dataclass(frozen=True)
class GridValues:
    """Everything asked for, from one grid."""

    network: NetworkValues
    reading: Array  # (S,) degC
    misreading: Array  # (S,) K; NaN where nothing is to be read
    spreading: Array  # (plates, H, 2) K/W, mean and max
    bridge: Array  # (B,) W/K
    checks: Checks


def arrays_of(values: GridValues) -> list[Array]:
    """All answers, in the order that `replaced` takes them back."""
    n = values.network
    own = [values.reading, values.misreading, values.spreading, values.bridge]
    return [n.coupling, n.weight, n.resistance, n.resistance_max, *own]


def replaced(values: GridValues, flat: Sequence[Array]) -> GridValues:
    """The same with other numbers, given flat."""
    arrays = [new.reshape(old.shape) for new, old in zip(flat, arrays_of(values))]
    reading, misreading, spreading, bridge = arrays[4:]
    return GridValues(NetworkValues(*arrays[:4]), reading, misreading, spreading, bridge, values.checks)


@dataclass(frozen=True)
class OneGrid:
    """A section solved on one grid."""

    system: System
    units: Array  # (F + H, n, m) unit fields
    values: GridValues


def grid_values(section: Section, x: Array, y: Array) -> tuple[GridValues, System, Array]:
    """Solve the section, and its variants for spreading and bridges, on grid lines x, y."""
    grid = solved(assemble(section, x, y))
    return grid.values, grid.system, grid.units


def solved(system: System) -> OneGrid:
    """Unit fields and all answers of an assembled section."""
    section, x, y = system.section, system.raster.x, system.raster.y
    units = unit_fields(system)
    network, checks = network_values(system, units)
    reading = _observed(section, network)[len(section.heat_names) :]
    misreading = reading - should_read(section, network)
    spreading, bridges = _spreading(section, x, y, network), _bridges(section, x, y, network)
    return OneGrid(system, units, GridValues(network, reading, misreading, spreading, bridges, checks))


def network_values(system: System, fields: Array) -> tuple[NetworkValues, Checks]:
    """The network from unit fields (F + H, n, m)."""
    boundary = system.boundary
    fixed, heat = len(boundary.direct), len(system.heat_inputs)
    flat = fields.reshape(len(fields), -1)
    # watts out of each fixed terminal (row) when one of them (column) is at 1: the coupling Laplacian
    drop = (np.arange(fixed)[:, None] == boundary.terminal) - flat[:fixed, boundary.cell]
    laplacian = np.array([np.bincount(boundary.terminal, boundary.value * d, fixed) for d in drop]).T
    laplacian += np.diag(boundary.direct.sum(1)) - boundary.direct
    largest = abs(laplacian).max(initial=1e-300)
    coupling = -(laplacian + laplacian.T) / 2
    np.fill_diagonal(coupling, 0.0)

    ext = extended(system, fields)
    peaks, at = _highest_and_sensors(system, ext)
    observed = np.concatenate([_heat_means(system, flat), _sensors(system, fields, at)])
    values = NetworkValues(coupling, observed[:, :fixed], observed[:, fixed:], peaks)
    resistance = values.resistance[:heat]
    checks = Checks(
        weight_error=float(
            max(
                abs(fields[:fixed].sum(0)[system.solid] - 1).max(initial=0.0),
                abs(values.weight.sum(1) - 1).max(initial=0.0),
            )
        ),
        asymmetry=float(
            max(
                abs(laplacian - laplacian.T).max(initial=0.0) / largest,
                abs(resistance - resistance.T).max(initial=0.0) / abs(resistance).max(initial=1e-300),
            )
        ),
        imbalance=_imbalance(system, flat),
    )
    return values, checks


def flows(system: System, flat: Array, temperatures: Array, watts: Array) -> Array:
    """(F,) W out of each fixed terminal into the section, for unit fields `flat` (F + H, n * m)."""
    boundary = system.boundary
    field = np.concatenate([temperatures, watts]) @ flat
    out = boundary.direct.sum(1) * temperatures - boundary.direct @ temperatures
    out += np.bincount(
        boundary.terminal, boundary.value * (temperatures[boundary.terminal] - field[boundary.cell]), len(temperatures)
    )
    for heat_input, q in zip(system.heat_inputs, watts):
        out -= heat_input.fixed * q
    return out


def _imbalance(system: System, flat: Array) -> float:
    """Sum of the flows over the largest, the worst of all unit fields."""
    fixed, worst = len(system.boundary.direct), 0.0
    nothing = 1e-9 * system.boundary.value.sum()  # W/K; below, all terminals are at one temperature
    for unit in np.eye(len(flat)):
        out = flows(system, flat, unit[:fixed], unit[fixed:])
        largest = max(abs(out).max(), unit[fixed:].max(initial=0.0))
        if largest > nothing:
            worst = max(worst, abs(out.sum() + unit[fixed:].sum()) / largest)
    return float(worst)


def _heat_means(system: System, flat: Array) -> Array:
    """(H, F + H) mean temperature of each heat terminal in the unit fields (F + H, n * m)."""
    fixed = len(system.boundary.direct)
    out = np.zeros((len(system.heat_inputs), len(flat)))
    for h, heat_input in enumerate(system.heat_inputs):
        out[h] = flat[:, heat_input.cell] @ heat_input.share
        out[h, :fixed] += heat_input.fixed
        out[h, fixed + h] += heat_input.own
    return out


def _highest_and_sensors(system: System, ext: Array) -> tuple[Array, list[Array]]:
    """(H, H) highest temperature of each heat terminal in each one's unit field, and the unit fields (F + H, 1) at each
    sensor that is a point, in their order."""
    heat, m = len(system.heat_inputs), system.raster.shape[1]
    points = [sensor_point(system, k) for k, sensor in enumerate(system.section.sensors) if sensor.at is not None]
    groups = [heated_points(system, h) for h in range(heat)] + [np.array([i * (m + 1) + j]) for i, j in points]
    read = read_points(system, ext, groups)
    return np.array([highest(system, ext, h, read[h]) for h in range(heat)]).reshape(heat, heat), read[heat:]


def _sensors(system: System, fields: Array, at: list[Array]) -> Array:
    """(S, F + H); `at` as from `_highest_and_sensors`."""
    section = system.section
    out, points = np.zeros((len(section.sensors), len(fields))), iter(at)
    for k, sensor in enumerate(section.sensors):
        if sensor.at is not None:
            out[k] = next(points)[:, 0]
            continue
        number = part_number(system, sensor.part)
        if (terminal := system.properties.fixed[number]) >= 0:
            out[k, terminal] = 1.0
        else:
            cell, volume = system.part_cells(number)
            out[k] = fields.reshape(len(fields), -1)[:, cell] @ volume / volume.sum()
    return out


def _observed(section: Section, network: NetworkValues) -> Array:
    """(H + S,) degC at the section's own temperatures and watts."""
    return network.weight @ section.fixed_temperatures + network.resistance @ section.watts


def should_read(section: Section, network: NetworkValues) -> Array:
    """(S,) degC, NaN where nothing is to be read."""
    observed = [*section.heat_names, *(s.name for s in section.sensors)]
    known = dict(zip(observed, _observed(section, network))) | dict(
        zip(section.fixed_names, section.fixed_temperatures)
    )
    goals = [s.should_read for s in section.sensors]
    return np.array([np.nan if g is None else known[g] if isinstance(g, str) else g for g in goals], float)


def _spreading(section: Section, x: Array, y: Array, network: NetworkValues) -> Array:
    heat, fixed = len(section.heat_names), len(section.fixed_names)
    out = np.empty((len(section.spreading), heat, 2))
    for k in range(len(section.spreading)):
        system = spread_system(section, x, y, k)
        fields = np.zeros((fixed + heat, *system.solid.shape))
        fields[fixed:] = prepared(system, heat).fields(heat_loads(system))
        mean = _heat_means(system, fields.reshape(len(fields), -1))[:, fixed:]
        peaks, _ = _highest_and_sensors(system, extended(system, fields))
        out[k, :, 0] = np.diag(network.resistance[:heat]) - np.diag(mean)
        out[k, :, 1] = np.diag(network.resistance_max) - np.diag(peaks)
    return out


def spread_system(section: Section, x: Array, y: Array, k: int) -> System:
    """The section with spreading number k perfect, without what is not asked, on lines x, y and its plate's skins."""
    parts, along = section.spreading[k].parts, spread_direction(section, k)
    shapes = [s.outline() for name in parts for s in section.part_named[name].shapes]
    if along == "y":
        x = _with_skins(x, [s[:, 0] for s in shapes])
    if along == "x":
        y = _with_skins(y, [s[:, 1] for s in shapes])
    return assemble(section.unasked, x, y, spread=parts, along=along)


def _with_skins(lines: Array, across: list[Array]) -> Array:
    """Lines that also cut a thin skin off both faces of a plate: in the perfectly spreading limit the surface shares
    one temperature too, which cell centres half a cell below it cannot."""
    skins = []
    for c in across:
        skin = 1e-6 * np.ptp(c)
        skins += [c.min() + skin, c.max() - skin]
    return np.unique(np.concatenate([lines, skins]))


def spread_direction(section: Section, k: int) -> str:
    """ "x", "y", or "both" in the plate view."""
    asked = section.spreading[k]
    if section.view == "plate":
        return "both"
    corners = np.concatenate([s.outline() for name in asked.parts for s in section.part_named[name].shapes])
    return asked.along or "xy"[int(np.argmax(np.ptp(corners, 0)))]


def _bridges(section: Section, x: Array, y: Array, network: NetworkValues) -> Array:
    out = np.empty(len(section.bridges))
    for k, asked in enumerate(section.bridges):
        system = assemble(section.unheated, x, y, without=asked.remove)
        a, b = bridge_ends(section, k)
        out[k] = network.coupling[a, b] - network_values(system, unit_fields(system))[0].coupling[a, b]
    return out


def bridge_ends(section: Section, k: int) -> tuple[int, int]:
    """Numbers of the two fixed terminals that a bridge lies between."""
    between = section.bridges[k].between
    return (0, 1) if between is None else (section.fixed_names.index(between[0]), section.fixed_names.index(between[1]))
