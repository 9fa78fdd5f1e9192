"""A whole cabinet's answers together: no section solved twice, fields at work, warnings, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.integrate import trapezoid

from fdm.cabinet import sections
from fdm.cabinet.bank import Sink
from fdm.cabinet.datasheet import DataSheet
from fdm.cabinet.load import Load
from fdm.cabinet.losses import LineLoss
from fdm.cabinet.solution import solve_cabinet
from fdm.cabinet.supply import Supply
from fdm.cabinet.thermostat import Thermostat
from fdm.cabinet.walls import Layer, Wall
from fdm.errors import InputError
from tests.cabinet.plain_box import DEAD, FACES, FILE, IN_A_WALL, SEAL_FILE, SKIN, box, piece, solved, solved_box

WALL = IN_A_WALL | {"supply": Supply(voltage=8, parallel=2)}
FAST = {"load": Load(0.5, 3600, 0.3, 8, 7)}  # few cycles to where it settles


@pytest.fixture
def no_solve(monkeypatch):
    def fail(*args, **kwargs):
        raise AssertionError("a section was solved again")

    monkeypatch.setattr(sections, "solve", fail)


def cycling(**changes):
    return box(WALL, **(FAST | changes))


def test_a_second_solve_repeats_no_section(no_solve):
    first = solve_cabinet(cycling(setpoint=-60), solved())
    other = cycling(setpoint=-60, room=28, lines=(LineLoss("seal", 1.0, file=SEAL_FILE, bridge="seal"),))
    other = replace(other, bank=replace(other.bank, supply=Supply(voltage=10, parallel=2)))
    second = solve_cabinet(other, {**first.sections, SEAL_FILE: solved()[SEAL_FILE]})
    assert second.sections[FILE] is first.sections[FILE] is piece()
    assert second.point.current > first.point.current + 0.3
    with pytest.raises(AssertionError, match="solved again"):
        solve_cabinet(other, first.sections)


def test_the_field_at_work_has_the_operating_points_temperatures(no_solve):
    for bank in (WALL, WALL | {"cold_sink": Sink(0.2), "hot_sink": Sink(0.1)}):
        answer = solve_cabinet(box(bank, **FAST, setpoint=-60), solved())
        at_work, point = answer.module_at_work(), answer.point
        n, section = at_work.network.values, at_work.section
        faces = n.weight[:2] @ section.fixed_temperatures + n.resistance[:2] @ section.watts
        assert faces == pytest.approx([point.temperature["cold face"], point.temperature["hot face"]], abs=1e-8)
        assert section.watts == pytest.approx([-point.pumped / 2, point.rejected / 2])
        inside = point.temperature.get("air at the cold sink", point.temperature["air"])
        outside = point.temperature.get("air at the hot sink", 25)
        assert section.fixed_temperatures == pytest.approx([inside, outside, inside, outside])
        field = at_work.field
        on = (field.x > 0.02 - 1e-9) & (field.x < 0.04 + 1e-9)
        for height, face in ((0.026, faces[0]), (0.03, faces[1])):
            row = field.point_temperature[on, np.argmin(abs(field.y - height))]
            assert trapezoid(row, field.x[on]) / 0.02 == pytest.approx(face, abs=0.1)


def test_without_a_section_there_is_no_field():
    answer = solve_cabinet(box(setpoint=-60), {})
    assert answer.module_at_work() is None and answer.module_section is None and answer.heat_check is None


def test_a_good_cabinet_has_no_warnings(no_solve):
    answer = solve_cabinet(cycling(), solved())
    assert answer.warnings == () and answer.pull_down.period is not None
    assert sum(line.watts for line in answer.budget) == pytest.approx(answer.point.pumped)


def test_a_setpoint_out_of_reach_is_told_with_how_far():
    answer = solve_cabinet(box(setpoint=-20, thermostat=Thermostat(1)), {})
    air = answer.point.temperature["air"]
    off, reach = answer.warnings
    assert (
        f"never switches off: always on it settles at a reading of {air:.2f} degC, {air + 20.5:.2f} K above -20.50"
        in off
    )
    supply, lowest = answer.chart.lowest
    assert f"the setpoint of -20 degC is {air + 20:.2f} K below what is reached" in reach
    assert f"{lowest:.2f} degC at {supply:.1f} V" in reach and lowest < air


def test_a_reading_that_is_too_warm_keeps_the_modules_on():
    """The air is below the setpoint, but the sensor in the wall never reads so."""
    thermostat = Thermostat(1, SEAL_FILE, "in the wall", ("in",), ("out",))
    answer = solve_cabinet(box(thermostat=thermostat, **FAST), solved())
    warning, cold = answer.warnings
    assert answer.point.temperature["air"] < 7 < answer.point.reading and "never switches off" in warning
    assert answer.pull_down.duty == 1
    load = answer.pull_down.load_settles
    assert cold == f"the load is kept at {load:.2f} degC, below freezing: 7 degC is wanted"


def test_a_load_that_is_kept_too_cold_is_told_with_the_dial_that_is_right():
    """A sensor that reads half of the room keeps all far below the setpoint."""
    thermostat = Thermostat(1, SEAL_FILE, "in the wall", ("in",), ("out",))
    answer = solve_cabinet(box(WALL, thermostat=thermostat, setpoint=15, **FAST), solved())
    run = answer.pull_down
    (cold,) = (w for w in answer.warnings if "is kept at" in w)
    assert f"{15 - run.load_settles:.2f} K too cold: 15 degC is wanted; " in cold
    assert cold.endswith(f"set the thermostat to {run.dial:.2f} degC for that") and 19.5 < run.dial < 20.5


def test_ratings_that_are_exceeded_are_told():
    sheet = DataSheet(30, 3, hot_side=27, greatest_voltage=7.5)
    answer = solve_cabinet(box({"data_sheet": sheet}, setpoint=-60), {})
    (told,) = (w for w in answer.warnings if "above their" in w)
    peaks = answer.pull_down.peaks
    assert told == (
        f"the modules get a current of {peaks.current:.3g} A, above their greatest_current of 3 A and a voltage of 8 "
        f"V, above their greatest_voltage of 7.5 V and a difference of {peaks.difference:.3g} K, above their "
        "greatest_difference of 30 K"
    )
    within = DataSheet(68, 6, hot_side=27, greatest_voltage=15.4)
    assert not any("above their" in w for w in solve_cabinet(box({"data_sheet": within}, setpoint=-60), {}).warnings)


@pytest.mark.parametrize(("heat", "told"), [(50, False), (20, True), (90, True)])
def test_data_sheets_that_contradict_themselves_are_told(heat, told):
    sheet = DataSheet(68, 6, hot_side=27, greatest_voltage=15.4, greatest_heat=heat)
    answer = solve_cabinet(box({"data_sheet": sheet}, setpoint=-60), {})
    said = [w for w in answer.warnings if "contradict one another" in w]
    assert bool(said) == told and all(f"but greatest_heat is {heat} W" in w for w in said)


def test_temperatures_beyond_what_the_model_means_are_told_once():
    far = solve_cabinet(box(room=130, load=Load(0.5, 3600, 0.3, 8, 120), setpoint=120), {})
    (said,) = (w for w in far.warnings if "mean little outside of -60 to 100 degC" in w)
    assert said.startswith("the room would reach 130 degC")


def test_the_heat_pumped_is_what_its_terms_leave():
    for supply in (Supply(voltage=8, parallel=2), Supply(current=2, idle=1)):
        point = solve_cabinet(box({"supply": supply}, setpoint=-60), {}).point
        gross = point.gross
        assert gross.peltier - gross.conducted - gross.half_joule == pytest.approx(point.pumped)


@pytest.mark.parametrize("start", [20, 6])
def test_modules_that_never_switch_on_again_are_told(start):
    answer = solve_cabinet(box(room=6, load=Load(1, 3600, 0.3, 8, start), start=start), {})
    (warning,) = answer.warnings
    assert "never switches on again: switched off it settles at a reading of 6.00 degC" in warning
    assert answer.pull_down.duty == 0


def test_a_room_below_the_setpoint_needs_no_cooling():
    answer = solve_cabinet(box(room=-5, load=Load(1, 3600, 0.3, 8, -5), start=-5), {})
    (warning,) = answer.warnings
    assert "never switches on: switched off it settles" in warning
    run = answer.pull_down
    assert not answer.chart.needed and answer.chart.best is None and run.time_to_setpoint == 0
    assert run.load_goal == pytest.approx(run.load_settles) and run.load_settles < 0
    assert solved_box().chart.needed


def test_walls_that_leave_a_face_open_are_told():
    (shell,) = box().walls
    hatch = Wall("hatch", shell.layers, 8, 9, (), 0.05)
    open_box = box(walls=(replace(shell, faces=FACES[:5]), hatch), setpoint=-60)
    told = [w for w in solve_cabinet(open_box, {}).warnings if "walls" in w]
    # 2 x (0.4 x 0.3 + 0.4 x 0.3 + 0.3 x 0.3), without the top but with the hatch
    assert told == ["the walls cover 0.59 m2 of 0.66 m2 inside; the rest lets nothing through"]


def test_the_lowest_temperature_at_an_end_of_what_was_tried_is_told_so():
    answer = solve_cabinet(box({"supply": Supply(voltage=1)}), {})
    assert answer.chart.lowest_at_end == "most" and any("V, the most that was tried" in w for w in answer.warnings)
    assert solved_box().chart.lowest_at_end == ""


def test_half_the_modules_that_hold_it_alone_are_told():
    """All switch the setpoint, then half of them hold it for good."""
    bank = {"supply": Supply(voltage=8, parallel=2)}
    answer = solve_cabinet(box(bank, thermostat=Thermostat(1, switches="half"), setpoint=17), {})
    assert any("never switches on again" in w for w in answer.warnings)


def test_what_has_not_settled_in_the_longest_time_is_not_told_as_never():
    """Off, three tonnes take more than the longest time to warm up; they would switch the modules on in the end."""
    load = Load(9000, 4190, 3, 8, 2)
    answer = solve_cabinet(box(load=load, start=2, setpoint=20), {})
    assert not answer.pull_down.settled and answer.pull_down.load_time is None
    assert not any("never" in w for w in answer.warnings)


def test_the_heat_check_of_the_data_sheet():
    sheet = DataSheet(68, 6.0, hot_side=27.0, greatest_voltage=15.4, greatest_heat=50.0)
    check = solve_cabinet(box({"data_sheet": sheet}, setpoint=-60), {}).heat_check
    assert check.predicted == pytest.approx(56.6668, abs=1e-3)  # Imax Vmax (Th + dTmax) / (2 Th), by hand
    assert check.stated == 50


def test_no_voltage_is_answered_too():
    answer = solve_cabinet(box({"supply": Supply(voltage=0)}), {})
    assert answer.point.temperature["air"] == pytest.approx(25)
    assert (answer.point.power, answer.chart.best) == (0, None) and np.isnan(answer.point.cop)


def test_modules_that_do_nothing_leave_the_room():
    answer = solve_cabinet(box({"module": DEAD, "supply": Supply(voltage=0.1)}, inside_heat=2), {})
    walls = 0.66 / (1 / 8 + 0.002 / 0.2 + 0.04 / 0.03 + 1 / 9)
    assert answer.point.temperature["air"] == pytest.approx(
        25 + (2 + 0.1**2 * 1 / 2) / walls
    )  # and half of the Joule heat
    assert answer.point.pumped == pytest.approx(-0.005, abs=1e-6)


@pytest.mark.parametrize(
    "bank, changes, message",
    [
        ({"cold_capacity": 0}, {}, "cold face: it has no heat capacity"),
        (
            {},
            {"walls": (Wall("w", (Layer(replace(SKIN, density=None), 0.01),), 8, 8, FACES),)},
            "lining of w: it has no heat cap",
        ),
    ],
    ids=range(2),
)
def test_refused(bank, changes, message):
    with pytest.raises(InputError, match=message):
        solve_cabinet(box(bank, **changes), solved())


def test_progress_is_told(no_solve):
    said = []
    solve_cabinet(cycling(setpoint=-60), solved(), progress=said.append)
    assert said == ["operating point", "pull-down"]
