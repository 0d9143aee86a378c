"""Read the result of a day of pulls off its draws: the power curve, each pull, the correction, the remarks."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, exact, from_draws, from_normal
from calmday.metrology.fuels import fuel_properties
from calmday.model import defaults
from calmday.physics.engine import friction_mean_pressure_pa, swept_rate_m3ps
from calmday.physics.power_correction import Aspiration, Correction, correction, specific_injection
from calmday.procedures.acceleration import integrate
from calmday.procedures.day_flags import day_flags
from calmday.procedures.flag import Flag, flag
from calmday.procedures.gears import prediction
from calmday.procedures.gears_forces import Conditions, thrust_n
from calmday.procedures.pull import (
    FittedPull,
    MetStart,
    PulledDay,
    chart_power_w,
    doubt_shares,
    percent_figure,
    power_w,
    wheel_power_w,
)
from calmday.procedures.pull_fit import inertia_kg, resistance
from calmday.procedures.pull_result import Corrected, DoubtLine, OnePull, PowerPoint, PullResult
from calmday.procedures.run_flags_curve import curve_flags
from calmday.procedures.standing_start import StandingStart, timed
from calmday.procedures.weighed_run_result import Provenance

FloatArray = NDArray[np.float64]

KMH: Final = 3.6
RPM: Final = 60.0
TURBO_BOOST: Final = 1.6
"""Boost pressure ratio taken for a turbocharged diesel's f_m, where none is known. Assumed."""
NEAR_FULL_SCATTER: Final = 0.04
NOISY_MPS: Final = 0.5
WELL_KNOWN: Final = 1.4
"""The peak is sought among powers known at most this much worse than the best known one."""


def result_of_pulls(pulled: PulledDay, provenance: Provenance, sentence: str = "") -> PullResult:
    """The result of a day of pulls; what produced it and the sentence come from the caller."""
    found = _powers(pulled) if pulled.fitted else _NO_POWER
    return PullResult(
        vehicle=pulled.day.vehicle.name,
        label=pulled.day.label,
        sentence=sentence,
        pulls=tuple(_one(pulled, number, one) for number, one in enumerate(pulled.fitted, start=1)),
        scatter=percent_figure(pulled.scatter),
        starts=tuple(_start(pulled, number, one) for number, one in enumerate(pulled.starts, start=1)),
        provenance=provenance,
        **(found | {"flags": (*day_flags(pulled.day.date, pulled.day.days), *found["flags"])}),
    )


_NO_POWER: Final[dict[str, Any]] = dict.fromkeys(
    ("peak_power", "peak_at", "corrected_peak_power", "of_chart", "correction")
) | {"points": (), "doubt": (), "flags": ()}


def _powers(pulled: PulledDay) -> dict[str, Any]:
    """What the pulls say of power, as fields of the result."""
    power = power_w(pulled)
    wheel = wheel_power_w(pulled, power)
    chart = chart_power_w(pulled)
    best = _peak(power)
    factor = _correction(pulled, power[:, best], float(pulled.grid_rps[best]))
    ratio = None if chart is None else power / np.maximum(chart, 1.0)
    points = tuple(_point(pulled, k, power, wheel, factor.factor, ratio) for k in range(pulled.grid_rps.size))
    return {
        "peak_power": points[best].engine_power,
        "peak_at": points[best].engine_speed,
        "corrected_peak_power": points[best].corrected_power,
        "of_chart": None if ratio is None else from_draws(ratio.mean(axis=1), "1"),
        "points": points,
        "correction": Corrected(
            standard=factor.standard, factor=factor.factor, within_limits=factor.within_limits,
            limits=factor.limits, status=factor.status,
        ),
        "doubt": tuple(DoubtLine(source=name, share=share) for name, share in doubt_shares(pulled, power[:, best])),
        "flags": tuple(_flags(pulled, factor)),
    }  # fmt: skip


def _start(pulled: PulledDay, number: int, one: MetStart) -> StandingStart:
    """A start as timed, and as the build sheet and the chart predict it in the same wind, grade and air."""
    on = Conditions(
        head_wind_mps=float(one.met.head_mps.mean()),
        grade=one.samples.grade,
        air_density_kgpm3=float(one.met.air_density_kgpm3.mean()),
        temperature_k=one.met.temperature_k,
    )
    return StandingStart(
        number=number,
        headwind=from_draws(one.met.head_mps.mean(axis=1), "m/s"),
        grade=from_normal(100 * one.samples.grade, 100 * one.samples.grade_sd, "%"),
        measured=timed(one.samples),
        predicted=prediction(pulled.vehicle, on, pulled.seed),
    )


