"""plan.toml: what is read, and what is told of faults."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.plan_file import read_plan

TODAY = dt.date(2026, 4, 12)
VEHICLE = '[vehicle]\nname = "Fen Hauler"\n'
WHOLE = """
vehicle = "vehicle.toml"
question = "capability"
wanted = "2 %"
smallest_change = "3 %"
date = 2026-05-03
timezone = "+02:00"
start = 07:30:00
lap_length = { value = "14.2 km", pm = "0.1 km" }
laps = 3
most_laps = 6
speed = "50 mph"
stops_per_lap = 0.5
stop_time = "20 s"
bends_per_lap = 6
bend_speed = "40 km/h"
head_wind = "9 m/s"
grade = "2 %"
fuel_on_board = "9 imp gal"
record_track = false
readings = 2
runs_per_side = 4
run_scatter = "1.5 %"
change_time = "30 min"
time_available = "6 h"
[can]
tare = "1 kg"
volume = "10 L"
left = "0.5 kg"
[scale]
capacity = "10 kg"
[weather]
forecast_doubt = "2 m/s"
wind_on_the_day = "roadside"
[[weather.forecast]]
time = 2026-05-03T08:00:00
wind_speed = "10 kn"
wind_from = "NNW"
gust = "18 kn"
"""


def read(tmp_path: Path, text: str):
    (tmp_path / "vehicle.toml").write_text(VEHICLE)
    (tmp_path / "plan.toml").write_text(text)
    return read_plan(tmp_path / "plan.toml", today=TODAY)


def faults(tmp_path: Path, text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        read(tmp_path, text)
    return [f"{fault.key}: {fault.wrong}" for fault in caught.value.faults]


def test_every_key_is_read_into_its_unit(tmp_path: Path) -> None:
    plan = read(tmp_path, WHOLE)
    assert plan.speed_mps == pytest.approx(22.352)
    assert plan.fuel_on_board_m3 == pytest.approx(9 * 4.54609e-3)
    assert plan.fuel_on_board_kg is None
    assert plan.hours == 6
    assert plan.change_s == 1800
    assert plan.start_s == dt.datetime(2026, 5, 3, 5, 30, tzinfo=dt.UTC).timestamp()
    assert plan.forecast[0].wind_from_deg == 337.5
    assert plan.forecast[0].height_m == 10.0
    assert plan.forecast[0].wind_speed_mps == pytest.approx(5.144, abs=0.001)
    assert plan.wind_on_the_day == "roadside"
    assert not plan.record_track
    assert plan.lap_length_m is not None and plan.lap_length_m.half_width == 100
    assert plan.readings_each == 2


def test_only_vehicle_and_lap_length_are_needed(tmp_path: Path) -> None:
    plan = read(tmp_path, 'vehicle = "vehicle.toml"\nlap_length = "10 km"\n')
    assert (plan.question, plan.label, plan.record_track, plan.readings_each) == ("baseline", "plan", True, 3)


def test_fuel_on_board_may_be_weighed(tmp_path: Path) -> None:
    plan = read(tmp_path, 'vehicle = "vehicle.toml"\nlap_length = "10 km"\nfuel_on_board = "31 kg"\n')
    assert (plan.fuel_on_board_kg, plan.fuel_on_board_m3) == (31.0, None)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", ["vehicle: is missing", "lap_length: is missing"]),
        ('vehicle = "vehicle.toml"\nlap_length = "10 km"\nfuel_on_board = "40"\n', ["fuel_on_board:"]),
        ('vehicle = "vehicle.toml"\nlap_length = "10 km"\nfuel_on_board = "12 gal"\n', ["fuel_on_board:"]),
        ('vehicle = "vehicle.toml"\nlap_length = "10 km"\nquestion = "speed"\n', ["question:"]),
        ('vehicle = "vehicle.toml"\nlap_length = "10 km"\nlapps = 3\n', ["lapps: is not a known key"]),
        ('vehicle = "vehicle.toml"\nlap_length = "10 km"\ndate = 2031-01-01\n', ["date: 2031-01-01 is not possible"]),
        (
            'vehicle = "vehicle.toml"\nlap_length = "9 km"\n[[weather.forecast]]\nwind_speed = "9 m/s"\ngust = "4 m/s"',
            ["weather.forecast[0].gust: is below wind_speed"],
        ),
        (
            'vehicle = "vehicle.toml"\nlap_length = "10 km"\n[[weather.forecast]]\nwind_from = "N"',
            ["weather.forecast[0].wind_speed: is missing"],
        ),
        (
            'vehicle = "vehicle.toml"\nlap_length = "10 km"\n[weather]\nforcast_doubt = "2 m/s"',
            ["weather.forcast_doubt: is not a known key"],
        ),
        ('vehicle = "vehicle.toml"\nroute = "gone.gpx"\n', ["file:"]),
    ],
)
def test_faults_name_the_key(tmp_path: Path, text: str, told: list[str]) -> None:
    found = faults(tmp_path, text)
    assert len(found) == len(told)
    for got, wanted in zip(found, told, strict=True):
        assert got.startswith(wanted), got
