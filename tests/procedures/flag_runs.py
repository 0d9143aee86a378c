"""Makers of runs that lie where a flag is to fire, or just does not."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pytest
from run_factory import CURVE, NOON_S, VAN, changed, reading, reduced, round_track, run_of, without_track

from calmday.procedures.run_flags import flags_of_run
from calmday.procedures.run_flags_fuel import (
    implied_gpkwh,
    surprise_sd,
)
from calmday.procedures.weighed_run import WeighedRun
from calmday.procedures.weighed_run_result import Flag
from calmday.records.declared import Declared
from calmday.records.run import Published, Weighing
from calmday.records.vehicle import FullLoadCurve
from calmday.records.weather import Weather

Maker = Callable[[], WeighedRun]


@lru_cache(maxsize=1)
def tracked() -> WeighedRun:
    return reduced(run_of(1.19, track=round_track()))


@lru_cache(maxsize=1)
def plain() -> WeighedRun:
    return reduced(without_track(1.19))


def flags_by_code(weighed: WeighedRun) -> dict[str, Flag]:
    return {flag.code: flag for flag in flags_of_run(weighed)}


def with_run(**fields: object) -> WeighedRun:
    return changed(plain(), run=changed(plain().run, **fields))


def with_tracked_run(**fields: object) -> WeighedRun:
    return changed(tracked(), run=changed(tracked().run, **fields))


def with_weather(**fields: object) -> WeighedRun:
    base = plain()
    return changed(base, path=changed(base.path, weather=changed(base.path.weather, **fields)))


def with_track(**fields: object) -> WeighedRun:
    base = tracked()
    return changed(base, path=changed(base.path, track=changed(base.path.track, **fields)))


def at_the_ends(first_mps: float, last_mps: float) -> WeighedRun:
    speed = tracked().path.track.speed_mps.copy()
    speed[[0, -1]] = first_mps, last_mps
    return with_track(speed_mps=speed)


def every(seconds: float) -> WeighedRun:
    track = tracked().run.track
    return with_tracked_run(track=changed(track, time_s=NOON_S + seconds * np.arange(len(track))))


def lasting(whole_s: float, moving_s: float, said_s: float) -> WeighedRun:
    base = with_track(time_s=np.array([NOON_S, NOON_S + whole_s]), moving_time_s=moving_s)
    return changed(base, run=changed(base.run, moving_time_s=Declared(said_s)))


def at_distance(metres: float, start: str | None) -> WeighedRun:
    base = with_run(engine_start=start)
    return changed(base, path=changed(base.path, distance=changed(base.path.distance, metres=metres)))


def day_moved(percent: float, **fields: object) -> WeighedRun:
    """The drive takes so many per cent more than on the calm day, whatever the two figures say."""
    base = with_run(**fields)
    ratio = np.full_like(base.simulated.log_ratio, -math.log1p(percent / 100))
    return changed(base, simulated=changed(base.simulated, log_ratio=ratio))


def burnt(specific_gpkwh: float, surprise: float, ratio: float = 1.0) -> WeighedRun:
    """The plain run with shaft work and expectation such that the fuel is so many g/kWh, so many sd from expected, and
    so many times the amount expected."""
    base = plain()
    simulated, fuel = base.simulated, base.fuel
    spread = math.hypot(simulated.conditioned.expected_sd, fuel.mass_sd_kg / fuel.mass_kg)
    conditioned = changed(simulated.conditioned, expected=math.log(fuel.mass_kg) - surprise * spread)
    made = changed(
        base,
        simulated=changed(
            simulated,
            conditioned=conditioned,
            shaft_energy_j=fuel.mass_kg * 1000 / specific_gpkwh * 3.6e6,
            expected_fuel_kg=fuel.mass_kg / ratio,
        ),
    )
    assert implied_gpkwh(made) == pytest.approx(specific_gpkwh)
    assert surprise_sd(made) == pytest.approx(surprise)
    return made


def effective(draws: float) -> WeighedRun:
    base = plain()
    conditioned = changed(base.simulated.conditioned, effective_draws=draws)
    return changed(base, simulated=changed(base.simulated, conditioned=conditioned))


def turning(share: float) -> WeighedRun:
    """All samples at the speed at which top gear turns the engine at `share` of governed speed."""
    base = plain()
    model = base.simulated.model
    speed = share * model.governed_rps / min(model.gearing.turns_per_metre)
    drive = changed(base.path.drive, speed_mps=np.full(len(base.path.drive), speed))
    return changed(base, path=changed(base.path, drive=drive))


def readings(*gross: float, **fields: object) -> tuple[Weighing, ...]:
    given = {"tare_kg": 1.02} | fields
    return (
        Weighing(when="before", gross_kg=gross, **given),
        Weighing(when="after", gross_kg=(7.81,), **given),
    )


def two(before: float, after: float, tare_before: float = 1.02, tare_after: float = 1.02) -> tuple[Weighing, ...]:
    return (
        Weighing(when="before", gross_kg=(before,), tare_kg=tare_before),
        Weighing(when="after", gross_kg=(after,), tare_kg=tare_after),
    )


def fuel_at(**fields: object) -> WeighedRun:
    return changed(plain(), fuel=changed(plain().fuel, **fields))


def curve(factor: tuple[float, ...] | float) -> WeighedRun:
    """The build sheet's curve with powers off by a factor."""
    speeds, torques = np.array(CURVE.speed_rps), np.array(CURVE.torque_nm)
    powers = 2 * math.pi * speeds * torques * np.asarray(factor)
    sheet = FullLoadCurve(CURVE.speed_rps, CURVE.torque_nm, tuple(powers.tolist()))
    return with_run(vehicle=changed(VAN, engine=changed(VAN.engine, full_load=sheet)))


def published(ratio: float, unit: str = "mpg_imp") -> WeighedRun:
    ours = getattr(plain().as_driven, unit).value
    return with_run(published=Published(value=ours * ratio, unit=unit))


def reported(seconds_before_start: float, offset_s: float | None = 7200.0, **fields: object) -> WeighedRun:
    start = float(tracked().path.track.time_s[0])
    weather = Weather(readings=(changed(reading(), time_s=start - seconds_before_start),))
    return with_tracked_run(weather=weather, utc_offset_s=offset_s, **fields)


def read_at(height_m: float, pressure_pa: float) -> WeighedRun:
    base = with_track(height_m=np.full(2, height_m), has_height=True)
    weather = Weather(readings=(changed(reading(), qnh_pa=None, pressure_pa=pressure_pa),))
    return changed(base, run=changed(base.run, weather=weather))


def with_temperatures(*kelvin: float, hours: float = 0.5) -> WeighedRun:
    readings = tuple(reading(i * hours, temperature_k=each) for i, each in enumerate(kelvin))
    return with_run(weather=Weather(readings=readings))


def cut_in_speed(limit: float) -> tuple[Maker, Maker]:
    return (lambda: with_weather(wind_at_mast_mps=limit + 0.01)), (lambda: with_weather(wind_at_mast_mps=limit))


def odd_limit() -> float:
    return 0.02 * len(tracked().path.track.time_s)
