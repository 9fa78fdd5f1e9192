"""A small part of the battery: classes whose values lie inside their bands, and what is done with the rest."""

import numpy as np
import pytest

pytest.importorskip("skfem")

from fdm import solve
from fdm.errors import InputError
from fdm.section.model import Border, Environment, Part, Section
from validation.battery import Row, Trial, listed, offenders, references, run, table, trial
from validation.cases import box, solid
from validation.random_sections import CLASSES, section_of


def row(value: float, band: float, reference: float, known_to: float) -> Row:
    return Row("walls", 1, 0, "a wall", "network.coupling.in.out", "coupling", value, band, reference, known_to, 1e-9)


@pytest.mark.parametrize(
    "kind, number",
    [("bolted_wall", 1), ("bolted_wall_about_axis", 0), ("patchwork", 0), ("plate_view", 2), ("discs", 1)],
)
def test_values_lie_inside_their_bands(kind: str, number: int) -> None:
    found = trial(kind, number)
    assert not found.missing
    decided = [r for r in found.rows if r.decided]
    assert len(decided) > len(found.rows) / 2
    assert not [(r.path, r.value, r.band, r.reference) for r in decided if r.outside]


@pytest.mark.parametrize("kind", CLASSES)
def test_sections_depend_on_class_seed_and_number_alone(kind: str) -> None:
    assert section_of(kind, 3, 1) == section_of(kind, 3, 1)
    assert section_of(kind, 3, 1) != section_of(kind, 3, 2)
    assert section_of(kind, 3, 1) != section_of(kind, 4, 1)


def test_a_value_outside_counts_where_the_reference_is_known_well_enough() -> None:
    inside, outside, unknown = row(1.0, 0.1, 1.05, 0.01), row(1.0, 0.1, 1.5, 0.01), row(1.0, 0.1, 1.5, 0.03)
    assert [r.outside for r in (inside, outside, unknown)] == [False, True, False]
    assert outside.bands_off == pytest.approx(4.9)
    assert inside.caution == pytest.approx(2.0)
    trials = [Trial("walls", 1, 0, (inside, outside, unknown)), Trial("walls", 1, 1, missing="target not met")]
    assert offenders(trials) == [outside]
    assert table(trials).row_count == 3
    assert listed(offenders(trials)).row_count == 1


def test_exact_values_with_no_band_are_inside() -> None:
    exact, wrong = row(1.0, 0.0, 1.0 + 1e-10, 0.0), row(1.0, 0.0, 1.0 + 1e-6, 0.0)
    assert (exact.outside, wrong.outside) == (False, True)
    assert np.isnan(exact.caution)


def test_references_refine_until_bands_can_be_judged() -> None:
    x = 0.05
    corner = Section(
        "L", (solid("L", 1.0, box(0, 0.1, 0, 0.1)), Part("out", (box(x, 0.1, x, 0.1),), environment="out")),
        (Environment("out", 0, 50), Environment("in", 1, 50)), border=Border(left="in", bottom="in"),
    )  # fmt: skip
    coupling = solve(corner).network.values.coupling[0, 1:2]
    wide, loose = references(corner, 1e-2 * coupling, coupling, ["coupling"])
    narrow, known = references(corner, 1e-6 * coupling, coupling, ["coupling"])
    assert known < loose / 4
    assert abs(wide - narrow) < loose


def test_run_draws_all_classes_in_turn_and_the_same_side_by_side() -> None:
    two = ("about_axis", "finned_plate")
    alone = run(1, classes=two)
    assert [(t.kind, t.number) for t in alone] == [("about_axis", 0), ("finned_plate", 0)]
    assert run(1, classes=two, processes=2) == alone


def test_unknown_class_is_refused() -> None:
    with pytest.raises(InputError, match="no class 'wals'"):
        run(1, classes=("wals",))