def _peak(power: FloatArray) -> int:
    """Index of the highest power among the well-known ones: a badly known end must not win by its error."""
    spread = power.std(axis=0) / power.mean(axis=0)
    return int(np.argmax(np.where(spread <= WELL_KNOWN * spread.min(), power.mean(axis=0), -np.inf)))


def _point(
    pulled: PulledDay, k: int, power: FloatArray, wheel: FloatArray, factor: float, ratio: FloatArray | None
) -> PowerPoint:
    kilowatt = power[:, k] / 1000
    return PowerPoint(
        engine_speed=from_draws(RPM * pulled.grid_rps[k] * pulled.vehicle.values["gearing_scale"], "rpm"),
        torque=from_draws(pulled.torque_nm[:, k], "N m"),
        engine_power=from_draws(kilowatt, "kW"),
        wheel_power=from_draws(wheel[:, k] / 1000, "kW"),
        corrected_power=from_draws(factor * kilowatt, "kW"),
        of_chart=None if ratio is None else from_draws(ratio[:, k], "1"),
        pulls=pulled.counts[k],
    )


def _one(pulled: PulledDay, number: int, one: FittedPull) -> OnePull:
    samples, scale = one.samples, pulled.vehicle.values["gearing_scale"]
    steady = samples.timed or one.pull.kind == "climb"
    predicted = None if steady else predicted_time(pulled, one)
    duration = exact(samples.duration_s, "s")
    return OnePull(
        number=number,
        kind="climb" if one.pull.kind == "climb" else "acceleration",
        gear=one.pull.gear,
        from_speed=exact(KMH * float(samples.speed_mps[0]), "km/h"),
        to_speed=exact(KMH * float(samples.speed_mps[-1]), "km/h"),
        duration=duration,
        grade=from_normal(100 * samples.grade, 100 * samples.grade_sd, "%"),
        headwind=from_draws(one.met.head_mps.mean(axis=1), "m/s"),
        engine_speed=from_draws(RPM * one.fit.mean_rps * scale, "rpm"),
        engine_power=from_draws(one.power_w / 1000, "kW"),
        speed_noise=exact(one.fit.noise_mps, "m/s"),
        measured_time=None if steady else duration,
        predicted_time=predicted,
    )


def predicted_time(pulled: PulledDay, one: FittedPull) -> Figure | None:
    """What the build sheet's thrust says of the pull, from its first speed to its last in the wind and grade it met.

    Each draw has its own wind, grade and air, as in the fit; None where fewer than half of the draws get there.
    """
    vehicle, gear = pulled.vehicle, one.pull.gear - 1
    speeds = np.linspace(float(one.samples.speed_mps[0]), float(one.samples.speed_mps[-1]), 40)
    at = np.clip(np.searchsorted(one.samples.speed_mps, speeds), 0, one.samples.speed_mps.size - 1)
    met = type(one.met)(
        head_mps=one.met.head_mps[:, at], cross_square=one.met.cross_square[:, at], grade=one.met.grade,
        air_density_kgpm3=one.met.air_density_kgpm3[:, at], temperature_k=one.met.temperature_k,
    )  # fmt: skip
    grid = np.broadcast_to(speeds, met.head_mps.shape)
    on = Conditions(air_density_kgpm3=float(met.air_density_kgpm3.mean()), temperature_k=met.temperature_k)
    thrust = thrust_n(vehicle, on, grid, grid * vehicle.turns_per_metre(gear)[:, None])
    behind, before = inertia_kg(vehicle, gear, None)
    eta = np.minimum(vehicle.values["driveline_efficiency"], 0.995)
    force = thrust - resistance(vehicle, met, speeds)
    run = integrate(speeds, force / (behind + before * eta)[:, None], np.zeros(grid.shape))
    time = run.time_s[:, -1]
    there = np.isfinite(time)
    return from_draws(time[there], "s") if there.mean() >= 0.5 else None


