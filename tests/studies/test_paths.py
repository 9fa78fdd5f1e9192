"""Answers by their path, with their units and bands."""

from pathlib import Path

import pytest

from fdm.errors import InputError
from fdm.studies import study
from fdm.studies.paths import band_path, found, found_all, unit
from tests.studies.slab import COUPLING


def test_answers_are_found_by_path_with_or_without_quotes(slab: Path) -> None:
    known = study(slab, {"thick": "50"}).known
    assert found(COUPLING, known) == found("network.coupling.inside 1.5 m.outside", known) == COUPLING
    assert found_all("sensors.bead", known) == [p for p in known if p.startswith("sensors.bead.")]
    with pytest.raises(InputError, match="did you mean 'sensors.bead.misreading'"):
        found("sensors.bead.misreadin", known)
    with pytest.raises(InputError, match="holds .* numbers; give one, such as"):
        found("sensors.bead", known)


def test_every_answer_knows_its_band_and_unit(slab: Path) -> None:
    known = study(slab, {"thick": "50"}).known
    for path, band, symbol in (
        (COUPLING, 'network.band.coupling."inside 1.5 m".outside', "W/K"),
        ("sensors.bead.reading", "sensors.bead.band", "degC"),
        ("sensors.bead.misreading", "sensors.bead.misreading_band", "K"),
        ("sensors.bead.should_read", None, "degC"),
        ("let.thick", None, ""),
    ):
        assert (band_path(path, known), unit(path)) == (band, symbol)
