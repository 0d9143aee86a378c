"""Flags on what was entered: dates and clocks, missing inputs, the full-load curve, published figures."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import combinations
from typing import Final

import numpy as np

from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.rounding import counted
from calmday.physics.gearing import overall_diameter_m, rolling_circumference_m
from calmday.procedures.flag import Flag, flag
from calmday.procedures.run_flags_curve import curve_flags
from calmday.procedures.weighed_run import WeighedRun
from calmday.reduction.pressure import standard_pressure

_HOTTEST_K: Final = 318.15
_TEMPERATURES_APART_K: Final = 15.0
_WEATHER_SWING_PA: Final = 6000.0
_GALLON_BAND: Final = (1.17, 1.24)
_WEATHER_WINDOW_S: Final = 3 * 3600.0
_ANOTHER_DAY_S: Final = 36 * 3600.0
_ANOTHER_TYRE: Final = 0.05
"""Six millimetres of tread are 2 % of the radius; sizes of one code differ by 1.5 % (from memory)."""
_ANOTHER_BIAS_TYRE: Final = 0.08
"""Old codes do not say how high the tyre is: 0.9 to 1.0 of its width, 2 % of the radius."""


def _clock(weighed: WeighedRun) -> Iterator[Flag]:
    run, track = weighed.run, weighed.path.track
    if track is None or track.time_s.size == 0 or run.track is None or not run.track.dated:
        return
    offset = run.utc_offset_s or 0.0
    started = dt.datetime.fromtimestamp(float(track.time_s[0]) + offset, dt.UTC)
    other_day = run.date is not None and started.date() != run.date
    if run.date is not None and other_day:
        yield flag(
            "track-of-another-day", "caution",
            f"The run is dated {run.date.isoformat()}, the track starts on {started.date().isoformat()}.",
            "The wrong track, or a clock that was never set or is in another time zone, gives a distance that is not "
            "this run's, and weather that is not the drive's.",
            "See that the track belongs to these weighings and correct the date or the file.",
        )  # fmt: skip
    times = [reading.time_s for reading in run.weather.readings]
    if not times:
        return
    start, end = float(track.time_s[0]), float(track.time_s[-1])
    apart = min(max(start - t, t - end, 0.0) for t in times)
    hours = round((start - times[0]) / 3600)
    if run.utc_offset_s and apart > 0 and _near_whole_hours(apart, run.utc_offset_s):
        yield flag(
            "time-zone-slip", "caution",
            f"Track and weather are {apart / 3600:.1f} h apart, just the offset of the time zone.",
            "A local time taken for universal time, or the other way round, moves the weather away from the drive.",
            "METAR times are universal time; roadside times need the run's own time zone.",
        )  # fmt: skip
    elif _WEATHER_WINDOW_S < apart < _ANOTHER_DAY_S:
        yield flag(
            "weather-of-another-time", "caution",
            f"The nearest weather report is {counted(round(apart / 3600), 'hour')} from the drive.",
            "Wind changes within the hour; a time zone that slipped also looks like this.",
            f"Check the time zone (the clocks differ by about {abs(hours)} h) or look up the report of the hour.",
        )  # fmt: skip
    elif apart >= _ANOTHER_DAY_S and not other_day:
        yield flag(
            "weather-of-another-time", "caution",
            f"The nearest weather report is {counted(round(apart / 86_400), 'day')} from the drive.",
            "Wind changes within the hour: a report of another day says little about this one.",
            "Look up the report of the hour, and check the dates of the readings.",
        )  # fmt: skip


def _near_whole_hours(apart_s: float, offset_s: float) -> bool:
    return abs(apart_s - abs(offset_s)) < 1800.0


def _missing(weighed: WeighedRun) -> Iterator[Flag]:
    run = weighed.run
    path = weighed.path
    if path.track is None:
        yield flag(
            "no-track", "caution",
            "There is no track.",
            "Wind, hills and stops can then only be guessed at from the mean speed."
            if path.drive is not None
            else "Without a track or a duration only the figure as driven can be given.",
            "Log the drive with a phone or receiver; a GPX file is enough.",
        )  # fmt: skip
    calm_day = weighed.simulated is not None
    if not path.weather.wind_known:
        yield flag(
            "no-wind", "caution",
            "No wind was reported.",
            "The calm-day figure allows for any usual wind and is much wider for it."
            if calm_day
            else "A calm-day figure would have to allow for any usual wind.",
            "Paste the METAR of the nearest airfield, or hold up a wind meter for two minutes.",
        )  # fmt: skip
    read = any(r.temperature_k or r.pressure_pa or r.qnh_pa for r in run.weather.readings)
    if not read:
        yield flag(
            "no-weather", "caution",
            "No temperature and no pressure was given.",
            "Air density and tyres are taken for an ordinary day."
            if calm_day
            else "A calm-day figure would have to take the air and the tyres for an ordinary day's.",
            "Note the temperature and the pressure at the roadside.",
        )  # fmt: skip
    absent = [
        name
        for name, value in (
            ("test mass", run.vehicle.test_mass_kg),
            ("frontal area", run.vehicle.frontal_area_m2 or run.vehicle.width_m),
            ("drag coefficient", run.vehicle.drag_coefficient),
            ("rolling resistance", run.vehicle.rolling_resistance),
            ("gear ratios", run.vehicle.gear_ratios or None),
            ("engine displacement", run.vehicle.engine.displacement_m3),
            ("full-load curve", run.vehicle.engine.full_load),
        )
        if value is None
    ]
    if absent and weighed.simulated is not None:
        yield flag(
            "assumed-by-class", "note",
            f"Not on the build sheet: {', '.join(absent)}.",
            "A usual value for this kind of vehicle stands in, with a wide spread.",
            "Enter what you know; anything left out widens the calm-day figure, not the figure as driven.",
        )  # fmt: skip


def _sea_level(weighed: WeighedRun) -> Iterator[Flag]:
    """A pressure read as on the road that no weather makes at the road's height."""
    track = weighed.path.track
    if track is None or not track.has_height:
        return
    height = float(np.mean(track.height_m))
    usual = float(standard_pressure(height))
    for reading in weighed.run.weather.readings:
        if reading.pressure_pa is None or abs(reading.pressure_pa - usual) <= _WEATHER_SWING_PA:
            continue
        yield flag(
            "pressure-of-another-height", "caution",
            f"A pressure of {reading.pressure_pa / 100:.0f} hPa on the road is written down; the road lies at "
            f"{height:.0f} m, where {usual / 100:.0f} hPa is usual.",
            "Barometers and forecasts mostly tell the pressure as it would be at sea level; taken for the pressure on "
            "the road it makes the air too thick by as much.",
            "Read the pressure without reduction to sea level, or leave it out and give a METAR with field_elevation.",
        )  # fmt: skip
        return


