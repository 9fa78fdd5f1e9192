"""Stems, beads and own watts among uncertain inputs and sensitivities, beside the same files solved anew."""

from functools import partial

import pytest

import fdm
from fdm.inference.lengths import length_sensitivities
from fdm.inference.reanalysis import reanalysis
from fdm.inference.sensitivity import sensitivities
from fdm.section.reader import read_section
from tests.section.test_sensors import FILE

BURIED = FILE.replace("[60, -20]", "[60, 20]").replace(
    "self_heating = 0.27", "self_heating = { value = 0.27, uncertainty = 0.05 }"
)
READING = ("sensors", "probe", "reading")


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("stems") / "probe.toml"
    path.write_text(BURIED)
    return path


@pytest.fixture(scope="module")
def model(file):
    return reanalysis(file)


def reading(file, **let):
    return fdm.solve(read_section(file, **let)).answers.at(READING)[0]


def test_first_order_of_stems_is_that_of_whole_solves(file, model):
    found = sensitivities(model.solution)
    row = found.matrix[found.answers.number(READING)]
    column = {(i.kind, i.name): v for i, v in zip(found.inputs, row)}
    for kind, name, value in (("stem length", "inside", 50), ("stem diameter", "d", 0.2)):
        low, high = (reading(file, **{name: value * f}) for f in (0.999, 1.001))
        assert column[kind, "probe"] == pytest.approx((high - low) / 0.002, rel=1e-3)
    assert column["self-heating", "probe"] == pytest.approx(model.solution.sensors["probe"].self_heating)
    assert column["bead diameter", "probe"] < 0 < column["stem conductivity", "probe"]
    assert column["stem through", "probe"] < 0 < column["stem conductivity", "probe"]


@pytest.mark.parametrize("place", ["material 'XPS foam', conductivity", "material 'copper', conductivity"])
def test_a_material_of_a_stem_or_around_a_bead_moves_the_reading(file, model, place):
    step = next(u.uncertainty for u in model.inputs if u.place == place)
    k = model.answers.number(READING)
    for end, move in zip(model.ends(place, step), (-step, step)):
        anew = fdm.solve(read_section(file, {place: move})).answers.at(READING)[0]
        assert end[k] == pytest.approx(anew, abs=1e-4)
    less, more = (end[k] for end in model.ends(place, step))
    if "copper" in place:
        assert more > less
    else:  # the wall's own temperatures hardly move, as its films are small: it is the bead's hold that does
        found = sensitivities(model.solution)
        column = next(c for c, i in enumerate(found.inputs) if (i.kind, i.name) == ("part", "wall"))
        assert found.matrix[k, column] == pytest.approx((more - less) / (2 * step / 0.033), rel=0.02)


def test_watts_of_a_sensor_may_be_uncertain(model):
    found = fdm.uncertainty(model)
    place = "sensor 'probe', self_heating"
    (change,) = (c for u, c in zip(found.inputs, found.change) if u.place == place)
    rise = model.solution.sensors["probe"].self_heating
    assert change[found.answers.number(READING)] == pytest.approx(rise * 0.05 / 0.27, rel=1e-6)


def test_a_millimetre_of_lead_has_its_effect(file, model):
    found = length_sensitivities(partial(read_section, file), ["inside"], model.solution)
    low, high = (reading(file, inside=50 + d) for d in (-0.1, 0.1))
    assert found.per_millimetre[found.answers.number(READING), 0] == pytest.approx((high - low) / 0.2, rel=1e-3)
