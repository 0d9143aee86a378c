"""Flags on the drive: wind, warm-up, track, laps, gearing, and how much of the answer is correction."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from calmday.metrology.middle import quantiles
from calmday.metrology.rounding import counted, format_signed
from calmday.procedures.drive_of_run import odometer_distance
from calmday.procedures.flag import Flag, flag
from calmday.procedures.run_flags_fuel import surprise_sd
from calmday.procedures.weighed_run import WeighedRun

WIND_LIMIT_MPS: Final = 5.0
GUST_LIMIT_MPS: Final = 8.0
"""Mean and peak wind that a published procedure allows (UN GTR 15, Annex 4, stationary anemometry; from memory)."""

SHORT_COLD_RUN_M: Final = 30_000.0
DEFAULT_CHANGE_OF_INTEREST: Final = 0.03
_DISTANCE_TOLERANCE: Final = 0.02
_GAP_WORTH_TELLING_S: Final = 20.0
_MANY_ODD_FIXES: Final = 0.02
_OVER_SPEED: Final = 0.06
_FASTEST_QUANTILE: Final = 0.995
_HOPELESS_SD: Final = 4.0


def _wind(weighed: WeighedRun) -> Iterator[Flag]:
    weather = weighed.path.weather
    if not weather.wind_known:
        return
    mean, gust = weather.wind_at_mast_mps, weather.gust_at_mast_mps
    if mean > WIND_LIMIT_MPS or (gust is not None and gust > GUST_LIMIT_MPS):
        gusts = f" with gusts of {gust:.0f} m/s" if gust is not None else ""
        yield flag(
            "wind-above-procedure-limit", "caution",
            f"The wind was {mean:.0f} m/s at the mast{gusts}; published test procedures stop at a mean of "
            f"{WIND_LIMIT_MPS:.0f} m/s or gusts of {GUST_LIMIT_MPS:.0f}.",
            "Wind does not cancel on a loop, and how much of it reaches the vehicle is the least known of all.",
            "Use the calm-day figure with its full give-or-take, and repeat on a quieter day if it matters.",
        )  # fmt: skip


def _cold(weighed: WeighedRun) -> Iterator[Flag]:
    run = weighed.run
    if run.engine_start == "cold" and weighed.path.distance.metres < SHORT_COLD_RUN_M:
        yield flag(
            "cold-start-in-short-run", "caution",
            f"The engine was started cold for {weighed.path.distance.metres / 1000:.0f} km.",
            "Warming up takes as much fuel on a short run as on a long one, and nobody knows the amount well.",
            "Drive 20 to 30 minutes before you weigh, or drive further.",
        )  # fmt: skip
    if run.engine_start is None and weighed.simulated is not None:
        yield flag(
            "start-not-said", "note",
            "It is not said whether the engine was cold or warm at the start.",
            "The answer allows for both, and is wider for it.",
            'Set engine_start to "cold" or "warm".',
        )  # fmt: skip


def _correction(weighed: WeighedRun) -> Iterator[Flag]:
    if weighed.calm_day is None:
        return
    own = weighed.run.smallest_change_of_interest
    interest = own or DEFAULT_CHANGE_OF_INTEREST
    matters = "would matter to you" if own else "usually matters"
    driven, calm = weighed.as_driven.L_per_100km.value, weighed.calm_day.L_per_100km
    change = driven / calm.value - 1
    if abs(change) > interest:
        yield flag(
            "correction-larger-than-effect", "caution",
            f"The day moved the figure by {format_signed(100 * change, 0)} %, more than the {100 * interest:.0f} % "
            f"that {matters}.",
            "A correction larger than the effect sought can hide it or make it up.",
            "Compare two states of the vehicle on days alike, in turns; do not lean on this correction alone.",
        )  # fmt: skip


def _distances(weighed: WeighedRun) -> Iterator[Flag]:
    run, path = weighed.run, weighed.path
    if path.track is None or path.distance.metres <= 0:
        return
    others = {}
    by_odometer = odometer_distance(run)
    if by_odometer is not None:
        others["odometer"] = by_odometer.metres
    if run.distance_m is not None:
        others["distance as declared"] = run.distance_m.value
    if run.laps is not None and run.lap_length_m is not None:
        others["laps x lap length"] = run.laps * run.lap_length_m.value
    for name, metres in others.items():
        ratio = metres / path.distance.metres
        if abs(ratio - 1) > _DISTANCE_TOLERANCE:
            yield flag(
                "distances-disagree", "caution",
                f"By {name} the run is {metres / 1000:.2f} km, by the track {path.distance.metres / 1000:.2f} km "
                f"({format_signed(100 * (ratio - 1), 1)} %).",
                "The fuel belongs to one distance only; tyres or an axle that were changed also change the odometer.",
                "See that the track covers the whole weighed drive, and find the odometer's factor anew after such "
                "a change.",
            )  # fmt: skip


def _laps(weighed: WeighedRun) -> Iterator[Flag]:
    track, said = weighed.path.track, weighed.run.laps
    if track is None or said is None:
        return
    if track.laps and len(track.laps) != said:
        yield flag(
            "lap-count", "caution",
            f"{counted(said, 'lap is', 'laps are')} written down; the track shows {len(track.laps)}.",
            "A lap more or less changes the answer by its whole share.",
            "Count the laps in the track; the figures here use the track's own distance.",
        )  # fmt: skip


def _gaps(weighed: WeighedRun) -> Iterator[Flag]:
    track = weighed.path.track
    if track is None:
        return
    long = [gap for gap in track.gaps if gap.end_s - gap.start_s > _GAP_WORTH_TELLING_S]
    if long:
        seconds = sum(gap.end_s - gap.start_s for gap in long)
        metres = sum(gap.distance_m for gap in long)
        yield flag(
            "track-gap", "caution",
            f"The track has {len(long)} hole{'s' if len(long) > 1 else ''} of {seconds:.0f} s together, about "
            f"{metres / 1000:.1f} km.",
            "Fuel was burnt there that the track knows nothing of; the distance across is a guess.",
            "The answer is wider for it. Keep the receiver in sight of the sky and the phone awake.",
        )  # fmt: skip
    odd = sum(finding.count for finding in track.findings if finding.kind == "outliers")
    if odd > _MANY_ODD_FIXES * len(track.time_s):
        yield flag(
            "many-odd-fixes", "note",
            f"{counted(odd, 'fix', 'fixes')} of the track set aside: far from the path.",
            "The receiver had a poor view of the sky.",
            "Nothing to do now; place it on the dashboard next time.",
        )  # fmt: skip


def _gearing(weighed: WeighedRun) -> Iterator[Flag]:
    simulated, drive = weighed.simulated, weighed.path.drive
    if simulated is None or drive is None or not simulated.model.gearing.declared:
        return
    model = simulated.model
    top = min(model.gearing.turns_per_metre)
    (fastest,) = quantiles(drive.speed_mps, [_FASTEST_QUANTILE])
    if fastest * top > (1 + _OVER_SPEED) * model.governed_rps:
        yield flag(
            "gearing-disagrees-with-track", "caution",
            f"At {3.6 * fastest:.0f} km/h the declared top gear would turn the engine at {60 * fastest * top:.0f} rpm, "
            f"above its {60 * model.governed_rps:.0f} rpm.",
            "The gear or axle ratio, the tyre or the governed speed is not what the build sheet says.",
            "Count teeth or turns once more, and measure the distance of ten wheel turns.",
        )  # fmt: skip


def _quality(weighed: WeighedRun) -> Iterator[Flag]:
    simulated = weighed.simulated
    if simulated is None:
        return
    conditioned = simulated.conditioned
    if not conditioned.sound:
        yield flag(
            "calm-day-not-trustworthy", "stop" if abs(surprise_sd(weighed)) > _HOPELESS_SD else "caution",
            f"Only {conditioned.effective_draws:.0f} of {len(conditioned.scores)} draws fit what was weighed.",
            "The model cannot explain this run, so its calm-day figure is not worth its digits.",
            "Use the figure as driven, and check the build sheet.",
        )  # fmt: skip


RULES = (_wind, _cold, _correction, _distances, _laps, _gaps, _gearing, _quality)
