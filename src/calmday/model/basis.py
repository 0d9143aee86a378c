"""The forward model written as coefficients (one row per draw) times basis functions (one column per sample).

Wheel power and the engine's own losses are linear in products of parameters. Keeping the two apart turns "draws times
samples" into a matrix product, and lets every sample that surely pulls (or surely coasts with the fuel shut off) be
summed once for all draws (see `kernel`).

Wheel power of sample i:
  P_w = v [ m g C_rr R_i cos(theta) + m g sin(theta) + m j_i a + F_air ]
  R_i = (1 + K (20 degC - T)) (p/p0)^-0.45 (1 + c (v/v0)^2)/(1 + c (v1/v0)^2) (1 + w exp(-t/tau))
  F_air = 1/2 rho CdA [ u|u| + s^2/2 + k q_i s^2 + T (variance of the gusts, the part across times 1/2 + k q_i) ]
with u = v + head wind, s = cross wind, q_i levelling the growth with yaw off. The wind is a factor times the
transferred wind, turned by an error of direction, plus an offset. Engine losses: friction mean pressure linear in
speed, pumping of a throttled engine, accessories, oil churning; friction and churning are larger while cold:
1 + A exp(-t/tau).
"""

from __future__ import annotations

import itertools

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.air_density import moist_air_density
from calmday.metrology.constants import (
    REFERENCE_PRESSURE_PA,
    REFERENCE_RELATIVE_HUMIDITY,
    REFERENCE_TEMPERATURE_K,
    STANDARD_GRAVITY_MPS2,
)
from calmday.model.defaults import ENGINE_INERTIA, WHEELS_SHARE
from calmday.model.drive import Drive
from calmday.model.gears import (
    EARLY_SPEED_SHARE,
    LATE_SPEED_SHARE,
    GearTrace,
    full_load_power_w,
    likely_gears,
)
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.drag import SIDE_SHARE, levelled_growth, wind_in_vehicle_axes, yaw_angle_rad
from calmday.physics.gearing import mass_factor
from calmday.physics.rolling import speed_factor, temperature_factor

FloatArray = NDArray[np.float64]

PRESSURE_EXPONENT = 0.45
DECAY_STEPS = (1 / 1.7, 1.0, 1.7)
"""Time constants, over their centre, between which exp(-t/tau) is interpolated quadratically in ln tau."""

ROLLING_SPEED_MPS = 70 / 3.6
"""Speed that a rolling coefficient is taken to be meant for: between town speed and the 80 km/h of ISO 28580."""

CHURNING_SPEED_MPS = 25.0

HIGH_LOAD = 0.8
"""Share of full load beyond which an engine takes more than its Willans line: rich mixture, late burning, smoke."""
HIGH_LOAD_SLOPE = 0.3
"""What each watt beyond it takes on top: 5 % more fuel at full load, where maps have 3 to 10 % above the best (Heywood,
ch. 15; from memory)."""
MOST_LOAD = 1.3
"""Share of full load at which a demand stops. Not at full load: what was driven the engine could do, and a demand a
little beyond the curve means that curve, gear, wind or mass are off; held there, more wind would cost no fuel. Far
beyond it the speed has jumped, not the vehicle. Assumed."""

THIN_AIR_SHARE = 0.7
"""How much of a change of the air's pressure becomes pumping of a throttled engine: all of it in the indicator diagram,
less what richer mixture takes back. Assumed."""
REFERENCE_DENSITY = float(
    moist_air_density(REFERENCE_TEMPERATURE_K, REFERENCE_PRESSURE_PA, REFERENCE_RELATIVE_HUMIDITY)
)


