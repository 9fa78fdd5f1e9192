"""Plates in layers against closed forms: spreading under rectangular sources, and fins."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fdm import InputError, solve
from fdm.answers.grid import SolvedGrid
from fdm.answers.kinds import asked_of, solved
from fdm.answers.quantity import Answers
from fdm.conduction.fields import LayeredField
from fdm.conduction.layout import Variant
from fdm.conduction.stack.plate import StackSystem
from fdm.conduction.systems import conduction_system
from fdm.grid.lines import first_lines, halved
from fdm.inference.adjoint import adjoint_systems
from fdm.section.model import (
    Border,
    Bridge,
    Disc,
    Environment,
    Material,
    Part,
    Rectangle,
    Section,
    Segment,
    Sensor,
    Source,
    Spreading,
)
from fdm.solving.result import result_dict
from fdm.solving.solution import LAYERS, ONE, Solution
from tests.conduction.stack.plates import AIR, METAL, PATCH, PLATE, SOURCE, STEEL, STILL, fins, sink, uneven
from validation.formulas import fin_conductance, rectangle_on_plate

CORNER = Rectangle((0.08, 0.1), (0.1, 0.15))


def bare_plate(source: Rectangle, film: float = 500.0, thickness: float = 0.005, **more: object) -> Section:
    """A plate of 100 x 80 mm with a source on its back and a film on its front."""
    outline = Rectangle((0.0, 0.1), (0.0, 0.08))
    return Section(
        "plate",
        (Part("plate", (outline,), METAL, thickness=thickness, front="water"),),
        (Environment("water", 10, film),),
        view="plate",
        sources=(Source("chip", part="plate", heat=20, face="back", rectangle=source),),
        **more,  # type: ignore[arg-type]
    )


def resistance(solution: Solution, key: str = "resistance") -> tuple[float, float]:
    return solution.answers.at(("network", key, "chip", "chip"))


def test_a_centred_source_on_a_plate_has_the_mean_and_the_highest_rise_of_the_series() -> None:
    solution = solve(bare_plate(Rectangle((0.03, 0.07), (0.02, 0.06)), spreading=(Spreading(("plate",)),)))
    mean, highest = rectangle_on_plate((0.04, 0.04), (0.1, 0.08), 0.005, 200.0, 500.0)
    through = (0.005 / 200 + 1 / 500) / (0.1 * 0.08)
    assert solution.grid.target_met
    for key, true in (("resistance", mean + through), ("resistance_max", highest + through)):
        value, band = resistance(solution, key)
        assert value == pytest.approx(true, abs=band)
    spread = solution.spreading["plate"]["chip"]
    assert spread.mean == pytest.approx(mean, abs=spread.mean_band)
    assert spread.max == pytest.approx(highest, abs=spread.max_band)


def test_a_plate_heated_all_over_passes_its_heat_on_as_fin_theory_says() -> None:
    length, film, k, pitch, thick, height = 10.0, 35.0, 200.0, 0.1 / 16, 0.0015, 0.04
    outline = Rectangle((0.0, 0.1), (0.0, length))
    section = sink(
        parts=(replace(PLATE, shapes=(outline,)),),
        border=type(sink().border)(),
        fins=(fins(joint=2e-4),),
        sources=(replace(SOURCE, rectangle=None),),
    )
    solution = solve(section)
    phi, area = thick / pitch, 0.1 * length
    half_plate = 0.006 / 200  # down to the face, per area
    constricted = pitch / (math.pi * k) * math.log(1 / math.sin(math.pi * phi / 2))
    of_fin = fin_conductance(film, k, thick, height, film) / pitch
    through_fins = 1 / (constricted + 2e-4 / phi + 1 / of_fin)
    rise = 1 / ((through_fins + (1 - phi) * film) * area)
    value, _ = solution.answers.at("network.resistance.module.module")
    assert value == pytest.approx(rise + half_plate / area, rel=2e-3)  # half a layer is shared by fins and air
    efficiency, _ = solution.answers.at("fins.fins.efficiency")
    wetted = 2 * height + thick
    assert efficiency == pytest.approx(of_fin * pitch / (film * wetted), rel=1e-3)
    effectiveness, _ = solution.answers.at("fins.fins.effectiveness")
    assert effectiveness == pytest.approx(of_fin * pitch / (film * thick), rel=2e-3)
    heat = solution.answers.at("fins.fins.heat")[0]
    assert 0.9 < heat / 10 < 1 and heat < -solution.answers.at("terminals.air.heat")[0]


@pytest.mark.parametrize(("film", "through"), [(500.0, LAYERS), (5.0, ONE)])
def test_a_plate_whose_thickness_is_not_felt_has_one_temperature_and_says_so(film: float, through: str) -> None:
    """Both ways hold the mean rise of the series within their bands."""
    solution = solve(bare_plate(Rectangle((0.03, 0.07), (0.02, 0.06)), film=film, thickness=0.003))
    mean, highest = rectangle_on_plate((0.04, 0.04), (0.1, 0.08), 0.003, 200.0, film)
    past = (0.003 / 200 + 1 / film) / (0.1 * 0.08)
    assert solution.grid.through == result_dict(solution)["grid"]["through"] == through
    assert solution.grid.shape[2] == (1 if through == ONE else 8)
    for key, true in (("resistance", mean + past), ("resistance_max", highest + past)):
        value, band = resistance(solution, key)
        assert value == pytest.approx(true, abs=band)
        assert band < 0.005 * value


def test_a_thin_plate_with_fins_answers_as_in_layers() -> None:
    section = sink(
        parts=(replace(PLATE, thickness=0.001),),
        environments=(replace(AIR, film=1.0), STILL),
        border=Border(),
        sensors=(Sensor("tip", at=(0.09, 0.01), face="front"),),
    )
    thin, layered = solve(section), solved(conduction_system(section, *map(halved, map(halved, first_lines(section)))))
    assert thin.grid.through == ONE
    on_grid = thin.asked.values(layered.answers)
    for q, value, band, other in zip(thin.answers.quantities, thin.answers.value, thin.answers.band, on_grid):
        assert value == pytest.approx(other, abs=2 * band + 2e-3 * abs(other)), q.words
    grid = thin.grids[0]
    changes = grid.system.adjoint_system([(0, 0)], grid.units).changes().resistance.sum(-1)
    assert changes == pytest.approx(-grid.answers.network.resistance, rel=1e-6)  # 1 % of all inputs is 1 % of it


def test_sensors_read_either_face_and_between_them() -> None:
    sensors = tuple(
        Sensor(name, at=(0.05, 0.04), face=face, depth=depth)
        for name, face, depth in (
            ("hot", "back", 0.0),
            ("deep", "back", 0.002),
            ("same", "front", 0.003),
            ("wet", "front", 0),
        )
    )
    solution = solve(bare_plate(Rectangle((0.0, 0.1), (0.0, 0.08)), sensors=sensors))
    flux = 20 / (0.1 * 0.08)
    surface = 10 + flux / 500
    for name, depth in (("hot", 0.005), ("deep", 0.003), ("same", 0.003), ("wet", 0.0)):
        assert solution.sensors[name].reading == pytest.approx(surface + flux * depth / 200, abs=1e-6)
    low, high = (solution.answers.at(f"surface.plate.water.{which}")[0] for which in ("lowest", "highest"))
    assert low == pytest.approx(surface, abs=1e-6) and high == pytest.approx(surface, abs=1e-6)


def test_as_layers_get_finer_heat_all_through_a_thin_plate_has_one_temperature() -> None:
    """The plane system is the limit of a plate without resistance through its thickness."""
    thick = Part(
        "plate", (Rectangle((0.0, 0.1), (0.0, 0.08)),), replace(METAL, through=1e6), thickness=0.005, front="w"
    )
    section = Section(
        "plate",
        (thick,),
        (Environment("w", 10, 50.0),),
        view="plate",
        sources=(Source("rim", Segment((0, 0), (0, 0.02)), heat=5),),
    )
    x, y = first_lines(section)
    plane = conduction_system(section, x, y)
    stack = conduction_system(section, x, y, np.linspace(0, 1, 4))
    for key in ("coupling", "weight", "resistance", "resistance_max"):
        a, b = (getattr(s.network(s.unit_fields()), key) for s in (plane, stack))
        assert b == pytest.approx(a, rel=1e-5, abs=1e-9)


@pytest.fixture(scope="module")
def crooked() -> SolvedGrid:
    return solved(conduction_system(uneven(), *first_lines(uneven())))


def test_an_uneven_plate_keeps_its_balance_and_symmetry(crooked: SolvedGrid) -> None:
    checks = crooked.system.checks(crooked.units, crooked.answers.network)
    assert checks.imbalance < 1e-8 and checks.asymmetry < 1e-8 and checks.weight_error < 1e-8
    asked = asked_of(crooked.system)
    answers = Answers(asked.quantities, asked.values(crooked.answers), np.zeros(len(asked.quantities)))
    heat = sum(answers.at(("fins", name, "heat"))[0] for name in ("fins", "ribs"))
    assert 0 < heat < 10
    below, beside, within = (answers.at(("sensors", name, "reading"))[0] for name in ("below", "beside", "within"))
    assert below > within > beside > 20


@pytest.mark.parametrize("shape", [Rectangle((0.01, 0.03), (0.02, 0.04)), Disc((0.02, 0.03), 0.01)])
@pytest.mark.parametrize("material", [None, STEEL])
@pytest.mark.parametrize("spread", [(), ("plate",)])
def test_conjugate_gradients_agree_with_a_factorisation(
    shape: Rectangle | Disc, material: Material | None, spread: tuple[str, ...]
) -> None:
    """Around holes and inlays, straight and round, and where the plate spreads perfectly."""
    other = Part("other", (shape,), material, void=material is None, thickness=material and 0.004)
    on = ("plate", "other") if material else ("plate",)
    ribs = fins(name="ribs", face="back", count=2, rectangle=CORNER)
    section = sink(parts=(PLATE, other), fins=(fins(parts=on), ribs))
    system = conduction_system(section, *first_lines(section), variant=Variant(spread=spread, along="both"))
    assert isinstance(system, StackSystem)
    watts, heat = np.zeros((1, system.solid.size)), system.heat_inputs[0]
    watts[0, heat.cell] = heat.share
    true = system.equations.factorised_fields(watts.reshape(1, *system.solid.shape))
    assert system.watt_fields()[2:] == pytest.approx(true, abs=1e-8 * true.max())


def test_fins_that_run_both_ways_on_one_face_agree_with_a_factorisation() -> None:
    """With watts into the fins, too."""
    halves = Rectangle((0.0, 0.1), (0.0, 0.08)), Rectangle((0.0, 0.1), (0.08, 0.15))
    both = (fins(rectangle=halves[0]), fins(name="across", along="x", rectangle=halves[1]))
    section = sink(fins=both)
    system = conduction_system(section, *first_lines(section))
    assert isinstance(system, StackSystem)
    right = np.random.default_rng(1).uniform(0, 1, (2, *system.solid.shape))
    true = system.equations.factorised_fields(right)
    assert system.solver.fields([], right) == pytest.approx(true, abs=1e-7 * true.max())


def test_the_field_has_both_faces_and_all_layers(crooked: SolvedGrid) -> None:
    section = crooked.system.section
    field = crooked.system.field(crooked.units, section.fixed_temperatures, section.watts)
    assert isinstance(field, LayeredField)
    layers, n, m = crooked.units.shape[1:]
    assert field.temperature.shape == field.back.temperature.shape == (n, m)
    assert field.layer_temperature.shape == (layers, n, m)
    hot = np.nanargmax(field.back.temperature)
    assert field.back.temperature.ravel()[hot] > field.temperature.ravel()[hot]
    assert (np.diff(field.height, axis=0) >= 0).all()


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({"fins": (fins(face="back"),)}, "source 'module': it lies on fins 'fins', on the back"),
        ({"fins": (fins(), fins(name="more"))}, "fins 'more': it lies on fins 'fins', on the front"),
        (
            {"parts": (PLATE, Part("hole", (PATCH,), void=True))},
            "source 'module': it lies on nothing",
        ),
    ],
)
def test_what_lies_on_each_other_is_refused(more: dict[str, object], message: str) -> None:
    with pytest.raises(InputError, match=message):
        solve(sink(**more))


def test_a_bridge_may_take_fins_along_with_the_part_that_they_stand_on() -> None:
    """And an environment that nothing touches makes no coupling."""
    ear = Part("ear", (Rectangle((0.0, 0.02), (0.12, 0.15)),), METAL, thickness=0.006, back="still")
    standing = fins(parts=("ear",), count=3, environment="still")
    section = sink(
        parts=(replace(PLATE, front="air"), ear),
        environments=(AIR, STILL, Environment("beyond", 0, 5.0)),
        fins=(standing,),
        bridges=(Bridge(("ear",), ("air", "still")),),
    )
    grid = solved(conduction_system(section, *first_lines(section)))
    checks = grid.system.checks(grid.units, grid.answers.network)
    assert max(checks.asymmetry, checks.imbalance, checks.outside) < 1e-8
    assert grid.system.untouched_environments() == ["beyond"]
    loss = grid.answers.network.coupling[0, 1] - grid.answers.further["bridge", "ear"].coupling[0, 1]
    assert loss > 0
    assert adjoint_systems(grid).as_solved.further["bridge", "ear"].coupling == pytest.approx(
        grid.answers.further["bridge", "ear"].coupling, abs=1e-9
    )


def test_halved_grids_halve_the_layers() -> None:
    solution = solve(sink())
    coarse, middle, fine = (grid.system.lines for grid in solution.grids)
    for a, b, c in zip(coarse, middle, fine):
        assert np.array_equal(halved(a), b) and np.array_equal(halved(b), c)
    assert solution.grid.shape == tuple(len(lines) - 1 for lines in fine)
    assert AIR.film == 35


def test_grids_are_used_again_where_only_thicknesses_differ() -> None:
    """The answers agree within the bands of both, also from a plate that is thin to one that is not."""
    first, thick = sink(), sink(parts=(replace(PLATE, thickness=0.009),), fins=(fins(height=0.03, count=12),))
    alone, again = solve(thick), solve(thick, like=solve(first))
    assert first.plan == thick.plan and first.drawn != thick.drawn
    for a, b, band, other in zip(alone.answers.value, again.answers.value, alone.answers.band, again.answers.band):
        assert a == pytest.approx(b, abs=band + other)
    air = (replace(AIR, film=1.0), STILL)
    flat, deep = (sink(parts=(replace(PLATE, thickness=t),), environments=air) for t in (0.001, 0.02))
    assert solve(deep, like=solve(flat)).grid.through == LAYERS
