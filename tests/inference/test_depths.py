"""Uncertain numbers and sensitivities where a part is less deep than the drawing: its material counts by its share."""

import numpy as np
import pytest

import fdm
from fdm.inference.section_reanalysis import section_reanalysis
from fdm.inference.sensitivity import sensitivities

FILE = """
unit = "mm"
depth = 40
let = { d = { value = 6, uncertainty = 0.5 } }
environment = [{ name = "in", temperature = 7, film = 8 }, { name = "out", temperature = 30, film = 8 }]
part = [
    { name = "foam", material = "XPS foam", rectangle = { x = [0, 40], y = [0, 30] } },
    { name = "bolt", material = "steel", rectangle = { x = [18, 22], y = [0, 30] }, depth = "d" },
]
border = { bottom = "in", top = "out" }
"""
STEEL = "material 'steel', conductivity"


@pytest.fixture(scope="module")
def model(tmp_path_factory):
    file = tmp_path_factory.mktemp("bolt") / "bolt.toml"
    file.write_text(FILE, encoding="utf-8")
    return section_reanalysis(str(file))


def test_a_material_of_the_table_moves_what_it_is_mixed_into(model):
    coupling = ("network", "coupling", "in", "out")
    k = model.answers.number(coupling)
    less, more = (v[k] for v in model.ends(STEEL, 5.0))
    anew = fdm.solve(fdm.read_section(model.path, {STEEL: 5.0})).answers.at(coupling)[0]
    assert less < model.answers.value[k] < more == pytest.approx(anew, rel=1e-3)
    assert STEEL in [u.place for u in model.inputs]


def test_an_uncertain_depth_moves_it_too(model):
    k = model.answers.number("network.coupling.in.out")
    less, more = (v[k] for v in model.ends("let d", 0.5))
    assert less < model.answers.value[k] < more


def test_sensitivities_by_material_share_the_mixed_part(model):
    found = sensitivities(model.solution)
    column = {i.name: found.matrix[:, k] for k, i in enumerate(found.inputs)}
    steel = 50 * 6 / (50 * 6 + 0.033 * 34)
    assert np.allclose(column["steel"], steel * column["bolt"], equal_nan=True)
    assert np.allclose(column["steel"] + column["XPS foam"], column["bolt"] + column["foam"], equal_nan=True)
