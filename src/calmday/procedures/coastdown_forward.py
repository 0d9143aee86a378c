"""The equation of motion of rolls in neutral, integrated for every draw and every pass at once.

  (m + m_r) dv/dt = - m g (C_rr R cos + sin) - D s (1 + v/v_D) - F_air(v, wind)
C_rr R and F_air as in the forward model (`model.basis`); D s what of the driveline's drag is left in neutral; m_r what
wheels and shafts add. Speed is never differentiated: the model's speed is held against the recorded one.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.model.basis import CHURNING_SPEED_MPS, PRESSURE_EXPONENT, ROLLING_SPEED_MPS, oil_drag_n
from calmday.model.parameters import (
    HALF_WIDTH_PER_SD,
    Parameter,
    ParameterSet,
    Values,
    log_parameter,
    normal_parameter,
)
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.drag import SIDE_SHARE, levelled_growth, wind_in_vehicle_axes, yaw_angle_rad
from calmday.physics.rolling import speed_factor, temperature_factor
from calmday.procedures.coastdown_samples import PassSamples
from calmday.records.coastdown import CoastdownDay
from calmday.reduction.vehicle_weather import VehicleWeather

FloatArray = NDArray[np.float64]

STEPS: Final = 60
ROTATING: Final = (0.035, 0.20)
"""What wheels and shafts add to the mass in neutral, as a share, and its logarithmic spread: 0.03 of SAE J2263 and UN
GTR 15, 0.04 of text books (Gillespie, ch. 2)."""
NEUTRAL_SHARE: Final = (0.5, 0.5)
"""What of the driveline's drag is left with the gearbox in neutral, and its logarithmic spread: axle and output shaft
still turn, the rest of the gearbox does not churn with the wheels. Assumed."""
TYRE_STATE_SD: Final = 0.03
"""Rolling resistance of warm tyres on one day over that on another: temperature and pressure are never quite the same.
Assumed."""
COASTING_STATE: Final = 1.03
"""Rolling resistance of tyres that coast, turn and come back over that of tyres kept warm at a steady 70 km/h.

Warmth goes with the power of rolling, and tyres follow in 10 to 20 min: a round at 55 km/h leaves the usual 20 to 30 K
some 5 K short, 4 % at 0.0083 per kelvin; less where the approach was fast. Assumed from that."""
UNKNOWN_GRADE_SD: Final = 0.006
DECLARED_GRADE_SD: Final = 0.002
SAME_ROAD_RAD: Final = math.radians(35.0)


class Rolls(msgspec.Struct, frozen=True, kw_only=True):
    """All passes on an even grid of STEPS + 1 points each, arrays (P, N+1) unless said otherwise.

    `head`, `cross` the transferred wind (m/s), NaN-free; `known` (P,) whether the heading is known; `way` (P,) +1 or -1
    along its road, `road` (P,) which road; `along_m` place on the road; `mass_ratio` (P,) of the day's mass.
    """

    step_s: FloatArray
    clock_s: FloatArray
    elapsed_s: FloatArray
    speed_mps: FloatArray
    heading_rad: FloatArray
    head: FloatArray
    cross: FloatArray
    wind_mps: FloatArray
    gust_along: FloatArray
    gust_across: FloatArray
    density: FloatArray
    temperature_k: FloatArray
    along_m: FloatArray
    placed: NDArray[np.bool_]
    known: NDArray[np.bool_]
    way: FloatArray
    road: NDArray[np.int64]
    mass_ratio: FloatArray
    start_mps: FloatArray

    @property
    def count(self) -> int:
        return int(self.step_s.size)


def rolls_of(
    passes: list[PassSamples], air: VehicleWeather, first: list[int], mass_ratio: FloatArray, warm_up_s: float | None
) -> Rolls:
    """The grid of every pass. `first` where each pass begins in the weather's samples."""
    road, way, along = _roads(passes)
    grids: dict[str, list[FloatArray]] = {}
    starts = []
    begin = float(min(one.clock_s[0] for one in passes))
    for number, one in enumerate(passes):
        t = np.linspace(0.0, float(one.time_s[-1]), STEPS + 1)
        part = slice(first[number], first[number] + one.time_s.size)

        def on(values: FloatArray, t: FloatArray = t, one: PassSamples = one) -> FloatArray:
            return np.interp(t, one.time_s, values)

        heading = on(np.unwrap(one.heading_rad)) if one.heading_known else np.zeros(t.size)
        east, north = on(air.wind_east_mps[part]), on(air.wind_north_mps[part])
        head, cross = wind_in_vehicle_axes(east, north, heading)
        wind = np.hypot(east, north)
        if not one.heading_known:
            head, cross = np.zeros(t.size), wind / math.sqrt(2)
        early = one.time_s <= max(4.0, float(one.time_s[min(4, one.time_s.size - 1)]))
        line = np.polyfit(one.time_s[early], one.speed_mps[early], 1)
        starts.append(float(np.polyval(line, 0.0)))
        warm = 1e6 if warm_up_s is None else warm_up_s + float(one.clock_s[0]) - begin
        for key, values in (
            ("clock_s", float(one.clock_s[0]) + t), ("elapsed_s", warm + t), ("speed_mps", on(one.speed_mps)),
            ("heading_rad", heading), ("head", head), ("cross", cross), ("wind_mps", wind),
            ("gust_along", on(air.turbulence_along_mps2[part])), ("gust_across", on(air.turbulence_across_mps2[part])),
            ("density", on(air.air_density_kgpm3[part])), ("temperature_k", on(air.temperature_k[part])),
            ("along_m", _along(one, t, along[number])),
        ):  # fmt: skip
            grids.setdefault(key, []).append(values)
    return Rolls(
        step_s=np.array([one.duration_s / STEPS for one in passes]),
        **{key: np.stack(rows) for key, rows in grids.items()},
        placed=np.array([values is not None for values in along]),
        known=np.array([one.heading_known for one in passes]),
        way=way, road=road, mass_ratio=mass_ratio, start_mps=np.array(starts),
    )  # fmt: skip


