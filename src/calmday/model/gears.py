"""Which gear was engaged: the likely one under the declared gearing, for an early and a late habit of changing up."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.vehicle_model import VehicleModel
from calmday.physics.engine import power_w

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

EARLY_SPEED_SHARE = 0.26
LATE_SPEED_SHARE = 0.46
"""Lowest engine speed the driver keeps after a change up, as a share of governed speed, for the two habits. Assumed."""

HOLD_S = 5.0
"""A gear held for less than this is a flicker of the trace, not a change. Assumed."""


class GearTrace(msgspec.Struct, frozen=True):
    """Gear index (0 first; -1 clutch open or standing) and engine speed per sample, shape (n,)."""

    gear: IntArray
    engine_rps: FloatArray


def full_load_power_w(model: VehicleModel, engine_rps: FloatArray) -> FloatArray:
    """Power available at the flywheel; from the declared curve, or a flat class mean pressure where none is declared.

    Beyond the declared curve's ends torque is held; whether the engine may turn so fast is asked elsewhere.
    """
    curve = model.full_load
    if curve is None:
        torque = model.engine_class.best_mep_pa * model.displacement_m3 / (model.strokes * np.pi)
        flat = np.full_like(engine_rps, torque)
    else:
        flat = np.interp(engine_rps, curve.speed_rps, curve.torque_nm)
    return power_w(flat, engine_rps)


def without_flicker(gear: IntArray, step_s: FloatArray) -> IntArray:
    """Remove gears held for less than HOLD_S by keeping the one before. `step_s` (n,) the time each sample stands
    for."""
    changes = np.flatnonzero(np.diff(gear)) + 1
    starts = np.concatenate([[0], changes])
    lengths = np.diff(np.concatenate([starts, [gear.size]]))
    keep = np.add.reduceat(step_s, starts) >= HOLD_S - 1e-6
    keep[0] = True
    last_kept = np.maximum.accumulate(np.where(keep, np.arange(starts.size), 0))
    return np.asarray(np.repeat(gear[starts[last_kept]], lengths))


def likely_gears(
    model: VehicleModel, speed_mps: FloatArray, step_s: FloatArray, shaft_power_w: FloatArray, speed_share: float
) -> GearTrace:
    """The tallest gear that keeps the engine above `speed_share` of governed speed and can deliver the power asked.

    Falls back to the next lower gear where the full-load curve leaves less than 5 % in hand; the shortest gear that
    does not over-speed the engine where none fits. Sample i stands for `step_s[i]` seconds.
    """
    turns = np.array(model.gearing.turns_per_metre)
    engine = speed_mps[None, :] * turns[:, None]
    available = full_load_power_w(model, engine)
    floor = max(speed_share * model.governed_rps, 1.25 * model.idle_rps)
    allowed = engine <= 1.02 * model.governed_rps
    pulls = (available >= 1.05 * shaft_power_w) & (engine >= floor) & allowed
    strongest = np.where(allowed, available, -1.0)
    index = np.arange(turns.size)[:, None]
    tallest = np.where(pulls, index, -1).max(axis=0)
    gear = np.where(tallest >= 0, tallest, np.argmax(strongest, axis=0))
    too_slow = engine[0] < floor
    gear = np.where(too_slow & (tallest < 0), 0, gear)
    gear = without_flicker(gear, step_s)
    rps = np.take_along_axis(engine, gear[None, :], axis=0)[0]
    slipping = rps < model.idle_rps
    return GearTrace(np.where(speed_mps < 0.5, -1, gear), np.where(slipping, model.idle_rps, rps))
