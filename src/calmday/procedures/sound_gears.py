"""Which gears a recording was driven in, what their ratios are by ear, and what would explain a difference."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact, from_normal
from calmday.procedures.sound_result import Candidate, GearHeard, Slip
from calmday.procedures.sound_road import HELD_S, Held, slips, stretches_held
from calmday.records.vehicle import Vehicle
from calmday.reduction.engine_speed import EngineSpeed

FloatArray = NDArray[np.float64]

SUSPICIOUS: Final = 0.02
"""From this difference on, ratio or tyre is not what the build sheet says."""
_WEAR_M: Final = 0.006
"""Tread that wears off a car tyre. Common practice, no source."""


class GearsOfSound(msgspec.Struct, frozen=True, kw_only=True):
    """Engine against road: frames of ln(engine turns per metre), the stretches held, and what doubt goes with them."""

    ln_q: FloatArray
    held: tuple[Held, ...]
    turns_per_metre: FloatArray
    circumference_m: float
    circumference_sd: float
    speed_sd: float
    speed_mps: FloatArray
    slipped: tuple[tuple[int, int, int, float], ...]
    engine: EngineSpeed

    def over(
        self, start: int, stop: int, rps: float, relative_sd: float
    ) -> tuple[Figure | None, Figure | None, int | None]:
        """Road speed, overall ratio and gear over a stretch, None where road speed is not known."""
        speed = self.speed_mps[start:stop]
        if not np.isfinite(speed).mean() > 0.8:
            return None, None, None
        mean = float(np.nanmean(speed))
        ratio = rps / mean * self.circumference_m
        sd = math.hypot(relative_sd, self.speed_sd, self.circumference_sd)
        inside = [h.gear for h in self.held if h.start < stop and h.stop > start and h.gear >= 0]
        gear = max(set(inside), key=inside.count) + 1 if inside else None
        return from_normal(3.6 * mean, 3.6 * mean * self.speed_sd, "km/h"), from_normal(ratio, ratio * sd, "1"), gear


def gears_of_sound(
    engine: EngineSpeed,
    speed_mps: FloatArray,
    turns: FloatArray,
    circumference_m: float,
    circumference_sd: float,
    speed_sd: float,
    typed_gear: int | None,
) -> GearsOfSound:
    """Hold engine speed against road speed."""
    ln_rps, ln_speed = np.log(engine.speed_rps), np.log(speed_mps)
    ln_q = ln_rps - ln_speed
    held = stretches_held(ln_q, engine.hop_s, np.log(turns))
    if typed_gear is not None and turns.size:
        held = tuple(Held(h.start, h.stop, h.ln_q, typed_gear - 1) for h in held)
    return GearsOfSound(
        ln_q=ln_q, held=held, turns_per_metre=turns, circumference_m=circumference_m,
        circumference_sd=circumference_sd, speed_sd=speed_sd, speed_mps=speed_mps,
        slipped=slips(ln_q, ln_rps, ln_speed, held, engine.hop_s), engine=engine,
    )  # fmt: skip


def gears_heard(found: GearsOfSound) -> tuple[GearHeard, ...]:
    """Each gear held, with its ratio by ear beside that of the build sheet."""
    out = []
    for gear in sorted({h.gear for h in found.held}):
        mine = [h for h in found.held if h.gear == gear]
        if gear < 0 and found.turns_per_metre.size:
            continue
        frames = np.concatenate([found.ln_q[h.start : h.stop] for h in mine])
        seconds = frames.size * found.engine.hop_s
        ln_q = float(np.median(frames))
        own = 1.25 * float(np.std(frames)) / math.sqrt(max(seconds / HELD_S, 1.0))
        sd = math.hypot(own, found.speed_sd)
        turns = math.exp(ln_q)
        ratio = turns * found.circumference_m
        declared = float(found.turns_per_metre[gear]) if gear >= 0 else None
        off = None if declared is None else turns / declared - 1
        out.append(
            GearHeard(
                gear=gear + 1 if gear >= 0 else None,
                held=exact(seconds, "s"),
                turns_per_km=from_normal(1000 * turns, 1000 * turns * sd, "1/km"),
                overall_ratio=from_normal(ratio, ratio * math.hypot(sd, found.circumference_sd), "1"),
                declared_ratio=None if declared is None else declared * found.circumference_m,
                difference=None if off is None else from_normal(100 * off, 100 * sd, "%"),
            )
        )
    return tuple(out)


def difference_of(heard: tuple[GearHeard, ...]) -> Figure | None:
    """What all gears together are off by: the mean of the differences by the time each was held, percent."""
    known = [(g.difference, g.held.value) for g in heard if g.difference is not None]
    if not known:
        return None
    total = sum(held for _, held in known)
    mean = sum(d.value * held for d, held in known) / total
    sd = (
        max(d.standard_uncertainty for d, _ in known)
        if len(known) == 1
        else min(d.standard_uncertainty for d, _ in known)
    )
    return from_normal(mean, sd, "%")


def candidates(vehicle: Vehicle, heard: tuple[GearHeard, ...], circumference_m: float) -> tuple[Candidate, ...]:
    """What would explain a difference of more than 2 %: another axle ratio, tyre, gear, or a slipping clutch."""
    odd = [g for g in heard if g.difference is not None and abs(g.difference.value) > 100 * SUSPICIOUS]
    if not odd:
        return ()
    known = [g for g in heard if g.difference is not None]
    mean = sum(g.difference.value for g in known if g.difference) / len(known)
    alike = all(g.difference is not None and abs(g.difference.value - mean) < 1.5 for g in known)
    factor = 1 + mean / 100
    out = []
    if alike and vehicle.final_drive is not None:
        out.append(
            Candidate(
                what="axle ratio",
                declared=f"{vehicle.final_drive:.4g}",
                would_be=f"{vehicle.final_drive * factor:.3g}",
            )
        )
        out.append(
            Candidate(
                what="rolling circumference of the tyre",
                declared=f"{circumference_m:.3f} m",
                would_be=f"{circumference_m / factor:.3f} m",
            )
        )
        worn = 2 * math.pi * _WEAR_M / circumference_m
        if 0 < mean / 100 < 1.5 * worn:
            out.append(
                Candidate(
                    what="worn tread", declared="new", would_be=f"a worn tyre turns up to {100 * worn:.1f} % more"
                )
            )
    for g in odd if not alike or len(known) == 1 else ():
        ratio = vehicle.gear_ratios[(g.gear or 1) - 1]
        assert g.difference is not None
        out.append(
            Candidate(
                what=f"ratio of gear {g.gear}",
                declared=f"{ratio:.4g}",
                would_be=f"{ratio * (1 + g.difference.value / 100):.3g}",
            )
        )
        for other, had in enumerate(vehicle.gear_ratios):
            if other + 1 != g.gear and abs(ratio * (1 + g.difference.value / 100) / had - 1) < SUSPICIOUS:
                out.append(
                    Candidate(what="the gear that was engaged", declared=f"gear {g.gear}", would_be=f"gear {other + 1}")
                )
    if all(g.difference is not None and g.difference.value > 0 for g in odd):
        out.append(
            Candidate(
                what="clutch or converter",
                declared="no slip",
                would_be=f"{max(g.difference.value for g in odd if g.difference):.1f} % slip",
            )
        )
    return tuple(out)


def slips_of(found: GearsOfSound) -> tuple[Slip, ...]:
    """Clutch slip as the result has it."""
    time, hop = found.engine.time_s, found.engine.hop_s
    return tuple(
        Slip(
            start_s=round(float(time[a]) - hop / 2, 2),
            end_s=round(float(time[b - 1]) + hop / 2, 2),
            gear=gear + 1 if gear >= 0 else None,
            excess=from_normal(100 * most, 100 * 0.5 * 0.012, "%"),
        )
        for a, b, gear, most in found.slipped
    )
