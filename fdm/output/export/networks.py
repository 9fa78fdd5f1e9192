"""A section's network, or a whole cabinet, for other lumped models: plain data, CSV matrices, SPICE netlists.

In a netlist temperatures are volts (degC against node 0), heat is amperes (W), 1 ohm is 1 K/W and 1 farad 1 J/K. The
syntax is common to open SPICE simulators; expressions stand in `B` sources only.
"""

import csv
import re
import unicodedata
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdm.cabinet.checks import ZERO_CELSIUS
from fdm.cabinet.circuit import COLD, HOT, ROOM
from fdm.cabinet.sections import lumped, section_mesh
from fdm.cabinet.solution import SolvedCabinet
from fdm.section.files import written_beside
from fdm.solving.result import plain_data, result_dict
from fdm.solving.solution import Solution

Array = NDArray[np.float64]


def network_json(solution: Solution) -> dict[str, Any]:
    """What a lumped model needs of a section, as plain data for `write_json`.

    `conductance` is the N-terminal matrix of `conductance_matrix` by name (W/K, flows into the section = matrix @
    temperatures of the terminals), `capacity` the heat capacity that each terminal takes over (J/K), `network` as in
    `result_dict`. A section view is for its whole depth, about an axis for the full turn.
    """
    matrix, band = _conductances(solution)
    names = _terminals(solution)
    section = lumped(solution)
    return plain_data(
        {
            "title": solution.section.title,
            "terminals": {"fixed": solution.section.fixed_names, "heat": solution.section.heat_names},
            "conductance": _by_name(names, matrix) | {"band": _by_name(names, band)},
            "capacity": section.stored,
            "network": result_dict(solution)["network"],
            "warnings": (*solution.warnings, *section.warnings),
        }
    )


def write_network_csv(solution: Solution, folder: str | Path) -> tuple[Path, ...]:
    """conductance.csv, coupling.csv, weight.csv and resistance.csv in `folder`: rows and columns by name, values in the
    first columns, their bands in the last. Returns what was written.

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
        with written_beside(paths[-1]) as temporary, open(temporary, "w", newline="", encoding="utf-8") as file:
            write = csv.writer(file, lineterminator="\n")
            write.writerow([unit, *columns, *(f"band of {c}" for c in columns)])
            write.writerows([row, *v, *b] for row, v, b in zip(rows, values.tolist(), band.tolist()))
    return tuple(paths)


def circuit_json(solved: SolvedCabinet) -> dict[str, Any]:
    """The whole cabinet's nodes and paths as plain data: W/K between nodes, J/K and W of each; the modules, which are
    not linear, are left to the other model, between the two faces."""
    c = solved.circuit
    return plain_data(
        {
            "title": solved.cabinet.title,
            "nodes": {
                n: {"capacity": q, "heat": w, "sensing": s}
                for n, q, w, s in zip(c.names, c.capacity, c.heat, c.sensing)
            },
            "paths": [
                {"name": p.name, "kind": p.kind, "ends": p.ends, "conductance": p.conductance, "band": p.band}
                for p in c.paths
            ],
            "held": {ROOM: solved.cabinet.room},
            "warnings": solved.warnings,
        }
    )


def write_circuit_csv(solved: SolvedCabinet, folder: str | Path) -> tuple[Path, ...]:
    """The cabinet's node conductance matrix (W/K, flows out of the nodes = matrix @ temperatures), and its nodes."""
    c = solved.circuit
    matrix, nodes = Path(folder) / "conductance.csv", Path(folder) / "nodes.csv"
    with written_beside(matrix) as temporary, temporary.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["W/K", *c.names])
        rows.writerows([n, *row] for n, row in zip(c.names, c.laplacian.tolist()))
    with written_beside(nodes) as temporary, temporary.open("w", newline="", encoding="utf-8") as file:
        rows = csv.writer(file, lineterminator="\n")
        rows.writerow(["node", "capacity J/K", "heat W", "sensing"])
        rows.writerows(zip(c.names, c.capacity.tolist(), c.heat.tolist(), c.sensing.tolist()))
    return matrix, nodes


