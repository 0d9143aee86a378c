"""METAR and SPECI reports as weather readings; what a broken report still says is used, the rest is told."""

from __future__ import annotations

import calendar
import datetime as dt
import math
import re
import warnings
from typing import Any

from calmday.errors import InputError
from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.units import shown
from calmday.records.weather import WeatherReading

_MAX_CHARACTERS = 1000
_HEAD = re.compile(r"(?:(?:METAR|SPECI|COR)\s+)*(?:[A-Z][A-Z0-9]{3}\s+)?(?:COR\s+)?(\d\d)(\d\d)(\d\d)Z(?=\s|$)")
_WIND_UNIT = re.compile(
    r"(?:^|\s)(?:[\dO]{3}|///|MMM|VRB)P?[\dO/M]{2,3}(?:GP?[\dO/M]{2,3})?(?:KTS?|LT|KMH|MPS)(?=\s|$)"
)
_BODY_DEW_POINT = re.compile(r"\sM?\d\d/(M?\d\d)(?=\s|$|[AQ]\d{4})")
_KINDS = ("METAR", "SPECI")
_TIME = re.compile(r"\d{6}Z")
_REST = re.compile(r"\s(?:RMKS?|TEMPO|BECMG|NOSIG|FCST)(?=\s|$)")
# The groups used here; where the decoder stumbles over another group, it gets these alone.
_NEEDED = re.compile(
    r"METAR|SPECI|AUTO|\d{6}Z|(?:[\dO]{3}|///|VRB)\S*(?:KTS?|MPS|KMH)"
    r"|(?:M?\d{1,2}|//)/(?:M?\d{1,2}|//)?|[AQ][\dO]{4}|T[01]\d{3}(?:[01]\d{3})?"
)

_TEMPERATURES_K = (ZERO_CELSIUS_K - 90.0, ZERO_CELSIUS_K + 60.0)
_SEA_LEVEL_PRESSURES_PA = (85_000.0, 110_000.0)
_HIGHEST_WIND_MPS = 100.0
_MAST_HEIGHT_M = 10.0


def relative_humidity(temperature_k: float, dew_point_k: float) -> float:
    """Relative humidity, 0 to 1, from temperature and dew point [K].

    e = 6.112 hPa exp(17.62 t / (243.12 + t)) over water, Magnus form (WMO-No. 8, Part I, Annex 4.B); its own
    error is below 0.3 % from -45 to 60 degC, less than whole degrees leave open.
    """
    return math.exp(_magnus_exponent(dew_point_k) - _magnus_exponent(temperature_k))


def last_day_of(line: str, latest: dt.date) -> dt.date:
    """The last day up to `latest` that has the day of the month of a report; `latest` where it names none."""
    found = _HEAD.match(" ".join(line.upper().split()))
    if found is None:
        return latest
    days = (latest - dt.timedelta(days=back) for back in range(62))
    return next((day for day in days if day.day == int(found[1])), latest)


def read_metar(
    line: str, near: dt.date, *, file: str = "METAR", key: str = "metar"
) -> tuple[WeatherReading, tuple[str, ...]]:
    """The reading of one report, and notes on what of it could not be used.

    A report names only the day of the month; the month is taken that brings it closest to `near`.
    Raises InputError where the report has no time or nothing else that can be used.
    """
    text = " ".join(line.upper().split()).rstrip("=$ ").strip()
    if not text or len(text) > _MAX_CHARACTERS:
        raise InputError.one(file, key, f"{shown(line)} is not a METAR report", _example())
    when = _time(text, near, file, key)
    report = _decoded(text, when)
    notes: list[str] = []
    speed, bearing, gust = _wind(report, text, notes)
    temperature, humidity = _air(report, text, notes)
    pressure = _value(report.press, "HPA", 100.0)
    if pressure is not None and not _SEA_LEVEL_PRESSURES_PA[0] <= pressure <= _SEA_LEVEL_PRESSURES_PA[1]:
        notes.append(f"pressure {pressure / 100:.0f} hPa is not possible, left out")
        pressure = None
    if speed is None and temperature is None and pressure is None:
        raise InputError.one(file, key, f"{shown(text)} has neither wind nor temperature nor pressure", _example())
    missing = [
        word for word, value in (("wind", speed), ("temperature", temperature), ("pressure", pressure)) if value is None
    ]
    if missing:
        notes.append(f"no usable {' and no usable '.join(missing)}")
    reading = WeatherReading(
        time_s=when.timestamp(),
        source="metar",
        wind_speed_mps=speed,
        wind_from_deg=bearing,
        gust_mps=gust,
        height_m=_MAST_HEIGHT_M,
        temperature_k=temperature,
        qnh_pa=pressure,
        relative_humidity=humidity,
        text=text,
    )
    return reading, tuple(f"{shown(text[:40])}: {note}" for note in notes)


