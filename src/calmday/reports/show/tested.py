"""How a run was tested, in ten lines at most, from what was written down."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.metrology.rounding import listed
from calmday.reports.charts.saying import in_plain_words
from calmday.reports.run_tables import compass
from calmday.reports.words import amount_unit, clean, duration, is_known, number

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive
    from calmday.procedures.weighed_run_result import RunResult
    from calmday.records.run import Run, Weighing

MOST_LINES = 10
_ZERO_CELSIUS_K = 273.15


def how_tested(result: RunResult, run: Run, along: AlongTheDrive | None = None) -> tuple[tuple[str, str], ...]:
    """Pairs of what and how, at most ten."""
    found = (
        ("Day", _day(run)),
        ("Road", _road(result, run, along)),
        ("Distance", _distance(result, run)),
        ("Time", _time(result, along)),
        ("Fuel burnt", _fuel(result, run)),
        ("Weighed", _weighed(run)),
        ("Fuel", _kind(result, run)),
        ("Vehicle", _vehicle(run)),
        ("Start", _start(run)),
        ("Weather", _weather(run, along)),
    )
    return tuple((what, how) for what, how in found if how)[:MOST_LINES]


def date_words(run: Run) -> str:
    """The date of the run: `12 April 2026`; empty where it is not known."""
    return f"{run.date.day} {run.date:%B %Y}" if run.date is not None else ""


def _day(run: Run) -> str:
    return date_words(run) or "not written down"


def _road(result: RunResult, run: Run, along: AlongTheDrive | None) -> str:
    laps = len(result.laps) or run.laps or 0
    parts = [f"{laps} laps" if laps > 1 else "one lap" if laps else ""]
    if run.terrain is not None:
        parts.append(f"terrain: {run.terrain}")
    if along is not None:
        parts.append(f"{len(along.stops)} stops" if len(along.stops) != 1 else "one stop")
    return ", ".join(part for part in parts if part) or "public road"


def _distance(result: RunResult, run: Run) -> str:
    if run.track is not None:
        source = "satellite track"
    elif run.distance_m is not None:
        source = "as declared"
    elif run.laps is not None and run.lap_length_m is not None:
        source = "laps times lap length"
    else:
        factor = run.odometer is not None and run.odometer.factor is not None
        source = "odometer, with its factor" if factor else "odometer, its factor unknown"
    return f"{amount_unit(result.distance)}, {source}"


def _time(result: RunResult, along: AlongTheDrive | None) -> str:
    time = result.moving_time
    if time is None or not is_known(time) or time.value <= 0:
        return ""
    mean = result.distance.value / (time.value / 3600)
    stood = ""
    if along is not None and along.time_s.size:
        parked = float(along.time_s[-1] - along.time_s[0]) - time.value
        stood = f"; {duration(parked)} standing" if parked >= 60 else ""
    return f"{duration(time.value)} moving, {number(mean, 0)} km/h on average{stood}"


def _fuel(result: RunResult, run: Run) -> str:
    if run.weighings:
        return f"{amount_unit(result.fuel_mass)}, by weighing ({amount_unit(result.fuel_volume)} at 15 °C)"
    return f"{amount_unit(result.fuel_volume)} at 15 °C, filled by volume ({amount_unit(result.fuel_mass)})"


def _weighed(run: Run) -> str:
    if not run.weighings:
        return f"{len(run.fills)} fills to the brim"
    parts = [f"{_readings(run.weighings, moment)} {moment}" for moment in ("before", "added", "after")]
    said = listed([part for part in parts if not part.startswith("no ")])
    scale = run.scale
    division = f"; the scale shows every {number(1000 * scale.resolution_kg, 0)} g" if scale.resolution_kg else ""
    arrangement = run.fuel_system.arrangement
    return f"{arrangement + ', ' if arrangement else ''}{said}{division}"


def _readings(weighings: tuple[Weighing, ...], moment: str) -> str:
    count = sum(len(weighing.gross_kg) for weighing in weighings if weighing.when == moment)
    return f"{count} readings" if count > 1 else "one reading" if count else "no reading"


def _kind(result: RunResult, run: Run) -> str:
    kind = run.fuel.kind or run.vehicle.engine.fuel or "kind not written down"
    declared = "as declared" if run.fuel.density_kgpm3 is not None else "assumed"
    batch = f", batch {clean(run.fuel.batch)}" if run.fuel.batch else ""
    return f"{kind}{batch}, {amount_unit(result.fuel_density_15C)} at 15 °C ({declared})"


def _vehicle(run: Run) -> str:
    vehicle = run.vehicle
    parts = []
    if vehicle.test_mass_kg is not None:
        payload = (
            f" and {number(run.payload_kg.value, 0)} kg of load" if run.payload_kg and run.payload_kg.value else ""
        )
        parts.append(f"{number(vehicle.test_mass_kg.value, 0)} kg as driven{payload}")
    pressure = run.tyre_pressure_pa or vehicle.tyre_pressure_pa
    if pressure is not None:
        parts.append(f"tyres at {number(pressure.value / 1000, 0)} kPa cold")
    return ", ".join(parts)


def _start(run: Run) -> str:
    return f"engine {run.engine_start}" if run.engine_start else "cold or warm: not written down"


def _weather(run: Run, along: AlongTheDrive | None) -> str:
    readings = run.weather.readings
    parts = []
    warm = [r.temperature_k - _ZERO_CELSIUS_K for r in readings if r.temperature_k is not None]
    if warm:
        low, high = number(min(warm), 0), number(max(warm), 0)
        parts.append(f"{low} °C" if low == high else f"{low} to {high} °C")
    if along is not None and along.wind.known:
        heading = f" from {compass(along.wind.from_deg)}" if math.isfinite(along.wind.from_deg) else ""
        parts.append(f"wind at the vehicle {in_plain_words(along.wind.speed, 'm/s')}{heading}")
    elif not any(r.wind_speed_mps is not None for r in readings):
        parts.append("wind not known")
    reported = sum(r.source == "metar" for r in readings)
    read = len(readings) - reported
    parts += [f"{reported} airfield reports" if reported != 1 else "one airfield report"] if reported else []
    parts += [f"{read} roadside readings" if read != 1 else "one roadside reading"] if read else []
    return ", ".join(parts)
