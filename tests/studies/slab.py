"""A slab whose every coupling is known by hand, a cabinet with a drawn sill, and made-up studies."""

from collections.abc import Mapping
from pathlib import Path

import numpy as np

from fdm.answers.quantity import Answers, Quantity
from fdm.studies import Design, Study

# a slab of k = 1 W/(m K), 100 mm wide, 1 m deep, between two films of 10 W/(m2 K): every coupling is known by hand
SLAB = """
unit = "mm"
[let]
thick = 50
film = 10
warm = 20
weight = "3 * thick"
[material.stone]
conductivity = 1
[[environment]]
name = "inside 1.5 m"
temperature = 0
film = "film"
[[environment]]
name = "outside"
temperature = "warm"
film = 10
[[part]]
name = "slab"
material = "stone"
rectangle = { x = [0, 100], y = [0, "thick"] }
[[sensor]]
name = "bead"
at = [50, "thick"]
should_read = "inside 1.5 m"
[border]
bottom = "inside 1.5 m"
top = "outside"
"""

CABINET = """
unit = "mm"
[let]
foam = 40
thick = 50
room = 25
[cabinet]
inside = [300, 300, 300]
room = "room"
setpoint = 10
[[wall]]
name = "walls"
faces = ["left", "right", "front", "back", "top", "bottom"]
layers = [{ material = "XPS foam", thickness = "foam" }]
film_inside = 8
film_outside = 8
[[line]]
name = "sill"
length = 300
section = "sill.toml"
bridge = "bolt"
let = { thick = "thick" }
[module]
seebeck = 0.05
resistance = 2
conductance = 1
cold_sink = { resistance = 0.3 }
hot_sink = { resistance = 0.2 }
cold_capacity = 100
hot_capacity = 200
[supply]
current = 1
[load]
mass = 5
specific_heat = 3600
surface = 0.4
film = 8
[thermostat]
hysteresis = 1
"""

SILL = (
    SLAB.split("[[sensor]]")[0]
    + """
[[part]]
name = "bolt"
material = "copper"
rectangle = { x = [45, 55], y = [0, "thick"] }
[[bridge]]
remove = ["bolt"]
[border]
bottom = "inside 1.5 m"
top = "outside"
"""
)

MEAN = Quantity(("spreading", "plate", "LEDs", "mean"), "mean spreading of LEDs on plate", "K/W", "spreading", main=1)
READING = Quantity(("sensors", "bead", "reading"), "reading of bead", "degC", "reading", also=(("bead",),), main=5)
COLD, WARM = (
    Quantity(("terminals", face, "temperature"), f"temperature of {face}", "degC", "temperature", role=role)
    for face, role in (("cold face", "cooled"), ("LEDs", "heated"))
)
POWER, ABOVE = (
    Quantity(("operating_point", key), key, unit, key) for key, unit in (("power", "W"), ("above_setpoint", "K"))
)
MISREADING = Quantity(("sensors", "bead", "misreading"), "misreading of bead", "K", "misreading", main=3)

COUPLING = 'network.coupling."inside 1.5 m".outside'


def coupling(thick: float, film: float = 10.0) -> float:
    """W/K of the slab: 0.1 m2 over two films and the slab in series."""
    return 0.1 / (1 / film + thick / 1000 + 0.1)


def write_slab(folder: Path) -> Path:
    path = folder / "slab.toml"
    path.write_text(SLAB)
    return path


def answered(values: Mapping[Quantity, float | None], bands: Mapping[Quantity, float] | None = None) -> Answers:
    """What a design answers: values, None where there is none, and the bands that are stated."""
    numbers = [np.nan if v is None else v for v in values.values()]
    return Answers(tuple(values), np.array(numbers, float), np.array([(bands or {}).get(q, np.nan) for q in values]))


def made_up(values: dict[str, list[float]], answer: list[float | None], band: float = 0.0) -> Study:
    """A study with the answer `spreading.plate.LEDs.mean` of its designs; None where one failed."""
    rows = [dict(zip(values, row)) for row in zip(*values.values())]
    done = tuple(
        Design(row, message="part 'plate': too thin") if v is None else Design(row, answered({MEAN: v}, {MEAN: band}))
        for row, v in zip(rows, answer)
    )
    return Study("plate.toml", tuple(values), done, (MEAN,), 0.005)
