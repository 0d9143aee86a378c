"""Small evidence as pieces: what the vehicle's parameters predict for each kind of cheap measurement.

Every prediction is held against the reading on a logarithmic scale or in force, where it is nearly linear in the
scores. What belongs to the moment (wind, grade, how warm the tyres were) are the piece's own scores.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.metrology.fuels import fuel_properties
from calmday.model import defaults
from calmday.model.basis import CHURNING_SPEED_MPS, REFERENCE_DENSITY, ROLLING_SPEED_MPS
from calmday.model.cruise import steady_drive
from calmday.model.evidence import SHARED, Piece
from calmday.model.parameters import HALF_WIDTH_PER_SD, Parameter, log_parameter
from calmday.model.vehicle_model import VehicleModel, build
from calmday.physics.engine import friction_mean_pressure_pa, power_w, swept_rate_m3ps
from calmday.physics.rolling import speed_factor
from calmday.procedures.coastdown_forward import NEUTRAL_SHARE, ROTATING, TYRE_STATE_SD
from calmday.procedures.gears_vehicle import prior_of
from calmday.records.declared import Declared
from calmday.records.evidence import SmallEvidence

FloatArray = NDArray[np.float64]
Values = Mapping[str, FloatArray]

LEAST_SPREAD: Final = {
    "held speed": 0.02, "roll-down": 0.02, "tow force": 0.05, "hill roll": 0.04, "weighbridge": 0.004,
    "roll-out": 0.003, "idle burn": 0.03,
}  # fmt: skip
"""Doubt of a reading that nobody states, relative, one standard deviation: a watch in the hand, a spring scale on a
rope, a public weighbridge of 10 to 20 kg. Assumed."""
WIND_SD_MPS: Final = 1.5
BOTH_WAYS_LEAVES: Final = 0.2
"""What is left of a wind or a grade when readings from both ways are averaged. Assumed."""
GRADE_SD: Final = 0.004
WALKING_MPS: Final = 1.2
CHART_AIR: Final = 0.03
_ROLL_STEPS = 80


def piece_of_evidence(one: SmallEvidence, state: int) -> Piece | None:
    """The measurement as a piece; None for a weighed litre, which speaks of the fuel and not of the vehicle."""
    made = _PREDICTIONS.get(one.kind)
    if made is None or not one.readings:
        return None
    model = build(one.vehicle, steady_drive(np.array([20.0])))
    own, log_off = made(one, model)
    spread = spread_of(one)
    parameters = model.parameters
    columns = [parameters.column(key) for key in SHARED]

    def residuals(shared: FloatArray, owned: FloatArray) -> FloatArray:
        scores = np.zeros((len(shared), len(parameters)))
        scores[:, columns] = shared
        values = parameters.values(scores) | {p.key: p.values(owned[:, i]) for i, p in enumerate(own)}
        return np.asarray(log_off(values)[:, None] / spread)

    return Piece(label=one.label, kind=one.kind, own=own, residuals=residuals, state=state)


def spread_of(one: SmallEvidence) -> float:
    """Relative standard deviation of the mean reading: repeats, instrument, and what such readings usually are."""
    readings = np.array(one.readings)
    mean = float(readings.mean())
    repeats = float(readings.std(ddof=1)) / math.sqrt(readings.size) / mean if readings.size > 1 else 0.0
    if one.instrument is not None:
        own = max(one.instrument / HALF_WIDTH_PER_SD / mean, 1e-4)
    else:
        own = LEAST_SPREAD.get(one.kind, 0.0)
    return math.hypot(repeats, own)


def density_of_litre(one: SmallEvidence) -> tuple[float, float]:
    """Density of a weighed volume (kg/m3) and its standard deviation, at the temperature it was weighed at."""
    assert one.volume_m3 is not None
    volume = one.volume_m3
    sd = volume.half_width / HALF_WIDTH_PER_SD if volume.half_width else 0.003 * volume.value
    mean = float(np.mean(one.readings))
    relative = math.hypot(sd / volume.value, one.instrument / HALF_WIDTH_PER_SD / mean if one.instrument else 0.001)
    return mean / volume.value, relative * mean / volume.value


def _normal(key: str, stated: Declared | None, spread: float, both_ways: bool, unit: str, group: str) -> Parameter:
    """A nuisance of the moment: as stated, else about nothing; both ways leave a part of it."""
    centre = stated.value if stated is not None else 0.0
    if stated is not None and stated.half_width:
        spread = stated.half_width / HALF_WIDTH_PER_SD
    elif stated is not None:
        spread *= 0.5
    leaves = BOTH_WAYS_LEAVES if both_ways else 1.0
    return Parameter(
        key=key, centre=0.0 if both_ways else centre, spread=leaves * spread, shape="normal", unit=unit, group=group,
        origin="assumed", source="as met; assumed where not stated",
    )  # fmt: skip


def _share(key: str, centre: float, spread: float, group: str) -> Parameter:
    return log_parameter(key, centre, spread, "1", group, "assumed")


def _of_road(one: SmallEvidence) -> tuple[Parameter, ...]:
    return (
        _normal("headwind", one.headwind_mps, WIND_SD_MPS, one.both_ways, "m/s", "wind"),
        _normal("grade", one.grade, GRADE_SD, one.both_ways, "1", "grade"),
        _share("tyre_state", 1.0, TYRE_STATE_SD, "tyres and rolling"),
    )


_NEUTRAL = _share("neutral_share", *NEUTRAL_SHARE, "driveline")


def _resistance(p: Values, speed: FloatArray | float, payload: float) -> FloatArray:
    """Force on the moving vehicle without the driveline, (m,); gusts and side wind are left out."""
    mass = p["test_mass"] + payload
    rolling = p["rolling_resistance"] / speed_factor(ROLLING_SPEED_MPS, p["rolling_growth"]) * p["tyre_state"]
    rolling = rolling * speed_factor(speed, p["rolling_growth"])
    axial = speed + p["headwind"]
    air = 0.5 * REFERENCE_DENSITY * p["drag_area"] * axial * np.abs(axial)
    return np.asarray(mass * STANDARD_GRAVITY_MPS2 * (rolling + p["grade"]) + air)


def _churning(p: Values, speed: FloatArray | float) -> FloatArray:
    return np.asarray(p["driveline_drag"] * (1 + speed / CHURNING_SPEED_MPS))


_CHART_READING = tuple(
    Parameter(
        key=key, centre=0.0, spread=1.0, shape="normal", unit="1", group="full-load curve", origin="assumed",
        source="reading of the chart, point by point",
    )
    for key in ("chart_level", "chart_tilt")
)  # fmt: skip
"""Standard scores of a chart's reading, as `GearVehicle.curve_scores`."""

