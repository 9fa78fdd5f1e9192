"""What is read of a stack: its faces, sensors on them or between them, and the highest temperatures."""

import numpy as np

from fdm.conduction.arrays import Array, Integers
from fdm.conduction.fins import FinTemperatures
from fdm.conduction.flows import heat_means
from fdm.conduction.peaks import heated_points, highest
from fdm.conduction.readings import (
    at_points,
    extended,
    point_weights,
    read_points,
    sensor_load,
    sensor_point,
)
from fdm.conduction.stack.system import Stack, face_rise
from fdm.section.model import FACES

Load = tuple[Integers, Array]


def face_fields(stack: Stack, units: Array, face: str) -> Array:
    """(F + H, n, m) unit fields on a face: in each cell the mean over its area."""
    weight, fixed, watts = face_weights(stack, face)
    layer = units[:, stack.layers.beside(face)]
    flat = layer.reshape(len(units), -1) * weight + np.concatenate([fixed, watts])
    return np.asarray(flat).reshape(layer.shape)


def face_weights(stack: Stack, name: str) -> tuple[Array, Array, Array]:
    """With which weights each cell's face is read: that of the cell beside it (n m,), those of the fixed terminals
    (F, n m), and K/W of each heat terminal (H, n m)."""
    columns, face, layer = stack.columns, stack.faces[FACES.index(name)], stack.layers.beside(name)
    whole = np.zeros(columns.cells)
    for number in np.nonzero(stack.plan.properties.solid[: len(stack.section.parts)])[0].tolist():
        cell, own = stack.plan.layout.part_cells(number, stack.plan.raster.area)
        whole[cell] += own
    weight = (whole > 0).astype(float)
    fixed = np.zeros((len(stack.boundary.direct), columns.cells))
    watts = np.zeros((len(stack.heat_inputs), columns.cells))
    for terminal, patch in face.film:
        inner, film = 1 / columns.half(layer, patch)[1], columns.film[terminal] * patch.area
        share = film / (inner + film) * patch.area / whole[patch.cell]
        np.subtract.at(weight, patch.cell, share)
        np.add.at(fixed[terminal], patch.cell, share)
    for h, patch in face.heated.items():
        rise = face_rise(stack.plan, columns, patch, layer)
        np.add.at(watts[h], patch.cell, rise * patch.area / whole[patch.cell])
    return weight, fixed, watts


def sensor_weights(stack: Stack, sensor: int) -> Array:
    """(Lp + 2,) with which weights sensor number `sensor` reads the back, the plate's layers and the front, over the
    point at which it lies."""
    asked, share = stack.section.sensors[sensor], stack.layers.share[stack.layers.of_plate]
    if asked.face is None:
        return np.concatenate([[0.0], share, [0.0]])
    thickness = _thickness_at(stack, sensor)
    below = min(asked.depth / thickness, 1.0)
    place = below if asked.face == "back" else 1 - below
    at = np.concatenate([[0.0], np.cumsum(share) - share / 2, [1.0]])
    k = int(np.clip(np.searchsorted(at, place) - 1, 0, len(at) - 2))
    out, part = np.zeros(len(at)), (place - at[k]) / (at[k + 1] - at[k])
    out[k], out[k + 1] = 1 - part, part
    return out


def _thickness_at(stack: Stack, sensor: int) -> float:
    """m of the thinnest solid beside the grid point of a sensor."""
    i, j = sensor_point(stack.plan, sensor)
    owner, p = stack.plan.raster.owner[i : i + 2, j : j + 2], stack.plan.properties
    return float(p.thickness[owner][p.solid[owner]].min(initial=np.inf))


def sensor_rows(stack: Stack, units: Array) -> Array:
    """(S, F + H) unit fields at the sensors."""
    section, plan = stack.section, stack.plan
    out = np.zeros((len(section.sensors), len(units)))
    faces = {f: face_fields(stack, units, f) for f in FACES} if any(s.at for s in section.sensors) else {}
    for k, sensor in enumerate(section.sensors):
        if sensor.at is None:
            number = plan.part_number(sensor.part)
            if (terminal := plan.properties.fixed[number]) >= 0:
                out[k, terminal] = 1.0
            else:
                cell, volume = stack.part_cells(number)
                out[k] = units.reshape(len(units), -1)[:, cell] @ volume / volume.sum()
            continue
        through = np.stack([faces["back"], *units[:, stack.layers.of_plate].swapaxes(0, 1), faces["front"]])
        field = extended(plan, np.tensordot(sensor_weights(stack, k), through, 1))
        i, j = (np.array([v]) for v in sensor_point(plan, k))
        out[k] = at_points(field, point_weights(plan, i, j), i, j)[:, 0]
    return out


