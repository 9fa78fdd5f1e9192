"""Sensitivities and uncertainties where films follow the temperature, beside whole solves anew."""

from dataclasses import replace

import numpy as np
import pytest

from fdm.conduction.inputs import inputs_of, with_scaled_input
from fdm.inference.lengths import length_sensitivities
from fdm.inference.section_reanalysis import section_reanalysis
from fdm.inference.sensitivity import sensitivities
from fdm.section.reader import read_section
from fdm.solving.steady import solve

# acrylic, so that what conducts has a part in what the films are; and a fan, whose film follows by its radiation alone
FILE = """
unit = "mm"
depth = 60
let = { thick = 12, tall = { value = 40, uncertainty = 4 } }
part = [{ name = "plate", material = "acrylic", rectangle = { x = [0, 40], y = [0, "thick"] } }]
border = { top = "still", bottom = "fan" }
source = [{ name = "heater", segment = { x = [0, 20], y = 0 }, heat = 3 }]
sensor = [{ name = "probe", at = [30, 6] }]
[[environment]]
name = "still"
temperature = 25
film = { flow = "still", face = "vertical", height = "tall", emissivity = 0.9 }
[[environment]]
name = "fan"
temperature = 20
film = { flow = "plate", length = 40, speed = { value = 2, uncertainty = 0.2 }, emissivity = 0.5 }
"""
STEP = 0.01
ROUGH = 0.2  # target of all solves: what is compared is on the same grids


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    path = tmp_path_factory.mktemp("plate") / "plate.toml"
    path.write_text(FILE, encoding="utf-8")
    return str(path)


@pytest.fixture(scope="module")
def model(file):
    return section_reanalysis(file, target=ROUGH)


def wanted(model):
    """The numbers of answers that are compared."""
    asked = ("heater", "probe", "films.still", "films.fan", "network.coupling.still.fan")
    return [model.answers.number(path) for path in asked]


def test_sensitivities_are_those_of_whole_solves(model):
    solution, own = model.solution, wanted(model)
    found, inputs = sensitivities(solution), inputs_of(model.solution.section)
    for k, one in enumerate(inputs):
        if one.kind == "film":  # what the relation gives changes

            def moved(factor, name=one.name):
                airs = solution.section.environments
                return replace(
                    solution.section,
                    environments=tuple(
                        replace(e, follows=replace(e.follows, factor=factor)) if e.name == name else e for e in airs
                    ),
                )
        else:

            def moved(factor, k=k):
                return with_scaled_input(solution.section, k, factor)

        low, high = (solve(moved(1 + d), ROUGH, like=solution).answers.value for d in (-STEP, STEP))
        slope = (high - low)[own] / (np.log1p(STEP) - np.log1p(-STEP))
        column = [(i.kind, i.name) for i in found.inputs].index((one.kind, one.name))
        assert found.matrix[own, column] == pytest.approx(slope, rel=0.03, abs=0.01 * abs(slope).max())


@pytest.mark.parametrize("place", ["let tall", "environment 'fan', film, speed", "environment 'still', film, relation",
                                   "material 'acrylic', conductivity"])  # fmt: skip
def test_uncertain_numbers_act_through_films(model, file, place):
    own, step = wanted(model), 0.5 * next(u.uncertainty for u in model.inputs if u.place == place)
    low, high = (solve(read_section(file, {place: d}), ROUGH, like=model.solution).answers.value for d in (-step, step))
    exact = (high - low)[own]
    for less, more in (model.ends(place, step), (model.values({place: -step}), model.values({place: step}))):
        assert (more - less)[own] == pytest.approx(exact, rel=0.03, abs=1e-4 * abs(model.answers.value[own]).max())


def test_relations_state_their_uncertainty_as_that_of_a_factor(model):
    (found,) = [u for u in model.inputs if u.place == "environment 'still', film, relation"]
    assert found.nominal == 1 and 0.03 < found.uncertainty < 0.15


def test_lengths_act_through_films(model, file):
    found = length_sensitivities(lambda **let: read_section(file, **let), ["tall", "thick"], model.solution)
    own = wanted(model)[1:4]  # what is read at the heater's ends errs more than it changes
    for k, (name, value) in enumerate(zip(found.names, found.values)):
        low, high = (solve(read_section(file, **{name: value + d}), ROUGH).answers.value[own] for d in (-0.2, 0.2))
        slope = (high - low) / 0.4
        assert found.per_millimetre[own, k] == pytest.approx(slope, rel=0.05, abs=0.03 * abs(slope).max())
