"""The sixty-second check before leaving the place: is this run worth keeping?"""

from __future__ import annotations

import math
from typing import Literal

import msgspec

from calmday.metrology.rounding import format_to
from calmday.model.defaults import SPARK_FUELS
from calmday.procedures.run_flags import flags_of_run
from calmday.procedures.run_flags_fuel import BELIEVABLE_GPKWH, implied_gpkwh
from calmday.procedures.weighed_run import WeighedRun
from calmday.procedures.weighed_run_result import Flag

SCHEMA = "calmday/check/1"
State = Literal["ok", "look", "stop"]
Row = tuple[str, str, str, State]

EXPECTED_SD = 2.0
_STATES: tuple[State, ...] = ("ok", "look", "stop")
"""From good to bad. What follows from other figures is as good as the worst of them."""


class Check(msgspec.Struct, frozen=True, kw_only=True):
    """Verdict in words, then rows of (what, figure, plausible band, state), then the flags."""

    schema: str = SCHEMA
    verdict: str
    rows: tuple[Row, ...]
    flags: tuple[Flag, ...]


def check_of_run(weighed: WeighedRun) -> Check:
    """Check a reduced run for what can still be put right on the spot."""
    flags = flags_of_run(weighed)
    rows = tuple(_rows(weighed))
    return Check(verdict=_verdict(flags, rows), rows=rows, flags=flags)


def _verdict(flags: tuple[Flag, ...], rows: tuple[Row, ...]) -> str:
    stops = [flag for flag in flags if flag.severity == "stop"]
    if stops:
        return f"Do not drive on yet. {stops[0].saw} {stops[0].remedy}"
    looks = [
        flag
        for flag in flags
        if flag.severity == "caution"
        and flag.code not in {"wind-above-procedure-limit", "correction-larger-than-effect"}
    ]
    if looks:
        return f"Plausible, with something to look at. {looks[0].saw} {looks[0].remedy}"
    odd = [row for row in rows if row[3] != "ok"]
    if odd:
        return f"Look again before you drive on: {odd[0][0]} is {odd[0][1]}, where {odd[0][2]} is usual."
    return "Plausible. You can drive on."


def _rows(weighed: WeighedRun) -> list[Row]:
    rows: list[Row] = []
    fuel, path, simulated = weighed.fuel, weighed.path, weighed.simulated
    if simulated is not None:
        low, high = (
            math.exp(simulated.conditioned.expected + sign * EXPECTED_SD * simulated.conditioned.expected_sd)
            for sign in (-1, 1)
        )
        rows.append(
            (
                "fuel burnt",
                f"{1000 * fuel.mass_kg:.0f} g",
                f"{_round(1000 * low)} to {_round(1000 * high)} g",
                _state(fuel.mass_kg, low, high),
            )
        )
        specific = implied_gpkwh(weighed)
        if specific is not None:
            low, high = BELIEVABLE_GPKWH[simulated.model.fuel in SPARK_FUELS]
            rows.append(
                (
                    "fuel for each kWh at the shaft",
                    f"{specific:.0f} g",
                    f"{low:.0f} to {high:.0f} g",
                    _state(specific, low, high),
                )
            )
    else:
        rows.append(
            ("fuel burnt", f"{1000 * fuel.mass_kg:.0f} g", "more than nothing", "ok" if fuel.mass_kg > 0 else "stop")
        )
    if math.isfinite(path.distance.metres):
        rows.append(("distance", f"{path.distance.metres / 1000:.2f} km", path.distance.source, "ok"))
    if path.moving_time_s:
        minutes = path.moving_time_s / 60
        speed = 3.6 * path.distance.metres / path.moving_time_s
        rows.append(("time on the move", f"{minutes:.0f} min", "", "ok"))
        rows.append(("mean speed", f"{speed:.0f} km/h", "20 to 130 km/h", _state(speed, 20, 130)))
    if path.track is not None and path.track.laps:
        said = weighed.run.laps
        state: State = "ok" if said is None or said == len(path.track.laps) else "look"
        rows.append(
            ("laps in the track", str(len(path.track.laps)), "" if said is None else f"{said} written down", state)
        )
    litres, us, imp = (getattr(weighed.as_driven, key).value for key in ("L_per_100km", "mpg_us", "mpg_imp"))
    if math.isfinite(litres):
        worst: State = max((row[3] for row in rows), key=_STATES.index, default="ok")
        rows.append(("as driven", f"{litres:.1f} L/100 km", f"{us:.0f} mpg US, {imp:.0f} mpg imp", worst))
    return rows


def _round(grams: float) -> str:
    """To two digits: the bounds of what is plausible are no better known."""
    return format_to(grams, 1 - math.floor(math.log10(max(grams, 1.0))))


def _state(value: float, low: float, high: float) -> State:
    if low <= value <= high:
        return "ok"
    return "look" if 0.7 * low <= value <= 1.4 * high else "stop"
