"""A section's network, or a whole cabinet, as a SPICE netlist.

Heat flows as current does: a temperature is a voltage (1 V = 1 degC against node 0), heat is a current (1 A = 1 W), so
a resistor of 1 ohm is 1 K/W and a capacitor of 1 F is 1 J/K.

The syntax is common to open SPICE simulators; expressions stand in `B` sources only.
"""

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass

from fdm.cabinet.checks import ZERO_CELSIUS
from fdm.cabinet.circuit import Circuit
from fdm.cabinet.nodes import COLD, HOT, LOAD, ROOM
from fdm.cabinet.sections import section_mesh
from fdm.cabinet.solution import SolvedCabinet
from fdm.solving.solution import Solution

CONVENTION = "temperatures: V = degC; heat: A = W; 1 ohm = 1 K/W; 1 F = 1 J/K"
MODULE_NODES = (
    "supply", "module Seebeck", "module resistance", "module conductance", "module current", "module absorbed",
    "module rejected", "module power", "thermostat",
)  # fmt: skip


def network_spice(solution: Solution, name: str | None = None) -> str:
    """The section as a SPICE subcircuit, named after its title if no name is given.

    Its pins are the fixed terminals, the heat terminals (drive them with current sources, 1 A = 1 W into the section),
    and the sensors' readings, which must not be loaded. The resistors are the off-diagonals of the N-terminal
    conductance matrix. A sensor's reading is its weights times the fixed temperatures, plus its resistances times the
    watts, plus its own heating.
    """
    section, n = solution.section, solution.network
    nodes = _node_names((*n.fixed, *n.heat, *n.sensors))
    # behind each heat pin a voltage source of 0 V measures the watts that enter
    inner_names = _node_names((f"watts {heat}" for heat in n.heat), taken=nodes.values())
    inner = {heat: inner_names[f"watts {heat}"] for heat in n.heat}
    subcircuit = _spice_name(name if name is not None else section.title)
    kinds = (("fixed terminal", n.fixed), ("heat terminal", n.heat), ("reading of", n.sensors))
    lines = [
        *_comment(f"{section.title}: network of {len(nodes)} pins", CONVENTION),
        *_comment(*(f"it holds for {f.words}" for f in (solution.frozen.values if solution.frozen else ()))),
        *_comment("pins, in order:", *(f"  {nodes[x]}: {kind} {x}" for kind, names in kinds for x in names)),
        f".subckt {subcircuit} {' '.join(nodes.values())}",
    ]
    lines += [f"V_{inner[heat]} {nodes[heat]} {inner[heat]} 0" for heat in n.heat]
    terminals, mesh, _ = section_mesh(solution.network)
    node = [inner.get(t, nodes[t]) for t in terminals]
    lines += _resistors((node[i], node[j], mesh[i, j]) for i in range(len(mesh)) for j in range(i))
    for row, sensor in enumerate(n.sensors, len(n.heat)):
        terms = [(weight, f"V({nodes[fixed]})") for fixed, weight in zip(n.fixed, n.values.weight[row])]
        terms += [(r, f"I(V_{inner[heat]})") for heat, r in zip(n.heat, n.values.resistance[row])]
        rise = n.self_heating[row - len(n.heat)] if n.self_heating else 0.0
        lines.append(f"B_{nodes[sensor]} {nodes[sensor]} 0 V = {_sum(terms)}{_rise(rise)}")
    return "\n".join([*lines, f".ends {subcircuit}", ""])


@dataclass(frozen=True)
class _Nodes:
    """The SPICE names of a cabinet's nodes, and of the further nodes for the modules and the thermostat."""

    circuit: dict[str, str]
    extra: dict[str, str]  # by MODULE_NODES

    def voltage(self, name: str) -> str:
        return f"V({self.circuit[name] if name in self.circuit else self.extra[name]})"


def cabinet_spice(solved: SolvedCabinet) -> str:
    """The whole cabinet with its modules always on, as a netlist that `ngspice -b` runs.

    It answers with the operating point, and with the `.tran` line in its comments with the pull-down. What the
    thermostat reads and the modules' figures are nodes too, so any simulator can plot them.
    """
    circuit = solved.circuit
    names = _node_names(circuit.names)
    nodes = _Nodes(names, _node_names(MODULE_NODES, taken=names.values()))
    return "\n".join(
        [
            *_comment(f"{solved.cabinet.title}: lumped cabinet, modules always on", CONVENTION),
            *_comment("nodes:", *(f"  {names[x]}: {_one_line(x)}" for x in circuit.names)),
            "",
            f"V_room {names[ROOM]} 0 {_number(solved.cabinet.room)}",
            *(f"I_{names[x]} 0 {names[x]} {_number(w)}" for x, w in zip(circuit.names, circuit.heat) if w),
            "",
            *_path_lines(circuit, nodes),
            "",
            *_capacity_lines(solved, nodes),
            "",
            *_module_lines(solved, nodes),
            "",
            *_run_lines(solved, nodes),
            "",
        ]
    )


def _path_lines(circuit: Circuit, nodes: _Nodes) -> list[str]:
    """A resistor for every path between two nodes; where others drive its heat, a source that they control."""
    lines = []
    for number, path in enumerate(circuit.paths, 1):
        if path.conductance:
            a, b = (nodes.circuit[end] for end in path.ends)
            lines += _comment(f"{path.name} ({path.kind})")
            if path.driven_by is None:
                lines += _resistors([(a, b, path.conductance)], number)
            else:
                warm, cold = (nodes.circuit[node] for node in path.driven_by)
                lines.append(f"G{number} {a} {b} {warm} {cold} {_number(path.conductance)}")
    return lines