def high_load_w(shaft_w: FloatArray, full_w: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Power asked for, held at the most there is, and what high load takes on top of the straight line; W, shape of
    the inputs."""
    held = np.minimum(shaft_w, MOST_LOAD * full_w)
    return held, np.asarray(HIGH_LOAD_SLOPE * np.maximum(held - HIGH_LOAD * full_w, 0.0))


class Conditions(msgspec.Struct, frozen=True):
    """Which conditions of the day act. All true: as driven; all false: the calm standard day."""

    wind: bool = True
    air: bool = True
    cold_engine: bool = True
    tyres: bool = True


AS_DRIVEN = Conditions()
CALM_DAY = Conditions(False, False, False, False)


class Basis(msgspec.Struct, frozen=True, kw_only=True):
    """Basis functions of one drive. `wheel` (J, n) and `loss` (K, n) in watt per unit coefficient; `cap_w` (n,)
    full-load
    power; `running` (n,); `floor_w` power equivalent of the fuel that still flows on the overrun (0 with a cut);
    `decay` (n,) exp(-t/tau) for mixture enrichment; `early`, `late` the two gear traces.
    """

    wheel: FloatArray
    loss: FloatArray
    cap_w: FloatArray
    running: FloatArray
    decay: FloatArray
    early: GearTrace
    late: GearTrace
    mean_temperature_k: float
    mean_pressure_pa: float


class Coefficients(msgspec.Struct, frozen=True, kw_only=True):
    """Coefficients of m draws. `wheel` (m, J), `loss` (m, K); `efficiency`, `gain`, `cap`, `floor_w`, `enrichment`
    (m,)."""

    wheel: FloatArray
    loss: FloatArray
    efficiency: FloatArray
    gain: FloatArray
    cap: FloatArray
    floor_w: FloatArray
    enrichment: FloatArray


_WIND_TERMS = ("v", "a", "b", "p", "q")
_AXIAL_PAIRS = tuple(itertools.combinations_with_replacement(range(5), 2))
_CROSS_PAIRS = tuple(itertools.combinations_with_replacement(range(1, 5), 2))


def _nominal(model: VehicleModel, key: str) -> float:
    return model.parameters[key].centre


def _rolling(model: VehicleModel, drive: Drive, mean_temperature_k: float) -> list[FloatArray]:
    per_kelvin = _nominal(model, "rolling_temperature")
    drift = temperature_factor(drive.temperature_k, per_kelvin) / temperature_factor(mean_temperature_k, per_kelvin)
    base = STANDARD_GRAVITY_MPS2 * drive.speed_mps / np.sqrt(1 + drive.grade**2) * drift
    growth = speed_factor(drive.speed_mps, 1.0) - 1
    warm = base * (1 + _nominal(model, "rolling_growth") * growth)
    decays = [np.exp(-drive.elapsed_s / (_nominal(model, "tyre_time") * step)) for step in DECAY_STEPS]
    return [base, base * growth, *(warm * decay for decay in decays)]


def _air(drive: Drive) -> list[FloatArray]:
    head, cross = wind_in_vehicle_axes(drive.wind_east_mps, drive.wind_north_mps, drive.heading_rad)
    sin, cos = np.sin(drive.heading_rad), np.cos(drive.heading_rad)
    v = drive.speed_mps
    sign = np.where(v + head >= 0, 1.0, -1.0)
    half = 0.5 * drive.air_density_kgpm3 * v
    growing = half * levelled_growth(yaw_angle_rad(v, head, cross))
    axial = (v, head, cross, -sin, -cos)
    side = (np.zeros_like(v), cross, -head, cos, -sin)
    columns = []
    for j, k in _AXIAL_PAIRS:
        columns.append(half * sign * axial[j] * axial[k] * (1.0 if j == k else 2.0))
    for weight in (SIDE_SHARE * half, growing):
        for j, k in _CROSS_PAIRS:
            columns.append(weight * side[j] * side[k] * (1.0 if j == k else 2.0))
    wind = np.hypot(drive.wind_east_mps, drive.wind_north_mps)
    share = np.divide(head**2, wind**2, out=np.full_like(wind, 0.5), where=wind > 1e-6)
    along, across = drive.turbulence_along_mps2, drive.turbulence_across_mps2
    sideways = across * share + along * (1 - share)
    columns.append(half * (along + across - (1 - SIDE_SHARE) * sideways))
    columns.append(growing * sideways)
    columns.append(half * v**2)
    columns.append(0.5 * REFERENCE_DENSITY * v**3)
    return columns


def _losses(model: VehicleModel, drive: Drive, traces: tuple[GearTrace, GearTrace]) -> list[FloatArray]:
    swept = model.displacement_m3 * 2 / model.strokes
    columns = []
    for trace in traces:
        rate = swept * trace.engine_rps * drive.running
        columns += [rate, rate * trace.engine_rps / model.friction_reference_rps]
    churning = drive.speed_mps * (1 + drive.speed_mps / CHURNING_SPEED_MPS)
    columns.append(churning)
    cold = [np.exp(-drive.elapsed_s / (_nominal(model, "cold_time") * step)) for step in DECAY_STEPS]
    columns += [column * decay for decay in cold for column in tuple(columns)]
    columns.append(drive.running)
    return columns


def _first_guess_power(model: VehicleModel, drive: Drive) -> FloatArray:
    """Shaft power with every parameter at its centre, to choose gears by."""
    mass, area = _nominal(model, "test_mass"), _nominal(model, "drag_area")
    head, cross = wind_in_vehicle_axes(drive.wind_east_mps, drive.wind_north_mps, drive.heading_rad)
    axial = drive.speed_mps + head
    drag = 0.5 * drive.air_density_kgpm3 * area * (axial * np.abs(axial) + 3 * cross**2)
    weight = mass * STANDARD_GRAVITY_MPS2
    force = weight * (1.15 * _nominal(model, "rolling_resistance") + drive.grade) + drag
    force = force + 1.06 * mass * drive.acceleration_mps2
    return np.asarray(np.maximum(force * drive.speed_mps, 0.0) / _nominal(model, "driveline_efficiency"))


def mass_factors(model: VehicleModel) -> FloatArray:
    """Equivalent mass over mass in each gear, and with the clutch open at the end, every parameter at its centre.

    The spread of what turns is left out here: it moves fuel as driven and on the calm day alike.
    """
    turns = np.array([*model.gearing.turns_per_metre, 0.0])
    inertia = 1e3 * model.displacement_m3 * ENGINE_INERTIA[0]
    mass, efficiency = _nominal(model, "test_mass"), _nominal(model, "driveline_efficiency")
    return mass_factor(turns, inertia, WHEELS_SHARE[0], mass, efficiency)


def build_basis(model: VehicleModel, drive: Drive, gears: tuple[GearTrace, GearTrace] | None = None) -> Basis:
    """Basis functions of a drive; `gears` (early, late) replaces the likely gears where they are known."""
    if gears is None:
        asked = _first_guess_power(model, drive)
        gears = (
            likely_gears(model, drive.speed_mps, drive.step_s, asked, EARLY_SPEED_SHARE),
            likely_gears(model, drive.speed_mps, drive.step_s, asked, LATE_SPEED_SHARE),
        )
    mean_temperature = float(np.mean(drive.temperature_k))
    turning = mass_factors(model)
    inertia = 0.5 * (turning[gears[0].gear] + turning[gears[1].gear])
    slope = drive.grade / np.sqrt(1 + drive.grade**2)
    climb = drive.speed_mps * (STANDARD_GRAVITY_MPS2 * slope + inertia * drive.acceleration_mps2)
    cap = np.maximum(full_load_power_w(model, gears[0].engine_rps), full_load_power_w(model, gears[1].engine_rps))
    return Basis(
        wheel=np.array([*_rolling(model, drive, mean_temperature), climb, *_air(drive)]),
        loss=np.array(_losses(model, drive, gears)),
        cap_w=cap,
        running=drive.running,
        decay=np.exp(-drive.elapsed_s / _nominal(model, "cold_time")),
        early=gears[0],
        late=gears[1],
        mean_temperature_k=mean_temperature,
        mean_pressure_pa=float(np.mean(drive.pressure_pa)) if len(drive) else REFERENCE_PRESSURE_PA,
    )


def decay_weights(values: FloatArray, centre: float) -> list[FloatArray]:
    """Lagrange weights in ln tau of the three tabulated decays."""
    nodes = np.log(DECAY_STEPS)
    x = np.clip(np.log(values / centre), 1.6 * nodes[0], 1.6 * nodes[2])
    weights = []
    for j in range(3):
        others = [nodes[k] for k in range(3) if k != j]
        weights.append((x - others[0]) * (x - others[1]) / ((nodes[j] - others[0]) * (nodes[j] - others[1])))
    return weights


def rolling_coefficients(model: VehicleModel, basis: Basis, p: Values, on: Conditions) -> list[FloatArray]:
    """Coefficients of the five rolling terms, each (m,): even, growing with speed, and the three decays of warm-up."""
    rolling = p["test_mass"] * p["rolling_resistance"] / speed_factor(ROLLING_SPEED_MPS, p["rolling_growth"])
    decays = [np.zeros_like(rolling)] * 3
    if on.tyres:
        rolling = rolling * temperature_factor(basis.mean_temperature_k, p["rolling_temperature"])
        warmup = rolling * p["tyre_warmup"]
        decays = [warmup * w for w in decay_weights(p["tyre_time"], _nominal(model, "tyre_time"))]
    pressure = model.pressure_ratio**-PRESSURE_EXPONENT
    return [pressure * c for c in (rolling, rolling * p["rolling_growth"], *decays)]


def _wheel_coefficients(model: VehicleModel, basis: Basis, p: Values, on: Conditions) -> FloatArray:
    columns = rolling_coefficients(model, basis, p, on)
    zero = np.zeros_like(p["test_mass"])
    columns.append(p["test_mass"])

    area = p["drag_area"] * (p["air_density"] if on.air else 1.0)
    if on.wind:
        growth = area * p["yaw_growth"]
        a = p["wind_factor"] * np.cos(p["wind_direction"])
        b = p["wind_factor"] * np.sin(p["wind_direction"])
        wind = (np.ones_like(a), a, b, p["wind_offset_east"], p["wind_offset_north"])
        columns += [area * wind[j] * wind[k] for j, k in _AXIAL_PAIRS]
        columns += [own * wind[j] * wind[k] for own in (area, growth) for j, k in _CROSS_PAIRS]
        columns += [area * p["turbulence"], growth * p["turbulence"], zero, zero]
    else:
        columns += [zero] * (len(_AXIAL_PAIRS) + 2 * len(_CROSS_PAIRS) + 2)
        columns += [area, zero] if on.air else [zero, area]
    return np.stack(columns, axis=1)


class EngineCoefficients(msgspec.Struct, frozen=True):
    """What the engine does in m draws, each (m,).

    `friction`, `rising` and `pumping` in pascal: friction at no speed, its growth up to the reference speed, pumping;
    `cold` the share of friction that a cold start adds; `efficiency` of the driveline; the rest as in `Coefficients`.
    """

    friction: FloatArray
    rising: FloatArray
    pumping: FloatArray
    cold: FloatArray
    efficiency: FloatArray
    gain: FloatArray
    floor_w: FloatArray
    enrichment: FloatArray


def pumping_mep_pa(model: VehicleModel, p: Values, pressure_pa: float) -> FloatArray:
    """Pumping mean pressure (m,), pascal, at no load in air of a pressure: exhaust against the air outside less what
    the manifold holds; none without a throttle.

    The manifold needs the same pressure for the same charge whatever the day's air, so pumping follows that air: thin
    air opens the throttle (Heywood, ch. 13, p_e - p_i). Not all of it is saved: in thin air a carburettor's mixture is
    richer.
    """
    if not model.engine_class.throttled:
        return np.zeros_like(p["pumping_mep"])
    excess = THIN_AIR_SHARE * (pressure_pa - REFERENCE_PRESSURE_PA) / model.parameters["pumping_mep"].centre
    return np.asarray(p["pumping_mep"] * max(1 + excess, 0.0))


def engine_coefficients(model: VehicleModel, basis: Basis, p: Values, on: Conditions) -> EngineCoefficients:
    """Mean pressures, gain, floor and cold-start shares of the draws `p` under the conditions `on`."""
    friction = p["friction_mep"]
    slope = p["friction_slope"]
    scale = p["gearing_scale"]
    none = np.zeros_like(friction)
    pumping = pumping_mep_pa(model, p, basis.mean_pressure_pa if on.air else REFERENCE_PRESSURE_PA)
    swept_at_idle = model.displacement_m3 * 2 / model.strokes * model.idle_rps
    at_idle = friction * (1 + slope * (model.idle_rps / model.friction_reference_rps - 1)) + pumping
    return EngineCoefficients(
        friction=friction * (1 - slope) * scale,
        rising=friction * slope * scale**2,
        pumping=pumping * scale,
        cold=p["cold_friction"] if on.cold_engine else none,
        efficiency=np.minimum(p["driveline_efficiency"], 0.995),
        gain=1 - pumping_mep_pa(model, p, REFERENCE_PRESSURE_PA) / model.engine_class.best_mep_pa,
        floor_w=none if model.overrun_cut else swept_at_idle * at_idle + p["accessory_power"],
        enrichment=p["cold_enrichment"] if on.cold_engine else none,
    )


def oil_drag_n(p: Values, temperature_k: float) -> FloatArray:
    """Drag of gearbox and axle near standstill (m,), newton, driven warm in air of a temperature: oil follows the
    air."""
    colder = REFERENCE_TEMPERATURE_K - temperature_k
    return np.asarray(p["driveline_drag"] * np.exp(p["driveline_thickening"] * colder))


def driveline_drag_n(basis: Basis, p: Values, on: Conditions) -> FloatArray:
    """`oil_drag_n` of a drive: in the cold of the day, or of the calm day."""
    return oil_drag_n(p, basis.mean_temperature_k if on.cold_engine else REFERENCE_TEMPERATURE_K)


def coefficients(model: VehicleModel, basis: Basis, p: Values, on: Conditions = AS_DRIVEN) -> Coefficients:
    """Coefficients of the draws `p` (each (m,)) under the conditions `on`."""
    engine = engine_coefficients(model, basis, p, on)
    late = p["gear_habit"]
    early = 1 - late
    none = np.zeros_like(late)
    own = [early * engine.friction, early * engine.rising, late * engine.friction, late * engine.rising]
    own.append(driveline_drag_n(basis, p, on))
    pumped = [early * engine.pumping, none, late * engine.pumping, none, none]
    columns = [x + y for x, y in zip(own, pumped, strict=True)]
    for weight in decay_weights(p["cold_time"], _nominal(model, "cold_time")):
        columns += [engine.cold * weight * column for column in own]
    columns.append(p["accessory_power"])
    return Coefficients(
        wheel=_wheel_coefficients(model, basis, p, on),
        loss=np.stack(columns, axis=1),
        efficiency=engine.efficiency,
        gain=engine.gain,
        cap=p["full_load_scale"],
        floor_w=engine.floor_w,
        enrichment=engine.enrichment,
    )
