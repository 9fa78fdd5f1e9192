"""Driven air: plates, channels, fans, what passes by; beside a library, a numerical solution and a worked sink."""

import numpy as np
import pytest
from fluids.fittings import diffuser_sharp
from ht.conv_external import Nu_horizontal_plate_laminar_Baehr as library_laminar
from ht.conv_external import Nu_horizontal_plate_turbulent_Schlichting as library_turbulent
from ht.conv_internal import turbulent_Gnielinski

from fdm.errors import InputError
from fdm.surroundings.air import air_at
from fdm.surroundings.channels import (
    apparent_friction,
    channel_film,
    developed_friction,
    flow_at,
    nusselt_developing,
    nusselt_turbulent,
    petukhov,
    pressure_drop,
    speed_at,
    speed_in_free_stream,
)
from fdm.surroundings.fans import Fan, at_density, at_speed, fan_of_points, operating_points
from fdm.surroundings.fins import base_film, fins_across
from fdm.surroundings.forced import plate_disturbed, plate_laminar, plate_turbulent

RANDOM = np.random.default_rng(2)
AIR = air_at(25)
SINK = fins_across(width=0.1, length=0.1, height=0.03, thickness=0.001, count=25)  # the worked sink, k 200 W/(m K)
FAN = fan_of_points(((0, 55), (20, 38), (35, 30), (55, 17), (75, 0)))


def flow_of(fan, air=AIR):
    """m3/h of a fan on the worked sink."""
    (found,) = operating_points(fan, lambda q: float(pressure_drop(air, SINK, q / SINK.flow_area)))
    return 3600 * found


def resistance(flow, air=AIR, conductivity=200):
    """K/W of the worked sink at a flow (m3/h)."""
    film = channel_film(air, SINK, flow / 3600 / SINK.flow_area)
    return 1 / float(base_film(SINK, film, conductivity) * SINK.base_area)


def test_plates_agree_with_a_library_at_100_random_points():
    re, pr = 10 ** RANDOM.uniform(3, 7, 100), RANDOM.uniform(0.6, 1, 100)
    assert plate_laminar(re, pr) == pytest.approx([library_laminar(r, p) for r, p in zip(re, pr)], rel=1e-9)
    assert plate_turbulent(re, pr) == pytest.approx([library_turbulent(r, p) for r, p in zip(re, pr)], rel=1e-9)
    assert plate_disturbed([1e4, 1e5, 1e6], 0.707) == pytest.approx([78.67, 363.1, 1980.3], rel=1e-4)


def test_turbulent_ducts_agree_with_a_library_at_100_random_points():
    re, pr = 10 ** RANDOM.uniform(3.5, 6, 100), RANDOM.uniform(0.6, 1, 100)
    library = [turbulent_Gnielinski(r, p, (0.79 * np.log(r) - 1.64) ** -2) for r, p in zip(re, pr)]
    assert nusselt_turbulent(re, pr) == pytest.approx(library, rel=1e-9)
    assert petukhov(re) == pytest.approx((0.79 * np.log(re) - 1.64) ** -2)


def test_friction_within_what_is_said_of_a_numerical_solution():
    """Developing flow between plates, boundary layer equations solved by finite differences: f Re over L+."""
    solved = {0.001: 110.1, 0.003: 66.20, 0.01: 40.23, 0.03: 29.58, 0.1: 25.67}
    for l_plus, true in solved.items():
        found = 100 * apparent_friction(100, l_plus * 100, 1.0, 0.0)
        assert 0 < found / true - 1 < 0.054
    assert developed_friction([0.05, 0.1, 0.2, 0.5]) == pytest.approx([22.485, 21.176, 19.072, 15.557], rel=1e-4)


def test_heat_transfer_within_what_is_said_of_a_numerical_solution():
    """The same solution: Nu on the entering air over Re*, Pr 0.707; and the published formula's own numbers."""
    solved = {250: 10.283, 83.3: 6.281, 25: 3.759, 8.33: 2.225, 2.5: 0.8728}
    for star, true in solved.items():
        assert nusselt_developing(star, 0.707) == pytest.approx(true, rel=0.032)
    printed = {0.1: 0.035498, 1: 0.352496, 5: 1.529334, 20: 3.430480, 100: 6.903752}
    assert nusselt_developing(list(printed), 0.71) == pytest.approx(list(printed.values()), rel=1e-5)


def test_slow_air_leaves_as_warm_as_the_walls():
    speed = 1e-3
    carried = AIR.density * AIR.specific_heat * speed * SINK.flow_area
    assert channel_film(AIR, SINK, speed) * SINK.area == pytest.approx(carried, rel=1e-3)


def test_the_exit_loses_what_a_sudden_widening_does():
    """Borda and Carnot, the ratio being one of areas: diameters as the roots of 0.75 and 1."""
    bare = pressure_drop(AIR, SINK, 5.0, entrance=0.0)
    friction = 4 * 0.1 / SINK.hydraulic_diameter * apparent_friction(
        5.0 * SINK.hydraulic_diameter / AIR.kinematic_viscosity, 0.1, SINK.hydraulic_diameter, SINK.aspect
    )  # fmt: skip
    exit_loss = bare / (AIR.density * 25 / 2) - friction
    assert exit_loss == pytest.approx(diffuser_sharp(Di1=0.75**0.5, Di2=1.0), rel=1e-9)


