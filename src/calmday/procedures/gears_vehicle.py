"""A vehicle as its gears see it: draws of its parameters, its full-load torque, and how the air of the day enters."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import DRY_AIR_GAS_CONSTANT
from calmday.metrology.draws import standard_normal
from calmday.model import defaults
from calmday.model.basis import REFERENCE_DENSITY
from calmday.model.cruise import steady_drive
from calmday.model.full_load import own_sd
from calmday.model.vehicle_model import VehicleModel, build
from calmday.physics.gearing import engine_side_mass_kg
from calmday.physics.power_correction import (
    DIN_PRESSURE_PA,
    DIN_TEMPERATURE_K,
    REFERENCE_DRY_PRESSURE_PA,
    REFERENCE_TEMPERATURE_K,
    Standard,
)
from calmday.records.vehicle import FullLoadCurve, Vehicle

FloatArray = NDArray[np.float64]

CHART_AIR_SD: Final = 0.02
"""Relative doubt of the air a chart is stated for, where nobody says: between ISO 1585 (1.157 kg/m3) and DIN 70020
(1.204)."""

THINNING: Final = {"natural": (1.0, 0.15), "turbocharged": (0.3, 0.15), "supercharged": (0.9, 0.15), None: (0.9, 0.25)}
"""Full-load power goes with air density to this power, mean and spread, by induction. Natural: the trade's 3 % per
300 m is 1.1, the f_m of ISO 1585 less; turbocharged: a wastegate makes up for most. Assumed."""

CLASS_SHAPE: Final = ((0.28, 0.84), (0.40, 0.94), (0.55, 1.0), (0.75, 0.96), (1.0, 0.82))
"""Torque over its peak, against engine speed over governed speed, where no curve is declared: the common shape of small
engines' charts. Assumed; the band that goes with it is that of `full_load_scale`."""

SMOOTH_SD_RPS: Final = 50 / 60
"""How well the lowest speed that runs cleanly is known where the driver does not say: +-100 rpm."""

UNDRAWN_TOP: Final = 0.05
"""The curve is drawn on by its last slope up to governed speed; from this share on a remark says so."""


class GearVehicle(msgspec.Struct, frozen=True, kw_only=True):
    """Draws (m,) of a vehicle and its full-load torque at the knots `curve_rps` (1/s), `curve_nm` (N m).

    `curve_sd` (k,) relative doubt of reading at each knot beyond that of the whole curve, `curve_scores` (m, 2) what
    draws it; `values` the model's parameters; `thinning` power of air density that full load goes with;
    `chart_air_kgpm3` the air the curve is stated for; `engine_inertia_kgm2` and `wheels_kg` what turns; `smooth_rps`
    lowest engine speed that runs cleanly. `lowest_rps` where the drawn curve begins, `drawn_top_rps` where it ends,
    `governed_rps` not exceeded.
    """

    model: VehicleModel
    values: dict[str, FloatArray]
    curve_rps: FloatArray
    curve_nm: FloatArray
    curve_sd: FloatArray
    curve_scores: FloatArray
    lowest_rps: float
    drawn_top_rps: float
    governed_rps: float
    smooth_rps: FloatArray
    thinning: FloatArray
    chart_air_kgpm3: FloatArray
    engine_inertia_kgm2: FloatArray
    wheels_kg: FloatArray

    @property
    def draws(self) -> int:
        return int(self.smooth_rps.size)

    @property
    def gears(self) -> range:
        return range(len(self.model.gearing.turns_per_metre))

    def turns_per_metre(self, gear: int) -> FloatArray:
        """Engine turns per metre of road in a gear (0 first), per draw (m,)."""
        return np.asarray(self.model.gearing.turns_per_metre[gear] * self.values["gearing_scale"])

    def engine_side_kg(self, gear: int) -> FloatArray:
        """Mass that the engine's inertia amounts to at the tyre in a gear, J (2 pi z)^2, z turns per metre, (m,)."""
        return engine_side_mass_kg(self.engine_inertia_kgm2, self.turns_per_metre(gear))

    def torque_nm(self, engine_rps: FloatArray) -> FloatArray:
        """Full-load torque of the curve, before scale and air; held below its beginning."""
        return np.interp(engine_rps, self.curve_rps, self.curve_nm)

    def drawn_torque_nm(self, engine_rps: FloatArray) -> FloatArray:
        """Full-load torque with the doubt of reading of each draw, (m, n) for (n,) or (m, n) engine speeds.

        The doubt turns from one score to another along the curve: neighbours share it, the ends do not.
        """
        torque = self.torque_nm(engine_rps)
        if not self.curve_sd.any():
            return torque
        sd = np.interp(engine_rps, self.curve_rps, self.curve_sd)
        turn = 0.5 * math.pi * np.interp(engine_rps, self.curve_rps, np.linspace(0.0, 1.0, self.curve_rps.size))
        level, tilt = self.curve_scores[:, :1], self.curve_scores[:, 1:]
        return np.asarray(torque * np.maximum(1 + sd * (np.cos(turn) * level + np.sin(turn) * tilt), 0.0))


