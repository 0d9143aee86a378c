"""Engine power from full-load pulls and held-speed climbs on the road, with the doubt of mass, grade, wind and drag.

Every pull is fitted for every draw of the vehicle and of the day's wind (`pull_fit`). Pulls share the vehicle and the
wind report, and differ in gusts, grade and receiver noise; so do the draws. Where several pulls went through an engine
speed their power is averaged, and what they scatter for no reason found is added.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure
from calmday.model.drive import Drive
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.model.vehicle_model import VehicleModel, build, wind_height_m
from calmday.physics.drag import levelled_growth, wind_in_vehicle_axes, yaw_angle_rad
from calmday.procedures.gears_forces import Conditions, churning_n, efficiency
from calmday.procedures.gears_vehicle import GearVehicle, prior_of
from calmday.procedures.pull_fit import MOST_NODES, Fit, Surroundings, fit_pull
from calmday.procedures.pull_samples import PullSamples, samples_of
from calmday.records.pull import Pull, PullDay
from calmday.reduction.vehicle_weather import VehicleWeather
from calmday.reduction.weather import bring_to_vehicle

FloatArray = NDArray[np.float64]

GUST_S: Final = 6.0
"""How long a gust lasts at vehicle height, so that a pull averages over few of them. Assumed."""

SCATTER_SD: Final = 0.015
SCATTER_WEIGHT: Final = 4.0
"""Pull-to-pull scatter of power expected beforehand, and how many degrees of freedom that is worth. Assumed."""

GRID_POINTS: Final = 7


class FittedPull(msgspec.Struct, frozen=True, kw_only=True):
    """One pull with its fit. `power_w` (m,) at its mean engine speed; `scores` standard normals of its own, by name."""

    pull: Pull
    samples: PullSamples
    met: Surroundings
    fit: Fit
    power_w: FloatArray
    own_scores: dict[str, FloatArray]
    heading_known: bool


class MetStart(msgspec.Struct, frozen=True, kw_only=True):
    """One start from rest with what it met."""

    samples: PullSamples
    met: Surroundings


class PulledDay(msgspec.Struct, frozen=True, kw_only=True):
    """Everything a day of pulls holds; the result sheet is read off it.

    `grid_rps` (k,) engine speeds; `torque_nm` (m, k) averaged over `counts` pulls; `scatter` relative, one standard
    deviation, None for a single pull; `repeat_scores` (m,) of the scatter that is left in the mean.
    """

    day: PullDay
    vehicle: GearVehicle
    weather: VehicleWeather
    fitted: tuple[FittedPull, ...]
    grid_rps: FloatArray
    torque_nm: FloatArray
    counts: tuple[int, ...]
    scatter: float | None
    scatter_left: float
    repeat_scores: FloatArray
    seed: int
    starts: tuple[MetStart, ...] = ()


def reduce_pulls(
    day: PullDay, draws: int, seed: int, known: tuple[VehicleModel, dict[str, FloatArray]] | None = None
) -> PulledDay:
    """Fit every pull of a day. `known` the posterior of a weighed run, as for `prior_of`. Raises InputError."""
    clock = day.weather.readings[0].time_s if day.weather.readings else 0.0
    pairs = [
        (pull, samples)
        for number, pull in enumerate(day.pulls)
        for samples in samples_of(pull, f"{day.file}: pull[{number}]", clock)
    ]
    weather, drive = _surroundings(day, [samples for _, samples in pairs])
    model = build(
        day.vehicle,
        drive,
        payload=day.payload_kg,
        start="warm",
        tyre_pressure_pa=day.tyre_pressure_pa.value if day.tyre_pressure_pa else None,
    )
    vehicle = prior_of(day.vehicle, draws, seed, day.chart_standard, known=known, built=model)
    fitted, starts = [], []
    start = 0
    for number, (pull, samples) in enumerate(pairs):
        part = slice(start, start + samples.time_s.size)
        start = part.stop
        if pull.kind == "start":
            starts.append(
                MetStart(samples=samples, met=_met(vehicle, weather, part, samples, _own(vehicle, seed + number)))
            )
        else:
            fitted.append(_fitted(vehicle, weather, part, pull, samples, seed + 1 + number))
    return msgspec.structs.replace(_averaged(day, vehicle, weather, tuple(fitted), seed), starts=tuple(starts))


def _own(vehicle: GearVehicle, seed: int) -> dict[str, FloatArray]:
    """What a start from rest draws for itself."""
    scores = standard_normal(vehicle.draws, 3, seed + 4001)
    return {name: scores[:, i] for i, name in enumerate(("grade", "gusts", "heading"))}


def _surroundings(day: PullDay, every: list[PullSamples]) -> tuple[VehicleWeather, Drive]:
    """Weather along all pulls one after the other, and the drive that carries its doubt into the model."""
    clock = np.concatenate([samples.clock_s for samples in every])
    speed = np.concatenate([samples.speed_mps for samples in every])
    heading = np.nan_to_num(np.concatenate([samples.heading_rad for samples in every]))
    height = np.concatenate([np.full(samples.time_s.size, samples.height_m) for samples in every])
    air = bring_to_vehicle(day.weather, day.terrain, clock, height, wind_height_m(day.vehicle))
    zero = np.zeros(clock.size)
    return air, Drive(
        step_s=zero + 1.0, elapsed_s=zero + 1e6, speed_mps=speed, acceleration_mps2=zero, grade=zero,
        heading_rad=heading, wind_east_mps=air.wind_east_mps, wind_north_mps=air.wind_north_mps,
        turbulence_along_mps2=air.turbulence_along_mps2, turbulence_across_mps2=air.turbulence_across_mps2,
        air_density_kgpm3=air.air_density_kgpm3, temperature_k=air.temperature_k, pressure_pa=air.pressure_pa,
        running=zero + 1.0,
        wind_factor_log_sd=air.wind_factor_log_sd, wind_offset_sd_mps=air.wind_offset_sd_mps,
        direction_sd_rad=air.direction_sd_rad, density_relative_sd=air.density_relative_sd,
    )  # fmt: skip


def _fitted(
    vehicle: GearVehicle, air: VehicleWeather, part: slice, pull: Pull, samples: PullSamples, seed: int
) -> FittedPull:
    scores = standard_normal(vehicle.draws, MOST_NODES + 4, seed)
    own = {"grade": scores[:, 0], "gusts": scores[:, 1], "heading": scores[:, 2], "rotating": scores[:, 3]}
    heading_known = bool(np.isfinite(samples.heading_rad).all())
    met = _met(vehicle, air, part, samples, own)
    rotating = _rotating(pull, own["rotating"])
    fit = fit_pull(vehicle, samples, met, pull.gear - 1, rotating, scores[:, 4:])
    power = 2 * math.pi * fit.mean_rps * vehicle.values["gearing_scale"] * fit.torque_at(fit.mean_rps)
    return FittedPull(
        pull=pull, samples=samples, met=met, fit=fit, power_w=power,
        own_scores=own | {f"receiver {k}": scores[:, 4 + k] for k in range(MOST_NODES)}, heading_known=heading_known,
    )  # fmt: skip


def _rotating(pull: Pull, scores: FloatArray) -> FloatArray | None:
    """Draws of what rotating parts add, kg, where somebody stated it; 10 % doubt if they did not say how well."""
    stated = pull.rotating_mass_kg
    if stated is None:
        return None
    sd = stated.half_width / HALF_WIDTH_PER_SD if stated.half_width else 0.10 * stated.value
    return np.asarray(np.maximum(stated.value + sd * scores, 0.0))


def _met(
    vehicle: GearVehicle, air: VehicleWeather, part: slice, samples: PullSamples, own: dict[str, FloatArray]
) -> Surroundings:
    """Wind of each draw along the pull: the report's turned, scaled and offset, and the gusts of these seconds."""
    p = vehicle.values
    east, north = air.wind_east_mps[part], air.wind_north_mps[part]
    along = float(np.mean(air.turbulence_along_mps2[part]))
    gusts = math.sqrt(along * min(1.0, 2 * GUST_S / max(samples.duration_s, 1.0))) * own["gusts"]
    if np.isfinite(samples.heading_rad).all():
        head, cross = _turned(p, east, north, samples.heading_rad)
        head = head + gusts[:, None]
    else:
        wind = float(np.mean(np.hypot(east, north)))
        offset = p["wind_factor"] * wind / math.sqrt(2) * own["heading"] + gusts
        head = np.broadcast_to(offset[:, None], (vehicle.draws, east.size))
        cross = np.full_like(head, wind / math.sqrt(2))
    growth = levelled_growth(yaw_angle_rad(samples.speed_mps, head, cross))
    return Surroundings(
        head_mps=np.asarray(head),
        cross_square=cross**2 * growth,
        grade=samples.grade + samples.grade_sd * own["grade"],
        air_density_kgpm3=air.air_density_kgpm3[part] * p["air_density"][:, None],
        temperature_k=float(np.mean(air.temperature_k[part])),
    )