LogOff = Callable[[Values], FloatArray]


def _held_speed(one: SmallEvidence, model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    """Full load in a gear holds a speed: the speed at which thrust meets resistance, by a step of Newton's rule.

    What each point of a traced chart may be off beyond the whole of it is drawn like the moment's own.
    """
    speed = float(np.mean(one.readings))
    chart = prior_of(one.vehicle, 2, 0, built=model)
    nominal = model.gearing.turns_per_metre[(one.gear or 1) - 1]

    def left(p: Values, v: float) -> FloatArray:
        rps = v * nominal * p["gearing_scale"]
        read = msgspec.structs.replace(chart, curve_scores=np.stack([p["chart_level"], p["chart_tilt"]], axis=1))
        torque = read.drawn_torque_nm(np.minimum(rps, model.governed_rps)[:, None])[:, 0]
        full = power_w(torque, rps) * p["full_load_scale"] * p["chart_air"]
        eta = np.minimum(p["driveline_efficiency"], 0.995)
        return np.asarray(
            eta * ((full - p["accessory_power"]) / v - _churning(p, v)) - _resistance(p, v, one.payload_kg)
        )

    def log_off(p: Values) -> FloatArray:
        slope = (left(p, 1.03 * speed) - left(p, 0.97 * speed)) / 0.06
        return np.asarray(np.clip(left(p, speed) / np.minimum(slope, -1.0), -2.0, 2.0))

    return (*_of_road(one), _share("chart_air", 1.0, CHART_AIR, "full-load curve"), *_CHART_READING), log_off


def _roll_down(one: SmallEvidence, _model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    """Time from one speed to another in neutral: the integral of M dv / F."""
    assert one.from_mps is not None
    assert one.to_mps is not None
    measured = math.log(float(np.mean(one.readings)))
    edges = np.linspace(one.to_mps, one.from_mps, _ROLL_STEPS + 1)
    middles = 0.5 * (edges[1:] + edges[:-1])

    def log_off(p: Values) -> FloatArray:
        time = np.zeros_like(p["test_mass"])
        mass = (p["test_mass"] + one.payload_kg) * (1 + p["rotating_share"])
        for v in middles:
            force = _resistance(p, float(v), one.payload_kg) + p["neutral_share"] * _churning(p, float(v))
            time += mass * (edges[1] - edges[0]) / np.maximum(force, 1.0)
        return np.asarray(measured - np.log(time))

    return (*_of_road(one), _NEUTRAL, _share("rotating_share", *ROTATING, "rotating parts")), log_off


def _tow_force(one: SmallEvidence, _model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    measured = float(np.mean(one.readings))

    def log_off(p: Values) -> FloatArray:
        force = _resistance(p, WALKING_MPS, one.payload_kg) + p["neutral_share"] * _churning(p, WALKING_MPS)
        return np.asarray((measured - force) / measured)

    return (*_of_road(one), _NEUTRAL), log_off


def _hill_roll(one: SmallEvidence, _model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    """A long hill rolled down in neutral at a speed that no longer changes: slope meets resistance."""
    speed = float(np.mean(one.readings))
    own = list(_of_road(one))
    stated = one.grade
    assert stated is not None
    half = stated.half_width
    own[1] = Parameter(
        key="grade", centre=-abs(stated.value), spread=half / HALF_WIDTH_PER_SD if half else 0.03 * abs(stated.value),
        shape="normal", unit="1", group="grade", origin="declared", source="from a map",
    )  # fmt: skip

    def log_off(p: Values) -> FloatArray:
        def left(v: float) -> FloatArray:
            return _resistance(p, v, one.payload_kg) + p["neutral_share"] * _churning(p, v)

        slope = (left(1.03 * speed) - left(0.97 * speed)) / 0.06
        return np.asarray(np.clip(left(speed) / np.maximum(slope, 1.0), -2.0, 2.0))

    return (*own, _NEUTRAL), log_off


def _weighbridge(one: SmallEvidence, _model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    measured = math.log(float(np.mean(one.readings)))
    return (), lambda p: np.asarray(measured - np.log(p["test_mass"] + one.payload_kg))


def _roll_out(one: SmallEvidence, model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    """Way per turn of the wheel, loaded: turns of the engine per metre go with its inverse."""
    assert one.turns is not None
    measured = math.log(float(np.mean(one.readings)) / one.turns)
    nominal = math.log(model.gearing.overall_ratios[0] / model.gearing.turns_per_metre[0])
    ratio = _share("ratio", 1.0, 0.003, "gearing")
    return (ratio,), lambda p: np.asarray(measured - nominal + np.log(p["gearing_scale"] / p["ratio"]))


def _idle_burn(one: SmallEvidence, model: VehicleModel) -> tuple[tuple[Parameter, ...], LogOff]:
    """Fuel burnt idling warm: friction, pumping and accessories at idle speed, over indicated efficiency."""
    assert one.duration_s is not None
    measured = math.log(float(np.mean(one.readings)) / one.duration_s)
    rps = one.idle_rps if one.idle_rps is not None else model.idle_rps
    heating = fuel_properties(model.fuel).net_heating_value_jpkg
    pumps = model.engine_class.throttled

    def log_off(p: Values) -> FloatArray:
        turning = rps * p["idle"]
        mep = friction_mean_pressure_pa(turning, p["friction_mep"], p["friction_slope"], model.friction_reference_rps)
        if pumps:
            mep = mep + p["pumping_mep"]
        work = swept_rate_m3ps(model.displacement_m3, turning, model.strokes) * mep
        work = work + p["accessory_power"] * p["idle_accessories"]
        return np.asarray(measured - np.log(work / (p["indicated_efficiency"] * heating)))

    sure = 0.02 if one.idle_rps is not None else 0.05
    sized = 0.0 if one.vehicle.engine.displacement_m3 is not None else defaults.DISPLACEMENT_SPREAD
    return (
        _share("idle", 1.0, math.hypot(sure, sized), "idle"),
        _share("idle_accessories", 0.7, 0.3, "accessories"),
    ), log_off


_PREDICTIONS: Final[dict[str, Callable[[SmallEvidence, VehicleModel], tuple[tuple[Parameter, ...], LogOff]]]] = {
    "held speed": _held_speed,
    "roll-down": _roll_down,
    "tow force": _tow_force,
    "hill roll": _hill_roll,
    "weighbridge": _weighbridge,
    "roll-out": _roll_out,
    "idle burn": _idle_burn,
}