def test_the_worked_sink_with_its_fan():
    flow = flow_of(FAN)
    assert flow == pytest.approx(40.808, rel=1e-4)
    speed = flow / 3600 / SINK.flow_area
    assert pressure_drop(AIR, SINK, speed) == pytest.approx(26.22, rel=1e-3)
    assert channel_film(AIR, SINK, speed) == pytest.approx(35.214, rel=1e-4)
    assert resistance(flow) == pytest.approx(0.20579, rel=1e-4)
    assert resistance(flow, conductivity=160) == pytest.approx(0.2102, rel=1e-3)


def test_the_worked_sink_at_other_flows():
    flows = [10, 20, 30, 40, 60]
    drops = pressure_drop(AIR, SINK, np.array(flows) / 3600 / SINK.flow_area)
    assert drops == pytest.approx([4.03, 9.80, 17.00, 25.49, 45.87], abs=0.006)
    assert [resistance(q) for q in flows] == pytest.approx([0.3981, 0.2774, 0.2329, 0.2074, 0.1771], rel=5e-4)


def test_other_fans_on_the_worked_sink():
    half = flow_of(at_speed(FAN, 0.5))
    assert (half, resistance(half)) == pytest.approx((16.69, 0.3019), rel=5e-4)
    assert flow_of(fan_of_points(((0, 55), (75, 0)))) == pytest.approx(40.11, rel=2e-4)
    high = air_at(25, 2000)
    thin = flow_of(at_density(FAN, 1.2 * 0.7846), high)
    assert (thin, resistance(thin, high)) == pytest.approx((38.40, 0.2325), rel=5e-4)


def test_a_curve_with_a_dip_is_met_more_than_once():
    dip = Fan((0.0, 0.004, 0.008, 0.012), (30.0, 14.0, 22.0, 0.0))
    found = operating_points(dip, lambda q: 18.0 + 2.0 * q)
    assert len(found) == 3 and list(found) == sorted(found)
    for flow in found:
        assert float(dip.pressure_at(flow)) == pytest.approx(18.0 + 2.0 * flow, rel=1e-9)


@pytest.mark.parametrize(
    "points, told",
    [
        (((0, 55),), "at least two points"),
        (((0, 55), (0, 20)), "do not rise"),
        (((0, 55), (20, -1)), "below 0"),
        (((0, 0), (20, 10)), "begins with no pressure"),
    ],
)
def test_curves_that_are_none(points, told):
    with pytest.raises(InputError, match=told):
        fan_of_points(points)


def test_a_curve_that_is_not_met():
    with pytest.raises(InputError, match=r"ends at 10 m3/h with 8 Pa, where 1 Pa are needed; give the curve down to 0"):
        operating_points(fan_of_points(((0, 10), (10, 8))), lambda q: 1.0)
    with pytest.raises(InputError, match=r"at 5 m3/h, where its curve begins, it has 10 Pa and 20 Pa are needed"):
        operating_points(fan_of_points(((5, 10), (10, 0))), lambda q: 20.0)


def test_what_passes_above_the_fins():
    """3 m/s before a duct that is higher than the fins: shares of the flow between them, and resistance."""
    shares, resistances = [], []
    for clearance in np.array([0.05, 0.10, 0.25, 0.50, 1.00]) * SINK.height:
        flow = 3 * SINK.width * (SINK.height + clearance)
        speed = speed_at(AIR, SINK, clearance, flow)
        assert flow_at(AIR, SINK, clearance, speed) == pytest.approx(flow, rel=1e-9)
        shares.append(speed * SINK.flow_area / flow)
        resistances.append(resistance(3600 * speed * SINK.flow_area))
    assert shares == pytest.approx([0.97, 0.88, 0.63, 0.38, 0.19], abs=0.006)
    assert resistances == pytest.approx([0.224, 0.228, 0.249, 0.287, 0.354], rel=5e-3)


def test_fins_that_stand_free_in_a_stream():
    found = [speed_in_free_stream(AIR, SINK, v) for v in (1, 3, 5)]
    assert found == pytest.approx([0.222, 1.393, 2.879], abs=6e-4)
    slow, *faster = (resistance(3600 * u * SINK.flow_area) for u in found)
    assert faster == pytest.approx([0.371, 0.259], rel=3e-3)
    # without the base's share the slow one would have 1.64 K/W, less than the air can carry away
    assert 1.64 < 1 / float(AIR.density * AIR.specific_heat * found[0] * SINK.flow_area) < slow


def test_film_and_drop_rise_with_speed_through_the_change_to_turbulence():
    for fins in (SINK, fins_across(None, 0.03, 0.03, 0.001, gap=0.005), fins_across(None, 1.0, 0.05, 0.002, gap=0.01)):
        speeds = np.geomspace(0.01, 40, 400)
        assert np.all(np.diff(channel_film(AIR, fins, speeds)) > 0)
        assert np.all(np.diff(pressure_drop(AIR, fins, speeds)) > 0)
