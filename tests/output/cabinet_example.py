"""A small solved cabinet that the tests of its outputs share: two modules in a foam wall between two plates."""

from dataclasses import replace
from functools import cache

from fdm.cabinet.bank import Bank
from fdm.cabinet.datasheet import DataSheet, module_from_datasheet
from fdm.cabinet.load import Load
from fdm.cabinet.losses import PointLoss
from fdm.cabinet.model import Cabinet
from fdm.cabinet.section_file import SectionFile
from fdm.cabinet.solution import SolvedCabinet, solve_cabinet
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.cabinet.zones import Exchange, Zone
from fdm.section.model import Border, Environment, Material, Part, Rectangle, Section, Segment, Sensor, Source
from fdm.solving.steady import solve

FOAM = Material("foam", (0.03, 0.03), density=30.0, specific_heat=1400.0)
METAL = Material("metal", (200.0, 200.0), density=2700.0, specific_heat=900.0)
PIECE = Section(
    title="wall [piece]",
    unit="mm",
    depth=0.06,
    parts=(
        Part("beside the cold plate", (Rectangle((0.06, 0.12), (-0.004, 0)),), environment="inside"),
        Part("beside the hot plate", (Rectangle((0.06, 0.12), (0.03, 0.034)),), environment="outside"),
        Part("wall", (Rectangle((0, 0.12), (0, 0.03)),), FOAM),
        Part("cold plate", (Rectangle((0, 0.06), (-0.004, 0)),), METAL),
        Part("block", (Rectangle((0.02, 0.04), (0, 0.026)),), METAL),
        Part("module", (Rectangle((0.02, 0.04), (0.026, 0.03)),), void=True),
        Part("hot plate", (Rectangle((0, 0.06), (0.03, 0.034)),), METAL),
    ),
    # films as on plates with fins
    environments=(Environment("inside", 5, 400), Environment("outside", 25, 700)),
    border=Border(bottom="inside", top="outside"),
    sources=(
        Source("cold face", segment=Segment((0.02, 0.04), (0.026, 0.026)), heat=-5),
        Source("hot face", segment=Segment((0.02, 0.04), (0.03, 0.03)), heat=20),
    ),
    sensors=(Sensor("probe", at=(0.11, 0.002), should_read="inside"),),
)
FILE = SectionFile("piece.toml", (("wall", "30"),), PIECE)
DATA_SHEET = DataSheet(68, 6.0, hot_side=27.0, greatest_voltage=15.4, greatest_heat=51.0)
MODULE = module_from_datasheet(DATA_SHEET, seebeck_slope=0.001, resistance_slope=0.004)


@cache
def zoned() -> SolvedCabinet:
    """The same box with a colder layer at its floor, a weak fan along the sink, a load in both, a thermostat above that
    never switches."""
    plain = example()
    cabinet = replace(
        plain.cabinet,
        setpoint=-5,
        zones=(Zone("air below", (0, 0.08)), Zone("air above", (0.08, 0.2))),
        exchanges=(Exchange("small fan", ("air above", "air below"), 2 / 3600, "cold sink"),),
        load=replace(plain.cabinet.load, zones=(("air below", 0.7), ("air above", 0.3))),
        thermostat=Thermostat(3.0, zone="air above"),
    )
    return solve_cabinet(cabinet, plain.sections)


@cache
def example() -> SolvedCabinet:
    cabinet = Cabinet(
        title="bulb [box]",
        inside=(0.25, 0.2, 0.2),
        walls=(Wall("shell", (Layer(FOAM, 0.03),), 8, 8, ("left", "right", "front", "back", "top", "bottom")),),
        bank=Bank(
            MODULE,
            Supply(voltage=6, parallel=2, lead_resistance=0.05),
            FILE,
            inside=("inside",),
            outside=("outside",),
            wall="shell",
            wall_area=0.0072,
            data_sheet=DATA_SHEET,
        ),
        load=Load(mass=1.0, specific_heat=3600, surface=0.2, film=6, start=18, heat=0.3),
        thermostat=Thermostat(3.0, FILE, "probe", ("inside",), ("outside",)),
        room=25,
        setpoint=8,
        points=(PointLoss("bolts", 4, chi=0.01),),
        air_changes=0.5,
        let={"wall": 30.0},
    )
    return solve_cabinet(cabinet, {FILE: solve(PIECE, max_cells=3000)})