def _capacity_lines(solved: SolvedCabinet, nodes: _Nodes) -> list[str]:
    """A capacitor for every node that stores heat, with the temperature at which the pull-down starts."""
    cabinet, circuit = solved.cabinet, solved.circuit
    start = cabinet.room if cabinet.start is None else cabinet.start
    lines = []
    for x in circuit.nodes:
        if x.capacity > 0:
            node, begin = nodes.circuit[x.name], cabinet.load.start if x.kind == LOAD else start
            lines.append(f"C_{node} {node} 0 {_number(x.capacity)} IC={_number(begin)}")
    return lines


def _module_lines(solved: SolvedCabinet, nodes: _Nodes) -> list[str]:
    """The modules, their supply and the thermostat's reading, as sources between the nodes."""
    bank, circuit = solved.cabinet.bank, solved.circuit
    module, supply = bank.module, bank.supply
    v = nodes.voltage
    cold, hot, current, seebeck = v(COLD), v(HOT), v("module current"), v("module Seebeck")
    lines = _comment(
        f"modules: {supply.parallel} strings of {supply.series}, and {supply.idle} idle; their figures are nodes:",
        "V/K, ohm, W/K of one module; A through it; W absorbed, rejected and taken from the supply by all",
    )
    from_reference = f"(({cold} + {hot})/2 - ({_number(module.reference_mean)}))"
    for quantity, value, slope in (
        ("module Seebeck", module.seebeck, module.seebeck_slope),
        ("module resistance", module.resistance, module.resistance_slope),
        ("module conductance", module.conductance, module.conductance_slope),
    ):
        lines.append(_source(nodes, quantity, f"{_number(value)}*(1 + ({_number(slope)})*{from_reference})"))
    if supply.voltage is not None:
        lines.append(f"V_supply {nodes.extra['supply']} 0 {_number(supply.voltage)}")
        ohms = f"{supply.series}*{v('module resistance')} + {_number(supply.parallel * supply.lead_resistance)}"
        amperes = f"({v('supply')} - {supply.series}*{seebeck}*({hot} - {cold}))/({ohms})"
    else:
        assert supply.current is not None
        lines += _comment("the supply's current, 1 V = 1 A")
        lines.append(f"V_supply {nodes.extra['supply']} 0 {_number(supply.current)}")
        amperes = f"{v('supply')}/{supply.parallel}"
    conducted = f"{supply.modules}*{v('module conductance')}*({hot} - {cold})"
    joule = f"{current}*{current}*{v('module resistance')}"

    def face_heat(face: str, sign: str) -> str:
        return f"{supply.driven}*({seebeck}*{current}*({face} + {ZERO_CELSIUS}) {sign} {joule}/2) - {conducted}"

    absorbed, rejected = v("module absorbed"), v("module rejected")
    lead_loss = f"{_number(supply.parallel**2 * supply.lead_resistance)}*{current}*{current}"
    reading = _sum((weight, v(x)) for x, weight in zip(circuit.names, circuit.sensing)) + _rise(circuit.self_heating)
    return [
        *lines,
        _source(nodes, "module current", amperes),
        _source(nodes, "module absorbed", face_heat(cold, "-")),
        _source(nodes, "module rejected", face_heat(hot, "+")),
        _source(nodes, "module power", f"{rejected} - {absorbed} + {lead_loss}"),
        _source(nodes, "thermostat", reading),
        f"B_cold_heat {nodes.circuit[COLD]} 0 I = {absorbed}",
        f"B_hot_heat 0 {nodes.circuit[HOT]} I = {rejected}",
    ]


def _source(nodes: _Nodes, quantity: str, expression: str) -> str:
    """The line that gives one of the further nodes its value."""
    node = nodes.extra[quantity]
    return f"B_{node} {node} 0 V = {expression}"


def _run_lines(solved: SolvedCabinet, nodes: _Nodes) -> list[str]:
    """Where the simulator begins to look, and what it computes and prints."""
    room, supply = solved.cabinet.room, solved.cabinet.bank.supply
    full = supply.voltage if supply.voltage is not None else supply.current
    assert full is not None
    guess = dict.fromkeys(solved.circuit.names, room) | {COLD: room - 10, HOT: room + 10}
    return [
        *_comment("near the answer that exists: the equations have another, below absolute zero"),
        *(f".nodeset {nodes.voltage(x)}={_number(temperature)}" for x, temperature in guess.items()),
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
        *(f"print V({x})" for x in (*nodes.circuit.values(), *nodes.extra.values())),
        ".endc",
        ".end",
    ]


def _node_names(names: Iterable[str], taken: Iterable[str] = ()) -> dict[str, str]:
    """A SPICE node for each name, none used twice.

    Nodes are of letters, digits and underscores, in lower case, because SPICE tells no cases apart.

    >>> list(_node_names(["Cabinet air", "cabinet-air", "Luft außen", "0", "gnd"]).values())
    ['cabinet_air', 'cabinet_air_2', 'luft_au_en', 'n_0', 'n_gnd']
    """
    out: dict[str, str] = {}
    used = set(taken)
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


def _rise(kelvin: float) -> str:
    """What a sensor reads more by its own watts, as a further term; nothing where it has none."""
    return f" + {_number(kelvin)}" if kelvin else ""


def _number(value: float) -> str:
    return f"{float(value):.12g}"