def _correction(pulled: PulledDay, power: FloatArray, rps: float) -> Correction:
    """The factor to the standard's conditions; a diesel's f_m from the fuel that the Willans line gives it."""
    vehicle, air = pulled.vehicle, pulled.weather
    model = vehicle.model
    p = {key: float(value.mean()) for key, value in vehicle.values.items()}
    swept = float(swept_rate_m3ps(model.displacement_m3, rps, model.strokes))
    friction = friction_mean_pressure_pa(
        np.array(rps), p["friction_mep"], p["friction_slope"], model.friction_reference_rps
    )
    heating = fuel_properties(model.fuel).net_heating_value_jpkg
    fuel = (float(power.mean()) + swept * float(friction)) / (p["indicated_efficiency"] * heating)
    aspiration: Aspiration = pulled.day.vehicle.engine.induction or "natural"
    boost = TURBO_BOOST if aspiration == "turbocharged" else 1.0
    return correction(
        pulled.day.correct_to,
        spark=model.fuel in defaults.SPARK_FUELS,
        aspiration=aspiration,
        pressure_pa=float(np.mean(air.pressure_pa)),
        temperature_k=float(np.mean(air.temperature_k)),
        relative_humidity=float(np.mean(air.relative_humidity)),
        q_c=specific_injection(fuel, model.displacement_m3, rps, model.strokes, boost),
    )


def _flags(pulled: PulledDay, factor: Correction) -> Iterator[Flag]:
    fitted = pulled.fitted
    yield from curve_flags(pulled.day.vehicle.engine.full_load)
    if len(fitted) == 1:
        yield flag(
            "one-pull", "caution",
            "This is one pull.",
            "A gust, a dip in the road or a late foot moves a single pull by several per cent.",
            "Pull three times each way on the same stretch.",
        )  # fmt: skip
    if not pulled.weather.wind_known:
        yield flag(
            "no-wind", "caution",
            "No wind was reported.",
            "Drag in the pull is then known poorly; the answer is wider for it.",
            "Hold up a wind meter for two minutes, or paste the METAR of the nearest airfield.",
        )  # fmt: skip
    elif not all(one.heading_known for one in fitted):
        yield flag(
            "heading-unknown", "caution",
            "A wind is given, but not which way a pull was driven.",
            "From ahead or behind is the difference between a weak engine and a strong one.",
            'Add heading = "340 deg" to the [[pull]] table, or record positions.',
        )  # fmt: skip
    level = [str(i) for i, one in enumerate(fitted, start=1) if one.samples.grade_source == "taken for level"]
    if level:
        yield flag(
            "grade-unknown", "caution",
            f"Nobody says how steep the road was (pull {', '.join(level)}).",
            "Half a per cent of slope is as much as a light head wind.",
            "Give grade, or rise with length from a map, and pull both ways.",
        )  # fmt: skip
    rough = [
        str(i) for i, one in enumerate(fitted, start=1)
        if one.samples.grade_source == "heights of the receiver" and one.pull.kind == "climb"
    ]  # fmt: skip
    if rough:
        yield flag(
            "height-of-the-receiver", "caution",
            f"The hill's height is the receiver's own (pull {', '.join(rough)}).",
            "A receiver's height is 5 to 10 m out, and on a hill height is nearly all of the power.",
            "Read rise and length off a map and enter them.",
        )  # fmt: skip
    if pulled.scatter is not None and pulled.scatter > NEAR_FULL_SCATTER:
        yield flag(
            "pulls-scatter", "caution",
            f"The pulls differ by {100 * pulled.scatter:.2g} % from one to the next.",
            "Some may not have been at full load, or the wind gusted.",
            "Look for the odd one; pull again in calmer air.",
        )  # fmt: skip
    noisy = [str(i) for i, one in enumerate(fitted, start=1) if one.fit.noise_mps > NOISY_MPS]
    if noisy:
        yield flag(
            "pull-does-not-fit", "caution",
            f"Speeds of pull {', '.join(noisy)} scatter by more than {KMH * NOISY_MPS:.1f} km/h about a smooth pull.",
            "A change of gear, a slipping clutch or a lifted foot looks like this.",
            "Cut the pull with from_speed and to_speed to the part in one gear at full load.",
        )  # fmt: skip
    if not factor.within_limits:
        yield flag(
            "outside-correction-limits", "caution",
            f"{factor.standard} would need a factor of {factor.factor:.3f}; it allows {factor.limits}.",
            "Outside its limits a correction is a guess that the standard itself does not stand behind.",
            "Quote the power in the air of the day with its height, or pull again nearer sea level.",
        )  # fmt: skip
