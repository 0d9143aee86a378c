"""Engine speed and load along a recorded drive, and where the drive was held back, and by what.

Without a rev counter the gear is not known. It is taken as the tallest that could have done what was recorded, the
engine not below its lowest smooth speed: with a load, mean over the draws, of at most `POSSIBLE` at steady or falling
speed, and of `WORKED` while gaining speed, where a driver changes down sooner. At full load is a sample whose load is
`FULL` or more; held back is a stretch at full load that gains no speed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.metrology.figure import COVERAGE, from_draws
from calmday.model.basis import AS_DRIVEN, CHURNING_SPEED_MPS, Coefficients, coefficients, driveline_drag_n
from calmday.model.drive import Drive
from calmday.model.gears import without_flicker
from calmday.physics.engine import power_w
from calmday.procedures.gears import KMH, RPM, thinned
from calmday.procedures.gears_forces import Conditions, engine_grid, sweep
from calmday.procedures.gears_holding import held_speed
from calmday.procedures.gears_result import AlongRun, HeldBack
from calmday.procedures.gears_vehicle import GearVehicle, prior_of
from calmday.procedures.simulated_run import SimulatedRun
from calmday.procedures.weighed_run import WeighedRun

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]

DRAWS: Final = 120
POSSIBLE: Final = 1.03
WORKED: Final = 0.85
GAINING_MPS2: Final = 0.12
FULL: Final = 0.95
SHORTEST_S: Final = 8.0
"""A stretch at full load shorter than this is an ordinary burst, not being held back."""

_STANDSTILL_MPS: Final = 0.5
_CHUNK: Final = 3000
_WORTH_NAMING: Final = 0.15
_AIR: Final = slice(6, None)
_TAILS: Final = ((1 - COVERAGE) / 2, (1 + COVERAGE) / 2)


class _Work(msgspec.Struct, frozen=True):
    """What a pass over the drive needs: the vehicle of the run with few draws, its drive and its coefficients."""

    vehicle: GearVehicle
    drive: Drive
    simulated: SimulatedRun
    c: Coefficients


class _Forces(msgspec.Struct, frozen=True):
    """Means over a stretch, per draw (m,), newton; `head_wind_mps` the wind that explains the drag."""

    wind: FloatArray
    hill: FloatArray
    gear: FloatArray
    thrust: FloatArray
    head_wind_mps: FloatArray


def along_run(weighed: WeighedRun, seed: int, smooth_rps: float | None = None) -> AlongRun | None:
    """Engine speed, load and held-back stretches of a weighed run; None where it could not be simulated."""
    simulated, drive = weighed.simulated, weighed.path.drive
    if simulated is None or drive is None:
        return None
    whole = prior_of(weighed.run.vehicle, 0, seed, smooth_rps=smooth_rps, known=(simulated.model, simulated.values))
    vehicle = thinned(msgspec.structs.replace(whole, model=simulated.model, values=simulated.values), DRAWS)
    c = coefficients(simulated.model, simulated.basis, vehicle.values, AS_DRIVEN)
    work = _Work(vehicle, drive, simulated, c)
    gear = likely_gear(work)
    load = np.concatenate([_load_in(work, gear, part) for part in _parts(drive)], axis=1)
    full = (load >= FULL) & (gear >= 0)
    seconds = full @ drive.step_s
    mean = load.mean(axis=0)
    low, high = np.quantile(load, _TAILS, axis=0)
    turns = np.array([float(np.mean(vehicle.turns_per_metre(g))) for g in vehicle.gears])
    engine = np.where(gear >= 0, turns[gear] * drive.speed_mps, vehicle.model.idle_rps)
    start = 0.0
    if weighed.path.track is not None and weighed.path.samples.size:
        start = float(weighed.path.track.time_s[weighed.path.samples[0]])
    clock = start + drive.elapsed_s - drive.elapsed_s[0]
    return AlongRun(
        label=weighed.run.label,
        time_at_full_load=from_draws(seconds, "s"),
        share_at_full_load=from_draws(100 * seconds / max(float(np.sum(drive.step_s)), 1.0), "%"),
        held_back=tuple(_held_back(work, gear, span, clock) for span in _stretches(drive, gear, full)),
        time_s=_listed(clock, 1),
        speed_kmh=_listed(KMH * drive.speed_mps, 1),
        gear=tuple(int(g) + 1 for g in gear),
        engine_speed_rpm=_listed(RPM * engine, 0),
        load=_listed(mean, 3),
        load_low=_listed(np.minimum(low, mean), 3),
        load_high=_listed(np.maximum(high, mean), 3),
    )


def _listed(values: FloatArray, places: int) -> tuple[float, ...]:
    return tuple(np.round(values, places).tolist())


def _parts(drive: Drive) -> Iterator[slice]:
    for start in range(0, len(drive), _CHUNK):
        yield slice(start, min(start + _CHUNK, len(drive)))


def _needed_w(work: _Work, part: slice) -> FloatArray:
    """Flywheel power that the recorded motion took, accessories and churning included, (m, part)."""
    p = work.vehicle.values
    wheel = work.c.wheel @ work.simulated.basis.wheel[:, part]
    eta = work.c.efficiency[:, None]
    speed = work.drive.speed_mps[part]
    oil = driveline_drag_n(work.simulated.basis, p, AS_DRIVEN)[:, None]
    churning = oil * speed * (1 + speed / CHURNING_SPEED_MPS)
    return np.asarray(np.maximum(wheel / eta, wheel * eta) + churning + p["accessory_power"][:, None])


def _available_w(work: _Work, gear: int | IntArray, part: slice) -> FloatArray:
    """Full-load power in a gear (one, or one per sample) in the air of the drive, (m, part)."""
    vehicle = work.vehicle
    ratios = np.array(vehicle.model.gearing.turns_per_metre)
    turns = ratios[gear] * vehicle.values["gearing_scale"][:, None]
    engine = turns * work.drive.speed_mps[part]
    air = (work.drive.air_density_kgpm3[part] / vehicle.chart_air_kgpm3[:, None]) ** vehicle.thinning[:, None]
    full = power_w(vehicle.drawn_torque_nm(engine), engine) * vehicle.values["full_load_scale"][:, None] * air
    return np.asarray(np.maximum(full, 1.0))


def likely_gear(work: _Work) -> IntArray:
    """Gear index per sample (0 first, -1 standing), shape (n,)."""
    vehicle, drive = work.vehicle, work.drive
    floor = 0.95 * float(np.mean(vehicle.smooth_rps))
    gear = np.zeros(len(drive), dtype=np.int64)
    for part in _parts(drive):
        needed = _needed_w(work, part)
        best = np.full(needed.shape[1], -1.0)
        most = np.where(drive.acceleration_mps2[part] > GAINING_MPS2, WORKED, POSSIBLE)
        for index in vehicle.gears:
            engine = vehicle.model.gearing.turns_per_metre[index] * drive.speed_mps[part]
            available = _available_w(work, index, part)
            allowed = (engine <= 1.02 * vehicle.governed_rps) & (engine >= floor)
            load = np.mean(needed / available, axis=0)
            strength = available.mean(axis=0)
            # a taller gear is taken when it could have done it, or when it is at least the strongest there is
            better = allowed & ((load <= most) | (strength > best))
            gear[part] = np.where(better, index, gear[part])
            best = np.where(allowed, np.maximum(best, strength), best)
    steady = without_flicker(gear, drive.step_s)
    racing = np.array(vehicle.model.gearing.turns_per_metre)[steady] * drive.speed_mps > 1.02 * vehicle.governed_rps
    return np.where(drive.speed_mps < _STANDSTILL_MPS, -1, np.where(racing, gear, steady))


def _load_in(work: _Work, gear: IntArray, part: slice) -> FloatArray:
    load = _needed_w(work, part) / _available_w(work, np.maximum(gear[part], 0), part)
    return np.asarray(np.where(gear[part] < 0, 0.0, np.maximum(load, 0.0)))


def _stretches(drive: Drive, gear: IntArray, full: BoolArray) -> list[slice]:
    """Stretches in one gear, long enough, at full load for at least half of the draws and gaining no speed."""
    usual = (full.mean(axis=0) >= 0.5) & (drive.acceleration_mps2 <= GAINING_MPS2)
    key = np.where(usual, gear, -2)
    edges = np.flatnonzero(np.diff(key)) + 1
    bounds = np.concatenate([[0], edges, [key.size]])
    spans = [slice(int(a), int(b)) for a, b in pairwise(bounds)]
    return [s for s in spans if usual[s.start] and float(np.sum(drive.step_s[s])) >= SHORTEST_S]


def _forces(work: _Work, gear: int, span: slice) -> _Forces:
    p, drive, c = work.vehicle.values, work.drive, work.c
    speed = np.maximum(drive.speed_mps[span], 1.0)
    density = drive.air_density_kgpm3[span] * p["air_density"][:, None]
    half = 0.5 * density * p["drag_area"][:, None]
    air = c.wheel[:, _AIR] @ work.simulated.basis.wheel[_AIR, span] / speed
    grade = drive.grade[span]
    slope = float(np.mean(grade / np.sqrt(1 + grade**2)))
    powers = np.array([_available_w(work, g, span) for g in work.vehicle.gears])
    allowed = np.array(work.vehicle.model.gearing.turns_per_metre)[:, None] * speed <= work.vehicle.governed_rps
    best = np.max(np.where(allowed[:, None, :], powers, 0.0), axis=0)
    lost = np.maximum(best - powers[gear], 0.0)
    eta = c.efficiency[:, None]
    head = np.sqrt(np.maximum(air, 0.0) / half) - speed
    return _Forces(
        wind=(air - half * speed**2).mean(axis=1),
        hill=p["test_mass"] * STANDARD_GRAVITY_MPS2 * slope,
        gear=(eta * lost / speed).mean(axis=1),
        thrust=(eta * powers[gear] / speed).mean(axis=1),
        head_wind_mps=head.mean(axis=1),
    )


def _held_back(work: _Work, gear: IntArray, span: slice, clock: FloatArray) -> HeldBack:
    drive, here = work.drive, int(gear[span.start])
    found = _forces(work, here, span)
    named: dict[str, float] = {
        "wind": float(found.wind.mean()),
        "hill": float(found.hill.mean()),
        "gear": float(found.gear.mean()),
    }
    largest = max(named, key=lambda name: named[name])
    worth = named[largest] > _WORTH_NAMING * float(found.thrust.mean())
    lower: tuple[int, FloatArray] | None = None
    if here > 0:
        on = Conditions(
            head_wind_mps=float(found.head_wind_mps.mean()),
            grade=float(np.mean(drive.grade[span])),
            air_density_kgpm3=float(np.mean(drive.air_density_kgpm3[span])),
            temperature_k=float(np.mean(drive.temperature_k[span])),
            pressure_pa=float(np.mean(drive.pressure_pa[span])),
        )
        held = held_speed(work.vehicle, on, sweep(work.vehicle, on, here - 1, engine_grid(work.vehicle)))
        lower = (here, held.speed_mps[np.isfinite(held.speed_mps)])
    speed = drive.speed_mps[span]
    spread = float(speed.std()) / math.sqrt(max(speed.size, 1))
    return HeldBack(
        start_s=float(clock[span.start]),
        end_s=float(clock[span.stop - 1] + drive.step_s[span.stop - 1]),
        gear=here + 1,
        speed=from_draws(KMH * np.array([speed.mean() - spread, speed.mean(), speed.mean() + spread]), "km/h"),
        wind=from_draws(found.wind, "N"),
        hill=from_draws(found.hill, "N"),
        gear_loss=from_draws(found.gear, "N"),
        cause=_cause(largest) if worth else "engine",
        lower_gear=lower[0] if lower else None,
        lower_gear_speed=from_draws(KMH * lower[1], "km/h")
        if lower and lower[1].size * 2 >= work.vehicle.draws
        else None,
    )


def _cause(name: str) -> Literal["wind", "hill", "gear"]:
    match name:
        case "wind" | "hill":
            return name
        case _:
            return "gear"