def _along(one: PassSamples, t: FloatArray, along: FloatArray | None) -> FloatArray:
    """Place on the road, or the way rolled where there are no positions."""
    if along is not None:
        return np.interp(t, one.time_s, along)
    speed = np.interp(t, one.time_s, one.speed_mps)
    return np.concatenate([[0.0], np.cumsum(np.diff(t) * (speed[1:] + speed[:-1]) / 2)])


def _roads(passes: list[PassSamples]) -> tuple[NDArray[np.int64], FloatArray, list[FloatArray | None]]:
    """Which road each pass went along, which way, and where on it: roads are told apart by their direction.

    A pass without a heading is a road of its own.
    """
    axes: list[float] = []
    road: list[int] = []
    way: list[float] = []
    along: list[FloatArray | None] = []
    for one in passes:
        if not one.heading_known:
            axes.append(math.nan)
            road.append(len(axes) - 1)
            way.append(1.0)
            along.append(None)
            continue
        heading = math.atan2(float(np.sin(one.heading_rad).mean()), float(np.cos(one.heading_rad).mean()))
        fits = [k for k, axis in enumerate(axes) if abs(math.sin(heading - axis)) < math.sin(SAME_ROAD_RAD)]
        if not fits:
            axes.append(heading)
            fits = [len(axes) - 1]
        road.append(fits[0])
        axis = axes[fits[0]]
        way.append(1.0 if math.cos(heading - axis) >= 0 else -1.0)
        placed = np.isfinite(one.place_m).all()
        along.append(one.place_m @ np.array([math.sin(axis), math.cos(axis)]) if placed else None)
    return np.array(road, dtype=np.int64), np.array(way), along


