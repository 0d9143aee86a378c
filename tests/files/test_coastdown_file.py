"""Coastdown files: the day is known from the tracks, else from the weather report; damp air may read over 100 %."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.coastdown_file import read_coastdown

TODAY = dt.date(2026, 5, 20)
ROLL = "time_s,speed_kmh\n" + "".join(f"{i},{90 - i:.1f}\n" for i in range(60))
HEAD = (
    '[[pass]]\ntrack = "roll.{ending}"\nheading = "20 deg"\n'
    '[weather]\nmetar = "METAR ZZAB 061020Z 34004KT 13/09 Q1006"\n'
)


def recorded(path: Path, start: dt.datetime) -> None:
    """A track of one roll of a minute."""
    points = "".join(
        f'<trkpt lat="50" lon="{8 + 3e-4 * i:.5f}"><time>{start + dt.timedelta(seconds=i):%Y-%m-%dT%H:%M:%SZ}</time>'
        f"<speed>{25 - 0.25 * i:.2f}</speed></trkpt>"
        for i in range(60)
    )
    space = "http://www.topografix.com/GPX/1/0"
    gpx = f'<gpx version="1.0" creator="x" xmlns="{space}"><trk><trkseg>{points}</trkseg></trk></gpx>'
    path.write_text(gpx, encoding="utf-8")


def written(folder: Path, ending: str = "csv", more: str = "") -> Path:
    """A folder with one roll and a day of weather."""
    (folder / "vehicle.toml").write_text('[vehicle]\nname = "Moss Tourer"\n', encoding="utf-8")
    (folder / "roll.csv").write_text(ROLL, encoding="utf-8")
    recorded(folder / "roll.gpx", dt.datetime(2026, 3, 6, 10, 0, tzinfo=dt.UTC))
    path = folder / "coastdown.toml"
    path.write_text('vehicle = "vehicle.toml"\n' + HEAD.format(ending=ending) + more, encoding="utf-8")
    return path


def reported(path: Path) -> tuple[dt.datetime, tuple[str, ...]]:
    """When the first reading was made, and what is told about the weather."""
    weather = read_coastdown(path, today=TODAY).weather
    return dt.datetime.fromtimestamp(weather.readings[0].time_s, tz=dt.UTC), weather.notes


def test_the_day_of_a_track_dates_the_weather_report(tmp_path: Path):
    when, notes = reported(written(tmp_path, "gpx"))
    assert when == dt.datetime(2026, 3, 6, 10, 20, tzinfo=dt.UTC)
    assert not any("no date given" in note for note in notes)


def test_without_any_date_the_last_day_that_fits_is_taken_and_told(tmp_path: Path):
    when, notes = reported(written(tmp_path))
    assert when == dt.datetime(2026, 5, 6, 10, 20, tzinfo=dt.UTC)
    assert any("no date given" in note for note in notes)


def test_a_hygrometer_a_little_over_saturation_is_taken_as_saturated(tmp_path: Path):
    reading = '[[weather.reading]]\ntime = 2026-05-06T10:00:00Z\nwind_speed = "2 m/s"\nrelative_humidity = "{} %"\n'
    weather = read_coastdown(written(tmp_path, more=reading.format(103)), today=TODAY).weather
    assert [r.relative_humidity for r in weather.readings if r.source == "roadside"] == [1.0]
    assert any("103 % read" in note for note in weather.notes)
    with pytest.raises(InputError, match="relative_humidity"):
        read_coastdown(written(tmp_path, more=reading.format(140)), today=TODAY)


def test_the_day_is_that_of_the_earliest_track_that_has_one(tmp_path: Path):
    """The first pass is a log of seconds, the second of two days later than the third: the third dates the report."""
    path = written(tmp_path, more='[[pass]]\ntrack = "late.gpx"\n[[pass]]\ntrack = "roll.gpx"\n')
    recorded(tmp_path / "late.gpx", dt.datetime(2026, 3, 8, 9, 0, tzinfo=dt.UTC))
    day = read_coastdown(path, today=TODAY)
    assert day.date == dt.date(2026, 3, 6)
    assert day.days == (dt.date(2026, 3, 6), dt.date(2026, 3, 8))
    assert reported(path)[0] == dt.datetime(2026, 3, 6, 10, 20, tzinfo=dt.UTC)


def test_a_night_is_one_day(tmp_path: Path):
    """Rolled from before midnight on, local time; two hours apart, where another day would be six and more."""
    path = written(tmp_path, more='[[pass]]\ntrack = "a.gpx"\n[[pass]]\ntrack = "b.gpx"\n')
    recorded(tmp_path / "a.gpx", dt.datetime(2026, 3, 6, 22, 58, tzinfo=dt.UTC))
    recorded(tmp_path / "b.gpx", dt.datetime(2026, 3, 7, 0, 58, tzinfo=dt.UTC))
    assert read_coastdown(path, today=TODAY).days == (dt.date(2026, 3, 6),)
    there = path.read_text(encoding="utf-8")
    path.write_text('timezone = "+02:00"\n' + there, encoding="utf-8")
    assert read_coastdown(path, today=TODAY).days == (dt.date(2026, 3, 7),)
