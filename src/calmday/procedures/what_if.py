"""What a change would do to fuel, speed and engine speed in steady driving, read off draws that share the vehicle.

Fuel at a steady speed is that of the forward model on its Willans line (`gears_forces.fuel_power_w`); a wind from all
around adds the mean drag of a road that turns through every direction (`physics.drag.wind_around_n`), which is exact as
long as the engine pulls on every heading. The gear is the tallest that surely pulls.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact, from_draws
from calmday.physics.drag import wind_around_n
from calmday.procedures.gears import KMH, RPM, SURE
from calmday.procedures.gears_forces import Conditions, conditions, engine_grid, fuel_power_w, load_at, sweep
from calmday.procedures.gears_holding import held_speed, in_hand
from calmday.procedures.what_if_draws import Drawn, as_it_would_be, thinned_drawn
from calmday.procedures.what_if_result import Considered, Difference, OverSpeed, SteadyState
from calmday.records.what_if import Circumstances, ImaginedChange

FloatArray = NDArray[np.float64]

USUAL_SPEED_MPS: Final = 80 / 3.6
LITRES_PER_100KM: Final = 1e8


class Steady(msgspec.Struct, frozen=True, kw_only=True):
    """One side of the question as draws (m,): fuel in m3 per metre in still air and in the wind asked for, the fastest
    any gear holds (m/s), engine speed (1/s), load and reserve (N) in the gear held; `gear` 0 first, None: no gear holds
    the speed, and what needs one is not a number."""

    gear: int | None
    speed_mps: float
    calm_m3pm: FloatArray
    windy_m3pm: FloatArray
    fuel_kgpm: FloatArray
    engine_rps: FloatArray
    load: FloatArray
    reserve_n: FloatArray
    sustained_mps: FloatArray


def meets(here: Circumstances, *, wind: bool = True) -> Conditions:
    """The conditions of the gears' forces: into the head wind, or in still air."""
    return conditions(
        head_wind_mps=here.head_wind_mps if wind else 0.0,
        grade=here.grade,
        payload_kg=here.payload_kg,
        temperature_k=here.temperature_k,
        pressure_pa=here.pressure_pa,
        altitude_m=here.altitude_m,
    )


def tallest_gear(drawn: Drawn, on: Conditions, speed_mps: float) -> int | None:
    """The tallest gear that surely holds a speed without labouring; else the one likeliest to; None below one half."""
    vehicle = drawn.vehicle
    likely: tuple[float, int] | None = None
    for gear in reversed(vehicle.gears):
        found = in_hand(vehicle, on, gear, speed_mps)
        smooth = float(found.engine_rps.mean()) >= 0.97 * float(vehicle.smooth_rps.mean())
        share = float(np.mean(found.possible & (found.reserve_n >= 0)))
        if share >= SURE and smooth:
            return gear
        if likely is None or share > likely[0]:
            likely = (share, gear)
    return likely[1] if likely is not None and likely[0] >= 0.5 else None


def fuel_m3pm(drawn: Drawn, here: Circumstances, gear: int, *, wind: bool = True) -> FloatArray:
    """Fuel in m3 per metre at steady speed in a gear, (m,), at 15 degC."""
    speed = here.speed_mps or USUAL_SPEED_MPS
    vehicle, on = drawn.vehicle, meets(here, wind=wind)
    at = np.full((drawn.count, 1), speed)
    engine = at * vehicle.turns_per_metre(gear)[:, None]
    around = here.wind_around_mps if wind else 0.0
    p = vehicle.values
    extra = wind_around_n(on.air_density_kgpm3, p["drag_area"][:, None], p["yaw_growth"][:, None], at, around)
    return np.asarray(fuel_power_w(vehicle, on, at, engine, extra)[:, 0] / drawn.energy_jpm3 / speed)


def sustained_mps(drawn: Drawn, here: Circumstances) -> FloatArray:
    """The fastest any gear holds straight into all the wind asked for, per draw."""
    on = into_the_wind(here)
    grid = engine_grid(drawn.vehicle)
    held = [held_speed(drawn.vehicle, on, sweep(drawn.vehicle, on, gear, grid)) for gear in drawn.vehicle.gears]
    return np.asarray(np.max([np.nan_to_num(one.speed_mps) for one in held], axis=0))


def into_the_wind(here: Circumstances) -> Conditions:
    """The worst heading: the wind from all around comes from ahead."""
    return msgspec.structs.replace(meets(here), head_wind_mps=here.head_wind_mps + here.wind_around_mps)