def prior_of(
    vehicle: Vehicle,
    draws: int,
    seed: int,
    chart_standard: Standard | None = None,
    smooth_rps: float | None = None,
    known: tuple[VehicleModel, dict[str, FloatArray]] | None = None,
    built: VehicleModel | None = None,
) -> GearVehicle:
    """The vehicle of a build sheet as draws. `chart_standard` what its curve is corrected to, where it is known.

    `known` the model and posterior draws of a weighed run: a parameter whose prior was the same there keeps what the
    run taught; one that the build sheet now states otherwise (another load) is drawn from the build sheet. `built` the
    model where conditions of a drive belong to it (its wind, its load).
    """
    model = built if built is not None else build(vehicle, steady_drive(np.array([20.0])))
    if known is not None:
        draws = len(next(iter(known[1].values())))
    scores = standard_normal(draws, len(model.parameters) + 7, seed)
    own, extra = scores[:, : len(model.parameters)], scores[:, len(model.parameters) :]
    values = model.parameters.values(own)
    if known is not None:
        values |= carried_over(model, *known)
    if vehicle.engine.full_load_at == "wheels":
        values = values | {"full_load_scale": _at_the_wheels(model, values)}
    rps, nm = _torque_knots(model, model.full_load)
    lowest = max(float(rps[0]), model.idle_rps)
    mean, spread = THINNING[vehicle.engine.induction]
    chart, chart_sd = _chart_air(chart_standard or vehicle.engine.full_load_standard)
    if smooth_rps is None:
        smooth = np.maximum(_usual_smooth_rps(model, lowest) + SMOOTH_SD_RPS * extra[:, 0], 0.8 * lowest)
    else:
        smooth = np.full(draws, smooth_rps)
    curve = vehicle.engine.full_load
    return GearVehicle(
        model=model,
        values=values,
        curve_rps=rps,
        curve_nm=nm,
        curve_sd=own_sd(model.full_load, rps),
        curve_scores=extra[:, 5:],
        lowest_rps=lowest,
        drawn_top_rps=model.governed_rps if curve is None else float(curve.speed_rps[-1]),
        governed_rps=model.governed_rps,
        smooth_rps=np.minimum(smooth, 0.9 * model.governed_rps),
        thinning=np.clip(mean + spread * extra[:, 1], 0.0, 1.5),
        chart_air_kgpm3=chart * np.exp(chart_sd * extra[:, 2]),
        engine_inertia_kgm2=_engine_inertia(vehicle, model, extra[:, 3]),
        wheels_kg=values["test_mass"] * defaults.WHEELS_SHARE[0] * np.exp(defaults.WHEELS_SHARE[1] * extra[:, 4]),
    )


def _at_the_wheels(model: VehicleModel, values: dict[str, FloatArray]) -> FloatArray:
    """Scale of a curve from rollers: what came to the wheels is known, so a worse driveline means a better engine."""
    return np.asarray(
        values["full_load_scale"] * model.parameters["driveline_efficiency"].centre / values["driveline_efficiency"]
    )


def _engine_inertia(vehicle: Vehicle, model: VehicleModel, scores: FloatArray) -> FloatArray:
    per_litre, spread = defaults.ENGINE_INERTIA
    if vehicle.engine.displacement_m3 is None:
        spread = math.hypot(spread, defaults.DISPLACEMENT_SPREAD)
    return np.asarray(1e3 * model.displacement_m3 * per_litre * np.exp(spread * scores))


def carried_over(model: VehicleModel, other: VehicleModel, posterior: dict[str, FloatArray]) -> dict[str, FloatArray]:
    """Posterior draws of the parameters whose prior is the same in both models."""
    pairs = [(p, other.parameters[p.key]) for p in model.parameters.parameters]
    return {p.key: posterior[p.key] for p, q in pairs if math.isclose(p.centre, q.centre) and p.spread == q.spread}


def _chart_air(standard: Standard | None) -> tuple[float, float]:
    """Air density (kg/m3) a full-load curve is stated for, and its relative doubt."""
    if standard is None:
        return REFERENCE_DENSITY, CHART_AIR_SD
    if standard == "DIN 70020":
        return DIN_PRESSURE_PA / (DRY_AIR_GAS_CONSTANT * DIN_TEMPERATURE_K), 0.003
    return REFERENCE_DRY_PRESSURE_PA / (DRY_AIR_GAS_CONSTANT * REFERENCE_TEMPERATURE_K), 0.003


def _torque_knots(model: VehicleModel, curve: FullLoadCurve | None) -> tuple[FloatArray, FloatArray]:
    """Knots of full-load torque up to governed speed, drawn on by the last slope where the curve ends before it."""
    governed = model.governed_rps
    if curve is None:
        peak = model.engine_class.best_mep_pa * model.displacement_m3 / (model.strokes * math.pi)
        shape = np.array(CLASS_SHAPE)
        return shape[:, 0] * governed, shape[:, 1] * peak
    rps, nm = np.array(curve.speed_rps), np.maximum(np.array(curve.torque_nm), 0.0)
    if rps[-1] >= governed:
        return rps, nm
    slope = min((nm[-1] - nm[-2]) / (rps[-1] - rps[-2]), 0.0)
    return np.append(rps, governed), np.append(nm, max(nm[-1] + slope * (governed - rps[-1]), 0.0))


def _usual_smooth_rps(model: VehicleModel, lowest_rps: float) -> float:
    """Lowest speed that runs cleanly where the driver does not say: where the chart begins, well above idle."""
    return max(lowest_rps, 1.25 * model.idle_rps, _working_share(model) * model.governed_rps)


def _working_share(model: VehicleModel) -> float:
    """Share of governed speed below which an engine of this kind is usually not worked hard. Assumed."""
    return 0.30 if model.fuel in defaults.SPARK_FUELS else 0.33