def own_parameters(day: CoastdownDay, passes: list[PassSamples], rolls: Rolls) -> tuple[Parameter, ...]:
    """What a day has of its own beside the vehicle and its wind: rotating parts, driveline, tyres, grade of roads."""

    stated = day.rotating_mass_kg
    if stated is not None and stated.value > 0:
        sd = stated.half_width / HALF_WIDTH_PER_SD / stated.value if stated.half_width else 0.1
        rotating = log_parameter("rotating_mass", stated.value, sd, "kg", "rotating parts", "declared")
    else:
        rotating = log_parameter(
            "rotating_share", *ROTATING, "1", "rotating parts", "SAE J2263: 3 % of the mass; Gillespie: 4 %"
        )
    share = log_parameter(
        "neutral_share", *NEUTRAL_SHARE, "1", "driveline", "share of the driveline's drag in neutral; assumed"
    )
    grades = []
    for road in range(int(rolls.road.max()) + 1):
        centre, spread = _grade_of(passes, rolls, road)
        grades.append(
            normal_parameter(
                f"grade_{road + 1}", centre, spread, "1", "grade", "grade of the road in the direction first driven"
            )
        )
    state = log_parameter(
        "tyre_state", COASTING_STATE, TYRE_STATE_SD, "1", "tyres and rolling", "how warm the tyres were; assumed"
    )
    return (rotating, share, state, *grades)


def _grade_of(passes: list[PassSamples], rolls: Rolls, road: int) -> tuple[float, float]:
    """Grade of a road in its first direction before the rolls say more: as declared, else about level."""
    said = []
    for number, one in enumerate(passes):
        if rolls.road[number] == road and one.declared.grade is not None:
            half = one.declared.grade.half_width
            sd = half / HALF_WIDTH_PER_SD if half else DECLARED_GRADE_SD
            said.append((float(rolls.way[number]) * one.declared.grade.value, sd))
    if not said:
        return 0.0, UNKNOWN_GRADE_SD
    return float(np.mean([g for g, _ in said])), float(np.mean([sd for _, sd in said]))


def neutral_drag_n(rolls: Rolls, p: Values) -> FloatArray:
    """Drag of what of the driveline turns in neutral, near standstill, oil as warm as the day (m,), newton."""
    return np.asarray(oil_drag_n(p, float(rolls.temperature_k.mean())) * p["neutral_share"])


class Forces(msgspec.Struct, frozen=True, kw_only=True):
    """What does not change along a roll, per draw (m, 1) or draw and pass (m, P)."""

    mass: FloatArray
    inertia: FloatArray
    rolling: FloatArray
    growth: FloatArray
    warm: FloatArray
    tyre_time: FloatArray
    churning: FloatArray
    grade: FloatArray
    area: FloatArray
    yaw: FloatArray
    turbulence: FloatArray
    turned: tuple[FloatArray, FloatArray]
    offset: tuple[FloatArray, FloatArray]


def forces_of(model: VehicleModel, rolls: Rolls, p: Values) -> Forces:
    """Constants of the motion for draws `p`, each (m,)."""
    mass = p["test_mass"][:, None] * rolls.mass_ratio
    rotating = p["rotating_mass"][:, None] if "rotating_mass" in p else p["rotating_share"][:, None] * mass
    mean = rolls.temperature_k.mean(axis=1)
    rolling = p["rolling_resistance"] / speed_factor(ROLLING_SPEED_MPS, p["rolling_growth"])
    factor = 1 + p["rolling_temperature"][:, None] * (temperature_factor(mean, 1.0) - 1)
    grades = np.stack([p[f"grade_{k + 1}"] for k in range(int(rolls.road.max()) + 1)], axis=1)
    return Forces(
        mass=mass,
        inertia=mass + rotating,
        rolling=(rolling * p["tyre_state"])[:, None] * factor * model.pressure_ratio**-PRESSURE_EXPONENT,
        growth=p["rolling_growth"][:, None],
        warm=p["tyre_warmup"][:, None],
        tyre_time=p["tyre_time"][:, None],
        churning=neutral_drag_n(rolls, p)[:, None],
        grade=grades[:, rolls.road] * rolls.way,
        area=(p["drag_area"] * p["air_density"])[:, None],
        yaw=p["yaw_growth"][:, None],
        turbulence=p["turbulence"][:, None],
        turned=(
            (p["wind_factor"] * np.cos(p["wind_direction"]))[:, None],
            (p["wind_factor"] * np.sin(p["wind_direction"]))[:, None],
        ),
        offset=(p["wind_offset_east"][:, None], p["wind_offset_north"][:, None]),
    )


