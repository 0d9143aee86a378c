"""SC12: one sound test day as files, spoilt in every way people spoil them, through the command line."""

from __future__ import annotations

import datetime as dt
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scenario_files import START, gpx, motion, on_circle, write

from calmday.cli.main import main

LAP = 7000.0
WAY = motion([(LAP, 19.4, 3.0)] * 3)
EAST, NORTH = on_circle(WAY, LAP)
TRACK = gpx(EAST, NORTH)
VEHICLE = """
[vehicle]
name = "Fen Hauler"
body = "van"
test_mass = "1480 kg"
frontal_area = "2.9 m^2"
drag_coefficient = 0.44
rolling_resistance = 0.0125
tyre = "195/75 R16"
gear_ratios = [3.65, 2.02, 1.37, 1.0, 0.83]
final_drive = 4.1
driveline_efficiency = 0.93
[engine]
displacement = "2.1 L"
fuel = "diesel"
injection = "indirect"
governed_speed = "4600 rpm"
full_load = "full_load.csv"
"""
CURVE = "speed_rpm,torque_Nm\n1000,118\n2000,140\n3000,135\n4600,95\n"
RUN = """
vehicle = "vehicle.toml"
label = "Fen loop, three laps"
date = 2026-04-12
timezone = "+02:00"
track = ["out.gpx"]
laps = 3
engine_start = "warm"
terrain = "farmland"
[fuel]
kind = "diesel"
density = "836 kg/m^3"
[fuel_system]
repeatability = "10 g"
[scale]
resolution = "5 g"
repeatability = "4 g"
accuracy = "0.1 %"
capacity = "20 kg"
[[weighing]]
when = "before"
gross = ["9.000 kg", "9.005 kg"]
tare = "1.020 kg"
[[weighing]]
when = "after"
gross = ["7.760 kg", "7.765 kg"]
tare = "1.020 kg"
[weather]
metar = ["METAR ZZAA 120920Z 24006KT 9999 SCT030 12/06 Q1015"]
field_elevation = "10 m"
"""


class Outcome:
    def __init__(self, status: int, out: str, err: str) -> None:
        self.status, self.err = status, err
        self.data: dict[str, Any] = json.loads(out) if out else {}
        self.flags = {flag["code"]: flag for flag in self.data.get("flags", [])}

    def litres(self, which: str = "as_driven") -> float:
        return float(self.data[which]["L_per_100km"]["value"])

    def half_width(self, which: str) -> float:
        figure = self.data[which]["L_per_100km"]
        return (figure["high"] - figure["low"]) / 2


SEEN: dict[Any, Outcome] = {}
"""Days already reduced: the sound one is wanted again and again."""