def _turned(
    p: dict[str, FloatArray], east: FloatArray, north: FloatArray, heading: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Head and cross wind of each draw, (m, n), as `model.basis` has them."""
    near, beside = wind_in_vehicle_axes(east, north, heading)
    sin, cos = np.sin(heading), np.cos(heading)
    a = (p["wind_factor"] * np.cos(p["wind_direction"]))[:, None]
    b = (p["wind_factor"] * np.sin(p["wind_direction"]))[:, None]
    off_east, off_north = p["wind_offset_east"][:, None], p["wind_offset_north"][:, None]
    head = a * near + b * beside - off_east * sin - off_north * cos
    cross = a * beside - b * near + off_east * cos - off_north * sin
    return head, cross


def _averaged(
    day: PullDay, vehicle: GearVehicle, air: VehicleWeather, fitted: tuple[FittedPull, ...], seed: int
) -> PulledDay:
    if not fitted:
        none = np.zeros((vehicle.draws, 0))
        return PulledDay(
            day=day, vehicle=vehicle, weather=air, fitted=(), grid_rps=np.zeros(0), torque_nm=none, counts=(),
            scatter=None, scatter_left=0.0, repeat_scores=np.zeros(vehicle.draws), seed=seed,
        )  # fmt: skip
    grid = _grid(fitted)
    columns, counts = [], []
    for rps in grid:
        through = [one.fit.torque_at(float(rps)) for one in fitted if one.fit.covers(float(rps))]
        columns.append(np.mean(through, axis=0))
        counts.append(len(through))
    observed, expected = _scatter(fitted, grid)
    left = expected / math.sqrt(max(np.median(counts), 1))
    repeat = standard_normal(vehicle.draws, 1, seed + 9001)[:, 0]
    torque = np.stack(columns, axis=1) * (1 + left * repeat[:, None])
    return PulledDay(
        day=day, vehicle=vehicle, weather=air, fitted=fitted, grid_rps=grid, torque_nm=torque, counts=tuple(counts),
        scatter=observed, scatter_left=left, repeat_scores=repeat, seed=seed,
    )  # fmt: skip


def _grid(fitted: tuple[FittedPull, ...]) -> FloatArray:
    """Engine speeds to report: over the range of the pulls, or the mean speeds of climbs."""
    curves = [one.fit for one in fitted if one.fit.engine_rps.size > 1]
    if curves:
        low = float(np.min([fit.engine_rps[0] for fit in curves]))
        high = float(np.max([fit.engine_rps[-1] for fit in curves]))
        grid = np.linspace(low, high, GRID_POINTS)
        return np.array([rps for rps in grid if any(one.fit.covers(float(rps)) for one in fitted)])
    means = sorted(one.fit.mean_rps for one in fitted)
    groups: list[list[float]] = [[means[0]]]
    for mean in means[1:]:
        if mean <= 1.05 * groups[-1][0]:
            groups[-1].append(mean)
        else:
            groups.append([mean])
    return np.array([float(np.mean(group)) for group in groups])


def _scatter(fitted: tuple[FittedPull, ...], grid: FloatArray) -> tuple[float | None, float]:
    """Relative scatter of torque between pulls at the engine speed most of them share: as seen, and as expected.

    The variance expected is a scaled inverse chi-squared prior updated by what is seen (Gelman et al., Bayesian Data
    Analysis, 2.6; from memory). Receiver noise is in what is seen; it is then counted twice, on the safe side.
    """
    through = max(([one.fit for one in fitted if one.fit.covers(float(rps))] for rps in grid), key=len)
    shared = float(np.mean([fit.mean_rps for fit in through]))
    torque = np.array([float(fit.torque_at(shared).mean()) for fit in through])
    freedom = torque.size - 1
    sums = float(np.sum((torque / torque.mean() - 1) ** 2))
    expected = math.sqrt((SCATTER_WEIGHT * SCATTER_SD**2 + sums) / (SCATTER_WEIGHT + freedom))
    return (math.sqrt(sums / freedom) if freedom else None), expected


def power_w(pulled: PulledDay) -> FloatArray:
    """Flywheel power at the grid, accessories driven, (m, k)."""
    speed = pulled.grid_rps * pulled.vehicle.values["gearing_scale"][:, None]
    return np.asarray(2 * math.pi * speed * pulled.torque_nm)


def wheel_power_w(pulled: PulledDay, power: FloatArray) -> FloatArray:
    """Power at the tyres at steady speed in the gear of the first pull, (m, k): less accessories, churning, losses."""
    gear = pulled.fitted[0].pull.gear - 1
    vehicle = pulled.vehicle
    speed = pulled.grid_rps / vehicle.model.gearing.turns_per_metre[gear]
    grid = np.broadcast_to(speed, power.shape)
    own = vehicle.values["accessory_power"][:, None] + churning_n(vehicle, conditions_of(pulled.fitted[0]), grid) * grid
    return np.asarray(efficiency(vehicle) * (power - own))


def chart_power_w(pulled: PulledDay) -> FloatArray | None:
    """Power of the declared chart at the grid in the air of the day, without its own doubt of reading, (m, k)."""
    vehicle = pulled.vehicle
    if vehicle.model.full_load is None:
        return None
    density = float(np.mean(pulled.weather.air_density_kgpm3))
    air = (density * vehicle.values["air_density"] / vehicle.chart_air_kgpm3) ** vehicle.thinning
    nominal = 2 * math.pi * pulled.grid_rps * vehicle.torque_nm(pulled.grid_rps)
    return np.asarray(nominal * air[:, None])


def conditions_of(one: FittedPull) -> Conditions:
    """The mean wind, grade and air of a pull, for the thrust model."""
    return Conditions(
        head_wind_mps=float(one.met.head_mps.mean()),
        grade=one.samples.grade,
        air_density_kgpm3=float(one.met.air_density_kgpm3.mean()),
        temperature_k=one.met.temperature_k,
    )


def doubt_shares(pulled: PulledDay, power: FloatArray) -> list[tuple[str, float]]:
    """Share of the variance of a power (m,) by source: squared correlation with each independent draw."""
    p, v = pulled.vehicle.values, pulled.vehicle
    sources: dict[str, list[FloatArray]] = {
        "mass": [p["test_mass"]],
        "air drag": [p["drag_area"], p["yaw_growth"], p["air_density"]],
        "rolling": [p["rolling_resistance"], p["rolling_growth"], p["rolling_temperature"]],
        "driveline and accessories": [
            p[key] for key in ("driveline_efficiency", "driveline_drag", "driveline_thickening", "accessory_power")
        ],
        "rotating parts": [v.engine_inertia_kgm2, v.wheels_kg, *(one.own_scores["rotating"] for one in pulled.fitted)],
        "wind": [p["wind_factor"], p["wind_direction"], p["wind_offset_east"], p["wind_offset_north"]],
        "gusts": [one.own_scores["gusts"] for one in pulled.fitted]
        + [one.own_scores["heading"] for one in pulled.fitted if not one.heading_known],
        "grade": [one.own_scores["grade"] for one in pulled.fitted],
        "receiver": [s for one in pulled.fitted for k, s in one.own_scores.items() if k.startswith("receiver")],
        "pull to pull": [pulled.repeat_scores],
    }
    raw = {name: sum(_square_correlation(power, draws) for draws in every) for name, every in sources.items()}
    total = sum(raw.values()) or 1.0
    return sorted(((name, value / total) for name, value in raw.items()), key=lambda pair: -pair[1])


def _square_correlation(a: FloatArray, b: FloatArray) -> float:
    """Squared correlation, less what chance alone would show in so many draws."""
    spread = float(a.std() * b.std())
    if spread <= 0 or not math.isfinite(spread):
        return 0.0
    r = float(np.mean((a - a.mean()) * (b - b.mean()))) / spread
    return max(r**2 - 4.0 / a.size, 0.0)


def percent_figure(value: float | None) -> Figure | None:
    """A plain percentage without doubt of its own, None where there is none."""
    return None if value is None else Figure(100 * value, 0.0, 100 * value, 100 * value, "%")
