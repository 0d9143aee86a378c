"""The invented scenarios of needs.md section 7, as far as one weighed run goes.

Expected figures are regression figures of those scenarios ("needs.md scenario"), each with its tolerance. They were
worked out without the lift of the air (+0.13 to 0.15 %), which the program takes off.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from scenario_files import gpx, motion, on_circle, out_and_back, write

from calmday.operations import reduce_file
from calmday.procedures.weighed_run_result import Flag, RunResult


def flags(result: RunResult) -> dict[str, Flag]:
    return {flag.code: flag for flag in result.flags}


BREAD_VAN = """
[vehicle]
name = "Pellow's bread van"
body = "van"
test_mass = "2050 kg"
frontal_area = "3.78 m^2"
drag_coefficient = 0.5
rolling_resistance = 0.011
rolling_circumference = "2.105 m"
gear_ratios = [4.1, 2.3, 1.45, 1.0, 0.80]
final_drive = 3.55
driveline_efficiency = 0.90
[engine]
displacement = "2.3 L"
cylinders = 3
fuel = "diesel"
injection = "direct"
governed_speed = "3000 rpm"
full_load = "full_load.csv"
"""
MARINE = "speed_rpm,torque_Nm\n1200,128\n1600,138\n1800,140\n2200,137\n2600,128\n3000,115\n"


def bread_van(folder: Path, before: int, after: int) -> RunResult:
    """Three laps of the marsh loop, 42.61 km in about 38 minutes, two stops in each."""
    lap = 42_610 / 3
    way = motion([(lap / 2, 70 / 3.6, 4.0)] * 6)
    run = f"""
vehicle = "vehicle.toml"
label = "Marsh loop, three laps"
date = 2026-04-12
timezone = "+00:00"
track = ["out.gpx"]
laps = 3
engine_start = "warm"
terrain = "open"
[fuel]
kind = "diesel"
density = {{ value = "0.832 kg/L", pm = "0.014 kg/L" }}
density_temperature = "15 degC"
[scale]
resolution = "5 g"
capacity = "30 kg"
[[weighing]]
when = "before"
gross = ["{before} g"]
[[weighing]]
when = "after"
gross = ["{after} g"]
[weather]
field_elevation = "5 m"
[[weather.reading]]
time = 2026-04-12T09:20:00
wind_speed = "2 m/s"
wind_from = "200 deg"
temperature = "14 degC"
pressure = "1010 hPa"
"""
    path = write(folder, run=run, vehicle=BREAD_VAN, full_load=MARINE, out=gpx(*on_circle(way, lap)))
    return reduce_file(path, draws=1000).result


class TestBreadVan:
    """SC1: the return-line trap. Run 1 burnt 5,325 g by the can, run 2 with the hose moved 2,325 g."""

    def test_run_1_cannot_have_been_burnt(self, tmp_path: Path) -> None:
        result = bread_van(tmp_path, 8460, 3135)
        assert result.distance.value == pytest.approx(42.61, rel=2e-3)
        assert result.moving_time.value == pytest.approx(38.3 * 60, rel=0.03)
        assert result.as_driven.L_per_100km.value == pytest.approx(15.0, abs=0.1)  # needs.md scenario
        assert result.as_driven.mpg_imp.value == pytest.approx(18.8, abs=0.1)  # needs.md scenario
        flag = flags(result)["fuel-cannot-have-been-burnt"]
        assert flag.severity == "stop"
        specific = float(re.search(r"(\d+) g for every kilowatt-hour", flag.saw).group(1))
        assert specific == pytest.approx(571, rel=0.08)  # needs.md scenario: +-20 %
        elsewhere = float(re.search(r"about ([\d.]+) L/h", flag.why).group(1))
        assert elsewhere == pytest.approx(5.6, abs=0.6)  # needs.md scenario
        assert "return line" in flag.remedy

    def test_run_2_is_plausible(self, tmp_path: Path) -> None:
        result = bread_van(tmp_path, 8395, 6070)
        litres = result.as_driven.L_per_100km
        assert litres.value == pytest.approx(6.56, abs=0.03)  # needs.md scenario
        assert result.as_driven.mpg_imp.value == pytest.approx(43.1, abs=0.2)  # needs.md scenario
        assert result.as_driven.mpg_us.value == pytest.approx(35.9, abs=0.2)  # needs.md scenario
        # needs.md scenario: +-2.3 % at 95 %, of which the scale's span is our own addition
        assert 100 * litres.half_width / litres.value == pytest.approx(2.3, abs=0.4)
        assert not any(flag.severity == "stop" for flag in result.flags)
        assert "fuel-far-from-expected" not in flags(result)
        assert len(result.laps) == 3

    def test_engine_speed_in_fifth(self, tmp_path: Path) -> None:
        """needs.md scenario: 1,574 rpm and 54.1 g/km in fifth at 70 km/h, 1,968 in fourth."""
        result = bread_van(tmp_path, 8395, 6070)
        at_70 = next(point for point in result.level_cruise if point.speed.value == 70)
        assert at_70.engine_speed.value == pytest.approx(1574, rel=2e-3)
        grams = at_70.L_per_100km.value * 8.32
        assert grams == pytest.approx(54.1, rel=0.09)  # a drive with six stops weighed, not a steady one


THORNKELD = """
[vehicle]
name = "The Thornkeld Special"
body = "roadster"
test_mass = "760 kg"
frontal_area = "1.9 m^2"
drag_coefficient = 0.5
rolling_resistance = 0.014
rolling_circumference = "2.168 m"
gear_ratios = [1.0]
final_drive = {axle}
driveline_efficiency = 0.92
[engine]
displacement = "2.1 L"
cylinders = 4
fuel = "petrol"
governed_speed = "2200 rpm"
"""


def thornkeld(folder: Path, grams: int, axle: float, distance: str) -> RunResult:
    run = f"""
