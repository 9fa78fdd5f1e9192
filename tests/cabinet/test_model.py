"""What a cabinet's dataclasses refuse: figures that cannot be, by each itself, and what does not fit together.

What a file may say wrong is in test_reader.py.
"""

from dataclasses import replace

import pytest

from fdm.cabinet.bank import Bank, Sink
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss, PointLoss
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.errors import InputError
from tests.cabinet.plain_box import BOLT_FILE, FACES, FILE, FOAM, IN_A_WALL, MODULE, SEAL_FILE, box


@pytest.mark.parametrize(
    "make, message",
    [
        (lambda: Wall("w", (), 8, 8, FACES), "wall 'w', layers: missing"),
        (lambda: Wall("w", (Layer(FOAM, 0),), 8, 8, FACES), "wall 'w', layer of 'foam', thickness: 0 is not a number"),
        (lambda: Wall("w", (Layer(FOAM, 0.01),), 8, 8), "wall 'w': give exactly one of faces and area"),
        (lambda: LineLoss("x", 1.0), "line 'x': give exactly one of psi and section"),
        (lambda: LineLoss("x", 1.0, file=SEAL_FILE), "line 'x', bridge: missing; name the bridge of seal.toml"),
        (lambda: LineLoss("x", 1.0, file=BOLT_FILE, bridge="seal"), "bolt.toml has the view 'axisymmetric', but psi"),
        (lambda: PointLoss("x", 1.5, chi=0.1), "point 'x', count: 1.5 is not a whole number of 1 or more"),
        (lambda: Bank(MODULE, Supply(voltage=8), hot_sink=Sink(1)), "module, cold_sink: missing"),
        (lambda: Bank(MODULE, Supply(voltage=8), FILE), "module: 'inside' of piece.toml must be named in exactly one"),
        (
            lambda: Bank(MODULE, Supply(voltage=8), cold_sink=Sink(1), hot_sink=Sink(0)),
            "module, hot_sink, resistance: 0 is not a number above 0",
        ),
        (lambda: Load(1, 3600, 0.3, 8, 8, heat=float("nan")), "load, heat: nan is not a number of watts"),
        (lambda: Load(1, 3600, 0.3, 8, -274), "load, start: -274 is not a temperature"),
        (lambda: Thermostat(1, sensor="probe"), "'probe' needs the section"),
        (lambda: Thermostat(1, switches="none"), "thermostat, switches: 'none' is neither"),
    ],
    ids=range(14),
)
def test_each_refuses_its_own_figures(make, message):
    with pytest.raises(InputError, match=message):
        make()


@pytest.mark.parametrize(
    "bank, changes, message",
    [
        (
            {"supply": Supply(voltage=8, parallel=3)},
            {"thermostat": Thermostat(1, switches="half")},
            "3 cannot be halved",
        ),
        ({}, {"walls": (Wall("w", (Layer(FOAM, 0.01),), 8, 8, FACES[:5]),)}, "no wall covers the face 'top'"),
        ({}, {"walls": (Wall("w", (Layer(FOAM, 0.01),), 8, 8, FACES),) * 2}, "wall 'w': the name is used twice"),
        (IN_A_WALL | {"supply": Supply(voltage=8, parallel=100)}, {}, "take more than its whole area"),
        (IN_A_WALL | {"wall": "shel"}, {}, "module, wall: there is no wall named 'shel'; did you mean 'shell'"),
        ({}, {"room": -300}, "cabinet, room: -300 is not a temperature"),
        ({}, {"inside": (0.4, 0, 0.3)}, "cabinet, inside: 0 is not a number above 0"),
        ({}, {"inside_heat": -2}, "cabinet, inside_heat: -2 is not a number of 0 or more"),
        ({}, {"air_changes": -0.5}, "cabinet, air_changes: -0.5 is not a number of 0 or more"),
        (
            IN_A_WALL,
            {
                "thermostat": Thermostat(
                    1, replace(FILE, path="other.toml"), "on the skin", IN_A_WALL["inside"], IN_A_WALL["outside"]
                )
            },
            "thermostat, section: other.toml has the heat terminal 'cold face', whose",
        ),
    ],
    ids=range(10),
)
def test_the_cabinet_refuses_what_does_not_fit_together(bank, changes, message):
    with pytest.raises(InputError, match=message):
        box(bank, **changes)