def _example() -> str:
    return 'a report such as "METAR ZZAA 121120Z 34012G19KT 9999 SCT030 11/04 Q1017"'


def _magnus_exponent(temperature_k: float) -> float:
    t = temperature_k - ZERO_CELSIUS_K
    return 17.62 * t / (243.12 + t)


def _time(text: str, near: dt.date, file: str, key: str) -> dt.datetime:
    """When the report was made: its day of the month in whichever month brings it nearest to the run."""
    match = _HEAD.match(text)
    if not match:
        raise InputError.one(file, key, f"{shown(text)} has no station and time group", _example())
    day, hour, minute = (int(group) for group in match.groups())
    if not (1 <= day <= 31 and hour <= 23 and minute <= 59):
        wrong = f"{shown(text)} has the impossible time {match.group(1)}{match.group(2)}{match.group(3)}Z"
        raise InputError.one(file, key, wrong, "day of month, hour and minute in UTC such as 121120Z")
    months = [_month(near, step) for step in (-1, 0, 1)]
    dates = [dt.date(y, m, day) for y, m in months if day <= calendar.monthrange(y, m)[1]]
    date = min(dates, key=lambda d: abs((d - near).days))
    return dt.datetime(date.year, date.month, date.day, hour, minute, tzinfo=dt.UTC)


def _month(date: dt.date, step: int) -> tuple[int, int]:
    months = date.year * 12 + date.month - 1 + step
    return months // 12, months % 12 + 1


def _decoded(text: str, when: dt.datetime) -> Any:
    """The library's decoding; where a group stops it, of the report without groups of no use or that it cannot read."""
    report, stopped = _tried(text, when)
    if stopped:
        time, *others = _needed_groups(text)
        report, stopped = _tried(" ".join(["ZZZZ", time, *others]), when)
        if stopped:
            read = [group for group in others if not _tried(f"ZZZZ {time} {group}", when)[1]]
            report, _ = _tried(" ".join(["ZZZZ", time, *read]), when)
    return report


def _needed_groups(text: str) -> list[str]:
    """The groups of a report that are used here, its time first."""
    groups = [g for g in _REST.split(text, maxsplit=1)[0].split() if _NEEDED.fullmatch(g) and g not in _KINDS]
    return sorted(groups, key=lambda group: not _TIME.fullmatch(group))


def _tried(text: str, when: dt.datetime) -> tuple[Any, bool]:
    """The library's decoding of a report, and whether a group stopped it."""
    from metar.Metar import Metar  # noqa: PLC0415

    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        report = Metar(text, month=when.month, year=when.year, strict=False)
    return report, any("failed while processing" in str(w.message) for w in caught)


def _wind(report: Any, text: str, notes: list[str]) -> tuple[float | None, float | None, float | None]:
    """Mean wind [m/s], where it comes from [deg], gust [m/s]."""
    speed = _value(report.wind_speed, "MPS", 1.0)
    if speed is None:
        return None, None, None
    if not _WIND_UNIT.search(_REST.split(text, maxsplit=1)[0]):
        notes.append("the wind has no unit, left out")
        return None, None, None
    if not speed <= _HIGHEST_WIND_MPS:
        notes.append(f"wind {speed:.0f} m/s is not possible, left out")
        return None, None, None
    bearing = report.wind_dir.value() % 360.0 if report.wind_dir is not None and speed > 0.0 else None
    gust = _value(report.wind_gust, "MPS", 1.0)
    if gust is not None and not speed <= gust <= 2 * _HIGHEST_WIND_MPS:
        notes.append("the gust is below the mean wind, left out")
        gust = None
    return speed, bearing, gust


def _air(report: Any, text: str, notes: list[str]) -> tuple[float | None, float | None]:
    """Temperature [K] and relative humidity."""
    temperature = _value(report.temp, "K", 1.0)
    dew_point = _value(report.dewpt, "K", 1.0)
    if temperature is not None and not _TEMPERATURES_K[0] <= temperature <= _TEMPERATURES_K[1]:
        notes.append(f"temperature {temperature - ZERO_CELSIUS_K:.0f} degC is not possible, left out")
        return None, None
    if temperature is None or dew_point is None or dew_point < _TEMPERATURES_K[0]:
        return temperature, None
    if dew_point > temperature + 1.0:
        notes.append("the dew point is above the temperature, humidity left out")
        return temperature, None
    body = _BODY_DEW_POINT.search(text)
    if body:
        whole = int(body.group(1).replace("M", "-")) + ZERO_CELSIUS_K
        if abs(whole - dew_point) > 1.0:
            notes.append("the dew points in body and remark disagree, humidity left out")
            return temperature, None
    return temperature, min(1.0, relative_humidity(temperature, dew_point))


def _value(quantity: Any, unit: str, factor: float) -> float | None:
    if quantity is None:
        return None
    value = float(quantity.value(unit)) * factor
    return value if math.isfinite(value) else None
