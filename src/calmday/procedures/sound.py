"""Engine speed from a recording, and with road speed the ratio that was engaged."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact, from_normal
from calmday.model import defaults
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.model.vehicle_model import gearing_of
from calmday.procedures.sound_gears import GearsOfSound, gears_of_sound
from calmday.procedures.sound_result import Silence, SpeedTrace, SteadyStretch
from calmday.procedures.sound_road import SLOWEST_MPS, Clocks, bring_together
from calmday.records.recording import Sound
from calmday.records.vehicle import Vehicle
from calmday.reduction.engine_comb import EngineOrders
from calmday.reduction.engine_speed import EngineSpeed, engine_speed
from calmday.reduction.track import reduce_track

FloatArray = NDArray[np.float64]

BELOW_IDLE, ABOVE_GOVERNED = 0.75, 1.12
"""How far outside idle and governed speed an engine is still looked for: cold and hot idle, run-up without load."""
WIDER: Final = 1.6
"""The same where nobody declared the speed."""
STEADY_S: Final = 3.0
STEADY_WITHIN: Final = 0.012
CLOCK_SD: Final = 1e-4
"""Relative doubt of the sample clock of a telephone or sound card. Common practice (crystals of 20 to 100 ppm), no
source."""
RECEIVER_SD: Final = 0.003
TYPED_SPEED_SD: Final = 0.01
SEARCH_S: Final = 180.0
"""How far the clocks of recorder and receiver may disagree where the start of the recording was noted."""


class SoundStudy(msgspec.Struct, frozen=True, kw_only=True):
    """Everything a recording holds; the result sheet is read off it. `speed_mps` (frames,) NaN where not known."""

    sound: Sound
    orders: EngineOrders
    engine: EngineSpeed
    speed_mps: FloatArray
    clocks: Clocks | None
    circumference_m: float
    circumference_sd: float
    gears: GearsOfSound
    declared: tuple[bool, bool]


def orders_of(sound: Sound) -> tuple[EngineOrders, tuple[bool, bool]]:
    """Bounds of engine speed from the build sheet; whether idle and governed speed were declared."""
    engine = sound.vehicle.engine
    idle, governed = engine.idle_speed_rps, engine.governed_speed_rps
    spark = engine.fuel not in ("diesel", "biodiesel", "hvo")
    low = idle.value * BELOW_IDLE if idle else defaults.IDLE_RPS / WIDER
    high = governed.value * ABOVE_GOVERNED if governed else max(defaults.GOVERNED_RPS[spark] * WIDER, 4 * low)
    orders = EngineOrders(
        cylinders=sound.cylinders, strokes=sound.strokes, lowest_rps=low, highest_rps=max(high, 1.5 * low),
        uneven=sound.uneven,
    )  # fmt: skip
    return orders, (idle is not None, governed is not None)


def study_sound(sound: Sound) -> SoundStudy:
    """Track the engine through a recording and hold it against the road. Raises InputError."""
    orders, declared = orders_of(sound)
    recording = sound.recording
    engine = engine_speed(recording.blocks(), recording.rate_hz, orders, recording.seconds)
    turns, circumference, sd = turning(sound.vehicle)
    clocks, speed = _road(sound, engine, np.log(turns))
    gears = gears_of_sound(engine, speed, turns, circumference, sd, speed_doubt(sound), sound.gear)
    return SoundStudy(
        sound=sound, orders=orders, engine=engine, speed_mps=speed, clocks=clocks, circumference_m=circumference,
        circumference_sd=sd, gears=gears, declared=declared,
    )  # fmt: skip


def turning(vehicle: Vehicle) -> tuple[FloatArray, float, float]:
    """Engine turns per metre of each gear of the build sheet (empty: none stated), circumference [m] and its relative
    standard deviation."""
    rolled = vehicle.rolling_circumference_m
    known = rolled is not None or vehicle.tyre is not None
    sd = defaults.DECLARED_GEARING_SPREAD if known else defaults.CIRCUMFERENCE_SPREAD
    if rolled is not None and rolled.half_width is not None:
        sd = rolled.half_width / HALF_WIDTH_PER_SD / rolled.value
    gearing = gearing_of(vehicle, spark=True)
    circumference = gearing.overall_ratios[0] / gearing.turns_per_metre[0]
    stated = bool(vehicle.gear_ratios) and vehicle.final_drive is not None
    if not stated:
        alone = msgspec.structs.replace(vehicle, gear_ratios=(1.0,), final_drive=1.0)
        circumference = 1 / gearing_of(alone, spark=True).turns_per_metre[0]
    return (np.array(gearing.turns_per_metre) if stated else np.zeros(0)), circumference, sd


def speed_doubt(sound: Sound) -> float:
    """Relative standard deviation of road speed over a stretch."""
    typed = sound.speed_mps
    if sound.track is not None or typed is None:
        return RECEIVER_SD
    return typed.half_width / HALF_WIDTH_PER_SD / typed.value if typed.half_width else TYPED_SPEED_SD


def _road(sound: Sound, engine: EngineSpeed, ln_turns: FloatArray) -> tuple[Clocks | None, FloatArray]:
    """Road speed at the frames: from the track once its clock is found, or as it was typed."""
    nowhere = np.full(engine.time_s.size, np.nan)
    if sound.track is None or not engine.time_s.size:
        return None, nowhere if sound.speed_mps is None else np.full(engine.time_s.size, sound.speed_mps.value)
    track = reduce_track(sound.track)
    road_s, speed = track.time_s, track.speed_mps
    origin = sound.started_s if sound.started_s is not None else float(road_s[0])
    reach = (-SEARCH_S, SEARCH_S) if sound.started_s is not None else (-engine.time_s[-1], float(np.ptp(road_s)))
    ln_rps = np.log(engine.speed_rps)
    clocks = bring_together(engine.time_s, ln_rps, road_s - origin, speed, ln_turns, reach)
    if clocks is None or not clocks.sure:
        return clocks, nowhere
    at = engine.time_s + clocks.offset_s
    there = (at >= road_s[0] - origin) & (at <= road_s[-1] - origin)
    found = np.interp(at, road_s - origin, speed)
    return clocks, np.where(there & (found > SLOWEST_MPS), found, np.nan)


def steady(study: SoundStudy) -> tuple[SteadyStretch, ...]:
    """Stretches of `STEADY_S` and more within 1.2 % either way of their median."""
    engine, hop = study.engine, study.engine.hop_s
    ln = np.log(engine.speed_rps)
    need = max(round(STEADY_S / hop), 3)
    out: list[SteadyStretch] = []
    start = 0
    while start + need <= ln.size:
        first = ln[start : start + need]
        if not np.isfinite(first).all() or np.ptp(first) > 1.6 * STEADY_WITHIN:
            start += 1
            continue
        stop = start + need
        level = float(np.median(first))
        while stop < ln.size and abs(ln[stop] - level) < STEADY_WITHIN:
            stop += 1
            if stop % need == 0:
                level = float(np.median(ln[start:stop]))
        out.append(_stretch(study, len(out) + 1, start, stop))
        start = stop
    return tuple(out)


def _stretch(study: SoundStudy, number: int, start: int, stop: int) -> SteadyStretch:
    engine = study.engine
    rps = engine.speed_rps[start:stop]
    middle, spread = float(np.median(rps)), float(np.std(rps, ddof=1))
    seconds = (stop - start) * engine.hop_s
    looks = max(seconds / engine.window_s, 1.0)
    own = math.sqrt(float(np.mean(engine.sd_rps[start:stop] ** 2)) + 1.6 * spread**2) / math.sqrt(looks)
    sd = math.hypot(own, CLOCK_SD * middle)
    per_turn = study.orders.cylinders / study.orders.turns_per_cycle
    speed, ratio, gear = study.gears.over(start, stop, middle, sd / middle)
    return SteadyStretch(
        number=number,
        start_s=round(float(engine.time_s[start]) - engine.hop_s / 2, 2),
        end_s=round(float(engine.time_s[stop - 1]) + engine.hop_s / 2, 2),
        engine_speed=from_normal(60 * middle, 60 * sd, "rpm"),
        spread=exact(60 * spread, "rpm"),
        firing_frequency=from_normal(per_turn * middle, per_turn * sd, "Hz"),
        speed=speed,
        overall_ratio=ratio,
        gear=gear,
    )


def trace_of(study: SoundStudy) -> SpeedTrace:
    """Engine speed against time as it is printed and exported."""
    engine = study.engine
    rpm, reach = 60 * engine.speed_rps, 1.959964 * 60 * engine.sd_rps
    return SpeedTrace(
        time_s=tuple(np.round(engine.time_s, 3).tolist()),
        engine_speed_rpm=_known(rpm),
        low_rpm=_known(rpm - reach),
        high_rpm=_known(rpm + reach),
        confidence=tuple(np.round(engine.confidence, 3).tolist()),
        speed_kmh=_known(3.6 * study.speed_mps, 2) if np.isfinite(study.speed_mps).any() else (),
    )


def _known(values: FloatArray, places: int = 1) -> tuple[float | None, ...]:
    return tuple(None if not math.isfinite(value) else round(value, places) for value in values.tolist())


def silences(study: SoundStudy) -> tuple[Silence, ...]:
    """Stretches of half a second and more in which engine speed is not known, and why."""
    engine = study.engine
    unknown = ~engine.known
    edges = np.flatnonzero(np.diff(np.concatenate([[0], unknown.astype(np.int8), [0]])))
    usual = float(np.median(engine.level)) if engine.level.size else 0.0
    out = []
    for start, stop in zip(edges[::2], edges[1::2], strict=True):
        if (stop - start) * engine.hop_s < 0.5:
            continue
        level = float(np.median(engine.level[start:stop]))
        if level < 1e-9:
            why = "no sound at all"
        elif level < 0.02 * usual:
            why = "much quieter than the rest"
        elif float(np.median(engine.local[start:stop])) > 0.9:
            why = "two engine speeds would fit, such as one and its half"
        else:
            why = "no engine stands out from the noise"
        begin, end = engine.time_s[start] - engine.hop_s / 2, engine.time_s[stop - 1] + engine.hop_s / 2
        out.append(Silence(start_s=round(float(begin), 2), end_s=round(float(end), 2), why=why))
    return tuple(out)


def extremes(study: SoundStudy) -> tuple[Figure | None, Figure | None, Figure | None]:
    """Median, lowest and highest engine speed known, rpm."""
    known = np.flatnonzero(study.engine.known)
    if not known.size:
        return None, None, None
    rps, sd = study.engine.speed_rps[known], study.engine.sd_rps[known]
    order = np.argsort(rps)

    def at(place: int) -> Figure:
        i = order[place]
        return from_normal(60 * float(rps[i]), 60 * float(sd[i]), "rpm")

    edge = min(2, known.size - 1)
    return at(known.size // 2), at(edge), at(known.size - 1 - edge)