vehicle = "vehicle.toml"
label = "The Thornkeld Special on {axle}"
{distance}
[fuel]
kind = "petrol"
density = "0.745 kg/L"
[[weighing]]
when = "before"
gross = "{5000 + grams} g"
[[weighing]]
when = "after"
gross = "5000 g"
"""
    vehicle = THORNKELD.format(axle=axle)
    if "track" not in distance:
        return reduce_file(write(folder, run=run, vehicle=vehicle), draws=400).result
    way = motion([(30_000.0, 60 / 3.6, 0.0)])
    out = gpx(*on_circle(way, 10_000.0))
    return reduce_file(write(folder, run=run, vehicle=vehicle, out=out), draws=400).result


class TestThornkeld:
    """SC2: the axle moves the odometer."""

    def test_percent_depends_on_the_base(self, tmp_path: Path) -> None:
        """needs.md scenario: A 8.47, B 6.99 L/100 km; 33.4 to 40.4 imp, 27.8 to 33.6 US; -17.4 % = +21.1 %."""
        by_satellite = 'distance = { value = "30.0 km", pm = "0.03 km" }'
        a, b = (
            [thornkeld(tmp_path / f"{axle}{grams}", grams, axle, by_satellite).as_driven for grams in both]
            for axle, both in ((4.70, (1905, 1879)), (3.60, (1571, 1554)))
        )
        litres = [sum(c.L_per_100km.value for c in arm) / 2 for arm in (a, b)]
        assert litres == [pytest.approx(8.47, abs=0.02), pytest.approx(6.99, abs=0.02)]
        assert 100 * (litres[1] / litres[0] - 1) == pytest.approx(-17.4, abs=0.1)
        assert 100 * (litres[0] / litres[1] - 1) == pytest.approx(21.1, abs=0.1)
        assert 282.480936 / litres[0] == pytest.approx(33.4, abs=0.1)
        assert 235.214583 / litres[1] == pytest.approx(33.6, abs=0.1)

    def test_by_the_odometer_alone_the_conclusion_turns_round(self, tmp_path: Path) -> None:
        """needs.md scenario: B by its odometer (22.98 km) 9.13 L/100 km, apparently 7.8 % worse."""
        driven = [
            thornkeld(tmp_path / str(g), g, 3.60, '[odometer]\nstart = "100 km"\nend = "122.98 km"').as_driven
            for g in (1571, 1554)
        ]
        mean = sum(c.L_per_100km.value for c in driven) / 2
        assert mean == pytest.approx(9.13, abs=0.03)
        # an odometer whose factor nobody found is doubted, though not by as much as an axle can do
        assert driven[0].L_per_100km.standard_uncertainty / mean > 0.019

    def test_odometer_against_track(self, tmp_path: Path) -> None:
        """The track says 30 km, the odometer 22.98: the disagreement (factor 0.766) must be shouted."""
        result = thornkeld(tmp_path, 1571, 3.60, 'track = ["out.gpx"]\n[odometer]\nstart = "100 km"\nend = "122.98 km"')
        assert result.as_driven.L_per_100km.value == pytest.approx(7.03, abs=0.03)
        flag = flags(result)["distances-disagree"]
        assert "22.98 km" in flag.saw
        assert "-23.4 %" in flag.saw
        assert "axle" in flag.why

    def test_odometer_with_its_own_factor_agrees(self, tmp_path: Path) -> None:
        result = thornkeld(
            tmp_path,
            1571,
            3.60,
            'track = ["out.gpx"]\n[odometer]\nstart = "100 km"\nend = "122.98 km"\nfactor = 1.3055',
        )
        assert "distances-disagree" not in flags(result)


@pytest.mark.parametrize(("kilometres", "percent"), [(10, 10.4), (20, 5.2), (50, 2.1), (100, 1.1)])
def test_wren_needs_distance(tmp_path: Path, kilometres: int, percent: float) -> None:
    """SC6: 15.8 g/km, 8 g hidden in lines, scale of 1 g: 95 % half width of the mass against distance
    (needs.md scenario)."""
    grams = 15.8 * kilometres
    run = f"""
label = "Wren"
vehicle = "vehicle.toml"
distance = {{ value = "{kilometres} km", pm = "1 m" }}
[fuel]
kind = "diesel"
[fuel_system]
repeatability = "8 g"
[scale]
resolution = "1 g"
repeatability = "1 g"
accuracy = "0.01 %"
capacity = "5 kg"
[[weighing]]
when = "before"
gross = "{2000 + grams:.1f} g"
[[weighing]]
when = "after"
gross = "2000 g"
"""
    result = reduce_file(write(tmp_path, run=run, vehicle='[vehicle]\nname = "Wren"\n'), draws=2000).result
    mass = result.fuel_mass
    assert 100 * mass.half_width / mass.value == pytest.approx(percent, rel=0.05, abs=0.12)
    assert ("too-little-fuel" in flags(result)) == (kilometres == 10)


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
        weather = """
[weather]
field_elevation = "10 m"
[[weather.reading]]
time = 2026-04-12T09:30:00
wind_speed = "7 m/s"
wind_from = "250 deg"
height = "10 m"
temperature = "20 degC"
pressure = "1015 hPa"
relative_humidity = "50 %"
"""
        head = 'date = 2026-04-12\ntimezone = "+00:00"\ntrack = ["out.gpx"]\nengine_start = "warm"\nterrain = "open"'
        result = self.run(tmp_path, 2426 + 1667, head, weather, gpx(*out_and_back(way, 38_000.0, 250.0)))
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
