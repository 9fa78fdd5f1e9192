"""Closed air gaps as parts, beside balances written out by hand."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

import fdm
from fdm.inference.reanalysis import reanalysis
from fdm.surroundings.cavities import DOWN, LEVEL, UP, Cavities

WALL = """
unit = "mm"
{top}
environment = [
  {{ name = "in", temperature = {inside}, film = "1 / 0.13" }}, {{ name = "out", temperature = 0, film = 25 }}
]
part = [{{ name = "inner", material = "PVC", rectangle = {{ x = [0, 200], y = [0, 3] }} }},
  {{ name = "gap", {gap}, {shape} }},
  {{ name = "outer", material = "PVC", rectangle = {{ x = [0, 200], y = [23, 26] }} }}]
border = {{ bottom = "in", top = "out" }}
"""
ALL = "rectangle = { x = [0, 200], y = [3, 23] }"


def solved(tmp_path, gap="gap = true", shape=ALL, top="", inside=20):
    path = tmp_path / "wall.toml"
    path.write_text(WALL.format(gap=gap, shape=shape, top=top, inside=inside))
    return fdm.solve(path)


def by_hand(inside, way, emissivity=(0.9, 0.9)):
    """W/(m2 K) through the wall, with the gap at its own temperatures."""

    def rest(difference):  # between what the gap passes and what the wall does
        heat = (inside - difference) / (0.13 + 0.006 / 0.17 + 0.04)
        mean = heat * (0.04 + 0.003 / 0.17) + difference / 2
        gap = Cavities(0.02, 0.2, mean, difference, way)
        return float(sum(gap.films(emissivity))) * difference - heat

    difference = brentq(rest, 0, inside) if inside > 0 else brentq(rest, inside, 0)
    return (inside - difference) / (0.13 + 0.006 / 0.17 + 0.04) / inside


@pytest.mark.parametrize(
    "down, inside, way",
    [("bottom", 20, UP), ("top", 20, DOWN), ("left", 20, LEVEL), ("depth", 20, LEVEL), ("bottom", -20, DOWN),
     ("top", -20, UP)],
)  # fmt: skip
def test_heat_goes_up_down_or_level_by_the_temperatures(tmp_path, down, inside, way):
    solution = solved(tmp_path, top=f'down = "{down}"', inside=inside)
    passed = solution.answers.at("terminals.in.heat")[0] / 0.2 / inside
    assert passed == pytest.approx(by_hand(inside, way), rel=1e-4)
    assert not solution.warnings


def test_bare_metal_and_other_temperatures(tmp_path):
    solution = solved(tmp_path, "gap = { emissivity = [0.9, 0.05] }", top='down = "depth"')
    passed = solution.answers.at("terminals.in.heat")[0] / 0.2 / 20
    assert passed == pytest.approx(by_hand(20, LEVEL, (0.9, 0.05)), rel=1e-4)
    warmer = fdm.at_operating_point(solution, {"in": 60})
    passed = warmer.answers.at("terminals.in.heat")[0] / 0.2 / 60
    assert passed == pytest.approx(by_hand(60, LEVEL, (0.9, 0.05)), rel=1e-4)


def test_the_uncertainty_of_the_relation_and_of_emissivities_counts(tmp_path):
    solved(tmp_path, "gap = { emissivity = { value = 0.9, uncertainty = 0.05 } }")
    model = reanalysis(tmp_path / "wall.toml")
    known = {i.place: i.uncertainty for i in model.inputs}
    assert known["part 'gap', gap, relation"] == 0.1 and known["part 'gap', gap, emissivity"] == 0.05
    row = [q.path for q in model.answers.quantities].index(("conductivity", "gap"))
    k = model.answers.value[row]
    for place, change in (("part 'gap', gap, relation", 0.1 * k), ("part 'gap', gap, emissivity", 0.09 * 0.72 * k)):
        less, more = model.ends(place, known[place])
        assert (more[row] - less[row]) / 2 == pytest.approx(change, rel=0.15)


@pytest.mark.parametrize("inside", [0, 1e-9, 3000, -273.15])
def test_gaps_without_heat_and_beyond_all_sense_are_found_too(tmp_path, inside):
    solution = solved(tmp_path, top='down = "depth"', inside=inside)
    assert not solution.failed
    if abs(inside) < 1:
        still = Cavities(0.02, 0.2, 0.0, 0.0, LEVEL)
        assert solution.answers.at("conductivity.gap")[0] == pytest.approx(
            float(still.conductivity((0.9, 0.9))), rel=1e-3
        )


def test_a_gap_in_pieces_is_as_wide_as_each_of_them(tmp_path):
    """Five voids 30 mm wide in a sheet of bare wood: as one such void alone, and less than an open gap."""
    ribs = "rectangle = { x = [0, 30], y = [3, 23] }, repeat = { count = 5, step = [40, 0] }"
    path = tmp_path / "ribs.toml"
    path.write_text(
        WALL.format(gap="gap = true", shape=ribs, top='down = "depth"', inside=20).replace(
            "part = [", 'part = [{ name = "sheet", material = "softwood", rectangle = { x = [0, 200], y = [3, 23] } }, '
        )
    )
    solution = fdm.solve(path)
    gap = solution.frozen.values[0]
    faces = np.array(gap.temperatures).reshape(5, 4)
    alone = Cavities(0.02, 0.03, faces[2].mean(), abs(faces[2, 3] - faces[2, 2]), LEVEL)
    assert gap.value == pytest.approx(float(alone.conductivity((0.9, 0.9))), rel=0.01)
    assert gap.value < solved(tmp_path, top='down = "depth"').frozen.values[0].value
    assert "5 cavities" in gap.where


def test_about_an_axis_a_gap_is_as_wide_as_its_diameter(tmp_path):
    disc = "rectangle = { x = [0, 15], y = [3, 23] }"
    top = 'view = "axisymmetric"\ndown = "depth"'
    path = tmp_path / "wall.toml"
    path.write_text(
        WALL.format(gap="gap = true", shape=disc, top=top, inside=20).replace(
            "part = [", 'part = [{ name = "foam", material = "XPS foam", rectangle = { x = [0, 200], y = [3, 23] } }, '
        )
    )
    found = fdm.solve(path).frozen.values[0]
    _, _, low, high = found.temperatures
    alone = Cavities(0.02, 0.03, (low + high) / 2, low - high, LEVEL)
    assert found.value == pytest.approx(float(alone.conductivity((0.9, 0.9))), rel=1e-3)


def test_a_bolt_through_a_gap_has_the_air_beside_it(tmp_path):
    path = tmp_path / "wall.toml"
    text = WALL.format(gap="gap = true", shape=ALL, top='down = "depth"\ndepth = 100', inside=20)
    bolt = '{ name = "bolt", material = "nylon", round = true, rectangle = { x = [97, 103], y = [3, 23] } },\n  '
    path.write_text(text.replace('{ name = "outer"', bolt + '{ name = "outer"'))
    section = fdm.solve(path).section
    share = math.pi / 4 * 0.006 / 0.1
    mixed = share * 0.25 + (1 - share) * section.part_named["gap"].material.conductivity[0]
    assert section.part_named["bolt"].material.conductivity[0] == pytest.approx(mixed, rel=2e-3)


def test_what_is_likely_not_meant_is_told(tmp_path):
    assert any("which way is down is not said" in w for w in solved(tmp_path).warnings)
    thin = solved(tmp_path, shape="rectangle = { x = [0, 200], y = [3, 6] }").warnings
    assert not any("down" in w for w in thin)
    ring = "polygon = { points = [[0, 3], [200, 3], [200, 23], [199, 23], [199, 4], [0, 4]] }"
    assert any(
        "draw it as several rectangles, or give its thickness" in w for w in solved(tmp_path, shape=ring).warnings
    )
    for thickness, told in (("0.02", "0.02 mm is far from what is drawn, 20 x 200 mm"), ("15", "")):
        said = [w for w in solved(tmp_path, f"gap = {{ thickness = {thickness} }}").warnings if "gap, thickness:" in w]
        assert len(said) == bool(told) and told in "".join(said)
    open_gap = WALL.format(gap="gap = true", shape=ALL, top="", inside=20).replace("{ bottom", '{ left = "in", bottom')
    (tmp_path / "open.toml").write_text(open_gap)
    assert any("20 mm of its left lie open" in w for w in fdm.solve(tmp_path / "open.toml").warnings)