def steady(drawn: Drawn, here: Circumstances, *, sustained: bool = True) -> Steady:
    """One side of the question. `sustained` whether the fastest speed is wanted too, which takes most of the time."""
    speed = here.speed_mps or USUAL_SPEED_MPS
    worst = into_the_wind(here)
    gear = tallest_gear(drawn, worst, speed)
    nothing = np.full(drawn.count, np.nan)
    top = sustained_mps(drawn, here) if sustained else nothing
    if gear is None:
        return Steady(
            gear=None,
            speed_mps=speed,
            sustained_mps=top,
            **dict.fromkeys(("calm_m3pm", "windy_m3pm", "fuel_kgpm", "engine_rps", "load", "reserve_n"), nothing),
        )
    found = in_hand(drawn.vehicle, worst, gear, speed)
    at = np.full((drawn.count, 1), speed)
    windy = fuel_m3pm(drawn, here, gear)
    return Steady(
        gear=gear,
        speed_mps=speed,
        calm_m3pm=fuel_m3pm(drawn, here, gear, wind=False),
        windy_m3pm=windy,
        fuel_kgpm=windy * drawn.density_kgpm3,
        engine_rps=found.engine_rps,
        load=load_at(drawn.vehicle, worst, at, found.engine_rps[:, None])[:, 0],
        reserve_n=found.reserve_n,
        sustained_mps=top,
    )


def shown(side: Steady) -> SteadyState:
    """One side as figures."""
    return SteadyState(
        speed=exact(KMH * side.speed_mps, "km/h"),
        gear=None if side.gear is None else side.gear + 1,
        engine_speed=_figure(RPM * side.engine_rps, "rpm"),
        calm=_figure(LITRES_PER_100KM * side.calm_m3pm, "L/100km"),
        windy=_figure(LITRES_PER_100KM * side.windy_m3pm, "L/100km"),
        fuel_mass=_figure(1e6 * side.fuel_kgpm, "g/km"),
        load=_figure(side.load, "1"),
        reserve=_figure(side.reserve_n, "N"),
        sustained_speed=_figure(KMH * side.sustained_mps, "km/h"),
    )


def difference(before: Steady, after: Steady) -> Difference:
    """After less before, draw by draw."""
    windy = after.windy_m3pm / before.windy_m3pm - 1
    known = bool(np.isfinite(windy).all())
    return Difference(
        calm_percent=_figure(100 * (after.calm_m3pm / before.calm_m3pm - 1), "%"),
        windy_percent=_figure(100 * windy, "%"),
        litres=_figure(LITRES_PER_100KM * (after.calm_m3pm - before.calm_m3pm), "L/100km"),
        sustained_speed=_figure(KMH * (after.sustained_mps - before.sustained_mps), "km/h"),
        engine_speed=_figure(RPM * (after.engine_rps - before.engine_rps), "rpm"),
        probability_less_fuel=float(np.mean(windy < 0)) if known else None,
    )


def consider(now: Drawn, before: Steady, change: ImaginedChange, seed: int) -> tuple[Drawn, Steady, Considered]:
    """A change against the vehicle as it is."""
    then = as_it_would_be(now, change, seed)
    after = steady(then, change.circumstances)
    found = Considered(what=change.what, settings=change.told, after=shown(after), difference=difference(before, after))
    return then, after, found


def interaction_percent(before: Steady, alone: Sequence[Steady], together: Steady) -> Figure | None:
    """What all changes at once do beyond the same changes one by one, multiplied: per cent of fuel before."""
    expected = np.prod([one.windy_m3pm / before.windy_m3pm for one in alone], axis=0)
    return _figure(100 * (together.windy_m3pm / before.windy_m3pm - expected), "%")


SPEEDS_MPS: Final = np.arange(40.0, 131.0, 10.0) / KMH
CURVE_DRAWS: Final = 200


def over_speed(drawn: Drawn, here: Circumstances, what: str) -> OverSpeed:
    """Fuel over steady speed, up to the fastest that some gear surely holds."""
    few = thinned_drawn(drawn, CURVE_DRAWS)
    found: list[tuple[float, float, float, float]] = []
    for speed in SPEEDS_MPS.tolist():
        at = msgspec.structs.replace(here, speed_mps=speed)
        gear = tallest_gear(few, into_the_wind(at), speed)
        if gear is not None:
            used = from_draws(LITRES_PER_100KM * fuel_m3pm(few, at, gear), "L/100km")
            found.append((round(KMH * speed, 6), used.value, used.low, used.high))
    speeds, mean, low, high = zip(*found, strict=True) if found else ((), (), (), ())
    return OverSpeed(what=what, speed=speeds, mean=mean, low=low, high=high)


def _figure(draws: FloatArray, unit: str) -> Figure | None:
    """The figure, None where it cannot be known."""
    return from_draws(draws, unit) if np.isfinite(draws).all() else None