def network_spice(solution: Solution, name: str | None = None) -> str:
    """The section as a SPICE subcircuit, named after its title if no name is given.

    Its pins are the fixed terminals, the heat terminals (drive them with current sources, 1 A = 1 W into the section),
    and the sensors' readings, which must not be loaded. The resistors are the off-diagonals of the N-terminal
    conductance matrix; a sensor is its weights on the fixed terminals plus its resistances on the watts.
    """
    section, n = solution.section, solution.network
    nodes = _node_names((*n.fixed, *n.heat, *n.sensors))
    watts = _node_names((f"watts {heat}" for heat in n.heat), taken=set(nodes.values()))
    inner = {heat: watts[f"watts {heat}"] for heat in n.heat}
    called = _spice_name(name if name is not None else section.title)
    lines = [
        *_comment(f"{section.title}: network of {len(nodes)} pins", *_CONVENTION),
        *_comment("pins, in order:", *(f"  {node}: {kind} {of}" for kind, of, node in _pins(solution, nodes))),
        f".subckt {called} {' '.join(nodes.values())}",
    ]
    for heat in n.heat:
        lines.append(f"V_{inner[heat]} {nodes[heat]} {inner[heat]} 0")
    terminals, mesh, _ = section_mesh(solution.network)
    end = {t: inner.get(t, nodes[t]) for t in terminals}
    lines += _resistors((end[terminals[i]], end[terminals[j]], mesh[i, j]) for i in range(len(mesh)) for j in range(i))
    for row, sensor in enumerate(n.sensors, len(n.heat)):
        terms = [(w, f"V({nodes[fixed]})") for fixed, w in zip(n.fixed, n.values.weight[row])]
        terms += [(z, f"I(V_{inner[heat]})") for heat, z in zip(n.heat, n.values.resistance[row])]
        lines.append(f"B_{nodes[sensor]} {nodes[sensor]} 0 V = {_sum(terms)}")
    return "\n".join([*lines, f".ends {called}", ""])


def cabinet_spice(solved: SolvedCabinet) -> str:
    """The whole cabinet with its modules always on, as a netlist that `ngspice -b` runs: the operating point, and with
    the `.tran` line the pull-down. Readings and module figures are nodes too, so any simulator can plot them."""
    c, cabinet = solved.circuit, solved.cabinet
    bank, supply, load = cabinet.bank, cabinet.bank.supply, cabinet.load
    module = bank.module
    node = _node_names(c.names)
    extra = _node_names(_HELPERS, set(node.values()))
    drive, seebeck, ohms, leak, current, absorbed, rejected = (f"V({extra[x]})" for x in _HELPERS[:7])
    cold, hot = f"V({node[COLD]})", f"V({node[HOT]})"
    away = f"(({cold} + {hot})/2 - ({_number(module.reference_mean)}))"
    full = supply.voltage if supply.voltage is not None else supply.current
    assert full is not None
    start = cabinet.room if cabinet.start is None else cabinet.start

    lines = [
        *_comment(f"{cabinet.title}: lumped cabinet, modules always on", *_CONVENTION),
        *_comment("nodes:", *(f"  {node[x]}: {_one_line(x)}" for x in c.names)),
        "",
        f"V_room {node[ROOM]} 0 {_number(cabinet.room)}",
        *(f"I_{node[x]} 0 {node[x]} {_number(w)}" for x, w in zip(c.names, c.heat) if w),
        "",
    ]
    for k, p in enumerate(c.paths, 1):
        if p.conductance:
            lines += [
                *_comment(f"{p.name} ({p.kind})"),
                *_resistors([(node[p.ends[0]], node[p.ends[1]], p.conductance)], k),
            ]
    lines.append("")
    for x, joules in zip(c.names, c.capacity):
        if joules > 0:
            begin = load.start if x == "load" else start
            lines.append(f"C_{node[x]} {node[x]} 0 {_number(joules)} IC={_number(begin)}")

    lines += [
        "",
        *_comment(
            f"modules: {supply.parallel} strings of {supply.series}, and {supply.idle} idle; their figures are nodes:",
            "V/K, ohm, W/K of one module; A through it; W absorbed, rejected and taken from the supply by all",
        ),
    ]
    for quantity, value, slope in (
        ("Seebeck", module.seebeck, module.seebeck_slope),
        ("resistance", module.resistance, module.resistance_slope),
        ("conductance", module.conductance, module.conductance_slope),
    ):
        x = extra[f"module {quantity}"]
        lines.append(f"B_{x} {x} 0 V = {_number(value)}*(1 + ({_number(slope)})*{away})")
    if supply.voltage is not None:
        lines.append(f"V_supply {extra['supply']} 0 {_number(full)}")
        series = f"{supply.series}*{ohms} + {_number(supply.parallel * supply.lead_resistance)}"
        amperes = f"({drive} - {supply.series}*{seebeck}*({hot} - {cold}))/({series})"
    else:
        lines += [*_comment("the supply's current, 1 V = 1 A"), f"V_supply {extra['supply']} 0 {_number(full)}"]
        amperes = f"{drive}/{supply.parallel}"
    passed = f"{supply.modules}*{leak}*({hot} - {cold})"
    joule = f"{current}*{current}*{ohms}"

    def heat(face: str, sign: str) -> str:
        return f"{supply.driven}*({seebeck}*{current}*({face} + {ZERO_CELSIUS}) {sign} {joule}/2) - {passed}"

    lead = f"{_number(supply.parallel**2 * supply.lead_resistance)}*{current}*{current}"
    terms = [(w, f"V({node[x]})") for x, w in zip(c.names, c.sensing)]
    for x, expression in (
        ("module current", amperes),
        ("module absorbed", heat(cold, "-")),
        ("module rejected", heat(hot, "+")),
        ("module power", f"{rejected} - {absorbed} + {lead}"),
        ("thermostat", _sum(terms)),
    ):
        lines.append(f"B_{extra[x]} {extra[x]} 0 V = {expression}")
    lines += [
        f"B_cold_heat {node[COLD]} 0 I = {absorbed}",
        f"B_hot_heat 0 {node[HOT]} I = {rejected}",
        "",
        *_comment("near the answer that exists: the equations have another, below absolute zero"),
        *(f".nodeset V({node[x]})={_number(begin)}" for x, begin in _guess(cabinet.room, c.names).items()),
        ".options reltol=1e-9 abstol=1e-9 vntol=1e-9",
        ".op",
        *_comment(
            "for the pull-down with the modules always on, in place of .op:",
            "  .tran 60 86400 uic",
            "for other supplies:",
            f"  .dc V_supply {_number(full / 20)} {_number(2 * full)} {_number(full / 20)}",
            "ngspice -b prints with nine digits by what follows; leave it out for other simulators",
        ),
        ".control",
        "set numdgt=9",
        "run",
        *(f"print V({x})" for x in (*node.values(), *extra.values())),
        ".endc",
        ".end",
        "",
    ]
    return "\n".join(lines)


