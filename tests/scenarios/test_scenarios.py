"""The invented scenarios of needs.md section 7, as far as one weighed run goes.

Expected figures are regression figures of those scenarios ("needs.md scenario"), each with its tolerance. They were
worked out without the lift of the air (+0.13 to 0.15 %), which the program takes off.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from scenario_files import flags, gpx, motion, on_circle, write

from calmday.operations import reduce_file
from calmday.procedures.weighed_run_result import RunResult

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
        assert "−23.4 %" in flag.saw
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
