"""A field at any place: temperatures at points, and the heat that crosses a line; of one grid.

In a whole cell the temperature is a polynomial of second degree through its centre and the middles of its four sides,
whose temperatures follow from the heat that passes them; its mixed term is what the cells beside it tell. So a value is
always that of the part in which the point lies, on its own side of a joint. Where round or slanted edges cut cells, a
polynomial is fitted to the centres and grid points nearby that lie in the same part.

Heat flows are linear across each cell between those of its opposite sides (the lowest element of P.-A. Raviart and J.M.
Thomas, 1977; from memory). What enters a cell leaves it, so what crosses a closed line is what the sources within it
give, however it lies. In the axisymmetric view they are linear in the square of the radius.
"""

import numpy as np

from fdm.conduction.arrays import Array, Bools, Integers
from fdm.conduction.fields import Field
from fdm.grid.edges import parts_at
from fdm.grid.raster import middles
from fdm.section.model import Section

BESIDE = 1e-9  # of the drawing's size: so far beside a line a point is looked at on either side
REACH = 2  # cells to each side whose centres count beside a round or slanted edge
NEAR = 0.1  # of a cell's diagonal, squared: nearer, all count alike
AT_ONCE = 20_000  # points to which a polynomial is fitted at once, some 100 MB
GAUSS = 0.5 + np.array([-1, 1]) / np.sqrt(12)  # places of two-point integration, each with half the weight


def temperatures_at(section: Section, field: Field, x: Array, y: Array) -> Array:
    """(K,) degC at points x, y (K,), m: in a solid its own; in an environment that one's; NaN elsewhere. On an edge it
    is the mean of the solids beside it."""
    off = BESIDE * section.size
    total, count, air = np.zeros(len(x)), np.zeros(len(x)), np.full(len(x), np.nan)
    cells = [
        [np.searchsorted(lines, at + side * off) - 1 for side in (-1, 1)] for lines, at in ((field.x, x), (field.y, y))
    ]
    between = [low != high for low, high in cells]  # on a grid line
    for a in (0, 1):
        for b in (0, 1):
            k = np.nonzero((between[0] | (a == 0)) & (between[1] | (b == 0)))[0]
            i, j = cells[0][a][k], cells[1][b][k]
            inside = (i >= 0) & (j >= 0) & (i < field.solid.shape[0]) & (j < field.solid.shape[1])
            k, i, j = k[inside], i[inside], j[inside]
            sides = [np.where(on[k], off * (2 * side - 1), 0.0) for on, side in zip(between, (a, b))]
            at = np.stack([x[k], y[k]])
            value, solid = _in_cells(section, field, i, j, at, at + sides)
            total[k[solid]] += value[solid]
            count[k[solid]] += 1
            air[k[~solid]] = np.where(np.isnan(value[~solid]), air[k[~solid]], value[~solid])
    return np.where(count > 0, total / np.maximum(count, 1), air)


def _in_cells(
    section: Section, field: Field, i: Integers, j: Integers, at: Array, looked_at: Array
) -> tuple[Array, Bools]:
    """(K,) degC at points `at` (2, K) of cells i, j, in what owns the points `looked_at` (2, K), and whether that is
    solid."""
    near, solid = field.near_cut[i, j], field.solid[i, j]
    value = np.where(solid, np.nan, field.temperature[i, j])
    whole = np.nonzero(solid & ~near)[0]
    value[whole] = _in_whole_cells(field, i[whole], j[whole], *at[:, whole])
    cut = np.nonzero(near)[0]
    for k in np.split(cut, range(AT_ONCE, len(cut), AT_ONCE)) if len(cut) else ():
        own = parts_at(section, *looked_at[:, k])
        value[k], solid[k] = _fitted(section, field, own, i[k], j[k], *at[:, k])
    return value, solid


def _in_whole_cells(field: Field, i: Integers, j: Integers, x: Array, y: Array) -> Array:
    """(K,) degC at points of whole solid cells i, j."""
    middle = field.temperature[i, j]
    value, away = middle.copy(), np.ones(len(i))
    for axis, (lines, k, at) in enumerate(((field.x, i, x), (field.y, j, y))):
        low, high = field.side_temperature[i, j, axis].T
        width = lines[k + 1] - lines[k]
        d = at - (lines[k] + lines[k + 1]) / 2
        value += (high - low) / width * d + 2 * (high + low - 2 * middle) * (d / width) ** 2
        away *= d
    mixed = np.stack([_change_of_slope(field, i, j, axis) for axis in (0, 1)])
    known = np.isfinite(mixed)
    return np.asarray(value + np.where(known, mixed, 0.0).sum(0) / np.maximum(known.sum(0), 1) * away)


def _change_of_slope(field: Field, i: Integers, j: Integers, axis: int) -> Array:
    """(K,) K/m2: how the slope along `axis` changes across it, from the cells beside that are of the same part; NaN
    where there are none."""
    lines, across = (field.x, field.y) if axis == 0 else (field.y, field.x)
    width, centre = np.diff(lines), middles(across)
    along, beside = (i, j) if axis == 0 else (j, i)
    ends = []
    for step in (-1, 1):
        k = np.clip(beside + step, 0, len(centre) - 1)
        at = (i, k) if axis == 0 else (k, j)
        same = field.solid[at] & (field.part[at] == field.part[i, j]) & ~field.near_cut[at]
        ends.append(np.where(same, k, beside))
    slopes = []
    for k in ends:
        at = (i, k) if axis == 0 else (k, j)
        low, high = field.side_temperature[at][:, axis].T
        slopes.append((high - low) / width[along])
    apart = centre[ends[1]] - centre[ends[0]]
    return np.where(apart > 0, (slopes[1] - slopes[0]) / np.where(apart > 0, apart, 1.0), np.nan)


