"""Films that follow the temperature, beside iterations written here and worked sinks."""

import pytest
from ht.conv_free_immersed import Nu_vertical_plate_Churchill

from fdm import solve
from fdm.section.reader import read_section
from fdm.surroundings import air_at

STEFAN = 5.670374e-8


@pytest.fixture
def solved(tmp_path):
    def solved(text):
        file = tmp_path / "section.toml"
        file.write_text(text, encoding="utf-8")
        return solve(read_section(file))

    return solved


def radiative(emissivity, surface, air):
    a, b = surface + 273.15, air + 273.15
    return emissivity * STEFAN * (a**2 + b**2) * (a + b)


def upright(height, surface, air):
    """W/(m2 K), by another library's form of Churchill and Chu for all flows."""
    between = air_at((surface + air) / 2)
    grashof = 9.80665 * abs(surface - air) / (273.15 + (surface + air) / 2) * height**3
    grashof /= float(between.kinematic_viscosity) ** 2
    nusselt = Nu_vertical_plate_Churchill(float(between.prandtl), grashof)
    return nusselt * float(between.conductivity) / height


PLATE = """
unit = "mm"
depth = 500
environment = [{ name = "air", temperature = 22, film = { flow = "still", face = "vertical", height = 400, emissivity = 0.7 } }]
part = [{ name = "plate", material = "copper", rectangle = { x = [0, 400], y = [0, 2] } }]
border = { top = "air" }
source = [{ name = "heater", segment = { x = [0, 400], y = 0 }, heat = 60 }]
"""  # noqa: E501


def test_an_upright_plate_heated_evenly(solved):
    area, rise = 0.4 * 0.5, 10.0
    for _ in range(50):
        rise = 60 / area / (upright(0.4, 22 + rise, 22) + radiative(0.7, 22 + rise, 22))
    solution = solved(PLATE)
    through_copper = 60 / area * 0.002 / solution.section.parts[0].material.conductivity[1]
    assert solution.answers.at("heater")[0] - 22 - through_copper == pytest.approx(rise, rel=2e-3)


WALL = """
unit = "mm"
depth = 1000
environment = [
    { name = "in", temperature = 5, film = { flow = "still", face = "vertical", height = 900, emissivity = 0.9 } },
    { name = "out", temperature = 30, film = { flow = "still", face = "vertical", height = 900, emissivity = 0.4 } },
]
part = [{ name = "wall", material = "acrylic", rectangle = { x = [0, 100], y = [0, 12] } }]
border = { bottom = "in", top = "out" }
"""


def test_a_thin_wall_with_still_air_on_both_sides(solved):
    solution, cold, warm = solved(WALL), 12.0, 20.0
    wall = solution.section.parts[0].material.conductivity[1] / 0.012
    for _ in range(60):
        inside = upright(0.9, cold, 5) + radiative(0.9, cold, 5)
        outside = upright(0.9, warm, 30) + radiative(0.4, warm, 30)
        flux = 25 / (1 / inside + 1 / wall + 1 / outside)
        cold, warm = 5 + flux / inside, 30 - flux / outside
    coupling = solution.answers.at("network.coupling.in.out")[0]
    assert 25 * coupling / 0.1 == pytest.approx(flux, rel=1e-3)
    found = {v.coefficient.environment: v.temperatures[0] for v in solution.frozen.values}
    assert found == pytest.approx({"in": cold, "out": warm}, abs=0.02)


BOX = """
view = "plate"
unit = "mm"
border = { left = "beside", right = "beside", top = "beside", bottom = "beside" }
source = [{ name = "inside", part = "box", heat = 10 }]
environment = [
    { name = "above", temperature = 25, film = { flow = "still", face = "up", length = 150, width = 100, emissivity = 0.9 } },
    { name = "below", temperature = 25, film = { flow = "still", face = "down", length = 150, width = 100, emissivity = 0.9 } },
    { name = "beside", temperature = 25, film = { flow = "still", face = "vertical", height = 60, emissivity = 0.9 } },
]
[[part]]
name = "box"
material = "copper"
thickness = 60
front = "above"
back = "below"
rectangle = { x = [0, 150], y = [0, 100] }
"""  # noqa: E501


def test_a_warm_box_in_still_air(solved):
    """Six faces at one temperature, by the forms of Raithby and Hollands for the level ones, worked by hand."""
    assert solved(BOX).answers.at("inside")[0] - 25 == pytest.approx(15.064, rel=5e-3)


SINK = """
view = "plate"
unit = "mm"
environment = [{{ name = "air", temperature = 25, film = {film} }}]
part = [{{ name = "base", material = "metal", thickness = 2, rectangle = {{ x = [0, 100], y = [0, 100] }} }}]
source = [{{ name = "module", part = "base", face = "back", heat = {watts} }}]
[[fins]]
part = "base"
face = "front"
along = "y"
count = {count}
thickness = {thickness}
height = 30
environment = "air"
[material.metal]
conductivity = {{ x = 200, y = 200, z = 1e4 }}
"""


@pytest.mark.parametrize("watts, rise", [(5, 12.070), (20, 35.820)])
def test_a_sink_in_still_air(solved, watts, rise):
    """Inner channels by Bar-Cohen and Rohsenow, radiation between fins, outermost faces and tips free; worked by hand
    for fins of a base at one temperature."""
    sink = SINK.format(film='{ flow = "still", emissivity = 0.85 }', watts=watts, count=10, thickness=2)
    assert solved(sink).answers.at("module")[0] - 25 == pytest.approx(rise, rel=5e-3)


@pytest.mark.parametrize("share, resistance", [(1, 0.20579), (0.5, 0.3019)])
def test_a_sink_under_a_fan(solved, share, resistance):
    """From a fan's curve and the fins that are drawn to the hot face; worked by hand for a base at one temperature."""
    curve = "[[0, 55], [20, 38], [35, 30], [55, 17], [75, 0]]"
    film = f'{{ flow = "channels", fan = {{ curve = {curve}, speed = {share} }} }}'
    solution = solved(SINK.format(film=film, watts=60, count=25, thickness=1))
    assert solution.frozen is None
    assert (solution.answers.at("module")[0] - 25) / 60 == pytest.approx(resistance, rel=4e-3)
