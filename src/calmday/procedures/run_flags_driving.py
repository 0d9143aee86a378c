"""Flags on the drive: wind, warm-up, track, laps, gearing, and how much of the answer is correction."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from calmday.metrology.middle import median, quantiles
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
LEAST_DISTANCE_M: Final = 100.0
UNDER_WAY_MPS: Final = 5.0
SPARSE_S: Final = 5.0
_WHOLE_PERCENT_FROM: Final = 10.0
_DISTANCE_TOLERANCE: Final = 0.02
_DURATION_TOLERANCE: Final = 0.05
_DURATION_SLACK_S: Final = 60.0
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
            f"The wind was {mean:.0f} m/s{gusts}, 10 m above the ground; published test procedures stop at a mean of "
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
    if weighed.calm_day is None or weighed.simulated is None:
        return
    own = weighed.run.smallest_change_of_interest
    interest = own or DEFAULT_CHANGE_OF_INTEREST
    matters = "would matter to you" if own else "usually matters"
    # Of the modelled drive: where the weighing is poor, the two figures also differ by what the vehicle is taken to be.
    change = float(np.mean(np.exp(-weighed.simulated.log_ratio))) - 1
    if abs(change) > interest:
        yield flag(
            "correction-larger-than-effect", "caution",
            f"The day moved the figure by {_percent(100 * change)} %, where {100 * interest:.3g} % is what "
            f"{matters}.",
            "A correction larger than the effect sought can hide it or make it up.",
            "Compare two states of the vehicle on days alike, in turns; do not lean on this correction alone.",
        )  # fmt: skip


def _percent(change: float) -> str:
    """Signed per cent, with a decimal where a whole number could read as no more than the limit."""
    return format_signed(change, 1 if abs(change) < _WHOLE_PERCENT_FROM else 0)


def _way(weighed: WeighedRun) -> Iterator[Flag]:
    """A track in which nothing is driven, or that does not hold the whole drive."""
    track = weighed.path.track
    if track is None:
        return
    if track.total_distance_m < LEAST_DISTANCE_M:
        yield flag(
            "no-distance", "stop",
            f"The track shows {track.total_distance_m:.0f} m of driving.",
            "Fuel per distance needs a distance; a track recorded while parked has none.",
            "See that the track is the one of this drive, or give the distance, the laps or the odometer without it.",
        )  # fmt: skip
        return
    begins, ends = (float(speed) for speed in track.speed_mps[[0, -1]])
    cut = [f"{word} at {3.6 * speed:.0f} km/h" for word, speed in (("begins", begins), ("ends", ends))
           if speed > UNDER_WAY_MPS]  # fmt: skip
    if cut:
        yield flag(
            "track-cut-short", "caution",
            f"The track {' and '.join(cut)}: the vehicle was under way there, and part of the drive may be missing.",
            "Fuel that was weighed but burnt outside the track makes the consumption read too high.",
            "Start the receiver before the engine and stop it after. If the fuel was switched over at these very "
            "places, all is well.",
        )  # fmt: skip


def _duration(weighed: WeighedRun) -> Iterator[Flag]:
    track, said = weighed.path.track, weighed.run.moving_time_s
    if track is None or said is None or track.total_distance_m < LEAST_DISTANCE_M:
        return
    whole, slack = float(track.time_s[-1] - track.time_s[0]), _DURATION_TOLERANCE * said.value + _DURATION_SLACK_S
    if not track.moving_time_s - slack <= said.value <= whole + slack:
        yield flag(
            "durations-disagree", "caution",
            f"{said.value / 60:.0f} min are written down; the track runs for {whole / 60:.0f} min, "
            f"{track.moving_time_s / 60:.0f} of them on the move.",
            "The fuel belongs to one drive only; a track of another length is not the whole of it, or more than that.",
            "See that the track covers just the weighed drive. The figures here use the track.",
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
    told = [gap for gap in track.gaps if gap.end_s - gap.start_s > _GAP_WORTH_TELLING_S]
    pauses = [gap for gap in told if gap.distance_m == 0]
    if pauses:
        minutes = sum(gap.end_s - gap.start_s for gap in pauses) / 60
        yield flag(
            "recording-paused", "note",
            f"The recording was off for {minutes:.0f} min and went on at the same place: taken as a pause.",
            "No driving is counted there; fuel burnt by an engine that idled all the same is in the weighing.",
            "Nothing to do if the engine was off. Else let the receiver run through the next pause.",
        )  # fmt: skip
    long = [gap for gap in told if gap.distance_m > 0]
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
    apart = _usual_interval_s(weighed)
    if apart > SPARSE_S:
        yield flag(
            "sparse-track", "caution",
            f"The track has a fix every {apart:.0f} s only.",
            "What the vehicle did in between, bends, stops and speed, is a guess, and the distance with it.",
            "Set the receiver to record every second.",
        )  # fmt: skip
    odd = sum(finding.count for finding in track.findings if finding.kind == "outliers")
    if odd > _MANY_ODD_FIXES * len(track.time_s):
        yield flag(
            "many-odd-fixes", "note",
            f"{counted(odd, 'fix', 'fixes')} of the track set aside: far from the path.",
            "The receiver had a poor view of the sky.",
            "Nothing to do now; place it on the dashboard next time.",
        )  # fmt: skip


def _usual_interval_s(weighed: WeighedRun) -> float:
    """Time from one fix to the next, as a rule [s]; 0 where there are too few to say."""
    raw = weighed.run.track
    if raw is None:
        return 0.0
    steps = np.diff(np.sort(raw.time_s[np.isfinite(raw.time_s)]))
    apart = steps[steps > 0]
    return median(apart) if apart.size else 0.0


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


RULES = (_wind, _cold, _correction, _way, _duration, _distances, _laps, _gaps, _gearing, _quality)
