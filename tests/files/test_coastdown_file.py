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


def written(folder: Path, ending: str = "csv", more: str = "") -> Path:
    """A folder with one roll and a day of weather."""
    (folder / "vehicle.toml").write_text('[vehicle]\nname = "Moss Tourer"\n', encoding="utf-8")
    (folder / "roll.csv").write_text(ROLL, encoding="utf-8")
    points = "".join(
        f'<trkpt lat="50" lon="{8 + 3e-4 * i:.5f}"><time>2026-03-06T10:{i // 60:02d}:{i % 60:02d}Z</time>'
        f"<speed>{25 - 0.25 * i:.2f}</speed></trkpt>"
        for i in range(60)
    )
    space = "http://www.topografix.com/GPX/1/0"
    gpx = f'<gpx version="1.0" creator="x" xmlns="{space}"><trk><trkseg>{points}</trkseg></trk></gpx>'
    (folder / "roll.gpx").write_text(gpx, encoding="utf-8")
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