def sensor_loads(stack: Stack, sensor: int) -> Load:
    """Cells and weights with which a sensor reads them, as a load, see `fdm.conduction.readings.sensor_load`."""
    cell, weight = sensor_load(stack.plan, sensor)
    through = sensor_weights(stack, sensor)
    if stack.section.sensors[sensor].at is None:
        through = np.concatenate([[0.0], stack.layers.share[stack.layers.of_plate], [0.0]])
    layers = stack.layers.of_plate
    by_layer = through[1:-1].copy()
    by_layer[0] += through[0]
    by_layer[-1] += through[-1]
    return (layers[:, None] * stack.columns.cells + cell).ravel(), (by_layer[:, None] * weight).ravel()


def hottest(stack: Stack, units: Array) -> Array:
    """(H, H) highest temperature of each heat terminal (row) in each one's unit field: on the face on which it enters,
    or in any layer of the plate."""
    plan, heat = stack.plan, len(stack.heat_inputs)
    out = np.full((heat, heat), -np.inf)
    for h in range(heat):
        points = heated_points(plan, h)
        for layer in heated_layers(stack, h):
            ext = extended(plan, heated_field(stack, units, h, layer))
            read = read_points(plan, ext, [points])[0]
            out[h] = np.maximum(out[h], highest(plan, ext, h, points, read))
    return out


def heated_layers(stack: Stack, heat: int) -> list[int]:
    """The layers that heat terminal number `heat` warms first: the one beside its face, or all of the plate."""
    face = stack.section.heat_sources[heat].face
    return stack.layers.of_plate.tolist() if face is None else [stack.layers.beside(face)]


def heated_field(stack: Stack, units: Array, heat: int, layer: int) -> Array:
    """(F + H, n, m) unit fields in a layer; on the face over it where heat terminal number `heat` enters there. Around
    its patch the face counts as if as much entered, so that points on its rim are read as those within it."""
    if heat not in stack.rises:
        return units[:, layer]
    out, own = units[:, layer].copy(), stack.heat_inputs[heat]
    rise = np.full(stack.columns.cells, own.own)
    rise[own.cell % stack.columns.cells] = stack.rises[heat]
    out[len(stack.boundary.direct) + heat] += rise.reshape(out.shape[1:])
    return out


def hottest_load(stack: Stack, units: Array, heat: int) -> Load:
    """The cell that is warmest under a heat terminal in its own unit field, as a load."""
    own, cell = len(stack.boundary.direct) + heat, stack.heat_inputs[heat].cell
    warmest = cell[np.argmax(units[own].ravel()[cell])]
    return np.array([warmest]), np.ones(1)


def observed(stack: Stack, units: Array) -> Array:
    """(H + S, F + H) means of the heat terminals, then the sensors."""
    return np.concatenate([heat_means(stack, units.reshape(len(units), -1)), sensor_rows(stack, units)])


def stack_fins(stack: Stack, units: Array, resists: Array | None = None) -> FinTemperatures:
    """What each group of fins gives off, and how warm its roots are, in unit fields (F + H, ...) of the cells; with the
    resistance of each input `resists` (I,) times as large."""
    columns, flat = stack.columns, units.reshape(len(units), -1)
    heat, roots = np.zeros((2, len(stack.section.fins), len(units)))
    wetted, footprint = np.zeros((2, len(stack.section.fins)))
    for group in (g for face in stack.faces for g in face.groups if len(g.patch.cell)):
        k, fins, patch = stack.section.fins.index(group.fins), group.fins, group.patch
        root, beside = int(stack.layers.of_fins(fins.face)[0]), stack.layers.beside(fins.face)
        film, link, parts = columns.film[group.terminal], columns.root(group, beside, root), stack.of_fins[fins.name]
        if resists is not None:
            film = film / resists[columns.first_film + group.terminal]
            link, parts = link.scaled(resists), tuple(s.scaled(resists) for s in parts)
        for s in parts:
            if s.along is None:  # they lead to the air
                heat[k] += flat[:, s.a] @ s.conductance
                heat[k, group.terminal] -= s.conductance.sum()
        share = link.resistances[-1][1] * link.conductance  # of the drop from the plate to half way up the first layer
        in_root = flat[:, link.b] * (1 - share) + flat[:, link.a] * share
        roots[k] = in_root @ patch.area / patch.area.sum()
        roots[k, group.terminal] -= 1.0
        footprint[k] = film * group.share * patch.area.sum()
        wetted[k] = film * columns.wetted_area(group)
    return FinTemperatures(heat, roots, wetted, footprint)
