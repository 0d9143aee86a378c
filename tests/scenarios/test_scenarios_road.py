"""The invented scenarios of needs.md section 7, as far as one weighed run goes.

Expected figures are regression figures of those scenarios ("needs.md scenario"), each with its tolerance. They were
worked out without the lift of the air (+0.13 to 0.15 %), which the program takes off.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from scenario_files import flags, gpx, motion, out_and_back, round_a_square, write

from calmday.operations import reduce_file
from calmday.procedures.weighed_run_result import Flag, RunResult

PLAINS_RUNNER = """
[vehicle]
name = "Plains runner"
body = "pickup"
test_mass = "1680 kg"
frontal_area = "2.3 m^2"
drag_coefficient = 0.5
rolling_resistance = 0.011
rolling_circumference = "2.0735 m"
gear_ratios = [4.2, 2.4, 1.5, 1.0, 0.76]
final_drive = 3.23
driveline_efficiency = 0.90
[engine]
displacement = "2.8 L"
cylinders = 4
fuel = "diesel"
injection = "direct"
governed_speed = "2600 rpm"
full_load = "full_load.csv"
"""
FORKLIFT = "speed_rpm,torque_Nm\n1200,165\n1400,172\n1600,174\n1800,172\n2000,168\n2200,162\n2400,154\n2600,143\n"


HEAD = 'date = 2026-04-12\ntimezone = "+00:00"\ntrack = ["out.gpx"]\nengine_start = "warm"\nterrain = "open"'


def wind_of(speed: str, come_from: str, height: str, pressure: str) -> str:
    """One reading in the middle of the drive, at 20 degC."""
    return f"""
[weather]
field_elevation = "10 m"
[[weather.reading]]
time = 2026-04-12T09:30:00
wind_speed = "{speed}"
wind_from = "{come_from}"
height = "{height}"
temperature = "20 degC"
pressure = "{pressure}"
relative_humidity = "50 %"
"""


class TestPlainsRunner:
    """SC9: 38 km into the wind and 38 km back at 90 km/h, 2,426 and 1,667 g."""

    @staticmethod
    def run(folder: Path, grams: int, head: str, tail: str = "", out: str | None = None) -> RunResult:
        text = f"""
vehicle = "vehicle.toml"
label = "Plains"
{head}
[fuel]
kind = "diesel"
density = "0.838 kg/L"
[[weighing]]
when = "before"
gross = "{9000 + grams} g"
[[weighing]]
when = "after"
gross = "9000 g"
{tail}
"""
        files = {"run": text, "vehicle": PLAINS_RUNNER, "full_load": FORKLIFT}
        return reduce_file(write(folder, **(files | ({"out": out} if out else {}))), draws=1000).result

    def test_legs_and_total(self, tmp_path: Path) -> None:
        """needs.md scenario: 7.62 out, 5.23 back; both 6.43 L/100 km = 36.6 US = 44.0 imp; the plain mean of the two
        mpg, 37.9, is wrong: consumptions add, economies do not."""
        out = self.run(tmp_path / "out", 2426, 'distance = "38.0 km"').as_driven
        back = self.run(tmp_path / "back", 1667, 'distance = "38.0 km"').as_driven
        both = self.run(tmp_path / "both", 2426 + 1667, 'distance = "76.0 km"').as_driven
        assert out.L_per_100km.value == pytest.approx(7.62, abs=0.02)
        assert back.L_per_100km.value == pytest.approx(5.23, abs=0.02)
        assert both.L_per_100km.value == pytest.approx(6.43, abs=0.02)
        assert both.mpg_us.value == pytest.approx(36.6, abs=0.1)
        assert both.mpg_imp.value == pytest.approx(44.0, abs=0.12)
        assert both.L_per_100km.value == pytest.approx((out.L_per_100km.value + back.L_per_100km.value) / 2, rel=1e-3)
        harmonic = 2 / (1 / out.mpg_us.value + 1 / back.mpg_us.value)
        assert both.mpg_us.value == pytest.approx(harmonic, rel=1e-3)
        plain = (out.mpg_us.value + back.mpg_us.value) / 2
        assert plain == pytest.approx(37.9, abs=0.1)

    def test_wind_of_both_legs(self, tmp_path: Path) -> None:
        """One weighing over both legs, with track and station wind (7 m/s at 10 m from 250 deg, road along it):
        legs within 6 % of what was weighed for each, still air 6.32 +- 0.2 (needs.md scenario)."""
        way = motion([(38_000.0, 25.0, 20.0), (38_000.0, 25.0, 0.0)])
        weather = wind_of("7 m/s", "250 deg", "10 m", "1015 hPa")
        result = self.run(tmp_path, 2426 + 1667, HEAD, weather, gpx(*out_and_back(way, 38_000.0, 250.0)))
        into = max(result.legs, key=lambda leg: leg.wind_along.value)
        with_it = min(result.legs, key=lambda leg: leg.wind_along.value)
        assert into.distance.value == pytest.approx(38.0, rel=0.01)
        assert with_it.distance.value == pytest.approx(38.0, rel=0.01)
        assert into.heading_deg == pytest.approx(250, abs=2)
        assert into.wind_along.value == pytest.approx(4.6, abs=0.8)  # shelter factor 0.66
        assert into.L_per_100km.value == pytest.approx(7.62, rel=0.06)
        assert with_it.L_per_100km.value == pytest.approx(5.23, rel=0.06)
        assert result.calm_day.L_per_100km.value == pytest.approx(6.32, abs=0.2)
        assert result.penalties.wind.low < 1.7 < result.penalties.wind.high
        at_90 = next(point for point in result.level_cruise if point.speed.value == 90)
        assert at_90.engine_speed.value == pytest.approx(1776, abs=3)  # needs.md scenario
        assert at_90.sustainable == 1.0

    def test_a_square_in_ten_metres_a_second(self, tmp_path: Path) -> None:
        """Round a square twice at 90 km/h, weighed as the scenario has it: 52.7 g/km in still air and 11 % more at 10
        m/s with side legs and yaw. The still air is found to 1 g/km, and the interval of the wind's part holds the
        11 % (needs.md scenario; the reference computation stands in tests/procedures/test_scenario_fuel.py). The law
        of drag in yaw is another one there; what the model cannot tell it takes from the wind, which nobody knows at
        the vehicle, and says so: half width above 5 points."""
        lap = 40_000.0
        way = motion([(lap, 25.0, 5.0)] * 2)
        weather = wind_of("10 m/s", "0 deg", "1.1 m", "1010 hPa")
        grams = round(52.7 * 1.11 * 2 * lap / 1000)
        result = self.run(tmp_path, grams, HEAD, weather, gpx(*round_a_square(way, lap)))
        assert [round(abs(leg.wind_across.value) / 10) for leg in result.legs] == [0, 1, 0, 1] * 2
        assert result.as_driven.g_per_km.value == pytest.approx(1.11 * 52.7, rel=5e-3)
        assert result.calm_day.g_per_km.value == pytest.approx(52.7, abs=1.0)
        assert result.penalties.wind.value == pytest.approx(11, abs=2)
        assert result.penalties.wind.low < 11 - 5 < 11 + 5 < result.penalties.wind.high
        assert "wind-above-procedure-limit" in flags(result)


@pytest.mark.parametrize(
    ("price", "per_100_miles"),
    [("1.49 PLA/L", 19.43), ("4.09 QUA/US gal", 14.09), ("5.98 RIA/imp gal", 17.15)],
    ids=["litre", "US gallon", "imperial gallon"],
)
def test_canal_basin_lorry(tmp_path: Path, price: str, per_100_miles: float) -> None:
    """SC10: pounds and ounces, miles, three prices in three volumes and currencies (needs.md scenario)."""
    run = f"""