class Still(msgspec.Struct, frozen=True, kw_only=True):
    """What of the grid does not change with the draw, (P, 2N+1): the grid and the middles of its steps."""

    head: FloatArray
    cross: FloatArray
    sin: FloatArray
    cos: FloatArray
    half_density: FloatArray
    level: FloatArray
    gust_axial: FloatArray
    gust_side: FloatArray
    elapsed: FloatArray


def still_of(rolls: Rolls) -> Still:
    """Wind, air and heading at the grid and between."""

    def fine(values: FloatArray) -> FloatArray:
        out = np.empty((values.shape[0], 2 * values.shape[1] - 1))
        out[:, ::2] = values
        out[:, 1::2] = (values[:, 1:] + values[:, :-1]) / 2
        return out

    level = levelled_growth(yaw_angle_rad(rolls.speed_mps, rolls.head, rolls.cross))
    share = np.divide(rolls.head**2, rolls.wind_mps**2, out=np.full_like(rolls.head, 0.5), where=rolls.wind_mps > 1e-6)
    side = rolls.gust_across * share + rolls.gust_along * (1 - share)
    known = rolls.known[:, None]
    return Still(
        head=fine(rolls.head), cross=fine(rolls.cross),
        sin=fine(np.where(known, np.sin(rolls.heading_rad), 0.0)),
        cos=fine(np.where(known, np.cos(rolls.heading_rad), 0.0)),
        half_density=fine(0.5 * rolls.density), level=fine(level),
        gust_axial=fine(rolls.gust_along + rolls.gust_across - (1 - SIDE_SHARE) * side), gust_side=fine(side),
        elapsed=fine(rolls.elapsed_s),
    )  # fmt: skip


def slowing(f: Forces, still: Still, k: int, v: FloatArray) -> FloatArray:
    """Acceleration at place `k` of the fine grid, (m, P), with speeds `v` (m, P)."""
    a, b = f.turned
    east, north = f.offset
    head, cross = still.head[:, k], still.cross[:, k]
    sin, cos = still.sin[:, k], still.cos[:, k]
    u = v + a * head + b * cross - east * sin - north * cos
    w = a * cross - b * head + east * cos - north * sin
    grown = f.yaw * still.level[:, k]
    air = u * np.abs(u) + (SIDE_SHARE + grown) * w * w
    air += f.turbulence * (still.gust_axial[:, k] + grown * still.gust_side[:, k])
    warm = 1 + f.warm * np.exp(-still.elapsed[:, k] / f.tyre_time)
    rolling = f.rolling * speed_factor(v, f.growth) * warm
    force = f.mass * STANDARD_GRAVITY_MPS2 * (rolling + f.grade) + f.churning * (1 + v / CHURNING_SPEED_MPS)
    return np.asarray(-(force + f.area * still.half_density[:, k] * air) / f.inertia)


def speeds(model: VehicleModel, rolls: Rolls, still: Still, p: Values) -> FloatArray:
    """Speed at the grid, (m, P, N+1), by Runge-Kutta of fourth order."""
    f = forces_of(model, rolls, p)
    h = rolls.step_s
    v = np.broadcast_to(rolls.start_mps, f.mass.shape).copy()
    out = np.empty((*v.shape, STEPS + 1))
    out[:, :, 0] = v
    for n in range(STEPS):
        k = 2 * n
        k1 = slowing(f, still, k, v)
        k2 = slowing(f, still, k + 1, v + 0.5 * h * k1)
        k3 = slowing(f, still, k + 1, v + 0.5 * h * k2)
        k4 = slowing(f, still, k + 2, v + h * k3)
        v = v + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
        out[:, :, n + 1] = v
    return out


def heights(rolls: Rolls, passes: list[PassSamples], reads: list[FloatArray], p: Values) -> list[FloatArray]:
    """Heights over the start of each pass that has them, (m, n) each: mean grade along the way rolled."""
    found = []
    for k, one in enumerate(passes):
        if one.has_height:
            speed = rolls.speed_mps[k]
            way = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * rolls.step_s[k])])
            found.append(np.outer(p[f"grade_{rolls.road[k] + 1}"] * rolls.way[k], reads[k] @ way))
    return found


def full_set(model: VehicleModel, own: tuple[Parameter, ...]) -> ParameterSet:
    """The vehicle's parameters and those of the day."""
    return ParameterSet((*model.parameters.parameters, *own))
