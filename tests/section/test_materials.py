"""The built-in materials: the table is whole and honest, and a name is found or its nearest is told."""

import csv
from importlib.resources import files

import pytest

from fdm.errors import InputError
from fdm.section.materials import builtin_materials, find_material, search_materials

ROWS = list(csv.DictReader(files("fdm.section").joinpath("materials.csv").read_text(encoding="utf-8").splitlines()))


def test_the_table_is_large_enough_and_names_are_unique():
    assert len(ROWS) >= 60
    assert len(builtin_materials()) == len(ROWS)


def test_every_value_is_possible_and_has_a_source():
    for m in builtin_materials().values():
        assert m.name == m.name.strip() != ""
        assert 0.02 <= m.conductivity[0] == m.conductivity[1] <= 450
        assert m.density is None or 1 <= m.density <= 12000
        assert m.specific_heat is None or 100 <= m.specific_heat <= 4200
        assert m.source
        assert m.spread is None or 0 < m.spread < 1


def test_a_spread_has_a_source_and_only_then():
    for row in ROWS:
        assert bool(row["spread"]) == bool(row["spread_source"]), row["name"]


@pytest.mark.parametrize(
    "name, conductivity, density, specific_heat, source",
    [
        ("aluminium alloy", 160, 2800, 880, "ISO 10456:2007 Table 3"),
        ("copper", 380, 8900, 380, "ISO 10456:2007 Table 3"),
        ("stainless steel, austenitic", 17, 7900, 500, "ISO 10456:2007 Table 3"),
        ("softwood", 0.13, 500, 1600, "ISO 10456:2007 Table 3"),
        ("aluminium, pure", 237, 2702, 903, "Incropera"),
        ("aluminium 2024-T6", 177, 2770, 875, "Incropera"),
    ],
)
def test_values_of_the_sources(name, conductivity, density, specific_heat, source):
    """ISO 10456:2007 Table 3 as quoted in a secondary compilation; Incropera et al., Table A.1, 300 K."""
    m = find_material(name, builtin_materials())
    assert (m.conductivity[0], m.density, m.specific_heat) == (conductivity, density, specific_heat)
    assert m.source.startswith(source)


def test_values_from_memory_say_so():
    for name in ("bronze", "ABS", "glass-epoxy board", "thermal grease, zinc oxide", "ice", "air (still)"):
        assert "from memory" in builtin_materials()[name].source


@pytest.mark.parametrize(
    "name, hint",
    [
        ("aluminum 6063-T5", "did you mean 'aluminium 6063-T5'?"),
        ("Copper", "did you mean 'copper'?"),
        ("zinc oxide", "known are 'thermal grease, zinc oxide'"),
    ],
)
def test_an_unknown_name_is_refused_with_the_nearest(name, hint):
    with pytest.raises(InputError) as error:
        find_material(name, builtin_materials())
    assert repr(name) in str(error.value) and hint in str(error.value)


def test_search_looks_at_name_and_source_whatever_the_case():
    assert {m.name for m in search_materials("xps")} == {"XPS foam", "XPS foam by temperature"}
    assert {m.name for m in search_materials("fr4")} == {"glass-epoxy board"}
    assert {m.name for m in search_materials("6063")} == {"aluminium 6063-T5", "aluminium 6063-T6"}
    assert search_materials("unobtainium") == []
    assert len(search_materials("")) == len(builtin_materials())
