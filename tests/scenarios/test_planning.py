"""Planning with tiny fuel: the ultralight three-wheeler of the invented scenarios, its planner figures."""

from __future__ import annotations

import pytest
from scenario_files import write

from calmday.operations import plan_file
from calmday.procedures.plan_result import PlanResult

WREN = """
[vehicle]
name = "Wren"
body = "other"
test_mass = "430 kg"
frontal_area = "1.2 m^2"
drag_coefficient = 0.35
rolling_resistance = 0.010
rolling_circumference = "1.634 m"
gear_ratios = [3.6, 2.0, 1.4, 1.0]
final_drive = 3.1
driveline_efficiency = 0.90
[engine]
displacement = "0.72 L"
cylinders = 2
fuel = "diesel"
injection = "indirect"
governed_speed = "3200 rpm"
full_load = "full_load.csv"
"""
CURVE = "speed_rpm,torque_Nm\n1200,38\n1600,41\n2000,42\n2400,41\n2800,39\n3200,36\n"
PLAN = """
vehicle = "vehicle.toml"
label = "Ten laps of ten kilometres"
lap_length = "10 km"
laps = 5
most_laps = 10
speed = "60 km/h"
stops_per_lap = 0
bends_per_lap = 0
engine_start = "warm"
terrain = "open"
readings = 1
wanted = "{wanted}"
[fuel_system]
arrangement = "test can"
repeatability = "8 g"
[scale]
resolution = "1 g"
repeatability = "{scatter}"
accuracy = "0.26 %"
capacity = "5 kg"
[[weather.forecast]]
wind_speed = "0 m/s"
"""
GRAMS_PER_KM = 15.8

# Distance km: 95 % half width of the mass in percent. Scenario of the project, hidden fuel 8 g, scale 5 kg x 1 g
HALF_WIDTHS = {10: 10.4, 20: 5.2, 50: 2.1, 100: 1.1}


@pytest.fixture(scope="module")
def wren(tmp_path_factory: pytest.TempPathFactory) -> PlanResult:
    folder = tmp_path_factory.mktemp("wren")
    write(folder, vehicle=WREN, full_load=CURVE, plan=PLAN.format(wanted="2 %", scatter="1 g"))
    return plan_file(folder / "plan.toml")


def test_the_fuel_is_that_of_the_scenario(wren: PlanResult) -> None:
    # 15.8 g/km at a steady 60 km/h, with 0.15 kW of accessories and no churning; class defaults for 0.72 L are 0.4 kW
    # together at that speed, and friction is that of any diesel of its governed speed
    calm = wren.calm_day.g_per_km
    assert calm.low < GRAMS_PER_KM < calm.high
    assert calm.value == pytest.approx(GRAMS_PER_KM, rel=0.18)


@pytest.mark.parametrize("km", HALF_WIDTHS)
def test_the_weighing_is_as_good_as_the_scenario_says(wren: PlanResult, km: int) -> None:
    option = next(o for o in wren.by_laps if o.laps == km // 10)
    # brought to the scenario's own fuel: its half widths are of 15.8 g/km
    mine = option.weighing_percent * option.fuel_mass.value * 1000 / (GRAMS_PER_KM * km)
    # the scenario's figure holds about 2.5 g of scale, this plan 1.5 g: 3 %; the last digit printed is half a tenth
    assert mine == pytest.approx(HALF_WIDTHS[km], rel=0.04, abs=0.06)


def test_fifty_five_kilometres_for_two_percent(wren: PlanResult) -> None:
    """Half width 2 % of the mass is reached between 50 and 60 km, 55 by the scenario."""
    scaled = {
        o.laps: o.weighing_percent * o.fuel_mass.value * 1000 / (GRAMS_PER_KM * o.distance.value) for o in wren.by_laps
    }
    assert scaled[5] > 2.0 > scaled[6]


def test_twelve_grams_hidden_need_twenty_four_kilometres_for_two_percent() -> None:
    """Planning rule: km >= 2 x hidden / (wanted x g/km): 12 g, 2 %, 50 g/km give 24 km, 1 % 48 km."""
    for wanted, km in ((0.02, 24), (0.01, 48)):
        assert 2 * 12 / (wanted * 50) == pytest.approx(km)


def test_the_wren_cannot_give_two_percent_on_the_calm_day_but_says_what_it_gives(wren: PlanResult) -> None:
    assert wren.reserve.enough is None
    assert wren.fits_scale.fits
    assert wren.uncertainty_percent > 2.0
    assert wren.sentence