def _guess(room: float, nodes: Iterable[str]) -> dict[str, float]:
    return dict.fromkeys(nodes, room) | {COLD: room - 10, HOT: room + 10}


_HELPERS = (
    "supply", "module Seebeck", "module resistance", "module conductance", "module current", "module absorbed",
    "module rejected", "module power", "thermostat",
)  # fmt: skip
_CONVENTION = ("temperatures: V = degC; heat: A = W; 1 ohm = 1 K/W; 1 F = 1 J/K",)


def _terminals(solution: Solution) -> tuple[str, ...]:
    return (*solution.section.fixed_names, *solution.section.heat_names)


def _conductances(solution: Solution) -> tuple[Array, Array]:
    """The N-terminal matrix (W/K) whose rows sum to 0, and its bands."""
    _, mesh, band = section_mesh(solution.network)
    return np.diag(mesh.sum(1)) - mesh, np.diag(band.sum(1)) + band


def _by_name(names: Sequence[str], matrix: Array) -> dict[str, Any]:
    return {a: dict(zip(names, row)) for a, row in zip(names, matrix)}


def _pins(solution: Solution, nodes: dict[str, str]) -> Iterable[tuple[str, str, str]]:
    n = solution.network
    for kind, names in (("fixed terminal", n.fixed), ("heat terminal", n.heat), ("reading of", n.sensors)):
        yield from ((kind, x, nodes[x]) for x in names)


def _node_names(names: Iterable[str], taken: set[str] | None = None) -> dict[str, str]:
    """name -> a SPICE node of its own: letters, digits and underscores, in lower case, as SPICE tells no cases apart.

    >>> list(_node_names(["Cabinet air", "cabinet-air", "Luft außen", "0", "gnd"]).values())
    ['cabinet_air', 'cabinet_air_2', 'luft_au_en', 'n_0', 'n_gnd']
    """
    out: dict[str, str] = {}
    used = set(taken or ())
    for name in names:
        base = node = _spice_name(name)
        k = 1
        while node in used:
            k += 1
            node = f"{base}_{k}"
        used.add(node)
        out[name] = node
    return out


def _spice_name(name: str) -> str:
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "replace").decode().lower()
    node = re.sub(r"[^a-z0-9]+", "_", plain).strip("_")
    return node if node[:1].isalpha() and node != "gnd" else f"n_{node}".rstrip("_")


def _comment(*lines: str) -> list[str]:
    return [f"* {_one_line(line)}" if not line.startswith(" ") else f"*  {_one_line(line)}" for line in lines]


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _resistors(links: Iterable[tuple[str, str, float]], first: int = 1) -> list[str]:
    """A resistor for each pair of nodes between which heat passes; `links` give W/K."""
    return [f"R{k} {a} {b} {_number(1 / g)}" for k, (a, b, g) in enumerate((x for x in links if x[2]), first)]


def _sum(terms: Iterable[tuple[float, str]]) -> str:
    return " + ".join(f"({_number(factor)})*{of}" for factor, of in terms if factor) or "0"


def _number(value: float) -> str:
    return f"{float(value):.12g}"
