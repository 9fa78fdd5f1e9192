"""A section's network, or a cabinet's circuit, for other lumped models: as plain data, and as CSV."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.nodes import ROOM
from fdm.cabinet.sections import lumped, section_mesh
from fdm.cabinet.solution import SolvedCabinet
from fdm.section.files import write_csv
from fdm.solving.result import plain_data, result_dict
from fdm.solving.solution import Solution

Array = NDArray[np.float64]


def network_json(solution: Solution) -> dict[str, Any]:
    """What a lumped model needs of a section, as plain data for `write_json`.

    `conductance` is the N-terminal matrix of `conductance_matrix` by name (W/K, flows into the section = matrix @
    temperatures of the terminals). `capacity` is the heat capacity that each terminal takes over (J/K). `network` is as
    in `result_dict`, and so is `frozen`, which says for which temperatures all this holds where numbers follow them.
    `self_heating` (K) is what sensors with watts of their own read more. All is for the section's whole depth, about an
    axis for the full turn.
    """
    matrix, band = _conductances(solution)
    names = _terminals(solution)
    section, whole = lumped(solution), result_dict(solution)
    out: dict[str, Any] = plain_data(
        {
            "title": solution.section.title,
            "terminals": {"fixed": solution.section.fixed_names, "heat": solution.section.heat_names},
            "conductance": _by_name(names, matrix) | {"band": _by_name(names, band)},
            "capacity": section.stored,
            "network": whole["network"],
            **({"frozen": whole["frozen"]} if "frozen" in whole else {}),
            "warnings": (*solution.warnings, *section.warnings),
        }
        | _own_heating(dict(zip(solution.network.sensors, solution.network.self_heating)))
    )
    return out


def write_network_csv(solution: Solution, folder: str | Path) -> tuple[Path, ...]:
    """Write conductance.csv, coupling.csv, weight.csv and resistance.csv into `folder`, and return their paths.

    Rows and columns have names; the values stand in the first columns, their bands in the last. Where sensors have
    watts of their own, self_heating.csv has what they read more.

    Raises InputError where the folder does not exist.
    """
    n, names = solution.network, _terminals(solution)
    tables = {
        "conductance": ("W/K", names, names, *_conductances(solution)),
        "coupling": ("W/K", n.fixed, n.fixed, n.values.coupling, n.band.coupling),
        "weight": ("1", n.observed, n.fixed, n.values.weight, n.band.weight),
        "resistance": ("K/W", n.observed, n.heat, n.values.resistance, n.band.resistance),
    }
    paths = []
    for name, (unit, rows, columns, values, band) in tables.items():
        paths.append(Path(folder) / f"{name}.csv")
        head = [unit, *columns, *(f"band of {c}" for c in columns)]
        write_csv(paths[-1], [head, *([row, *v, *b] for row, v, b in zip(rows, values.tolist(), band.tolist()))])
    return (*paths, *_write_own_heating(dict(zip(n.sensors, n.self_heating)), folder))


def circuit_json(solved: SolvedCabinet) -> dict[str, Any]:
    """A cabinet's nodes (J/K, W) and the paths between them (W/K), as plain data for `write_json`.

    The modules are not linear; they are left to the other model, between the nodes of their two faces.
    """
    c = solved.circuit
    out: dict[str, Any] = plain_data(
        {
            "title": solved.cabinet.title,
            "nodes": {
                name: {"capacity": capacity, "heat": heat, "sensing": sensing}
                for name, capacity, heat, sensing in zip(c.names, c.capacity, c.heat, c.sensing)
            },
            "paths": [
                {"name": p.name, "kind": p.kind, "ends": p.ends, "conductance": p.conductance, "band": p.band}
                | ({"driven_by": p.driven_by} if p.driven_by else {})
                for p in c.paths
            ],
            "held": {ROOM: solved.cabinet.room},
            "warnings": solved.warnings,
        }
        | _own_heating({"thermostat": c.self_heating})
    )
    return out


def write_circuit_csv(solved: SolvedCabinet, folder: str | Path) -> tuple[Path, ...]:
    """Write a cabinet's conductance.csv and nodes.csv into `folder`, and return their paths; and self_heating.csv where
    the thermostat's sensor has watts of its own.

    The matrix (W/K) is that of the nodes: flows out of the nodes = matrix @ temperatures.

    Raises InputError where the folder does not exist.
    """
    c = solved.circuit
    matrix, nodes = Path(folder) / "conductance.csv", Path(folder) / "nodes.csv"
    write_csv(matrix, [["W/K", *c.names], *([node, *row] for node, row in zip(c.names, c.laplacian.tolist()))])
    columns = zip(c.names, c.capacity.tolist(), c.heat.tolist(), c.sensing.tolist())
    write_csv(nodes, [["node", "capacity J/K", "heat W", "sensing"], *columns])
    return matrix, nodes, *_write_own_heating({"thermostat": c.self_heating}, folder)


def _own_heating(by_sensor: dict[str, float]) -> dict[str, Any]:
    """K that sensors read more by their own watts, beside their weights; nothing where there is none."""
    return {"self_heating": by_sensor} if any(by_sensor.values()) else {}


def _write_own_heating(by_sensor: dict[str, float], folder: str | Path) -> tuple[Path, ...]:
    """The path of self_heating.csv, written where there is any."""
    if not any(by_sensor.values()):
        return ()
    write_csv(path := Path(folder) / "self_heating.csv", [["sensor", "self_heating K"], *map(list, by_sensor.items())])
    return (path,)


def _terminals(solution: Solution) -> tuple[str, ...]:
    return (*solution.section.fixed_names, *solution.section.heat_names)


def _conductances(solution: Solution) -> tuple[Array, Array]:
    """The N-terminal matrix (W/K) whose rows sum to 0, and its bands."""
    _, mesh, band = section_mesh(solution.network)
    return np.diag(mesh.sum(1)) - mesh, np.diag(band.sum(1)) + band


def _by_name(names: Sequence[str], matrix: Array) -> dict[str, Any]:
    return {a: dict(zip(names, row)) for a, row in zip(names, matrix)}
