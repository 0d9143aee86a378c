"""The [weather] table of run.toml and its like: METAR lines and roadside readings."""

from __future__ import annotations

import datetime as dt
import math

from calmday.errors import InputError
from calmday.files.local_time import LocalTime
from calmday.files.metar_lines import last_day_of, read_metar
from calmday.files.toml_table import Table
from calmday.metrology.units import QuantityError, parse_quantity, shown
from calmday.records.weather import Weather, WeatherReading

_COMPASS = (
    "N",
    "NNE",
    "NE",
    "ENE",
    "E",
    "ESE",
    "SE",
    "SSE",
    "S",
    "SSW",
    "SW",
    "WSW",
    "W",
    "WNW",
    "NW",
    "NNW",
)
_HAND_HELD_HEIGHT_M = 2.0
_WIND_RANGE = ("0 m/s", "80 m/s")


def read_weather(table: Table, clock: LocalTime, near: dt.date | None) -> Weather:
    """All readings of a [weather] table in time order. `near` the date of the run, for METAR reports.

    Faults are noted in the table's list.
    """
    notes: list[str] = []
    readings = _reports(table, near, clock.latest, notes)
    for reading in table.tables("reading"):
        found = _roadside(reading, clock, notes)
        if found is not None:
            readings.append(found)
    elevation = table.quantity("field_elevation", "length", ("-450 m", "6000 m"))
    table.finish()
    ordered = tuple(sorted(readings, key=lambda r: r.time_s))
    return Weather(readings=ordered, field_elevation_m=elevation, notes=tuple(notes))


def _reports(table: Table, near: dt.date | None, latest: dt.date, notes: list[str]) -> list[WeatherReading]:
    """The METAR lines; a text of several lines holds one report on each. Without a date the last day that fits."""
    entries = table.texts("metar")
    lines = [line for entry in entries for line in entry.splitlines() if line.strip()]
    if lines and near is None:
        near = last_day_of(lines[0], latest)
        notes.append(f"{table.path('metar')}: no date given; the reports are taken as of {near}")
    readings = []
    for i, line in enumerate(lines):
        key = f"metar[{i}]" if len(lines) > 1 else "metar"
        try:
            assert near is not None
            reading, told = read_metar(line, near, file=table.faults.file, key=table.path(key))
        except InputError as e:
            table.faults.extend(e.faults)
            continue
        readings.append(reading)
        notes += told
    return readings


def _roadside(table: Table, clock: LocalTime, notes: list[str]) -> WeatherReading | None:
    """One [[weather.reading]]: what the tester read at the road."""
    time_s = clock.seconds(table, "time")
    if "time" not in table:
        table.fault("time", "is missing", "when it was read, such as 2026-04-12T13:30:00")
    speed = table.quantity("wind_speed", "speed", _WIND_RANGE)
    gust = table.quantity("gust", "speed", _WIND_RANGE)
    bearing = read_bearing(table)
    height = table.quantity("height", "length", ("0.3 m", "200 m"))
    temperature = table.quantity("temperature", "temperature", ("-60 degC", "60 degC"))
    pressure = table.quantity("pressure", "pressure", ("450 hPa", "1100 hPa"))
    humidity = _humidity(table, notes)
    if speed is not None and gust is not None and gust < speed:
        table.fault("gust", "is below wind_speed", "the peak, not below the mean")
    table.finish()
    if all(value is None for value in (speed, temperature, pressure, humidity)):
        table.fault("time", "stands alone", "wind_speed, temperature, pressure or relative_humidity beside it")
    if height is None and speed is not None:
        height = _HAND_HELD_HEIGHT_M
        notes.append(f"{table.key}: no height of the anemometer given; {height:g} m, hand-held, assumed")
    lost = [key for key, value in (("gust", gust), ("wind_from", bearing)) if value is not None and speed is None]
    if lost:
        notes.append(f"{table.key}: {' and '.join(lost)} without wind_speed left out")
    if time_s is None:
        return None
    return WeatherReading(
        time_s=time_s,
        source="roadside",
        wind_speed_mps=speed,
        wind_from_deg=bearing,
        gust_mps=gust,
        height_m=height if height is not None else _HAND_HELD_HEIGHT_M,
        temperature_k=temperature,
        pressure_pa=pressure,
        relative_humidity=humidity,
    )


def _humidity(table: Table, notes: list[str]) -> float | None:
    """Relative humidity, 0 to 1; a cheap instrument reads a little over in damp air, which is taken as saturated."""
    found = table.quantity("relative_humidity", "fraction", ("0 %", "110 %"))
    if found is None or found <= 1.0:
        return found
    notes.append(f"{table.path('relative_humidity')}: {100 * found:.0f} % read; taken as 100 %")
    return 1.0


def read_bearing(table: Table) -> float | None:
    """Where the wind comes from [deg]: "340 deg", a compass point such as "NNW", or None for "variable"."""
    value = table.raw("wind_from")
    if value is None:
        return None
    word = value.strip().upper() if isinstance(value, str) else ""
    if word in ("VARIABLE", "VRB"):
        return None
    if word in _COMPASS:
        return _COMPASS.index(word) * 22.5
    try:
        bearing = math.degrees(parse_quantity(value, "angle"))
    except QuantityError as e:
        table.fault("wind_from", e.wrong, 'where it comes from: "340 deg", "NNW" or "variable"')
        return None
    if not -1e-9 <= bearing <= 360.0 + 1e-9:
        table.fault("wind_from", f"{shown(value)} is not a bearing", "from 0 deg to 360 deg")
        return None
    return round(bearing, 9) % 360.0