label = "Canal basin lorry"
vehicle = "vehicle.toml"
distance = "24.8 mi"
[fuel]
kind = "diesel"
density = "0.832 kg/L"
price = "{price}"
[[weighing]]
when = "before"
gross = "11 lb 14.0 oz"
[[weighing]]
when = "after"
gross = "5 lb 15.1 oz"
"""
    vehicle = '[vehicle]\nname = "Canal basin lorry"\nbody = "lorry"\ntest_mass = "2600 kg"\n'
    reduction = reduce_file(write(tmp_path, run=run, vehicle=vehicle), draws=400)
    assert reduction.weighed.fuel.as_read_kg == pytest.approx(2.690, abs=1e-3)
    driven = reduction.result.as_driven
    assert driven.L_per_100km.value == pytest.approx(8.10, abs=0.02)
    assert driven.mpg_imp.value == pytest.approx(34.9, abs=0.1)
    assert driven.mpg_us.value == pytest.approx(29.0, abs=0.1)
    assert driven.cost_per_km.value * 160.9344 == pytest.approx(per_100_miles, rel=2.5e-3)
    assert driven.cost_per_km.unit == f"{price.split()[1][:3]}/km"


CHART = (
    (1500, 118, 18.5),
    (2000, 132, 27.6),
    (2500, 138, 36.1),
    (3000, 136, 42.7),
    (3500, 130, 47.6),
    (4000, 122, 52.0),
    (4400, 110, 54.0),
)


class TestChart:
    """SC11: the chart that disagrees with itself."""

    @staticmethod
    def flags_of(folder: Path, rows: list[tuple[float, float, float]]) -> dict[str, Flag]:
        vehicle = '[vehicle]\nname = "Chart"\n[engine]\nfuel = "diesel"\nfull_load = "full_load.csv"\n'
        csv = "speed_rpm,torque_Nm,power_kW\n" + "".join(f"{a},{b},{c}\n" for a, b, c in rows)
        run = 'vehicle = "vehicle.toml"\ndistance = "30 km"\n'
        for when, grams in (("before", 7000), ("after", 5200)):
            run += f'[[weighing]]\nwhen = "{when}"\ngross = "{grams} g"\n'
        return flags(reduce_file(write(folder, run=run, vehicle=vehicle, full_load=csv), draws=200).result)

    def test_two_points_are_off(self, tmp_path: Path) -> None:
        """needs.md scenario: the first five agree, 4,000 is off by 1.8 %, 4,400 by 6.5 %."""
        flag = self.flags_of(tmp_path, list(CHART))["curve-breaks-power"]
        assert "At 4000, 4400 rpm " in flag.saw
        assert "6.5 %" in flag.saw

    def test_the_five_that_agree_say_nothing(self, tmp_path: Path) -> None:
        found = self.flags_of(tmp_path, list(CHART[:5]))
        assert not {"curve-breaks-power", "curve-unit"} & set(found)

    def test_all_powers_in_ps(self, tmp_path: Path) -> None:
        flag = self.flags_of(tmp_path, [(n, t, round(1.36 * p, 1)) for n, t, p in CHART[:5]])["curve-unit"]
        assert "PS" in flag.why

    def test_speed_axis_off_by_two_hundred(self, tmp_path: Path) -> None:
        flag = self.flags_of(tmp_path, [(n + 200, t, p) for n, t, p in CHART[:5]])["curve-breaks-power"]
        assert "1700, 2200, 2700, 3200, 3700 rpm" in flag.saw
