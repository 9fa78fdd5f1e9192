"""What a cabinet says of moisture: its sentences and tables, in agreement with the numbers behind them."""

from dataclasses import replace
from io import StringIO

import pytest
from rich.console import Console

from fdm.cabinet.circuit import circuit
from fdm.cabinet.moisture import with_moisture
from fdm.cabinet.sections import lumped
from fdm.cabinet.settling import ANYWHERE, COLD_SINK, Settled
from fdm.cabinet.solution import LEFT_OUT_MOIST, SolvedCabinet
from fdm.cabinet.steady import operating_point
from fdm.output.tables.cabinet import print_cabinet
from fdm.output.tables.cabinet_moisture import cabinet_moisture, moisture_tables
from tests.output.cabinet_example import example

DAY = 86.4e6  # g a day in a kg/s


@pytest.fixture(scope="module")
def moist() -> SolvedCabinet:
    dry = example()
    assert list(cabinet_moisture(dry)) == [] and list(moisture_tables(dry)) == []
    cabinet = replace(dry.cabinet, humidity=60.0)
    sections = {file: lumped(s) for file, s in dry.sections.items()}
    c = with_moisture(circuit(cabinet, sections), sections)
    return replace(dry, cabinet=cabinet, circuit=c, point=operating_point(c, cabinet.bank.supply))


def at(solved: SolvedCabinet, **changes) -> SolvedCabinet:
    """With other numbers of the state with the modules always on."""
    m = solved.circuit.moisture
    changed = replace(m, always_on=replace(m.always_on, **changes))
    return replace(solved, circuit=replace(solved.circuit, moisture=changed))


def water(frozen: float, drained: float) -> tuple[Settled, ...]:
    """g a day at the cold sink."""
    return (Settled(COLD_SINK, frozen / DAY, drained / DAY),)


def test_what_sweats_outside(moist: SolvedCabinet) -> None:
    surfaces = moist.circuit.moisture.always_on.surfaces
    shell = next(s for s in surfaces if (s.side, s.name) == ("outside", "shell"))
    near = replace(shell, margin=0.8, margin_band=0.06, sweats_from=63.4, sweats_band=0.21)
    others = tuple(s for s in surfaces if s.side == "inside")
    (outside, _) = cabinet_moisture(at(moist, surfaces=(near, *others)))
    assert outside == (
        "Outside nothing sweats: shell is nearest, 0.80 ± 0.06 K above the dew point of the room (16.7 degC); it would "
        "from 63.4 ± 0.3 % on"
    )
    warm = replace(near, sweats_from=112.0)
    assert "it would" not in next(cabinet_moisture(at(moist, surfaces=(warm, *others))))
    wet, wetter = replace(near, margin=-0.8), replace(near, name="seal", part="gasket", margin=-2.0)
    outside = next(cabinet_moisture(at(moist, surfaces=(wet, wetter, *others))))
    assert "gasket of seal and shell will sweat: up to 2.00 ± 0.06 K below the dew point" in outside
    perhaps = replace(near, margin=0.05)
    assert "shell may sweat: 0.05 ± 0.06 K above" in next(cabinet_moisture(at(moist, surfaces=(perhaps, *others))))


def test_what_settles_inside(moist: SolvedCabinet) -> None:
    air = moist.circuit.moisture.always_on
    (_, inside) = cabinet_moisture(moist)
    assert f"{air.humidity:.3g} % humidity" in inside and "on the cold sink (cold plate)" in inside
    some = at(moist, settled=water(3, 1), latent=5.0, water_band=0.0)
    inside = list(cabinet_moisture(some))[1]
    assert inside.startswith(
        "Inside, 4 g of water a day settle, 3 g of it as frost, on the cold sink (cold plate), 5 W more to pump: "
    )
    assert "let it thaw, and lead it off, away from anything electric" in inside
    assert "4 g of water a day freeze on" in list(cabinet_moisture(at(moist, settled=water(4, 0), water_band=0.0)))[1]
    drains = list(cabinet_moisture(at(moist, settled=water(0, 4), water_band=0.0)))[1]
    assert "4 g of water a day drain on" in drains and "thaw" not in drains
    full = at(moist, settled=(*water(0, 4), Settled(ANYWHERE, 0, 1 / DAY)))
    assert (
        "drain on the cold sink (cold plate) and, as the air is saturated, anywhere: "
        in list(cabinet_moisture(full))[1]
    )
    assert list(cabinet_moisture(at(moist, settled=())))[1].startswith("Inside nothing sweats: the air has")
    kept = replace(moist, cabinet=replace(moist.cabinet, inside_humidity=80.0))
    asked = list(cabinet_moisture(at(kept, evaporated=250 / DAY)))[1]
    assert "for which 250 g a day have to be added" in asked
    assert "have to be taken away" in list(cabinet_moisture(at(kept, evaporated=-1 / DAY)))[1]


def test_other_things_inside_that_sweat(moist: SolvedCabinet) -> None:
    surfaces = tuple(
        replace(s, margin=-1.0) if s.name in ("load", "shell") and s.side == "inside" else s
        for s in moist.circuit.moisture.always_on.surfaces
    )
    said = list(cabinet_moisture(at(moist, surfaces=surfaces)))[2]
    assert said == "Inside, shell and load will sweat, too; what settles there is not counted"


def test_tables(moist: SolvedCabinet) -> None:
    text = StringIO()
    print_cabinet(moist, Console(file=text, width=100))
    said, air = text.getvalue(), moist.circuit.moisture.always_on
    assert "Moisture inside" in said and "held at the setpoint" in said and f"{DAY * air.frozen:.3g}" in said
    assert "cold plate of piece" in said and "temperature factor" in said
    assert " ".join(LEFT_OUT_MOIST.split()) in " ".join(said.split())