def _fitted(
    section: Section, field: Field, owner: Integers, i: Integers, j: Integers, x: Array, y: Array
) -> tuple[Array, Bools]:
    """(K,) degC at points of cells i, j from what is known nearby in their `owner` (K,), and whether that is solid."""
    of_cells = np.where(field.solid, field.temperature, np.nan)
    centres = _known_nearby((middles(field.x), middles(field.y)), of_cells, (i - REACH, j - REACH), 2 * REACH + 1)
    corners = _known_nearby((field.x, field.y), field.point_temperature, (i + 1 - REACH, j + 1 - REACH), 2 * REACH)
    x_known, y_known, known = (np.concatenate(both) for both in zip(centres, corners))
    known = np.where(parts_at(section, x_known, y_known) == owner, known, np.nan)
    width = np.hypot(np.diff(field.x)[i], np.diff(field.y)[j])
    dx, dy = (x_known - x) / width, (y_known - y) / width
    weight = np.where(np.isnan(known), 0.0, 1 / (NEAR + dx**2 + dy**2))
    terms = np.stack([np.ones_like(dx), dx, dy, dx * dy, dx**2, dy**2], -1) * weight[..., None]
    share = np.linalg.pinv(terms.swapaxes(0, 1), rcond=1e-4)[:, 0].T * weight
    # from their mean on: where few are known, the fit would lie between them and 0 degC
    total = weight.sum(0)
    mean = (weight * np.nan_to_num(known)).sum(0) / np.where(total > 0, total, 1.0)
    value = np.where(total > 0, mean + (share * np.nan_to_num(known - mean)).sum(0), np.nan)
    given = _given_temperatures(section)[owner]
    return np.where(np.isnan(given), value, given), np.isnan(given) & np.isfinite(value)


def _known_nearby(
    lines: tuple[Array, Array], temperature: Array, first: tuple[Integers, Integers], count: int
) -> tuple[Array, Array, Array]:
    """(count^2, K) places x, y and the temperatures there, of the values on these lines (n,), (m,): `count` lines along
    x and along y from the `first` ones (K,) on; NaN beyond the last ones."""
    a, b = (s.reshape(-1, 1) for s in np.indices((count, count)))
    wanted, shape = (first[0] + a, first[1] + b), temperature.shape
    i, j = (np.clip(k, 0, n - 1) for k, n in zip(wanted, shape))
    there = (i == wanted[0]) & (j == wanted[1])
    return lines[0][i], lines[1][j], np.where(there, temperature[i, j], np.nan)


def _given_temperatures(section: Section) -> Array:
    """(P + 1,) degC of parts whose temperature is given; NaN for others, and, as the last one, where nothing is
    drawn."""
    known = dict(zip(section.fixed_names, section.fixed_temperatures))
    held = {s.part: s.name for s in section.held_sources}
    names = [p.environment or held.get(p.name, "") for p in section.parts]
    return np.array([*(known.get(name, np.nan) for name in names), np.nan])


def heat_through(section: Section, field: Field, points: Array) -> float:
    """W that cross the lines between points (K, 2), m, one after the other, from their left to their right on the way.
    A source on a line itself counts as on its right."""
    off = BESIDE * section.size
    start, step = points[:-1], np.diff(points, axis=0)
    total = 0.0
    for (x0, y0), (dx, dy) in zip(start.tolist(), step.tolist()):
        length = float(np.hypot(dx, dy))
        if length == 0:
            continue
        crossed = [np.array([0.0, 1.0])]
        for lines, at, d in ((field.x, x0, dx), (field.y, y0, dy)):
            if d:
                crossed.append((lines - at) / d)
        t = np.unique(np.clip(np.concatenate(crossed), 0.0, 1.0))
        middle, part = (t[1:] + t[:-1]) / 2, np.diff(t)
        left = off * np.array([-dy, dx]) / length  # the cells on the left of a line that lies between cells
        places = [(field.x, x0 + middle * dx, left[0]), (field.y, y0 + middle * dy, left[1])]
        inside = np.all([(at > lines[0] - off) & (at < lines[-1] + off) for lines, at, _ in places], 0)
        t, part = t[:-1][inside], part[inside]
        i, j = (np.clip(np.searchsorted(lines, at[inside] + by) - 1, 0, len(lines) - 2) for lines, at, by in places)
        for place in GAUSS:
            x, y = x0 + (t + place * part) * dx, y0 + (t + place * part) * dy
            u, du, width_u = _across(field.x[i], field.x[i + 1], x, dx, section.view == "axisymmetric")
            v, dv, width_v = _across(field.y[j], field.y[j + 1], y, dy)
            along_x, along_y = (field.side_flow[i, j, axis].T for axis in (0, 1))
            through_x = along_x[0] + (along_x[1] - along_x[0]) * u
            through_y = along_y[0] + (along_y[1] - along_y[0]) * v
            total += float((part * (through_x * dv / width_v - through_y * du / width_u)).sum()) / 2
    return total


def _across(low: Array, high: Array, at: Array, step: float, squared: bool = False) -> tuple[Array, Array, Array]:
    """(K,) how far places lie across their intervals, from 0 to 1, how fast their coordinate grows, and the interval's
    width in it: the place itself, or its square."""
    if squared:
        return (at**2 - low**2) / (high**2 - low**2), 2 * at * step, high**2 - low**2
    return (at - low) / (high - low), np.full(len(at), step), high - low
