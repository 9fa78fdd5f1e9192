"""What the tests of the lumped cabinet share: a plain box with its modules between two sinks, or in a piece of wall.

All its figures are invented.
"""

from dataclasses import replace
from functools import cache

from fdm.cabinet.bank import Bank, Sink
from fdm.cabinet.circuit import Circuit, circuit
from fdm.cabinet.datasheet import DataSheet, module_from_datasheet
from fdm.cabinet.load import Load
from fdm.cabinet.model import Cabinet
from fdm.cabinet.module import ThermoelectricModule
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.sections import lumped
from fdm.cabinet.solution import SolvedCabinet, solve_cabinet
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.section.model import Border, Bridge, Environment, Material, Part, Rectangle, Section, Segment, Sensor, Source
from fdm.solving.solution import Solution
from fdm.solving.steady import solve

FACES = ("left", "right", "front", "back", "bottom", "top")
SKIN = Material("skin", (0.2, 0.2), density=1200.0, specific_heat=1000.0)
FOAM = Material("foam", (0.03, 0.03), density=30.0, specific_heat=1400.0)
METAL = Material("metal", (200.0, 200.0), density=2700.0, specific_heat=900.0)
MODULE = module_from_datasheet(DataSheet(68, 6, hot_side=27, greatest_voltage=15.4))
SLOPING = replace(MODULE, seebeck_slope=0.002, resistance_slope=0.0055, conductance_slope=-0.0025)
DEAD = ThermoelectricModule(1e-12, 1.0, 1e-12, reference_mean=20)  # neither pumps nor conducts

PIECE = Section(
    title="a piece of wall with a module",
    depth=0.06,
    parts=(
        Part("inside air beside the plate", (Rectangle((0.06, 0.12), (-0.004, 0)),), environment="inside"),
        Part("outside air beside the plate", (Rectangle((0.06, 0.12), (0.03, 0.034)),), environment="outside"),
        Part("wall", (Rectangle((0, 0.12), (0, 0.03)),), FOAM),
        Part("cold plate", (Rectangle((0, 0.06), (-0.004, 0)),), METAL),
        Part("block", (Rectangle((0.02, 0.04), (0, 0.026)),), METAL),
        Part("module", (Rectangle((0.02, 0.04), (0.026, 0.03)),), void=True),
        Part("hot plate", (Rectangle((0, 0.06), (0.03, 0.034)),), METAL),
    ),
    # films as on plates with fins
    environments=(
        Environment("inside", 5, 8),
        Environment("outside", 25, 8),
        Environment("inside fan", 5, 400),
        Environment("outside fan", 25, 700),
    ),
    border=Border(bottom="inside fan", top="outside fan"),
    sources=(
        Source("cold face", segment=Segment((0.02, 0.04), (0.026, 0.026)), heat=-5, fills_depth=True),
        Source("hot face", segment=Segment((0.02, 0.04), (0.03, 0.03)), heat=20, fills_depth=True),
    ),
    sensors=(
        Sensor("on the skin", at=(0.11, 0.0), should_read="inside"),
        Sensor("on the plate", at=(0.05, -0.002), should_read="inside"),
    ),
)
FILE = SectionFile("piece.toml", (), PIECE)
IN_A_WALL = {
    "file": FILE,
    "inside": ("inside", "inside fan"),
    "outside": ("outside", "outside fan"),
    "wall": "shell",
    "wall_area": 0.12 * 0.06,
}

SEAL = Section(
    title="a seal",
    parts=(
        Part("wall", (Rectangle((0, 0.1), (0, 0.03)),), FOAM),
        Part("seal", (Rectangle((0, 0.01), (0, 0.03)),), SKIN),
    ),
    environments=(Environment("in", 5, 8), Environment("out", 25, 8)),
    border=Border(bottom="in", top="out"),
    bridges=(Bridge(("seal",)),),
    sensors=(Sensor("in the wall", at=(0.09, 0.015)),),
)
SEAL_FILE = SectionFile("seal.toml", (), SEAL)
BOLT_FILE = SectionFile("bolt.toml", (), replace(SEAL, title="a bolt", view="axisymmetric"))


@cache
def piece() -> Solution:
    return solve(PIECE, max_cells=4000)


@cache
def seal() -> Solution:
    return solve(SEAL, max_cells=4000)


@cache
def bolt() -> Solution:
    return solve(BOLT_FILE.section, max_cells=4000)


def solved() -> dict[SectionFile, Solution]:
    return {FILE: piece(), SEAL_FILE: seal(), BOLT_FILE: bolt()}


def box(bank: dict | None = None, **changes) -> Cabinet:
    """400 x 300 x 300 mm inside, one module on 8 V between two sinks; `bank` changes what belongs to the modules."""
    modules = {
        "module": MODULE,
        "supply": Supply(voltage=8),
        "cold_sink": Sink(0.3),
        "hot_sink": Sink(0.2),
        "cold_capacity": 300,
        "hot_capacity": 600,
    }
    if bank and "file" in bank:
        del modules["cold_sink"], modules["hot_sink"]
    given = {
        "title": "a box",
        "inside": (0.4, 0.3, 0.3),
        "walls": (Wall("shell", (Layer(SKIN, 0.002), Layer(FOAM, 0.04)), 8, 9, FACES),),
        "bank": Bank(**(modules | (bank or {}))),
        "load": Load(mass=5, specific_heat=3600, surface=0.3, film=8, start=25),
        "thermostat": Thermostat(hysteresis=3),
        "room": 25,
        "setpoint": 7,
    }
    return Cabinet(**(given | changes))


@cache
def solved_box() -> SolvedCabinet:
    """The plain box itself."""
    return solve_cabinet(box(), {})


def box_circuit(bank: dict | None = None, **changes) -> Circuit:
    return circuit(box(bank, **changes), {file: lumped(s) for file, s in solved().items()})