def _temperature(weighed: WeighedRun) -> Iterator[Flag]:
    """A temperature that is rare in the shade, or that another report of the drive contradicts."""
    known = [(r.temperature_k, r.time_s) for r in weighed.run.weather.readings if r.temperature_k is not None]
    odd = {kelvin for kelvin, _ in known if kelvin > _HOTTEST_K}
    for (one, when), (other, then) in combinations(known, 2):
        if abs(when - then) <= _WEATHER_WINDOW_S and abs(one - other) > _TEMPERATURES_APART_K:
            odd |= {one, other}
    if not odd:
        return
    celsius = [temperature - ZERO_CELSIUS_K for temperature in (min(odd), max(odd))]
    between = f"between {celsius[0]:.0f} and {celsius[1]:.0f}" if celsius[1] - celsius[0] >= 1 else f"{celsius[1]:.0f}"
    yield flag(
        "temperature-unlikely", "caution",
        f"The temperature is said to be {between} °C.",
        "Degrees Fahrenheit taken for Celsius, a thermometer in the sun, or a minus sign lost looks like this; air and "
        "tyres are wrong with it.",
        'Check the unit: "57 degF" is 14 °C. Read the thermometer in the shade.',
    )  # fmt: skip


def _tyre(weighed: WeighedRun) -> Iterator[Flag]:
    """A tyre code and a roll-out that cannot be of one wheel."""
    tyre, rolled = weighed.run.vehicle.tyre, weighed.run.vehicle.rolling_circumference_m
    if tyre is None or rolled is None:
        return
    diameter = overall_diameter_m(tyre.section_width_m, tyre.aspect_ratio, tyre.rim_diameter_m)
    usual = rolling_circumference_m(diameter, tyre.radial)
    allowed = (_ANOTHER_TYRE if tyre.radial else _ANOTHER_BIAS_TYRE) + (rolled.half_width or 0.0) / rolled.value
    if abs(rolled.value / usual - 1) > allowed:
        yield flag(
            "tyre-disagrees-with-roll-out", "caution",
            f"The build sheet has a rolling circumference of {rolled.value:.3f} m and the tyre {tyre.code}, which "
            f"rolls about {usual:.2f} m.",
            "Wear and make explain 3 or 4 per cent; this is another tyre, or a turn of the wheel counted wrongly. "
            "Engine speed, gears and the odometer's factor go by the roll-out.",
            "Read the code off the tyre's wall, and roll out ten turns once more.",
        )  # fmt: skip


def _curve(weighed: WeighedRun) -> Iterator[Flag]:
    yield from curve_flags(weighed.run.vehicle.engine.full_load)


def _published(weighed: WeighedRun) -> Iterator[Flag]:
    published = weighed.run.published
    if published is None:
        return
    ours = getattr(weighed.as_driven, published.unit, None)
    if ours is None or published.value <= 0:
        return
    ratio = max(published.value / ours.value, ours.value / published.value)
    if published.unit in {"mpg_us", "mpg_imp"} and _GALLON_BAND[0] <= ratio <= _GALLON_BAND[1]:
        yield flag(
            "gallon-mix-up", "caution",
            f"The published {published.as_entered or published.value} and this run differ by "
            f"{100 * (ratio - 1):.0f} %.",
            "That is just the difference between a US and an imperial gallon (20 %).",
            "See which gallon the published figure is in before you compare.",
        )  # fmt: skip
    yield flag(
        "published-figure-is-another-test", "note",
        f"A published figure is given{': ' + published.kind if published.kind else ''}.",
        "Laboratory cycles, steady-speed figures and road tests are different experiments.",
        "Name the differences (speed, temperature, mass, cold or hot) instead of scoring one against the other.",
    )  # fmt: skip


def _one_run(weighed: WeighedRun) -> Iterator[Flag]:
    yield flag(
        "one-run", "note",
        "This is one run.",
        "One run is an indication; the same drive varies by one or two per cent from run to run.",
        "Two or three runs that agree make a fair figure.",
    )  # fmt: skip


RULES = (_clock, _missing, _sea_level, _temperature, _tyre, _curve, _published, _one_run)
