import re
import shutil
import subprocess
from dataclasses import replace

import numpy as np
import pytest

from fdm.answers.network import conductance_matrix
from fdm.cabinet.nodes import HOT, ROOM
from fdm.cabinet.solution import solve_cabinet
from fdm.cabinet.supply import Supply
from fdm.errors import InputError
from fdm.output.export.spice import cabinet_spice, network_spice
from tests.output.cabinet_example import example, zoned

spice = pytest.mark.skipif(shutil.which("ngspice") is None, reason="needs ngspice")


@pytest.fixture
def cabinet():
    return example()


@pytest.fixture
def module_section():
    return example().module_section


def printed(netlist, folder):
    """name -> value that ngspice prints."""
    path = folder / "netlist.cir"
    path.write_text(netlist)
    run = subprocess.run(["ngspice", "-b", path.name], cwd=folder, capture_output=True, text=True, check=False)
    said = re.findall(r"^([vi]\(\w+\)|last_\w+) = (\S+)$", run.stdout, re.MULTILINE)
    assert said, run.stdout + run.stderr
    return {name: float(value) for name, value in said}


def test_pins_are_spice_names_and_explained(module_section):
    section = module_section.section
    with pytest.raises(InputError, match=r"^title: holds the hidden character U\+000A"):  # a line of its own
        replace(section, title="0 [Wall]\nV1 a b")
    awkward = replace(section, title="0 [Wall] V1 a b", sources=tuple(
        replace(s, name={"hot face": "Hot Face", "cold face": "hot-face"}[s.name]) for s in section.sources
    ))  # fmt: skip
    text = network_spice(replace(module_section, asked=module_section.asked.at(awkward)))
    first = next(line for line in text.splitlines() if not line.startswith("*"))
    assert first.split()[:2] == [".subckt", "n_0_wall_v1_a_b"]
    pins = first.split()[2:]
    assert len(set(pins)) == len(pins) and {"hot_face", "hot_face_2"} <= set(pins)
    assert "*  hot_face_2: heat terminal Hot Face" in text or "*  hot_face_2: heat terminal hot-face" in text


@spice
def test_subcircuit_answers_as_the_network(module_section, tmp_path):
    """Temperatures and flows at any drive: T = weight T_fixed + resistance Q, and flows = conductance matrix x T."""
    n = module_section.network
    fixed, watts = np.array([3.0, 31.0]), np.array([-7.5, 22.0])
    pins = " ".join(f"p{k}" for k in range(5))
    drive = [f"V{k} p{k} 0 {t}" for k, t in enumerate(fixed)] + [f"I{k} 0 p{k} {w}" for k, w in enumerate(watts, 2)]
    prints = [*(f"print V(p{k})" for k in range(5)), *(f"print I(V{k})" for k in range(2))]
    found = printed("\n".join([
        "* test", network_spice(module_section, "piece"), f"X1 {pins} piece", *drive, ".op", ".control", "set numdgt=9",
        "run", *prints, ".endc", ".end", "",
    ]), tmp_path)  # fmt: skip
    observed = n.values.weight @ fixed + n.values.resistance @ watts
    assert [found[f"v(p{k})"] for k in (2, 3, 4)] == pytest.approx(observed, abs=1e-5)
    flow = conductance_matrix(n.values) @ np.concatenate([fixed, observed[:2]])
    assert [-found[f"i(v{k})"] for k in range(2)] == pytest.approx(flow[:2], rel=1e-6)


def check_point(solved, found):
    p = solved.point
    node = {name: "v(" + name.replace(" ", "_") + ")" for name in p.temperature}
    for name, temperature in p.temperature.items():
        assert found[node[name]] == pytest.approx(temperature, abs=1e-4), name
    assert found["v(thermostat)"] == pytest.approx(p.reading, abs=1e-4)
    for quantity in ("current", "power", "rejected"):
        assert found[f"v(module_{quantity})"] == pytest.approx(getattr(p, quantity), rel=1e-5)
    assert found["v(module_absorbed)"] == pytest.approx(p.pumped, rel=1e-5)


@spice
def test_ngspice_settles_where_the_cabinet_does(cabinet, tmp_path):
    assert any((cabinet.cabinet.bank.module.seebeck_slope, cabinet.point.lead_loss))
    check_point(cabinet, printed(cabinet_spice(cabinet), tmp_path))


@spice
def test_ngspice_with_constant_current_and_idle_modules(cabinet, tmp_path):
    bank = cabinet.cabinet.bank
    other = replace(cabinet.cabinet, bank=replace(bank, supply=Supply(current=2.4, lead_resistance=0.1, idle=1)))
    solved = solve_cabinet(other, cabinet.sections)
    check_point(solved, printed(cabinet_spice(solved), tmp_path))


@spice
def test_ngspice_settles_where_zones_do(tmp_path):
    """Air that passes the sink from one zone to the other is a source that another node's voltage controls."""
    solved = zoned()
    found, p = printed(cabinet_spice(solved), tmp_path), solved.point
    for node in (
        "air below",
        "air above",
        "load (air below)",
        "load (air above)",
        "cold face",
        "lining of shell (air above)",
    ):
        name = f"v({node.replace(' (', '_').rstrip(')').replace(' ', '_')})"
        assert found[name] == pytest.approx(p.temperature[node], abs=1e-4), node
    assert found["v(thermostat)"] == pytest.approx(p.reading, abs=1e-4)


@spice
def test_ngspice_pulls_down_as_the_cabinet_does(cabinet, tmp_path):
    """The transient of an independent solver, at one moment of the descent."""
    curve = cabinet.pull_down.always_on
    k = int(np.searchsorted(curve.time, 3600.0))
    netlist = cabinet_spice(cabinet).replace("\n.op\n", f"\n.tran 5 {curve.time[k]:.9g} 0 5 uic\n")
    netlist = re.sub(r"print V\((\w+)\)", r"let last_\1 = V(\1)[length(V(\1))-1]\nprint last_\1", netlist)
    last = printed(netlist, tmp_path)
    number = cabinet.circuit.number
    for name in ("air", "load", "hot face"):
        found = last["last_" + name.replace(" ", "_")]
        assert found == pytest.approx(curve.temperature[k, number(name)], abs=0.01), name


def test_netlist_has_every_path_and_capacity(cabinet):
    text = cabinet_spice(cabinet)
    lines = text.splitlines()
    resistors = [x.split() for x in lines if x.startswith("R")]
    assert [1 / float(x[3]) for x in resistors] == pytest.approx([p.conductance for p in cabinet.circuit.paths])
    capacitors = {x.split()[1]: float(x.split()[3]) for x in lines if x.startswith("C_")}
    assert capacitors["hot_face"] == pytest.approx(cabinet.circuit.capacity[cabinet.circuit.number(HOT)])
    assert ROOM not in capacitors
    assert "*  .tran" in text and "\n.op\n" in text