@pytest.fixture
def reduce(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Run the command on the sound day with pieces of its run file replaced; every piece must be there."""

    def run(*changes: tuple[str, str], out: str = TRACK, full_load: str = CURVE) -> Outcome:
        known = (changes, out, full_load)
        if known in SEEN:
            return SEEN[known]
        text = RUN
        for old, new in changes:
            assert old in text
            text = text.replace(old, new)
        path = write(tmp_path / "day", run=text, vehicle=VEHICLE, full_load=full_load, out=out)
        status = main(["reduce", str(path), "--json", "--draws", "500"])
        captured = capsys.readouterr()
        SEEN[known] = Outcome(status, captured.out, captured.err)
        return SEEN[known]

    return run


def test_the_sound_day(reduce: Any) -> None:
    sound = reduce()
    assert sound.status == 0
    assert set(sound.flags) <= {"one-run", "correction-larger-than-effect"}
    assert sound.data["distance"]["value"] == pytest.approx(21.0, rel=1e-3)
    assert len(sound.data["laps"]) == 3
    assert sound.litres() == pytest.approx(1.24 * 1.0013 / 0.836 / 0.21, rel=2e-3)


BEFORE = 'gross = ["9.000 kg", "9.005 kg"]'
AFTER = 'gross = ["7.760 kg", "7.765 kg"]'
TARE = 'tare = "1.020 kg"\n'
METAR = "METAR ZZAA 120920Z 24006KT 9999 SCT030 12/06 Q1015"


def test_before_and_after_swapped(reduce: Any) -> None:
    got = reduce((BEFORE, "X"), (AFTER, BEFORE), ("X", AFTER))
    assert got.status == 1
    assert got.flags["after-heavier-than-before"]["severity"] == "stop"
    assert got.data["calm_day"] is None
    assert "after" in got.err


def test_three_identical_readings(reduce: Any) -> None:
    got = reduce((BEFORE, 'gross = ["9.000 kg", "9.000 kg", "9.000 kg"]'))
    assert got.status == 0
    assert "identical-readings" in got.flags


def test_tare_forgotten_on_both_sides_changes_nothing(reduce: Any) -> None:
    sound, forgotten = reduce(), reduce((TARE, ""))
    assert forgotten.status == 0
    assert forgotten.litres() == pytest.approx(sound.litres(), rel=1e-6)
    assert "tare-on-one-side" not in forgotten.flags


@pytest.mark.parametrize("side", ["before", "after"])
def test_tare_forgotten_on_one_side_is_huge(reduce: Any, side: str) -> None:
    reading = BEFORE if side == "before" else AFTER
    got = reduce((f"{reading}\n{TARE}", f"{reading}\n"))
    assert got.status == 1
    assert "tare-on-one-side" in got.flags
    stops = {code for code, flag in got.flags.items() if flag["severity"] == "stop"}
    assert ("fuel-cannot-have-been-burnt" if side == "before" else "fuel-missed") in stops


def test_pounds_and_ounces_typed_as_a_decimal(reduce: Any) -> None:
    """7 lb 6.2 oz is 7.39 lb, not 7.62 lb: written with its ounces it is understood, as a decimal it is 103 g off."""
    pounds = (('capacity = "20 kg"', 'capacity = "44 lb"'), (AFTER, 'gross = ["7 lb 6.2 oz"]'), (TARE, ""))
    right = reduce(*pounds, (BEFORE, 'gross = ["10 lb 2.0 oz"]'))
    wrong = reduce(*pounds[:1], (AFTER, 'gross = ["7.62 lb"]'), (TARE, ""), (BEFORE, 'gross = ["10 lb 2.0 oz"]'))
    grams = [got.data["fuel_mass"]["value"] * 1000 / 1.00128 for got in (right, wrong)]
    assert grams[0] == pytest.approx((10 * 16 + 2.0 - 7 * 16 - 6.2) * 28.349523, abs=0.2)
    assert grams[0] - grams[1] == pytest.approx((7.62 - 7 - 6.2 / 16) * 453.59237, abs=0.5)


def test_lap_count(reduce: Any) -> None:
    sound, got = reduce(), reduce(("laps = 3", "laps = 2"))
    assert "lap-count" in got.flags
    assert got.litres() == sound.litres()


def test_gap_of_four_minutes(reduce: Any) -> None:
    keep = np.ones(WAY.size, dtype=bool)
    keep[500:740] = False
    sound, got = reduce(), reduce(out=gpx(EAST, NORTH, keep=keep))
    assert got.status == 0
    assert "240 s" in got.flags["track-gap"]["saw"] or "241 s" in got.flags["track-gap"]["saw"]
    assert got.litres() == pytest.approx(sound.litres(), rel=0.05)
    assert got.half_width("as_driven") > sound.half_width("as_driven")


def test_seven_minutes_parked_with_the_logger_on(reduce: Any) -> None:
    g = np.random.default_rng(1)
    wander = np.cumsum(g.normal(0, 0.15, (2, 420)), axis=1)
    east = np.concatenate([EAST[0] + wander[0] - wander[0, -1], EAST])
    north = np.concatenate([NORTH[0] + wander[1] - wander[1, -1], NORTH])
    sound, got = reduce(), reduce(out=gpx(east, north, START - dt.timedelta(seconds=420)))
    assert got.data["distance"]["value"] == pytest.approx(sound.data["distance"]["value"], rel=2e-3)
    assert got.litres("calm_day") == pytest.approx(sound.litres("calm_day"), rel=0.01)


def test_phone_clock_in_another_time_zone(reduce: Any) -> None:
    """Two hours late: just the offset of the time zone. Fourteen: another day."""
    slipped = reduce(out=gpx(EAST, NORTH, START + dt.timedelta(hours=2)))
    assert slipped.status == 0
    assert "time-zone-slip" in slipped.flags
    far = reduce(out=gpx(EAST, NORTH, START + dt.timedelta(hours=14)))
    assert {"track-of-another-day", "weather-of-another-time"} <= set(far.flags)


@pytest.mark.parametrize(
    ("old", "new", "key", "remedy"),
    [
        ('"9.000 kg"', '"9,000 kg"', "weighing[0].gross[0]", "decimal point"),
        ('"9.000 kg"', '"EEE"', "weighing[0].gross[0]", "kg"),
        ('"9.000 kg"', '"9.000"', "weighing[0].gross[0]", "kg"),
        ('"9.000 kg"', '"9.000 km"', "weighing[0].gross[0]", "kg"),
        ("[scale]", '[published]\nvalue = "40 mpg"\n[scale]', "published.value", "mpg US"),
        ("[fuel]", '[fuel]\nprice = "4.09 USD/gal"', "fuel.price", "US gal"),
        ("engine_start", "engine_strat", "engine_strat", "engine_start"),
        ("date = 2026-04-12", "date = 2062-04-12", "date", "2026"),
    ],
    ids=[
        "decimal comma",
        "over the scale",
        "no unit",
        "another quantity",
        "any gallon",
        "any gallon paid",
        "typing",
        "future",
    ],
)
def test_refused_with_file_key_and_remedy(reduce: Any, old: str, new: str, key: str, remedy: str) -> None:
    got = reduce((old, new))
    assert got.status == 2
    assert got.data == {}
    first = got.err.splitlines()[0]
    assert "run.toml: " in first
    assert f"run.toml: {key}: " in first
    assert remedy in first
    assert "Traceback" not in got.err


def test_gallons_mixed_up(reduce: Any) -> None:
    """The build's published 42 mpg imperial beside its own 34 mpg US: just the ratio of the gallons."""
    imperial = 282.480936 / reduce().litres()
    mixed = reduce(("[scale]", f'[published]\nvalue = "{imperial:.1f} mpg US"\n[scale]'))
    assert "gallon-mix-up" in mixed.flags
    fair = reduce(("[scale]", f'[published]\nvalue = "{imperial:.1f} mpg imp"\n[scale]'))
    assert "gallon-mix-up" not in fair.flags


def test_odometer_after_an_axle_swap(reduce: Any) -> None:
    got = reduce(("[weather]", '[odometer]\nstart = "100.0 km"\nend = "116.1 km"\n[weather]'))
    assert "distances-disagree" in got.flags


def test_two_batches(reduce: Any) -> None:
    got = reduce((f"{BEFORE}\n", f'{BEFORE}\nbatch = "March"\n'), (f"{AFTER}\n", f'{AFTER}\nbatch = "April"\n'))
    assert "mixed-batches" in got.flags


def test_reading_above_the_capacity(reduce: Any) -> None:
    got = reduce(('capacity = "20 kg"', 'capacity = "9 kg"'))
    assert got.status == 1
    assert got.flags["over-scale-capacity"]["severity"] == "stop"


def test_wind_measured_behind_the_hedge(reduce: Any) -> None:
    """A hand-held wind at 1.2 m behind a hedge is believed as a wind at the vehicle, with doubt: no failure, and a
    calm-day figure that agrees with the airfield's within both doubts."""
    hedge = """[[weather.reading]]
time = 2026-04-12T11:20:00
wind_speed = "1.0 m/s"
wind_from = "240 deg"
height = "1.2 m"
temperature = "12 degC"
pressure = "1013 hPa"
"""
    sound, got = (
        reduce(),
        reduce((f'metar = ["{METAR}"]\n', ""), ("farmland", "hedged"), ('"10 m"\n', f'"10 m"\n{hedge}')),
    )
    assert got.status == 0
    reach = sound.half_width("calm_day") + got.half_width("calm_day")
    assert got.litres("calm_day") == pytest.approx(sound.litres("calm_day"), abs=reach)


def test_chart_in_pounds_and_feet(reduce: Any) -> None:
    """The same curve in lbf ft under its own header changes nothing; under a wrong header it is another engine."""
    feet = CURVE.replace("torque_Nm", "torque_lbf_ft")
    rows = [line.split(",") for line in CURVE.splitlines()[1:]]
    exact = "speed_rpm,torque_lbf_ft\n" + "".join(f"{rpm},{float(t) / 1.3558179483:.6f}\n" for rpm, t in rows)
    sound = reduce()
    assert reduce(full_load=exact).litres("calm_day") == pytest.approx(sound.litres("calm_day"), rel=1e-5)
    stronger = reduce(full_load=feet)
    fast = [max(p["speed"]["value"] for p in got.data["level_cruise"]) for got in (sound, stronger)]
    assert fast[1] >= fast[0]


def test_temperature_in_fahrenheit(reduce: Any) -> None:
    roadside = '[[weather.reading]]\ntime = 2026-04-12T11:20:00\ntemperature = "{}"\npressure = "1013 hPa"\n'
    celsius, fahrenheit = (
        reduce(('field_elevation = "10 m"\n', f'field_elevation = "10 m"\n{roadside.format(t)}'))
        for t in ("12.0 degC", "53.6 degF")
    )
    assert fahrenheit.litres("calm_day") == pytest.approx(celsius.litres("calm_day"), rel=1e-9)


def test_blank_everything_except_grams_and_laps(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = 'laps = 3\nlap_length = "7 km"\n' + "".join(
        f'[[weighing]]\nwhen = "{when}"\ngross = "{grams} g"\n' for when, grams in (("before", 9000), ("after", 7760))
    )
    status = main(["reduce", str(write(tmp_path, run=text)), "--json"])
    got = Outcome(status, *capsys.readouterr())
    assert got.status == 0
    assert got.litres() == pytest.approx(1.24 / 0.795 / 0.21, rel=0.02)
    assert got.half_width("as_driven") / got.litres() > 0.08
    assert got.data["calm_day"] is None
    assert {"no-track", "no-wind", "no-weather"} <= set(got.flags)


def test_check_says_the_same_before_leaving(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The sixty-second check leaves with 1 on the swapped readings and with 0 on the sound day."""
    for text, status, word in (
        (RUN, 0, "Plausible"),
        (RUN.replace(BEFORE, "X").replace(AFTER, BEFORE).replace("X", AFTER), 1, "Do not drive on yet"),
    ):
        path = write(tmp_path / word[:4], run=text, vehicle=VEHICLE, full_load=CURVE, out=TRACK)
        assert main(["check", str(path), "--json"]) == status
        assert json.loads(capsys.readouterr().out)["verdict"].startswith(word)
