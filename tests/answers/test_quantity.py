"""Quantities by their paths."""

import numpy as np
import pytest

from fdm import InputError
from fdm.answers.kinds import KINDS, asked_of, solved
from fdm.answers.quantity import Answers, Quantity, dotted, find, find_all, joined, main_quantities, named_numbers
from fdm.conduction.systems import conduction_system
from fdm.section.model import Bridge, Sensor, Spreading
from tests.answers.bench import VIEWS, bench, lines


def everything(view="section"):
    return bench(
        view,
        spreading=(Spreading(("block",)),),
        bridges=(Bridge(("lid",), ("cabinet", "room"), "lid, 3.5 mm"),),
        sensors=(Sensor("bead", at=(0.02, 0), should_read="cabinet"), Sensor("core", part="block")),
    )


def known():
    return asked_of(conduction_system(everything(), *lines(everything()))).quantities


@pytest.mark.parametrize("view", VIEWS)
def test_every_quantity_has_a_value_and_a_path_of_its_own(view):
    section = everything(view)
    grid = solved(conduction_system(section, *lines(section)))
    asked = asked_of(grid.system)
    values = asked.values(grid.answers)
    assert values.shape == (len(asked.quantities),) and np.isfinite(values).all()
    assert len({q.path for q in asked.quantities}) == len(asked.quantities)
    assert len({q.words for q in asked.quantities}) == len(asked.quantities)


def test_a_vector_is_split_by_kind_and_joined_to_matrices():
    section = everything()
    solved_grid = solved(conduction_system(section, *lines(section)))
    asked, grid = asked_of(solved_grid.system), solved_grid.answers
    values = asked.values(grid)
    parts = [part for _, (part,) in asked.by_kind(values)]
    assert len(parts) == len(KINDS) and np.array_equal(np.concatenate(parts), values)
    network = asked.network(values)
    for name in ("coupling", "weight", "resistance", "resistance_max"):
        assert np.array_equal(getattr(network, name), getattr(grid.network, name)), name


def test_a_quantity_is_found_by_its_path_its_beginning_its_short_name_and_either_way_round():
    quantities = known()
    assert find("sensors.bead.reading", quantities).words == "reading of bead"
    assert find("sensors.core", quantities).name == "sensors.core.reading"
    assert find("bead", quantities).name == "sensors.bead.reading"
    assert find("foil", quantities).name == "terminals.foil.temperature"
    assert find("network.coupling.room.cabinet", quantities).path == ("network", "coupling", "cabinet", "room")
    assert find('bridge."lid, 3.5 mm".psi', quantities).name == find("bridge.lid, 3.5 mm.psi", quantities).name
    assert {q.family for q in find_all("spreading", quantities)} == {"spreading"}
    assert [q.name for q in find_all("sensors.bead", quantities)] == ["sensors.bead.reading", "sensors.bead.misreading"]


def test_every_quantity_knows_its_unit():
    quantities = [*known(), *named_numbers({"plate": 8.0}).quantities]
    for path, unit in (
        ("network.coupling.room.cabinet", "W/K"),
        ("network.resistance.foil.foil", "K/W"),
        ("spreading.block.foil.mean", "K/W"),
        ('bridge."lid, 3.5 mm".psi', "W/(m K)"),
        ("terminals.foil.temperature", "degC"),
        ("terminals.room.heat", "W"),
        ("sensors.bead.reading", "degC"),
        ("sensors.bead.misreading", "K"),
        ("let.plate", ""),
    ):
        assert find(path, quantities).unit == unit, path


@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ("sensors.beat.reading", "the result has no 'sensors.beat.reading'; did you mean 'sensors.bead.reading'?"),
        ("sensors", "'sensors' holds 3 numbers; give one, such as 'sensors.bead.reading'"),
        ("sensors.bead.misreadin", "did you mean 'sensors.bead.misreading'?"),
        ("spreading.block.foil.meam", "did you mean 'spreading.block.foil.mean'?"),
        ("", "the result has no ''"),
    ],
)
def test_what_is_not_one_quantity_is_refused_with_the_nearest(asked, message):
    with pytest.raises(InputError, match=message.replace("?", "[?]")):
        find(asked, known())


def test_what_a_builder_looks_at_first_comes_first():
    names = [q.name for q in main_quantities(known())]
    assert names[0] == "terminals.foil.temperature" and names[-1] == "sensors.core.reading"
    families = [name.partition(".")[0] for name in names]
    assert families.index("spreading") < families.index("sensors")
    assert "sensors.bead.misreading" in names and "sensors.bead.reading" not in names


def test_answers_know_value_and_band_by_text_and_by_names():
    quantities = (Quantity(("a", "b.c"), "b", "K", "k"), Quantity(("a", "d"), "d", "W", "w", also=(("d",),)))
    answers = Answers(quantities, np.array([1.0, 2.0]), np.array([0.1, 0.2]))
    assert answers.at('a."b.c"') == answers.at(("a", "b.c")) == answers.at("a.b.c") == (1.0, 0.1)
    assert answers.at("d") == (2.0, 0.2)
    assert joined([]) == Answers((), np.empty(0), np.empty(0))
    both = joined([answers, named_numbers({"plate": 8.0})])
    assert both.at("let.plate") == (8.0, 0.0) and both.at("a.d") == (2.0, 0.2)
    with pytest.raises(InputError, match="holds 2 numbers"):
        answers.at("a")


def test_answers_are_equal_by_quantity_value_and_band():
    quantities = (Quantity(("a", "b"), "b", "K", "k"), Quantity(("a", "d"), "d", "W", "w"))
    one = Answers(quantities, np.array([1.0, np.nan]), np.array([np.inf, np.nan]))
    assert one == Answers(quantities, one.value.copy(), one.band.copy())
    assert one != Answers(quantities, one.value, np.array([0.1, np.nan]))
    assert one != Answers(quantities, np.array([1.0, 2.0]), one.band) != Answers(quantities[::-1], one.value, one.band)


def test_dots_and_quotes_in_names_stay_apart_from_those_of_the_path():
    assert dotted(("sensors", "bead no. 1", "reading")) == 'sensors."bead no. 1".reading'
    known = [
        Quantity(("sensors", name, "reading"), name, "degC", "reading") for name in ("bead no. 1", 'the "cold" one')
    ]
    for asked in ('sensors."bead no. 1".reading', "sensors.bead no. 1.reading", "sensors.bead no. 1"):
        assert find(asked, known) is known[0]
    for asked in (known[1].name, 'sensors.the "cold" one.reading', "sensors.the 'cold' one.reading"):
        assert find(asked, known) is known[1]


def test_a_quantity_of_something_larger_keeps_its_other_paths_but_no_short_names():
    short = Quantity(
        ("sensors", "bead", "reading"), "bead", "degC", "reading", also=(("bead",), ("bead", "read")), main=1
    )
    inside = short.below("module")
    assert inside.path == ("module", "sensors", "bead", "reading")
    assert inside.also == (("module", "bead", "read"),)
    assert inside.main == 0
