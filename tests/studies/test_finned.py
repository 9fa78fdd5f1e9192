"""Studies of finned plates whose films follow from what a builder has."""

from pathlib import Path

import numpy as np
import pytest

from fdm.studies import study
from fdm.surroundings.air import air_at
from fdm.surroundings.driven import Channels
from fdm.surroundings.fans import fan_of_points
from fdm.surroundings.film import Conditions
from fdm.surroundings.fins import fins_across
from fdm.surroundings.questions import film_of

PLATE = """
title = "Fins on a plate"
view = "plate"
unit = "mm"
let = {{ gap = 8, fin = {fin}, height = {height}, base = 5 }}
environment = [{{ name = "air", temperature = 20, film = {film} }}]
part = [{{ name = "base", material = "metal", thickness = "base", rectangle = {{ x = [0, 200], y = [0, 100] }} }}]
source = [{{ name = "heater", part = "base", face = "back", rectangle = {{ x = [0, 200], y = [0, 100] }}, heat = 40 }}]
[[fins]]
part = "base"
face = "front"
along = "y"
pitch = "gap + fin"
thickness = "fin"
height = "height"
environment = "air"
[material.metal]
conductivity = {conductivity}
"""


def plate(folder: Path, film: str, fin: float, height: float, conductivity: float) -> Path:
    file = folder / "plate.toml"
    file.write_text(PLATE.format(film=film, fin=fin, height=height, conductivity=conductivity))
    return file


def test_the_best_gap_in_still_air_is_bar_cohen_and_rohsenows(tmp_path):
    """Tall thin fins of one temperature: 2.714 (L nu alpha / (g beta dT))^(1/4), J. Heat Transfer 106 (1984) 116."""
    file = plate(tmp_path, '{ flow = "still", face = "vertical", along = "vertical" }', 0.1, 200, 1e6)
    gaps = np.array([8.0, 8.5, 9.0])
    result = study(file, {"gap": gaps.tolist()}, workers=1, out=tmp_path / "out")
    rise = np.array(result.values("heater")) - 20
    a, b, _ = np.polyfit(gaps, rise, 2)
    lowest = -b / (2 * a)
    warm = float(np.interp(lowest, gaps, rise))
    air = air_at(20 + warm / 2)
    length = (0.1 * air.kinematic_viscosity * air.diffusivity / (9.80665 * air.expansion * warm)) ** 0.25
    assert lowest == pytest.approx(2714 * length, rel=0.01)  # mm; the base between the fins gives off a little, too


def test_the_fan_finds_its_flow_at_each_gap(tmp_path):
    """Narrow gaps have much area and little air, wide ones little area: the best gap lies between."""
    fan = '{ flow = "channels", fan = { free_flow = 120, shut_off = 60 } }'
    file = plate(tmp_path, fan, 1.0, 40, 1e5)
    gaps = [1, 2, 4, 8]
    result = study(file, {"gap": gaps}, workers=1, out=tmp_path / "out")
    rise = np.array(result.values("heater")) - 20
    assert rise.argmin() in (1, 2)
    for gap, found in zip(gaps, rise):
        fins = fins_across(0.2, 0.1, 0.04, 1e-3, gap=gap * 1e-3)
        film = film_of(Channels(fins, fan=fan_of_points(((0, 60), (120, 0)))), Conditions(20.0))
        area = 1 + 2 * 0.04 / (1e-3 * (gap + 1))  # of fins and base, over that of the base
        assert found == pytest.approx(40 / (0.02 * film.film * area), rel=0.1)
