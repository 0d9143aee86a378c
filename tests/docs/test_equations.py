"""The equations of docs/method.md, written down a second time, plainly, give what the program gives."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

import calmday
from calmday.metrology.fuels import fuel_properties
from calmday.model import basis as b
from calmday.model.kernel import fuel_energy_factor
from calmday.physics.drag import LEVELLING_YAW_RAD
from calmday.procedures.simulated_run import STEPS, SimulatedRun
from calmday.procedures.weighed_run import WeighedRun
from calmday.reduction.scale import scale_figures

ROOT = Path(__file__).parents[2]
EXAMPLE = ROOT / "examples" / "fen-hauler" / "run.toml"
AT_CENTRE = ("tyre_time", "cold_time", "rolling_growth", "rolling_temperature")
"""Parameters for which the program takes a shortcut of known size (section 21): here at their centres."""


@pytest.fixture(scope="module", params=["diesel", "petrol"])
def weighed(request: pytest.FixtureRequest) -> WeighedRun:
    """The example drive, as it is and with an engine that is throttled, enriched when cold, and idles when overrun."""
    if not EXAMPLE.exists():
        pytest.skip("examples/fen-hauler is not here")
    run = calmday.read_run(EXAMPLE)
    if request.param == "petrol":
        engine = replace(run.vehicle.engine, fuel="petrol", injection="carburettor", overrun_fuel_cut=False)
        run = replace(run, vehicle=replace(run.vehicle, engine=engine), fuel=replace(run.fuel, kind="petrol"))
    return calmday.reduce_run(run, draws=400, seed=5).weighed


def plain_wheel_power_w(
    weighed: WeighedRun, simulated: SimulatedRun, p: dict[str, float], on: b.Conditions
) -> np.ndarray:
    """Section 12, power at the wheels, second by second, for one vehicle."""
    drive, model = weighed.path.drive, simulated.model
    assert drive is not None
    v, t, grade = drive.speed_mps, drive.elapsed_s, drive.grade
    # wind in vehicle axes, as transferred and as this vehicle met it
    sin, cos = np.sin(drive.heading_rad), np.cos(drive.heading_rad)

    def axes(east: np.ndarray, north: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return -(east * sin + north * cos), east * cos - north * sin

    head0, cross0 = axes(drive.wind_east_mps, drive.wind_north_mps)
    turn = p["wind_direction"]
    offset = axes(np.full_like(v, p["wind_offset_east"]), np.full_like(v, p["wind_offset_north"]))
    head = p["wind_factor"] * (math.cos(turn) * head0 + math.sin(turn) * cross0) + offset[0]
    cross = p["wind_factor"] * (math.cos(turn) * cross0 - math.sin(turn) * head0) + offset[1]
    yaw = np.abs(np.arcsin(cross0 / np.maximum(np.hypot(v + head0, cross0), 1e-12)))
    q = LEVELLING_YAW_RAD**2 * np.tanh(yaw**2 / LEVELLING_YAW_RAD**2) / np.maximum(np.sin(yaw) ** 2, 1e-12)
    q = np.where(yaw < 1e-6, 1.0, q)
    share = head0**2 / (drive.wind_east_mps**2 + drive.wind_north_mps**2)
    along, across = drive.turbulence_along_mps2, drive.turbulence_across_mps2
    k = p["yaw_growth"]
    u = v + head
    sign = np.where(v + head0 >= 0, 1.0, -1.0)
    gusts = p["turbulence"] * (along + across + (k * q - 0.5) * (across * share + along * (1 - share)))
    density = drive.air_density_kgpm3 * p["air_density"]
    air = 0.5 * density * p["drag_area"] * (sign * u**2 + cross**2 * (0.5 + k * q) + gusts)
    if not on.wind:
        air = 0.5 * (density if on.air else b.REFERENCE_DENSITY) * p["drag_area"] * v**2

    v0, v1, cosine = 100 / 3.6, b.ROLLING_SPEED_MPS, 1 / np.sqrt(1 + grade**2)
    rolling = p["rolling_resistance"] * model.pressure_ratio**-b.PRESSURE_EXPONENT
    rolling = rolling * (1 + p["rolling_growth"] * (v / v0) ** 2) / (1 + p["rolling_growth"] * (v1 / v0) ** 2)
    if on.tyres:
        rolling = rolling * (1 + p["rolling_temperature"] * (293.15 - drive.temperature_k))
        rolling = rolling * (1 + p["tyre_warmup"] * np.exp(-t / p["tyre_time"]))
    else:  # the drift of the air's temperature during the drive is left where it is
        per_kelvin = p["rolling_temperature"]
        drift = 1 + per_kelvin * (293.15 - drive.temperature_k)
        rolling = rolling * drift / (1 + per_kelvin * (293.15 - drive.temperature_k.mean()))
    early, late = simulated.basis.early, simulated.basis.late
    z = np.array([*model.gearing.turns_per_metre, 0.0])
    eta, mass = model.parameters["driveline_efficiency"].centre, model.parameters["test_mass"].centre
    heavy = eta * 120 * model.displacement_m3 * (2 * math.pi * z) ** 2 / mass
    inertia = 1.04 + (heavy[early.gear] + heavy[late.gear]) / 2
    force = p["test_mass"] * (9.80665 * (rolling * cosine + grade * cosine) + inertia * drive.acceleration_mps2)
    return np.asarray(v * (force + air))


def plain_fuel_power_w(
    weighed: WeighedRun, simulated: SimulatedRun, p: dict[str, float], on: b.Conditions
) -> np.ndarray:
    """Section 12, driveline and engine, second by second, for one vehicle."""
    drive, model, (early, late) = weighed.path.drive, simulated.model, (simulated.basis.early, simulated.basis.late)
    assert drive is not None
    v, t = drive.speed_mps, drive.elapsed_s
    wheel = plain_wheel_power_w(weighed, simulated, p, on)
    eta = min(p["driveline_efficiency"], 0.995)
    shaft = np.maximum(wheel / eta, wheel * eta)
    shaft = np.minimum(shaft, 1.3 * p["full_load_scale"] * simulated.basis.cap_w)
    shaft = shaft + 0.3 * np.maximum(shaft - 0.8 * p["full_load_scale"] * simulated.basis.cap_w, 0)
    throttled = model.engine_class.pumping_mep_pa > 0
    pumping = p["pumping_mep"] if throttled else 0.0
    usual = model.parameters["pumping_mep"].centre
    pressure = float(np.mean(drive.pressure_pa))
    in_this_air = pumping * (1 + 0.7 * (pressure - 1e5) / usual) if on.air else pumping
    cold = 1 + (p["cold_friction"] * np.exp(-t / p["cold_time"]) if on.cold_engine else 0.0)
    losses = p["accessory_power"] * drive.running
    oil = math.exp(p["driveline_thickening"] * (293.15 - float(drive.temperature_k.mean()))) if on.cold_engine else 1.0
    losses = losses + p["driveline_drag"] * oil * v * (1 + v / b.CHURNING_SPEED_MPS) * cold
    for trace, belief in ((early, 1 - p["gear_habit"]), (late, p["gear_habit"])):
        n = trace.engine_rps * p["gearing_scale"]
        friction = p["friction_mep"] * (1 + p["friction_slope"] * (n / model.friction_reference_rps - 1))
        losses = losses + belief * model.displacement_m3 * 2 / model.strokes * n * (friction * cold + in_this_air)
    gain = 1 - pumping / model.engine_class.best_mep_pa
    idling = p["friction_mep"] * (1 + p["friction_slope"] * (model.idle_rps / model.friction_reference_rps - 1))
    idling = model.displacement_m3 * 2 / model.strokes * model.idle_rps * (idling + in_this_air) + p["accessory_power"]
    indicated = np.maximum(gain * shaft + losses, 0.0 if model.overrun_cut else idling)
    rich = 1 + (p["cold_enrichment"] * np.exp(-t / p["cold_time"]) if on.cold_engine else 0.0)
    return np.asarray(indicated * rich / p["indicated_efficiency"])


@pytest.mark.parametrize("on", [b.AS_DRIVEN, *(on for _, on in STEPS)])
def test_fuel_of_a_drive(weighed: WeighedRun, on: b.Conditions) -> None:
    simulated, drive = weighed.simulated, weighed.path.drive
    assert simulated is not None
    assert drive is not None
    values = {key: array.copy() for key, array in simulated.values.items()}
    for key in AT_CENTRE:
        values[key][:] = simulated.model.parameters[key].centre
    coded = fuel_energy_factor(
        simulated.basis, b.coefficients(simulated.model, simulated.basis, values, on), drive.step_s
    )
    coded = coded / values["indicated_efficiency"]
    for row in range(0, 400, 40):
        p = {key: float(array[row]) for key, array in values.items()}
        plain = float((plain_fuel_power_w(weighed, simulated, p, on) * drive.step_s).sum())
        assert coded[row] == pytest.approx(plain, rel=1e-9)


def test_modelled_mass_is_energy_over_heating_value_and_scaled_to_the_distance(weighed: WeighedRun) -> None:
    simulated, path = weighed.simulated, weighed.path
    assert simulated is not None
    assert path.drive is not None
    heating = fuel_properties(simulated.model.fuel).net_heating_value_jpkg
    c = b.coefficients(simulated.model, simulated.basis, simulated.values)
    energy = fuel_energy_factor(simulated.basis, c, path.drive.step_s) / simulated.values["indicated_efficiency"]
    np.testing.assert_allclose(np.exp(simulated.conditioned.modelled), energy / heating * path.scale, rtol=1e-9)


def test_fuel_from_weighings(weighed: WeighedRun) -> None:
    run, fuel = weighed.run, weighed.fuel
    sign = {"before": 1, "added": 1, "after": -1}
    read = sum(sign[w.when] * (np.mean(w.gross_kg) - w.tare_kg) for w in run.weighings)
    air = float(np.mean(weighed.path.weather.air_density_kgpm3))
    factor = (1 - air / 8000) / (1 - air / fuel.density_15_kgpm3)
    assert fuel.as_read_kg == pytest.approx(read, rel=1e-12)
    assert fuel.mass_kg == pytest.approx(read * factor, rel=1e-12)
    scale, found = scale_figures(run), {c.source: c.standard_uncertainty for c in fuel.mass_contributions}
    steps = sum(scale.division_kg**2 / 12 / (len(w.gross_kg) if len(set(w.gross_kg)) > 1 else 1) for w in run.weighings)
    told = sum(found[key] ** 2 for key in found if key.endswith("division"))
    assert told == pytest.approx(steps, rel=1e-9), "the tare is used before and after: it cancels"
    scatter = sum(scale.repeatability_kg**2 / len(w.gross_kg) for w in run.weighings)
    assert found["scale, repeatability"] == pytest.approx(math.sqrt(scatter), rel=1e-9)
    assert found["scale, accuracy"] == pytest.approx(read * scale.accuracy_sd, rel=1e-9)
    assert fuel.mass_sd_kg == pytest.approx(math.hypot(*found.values()), rel=1e-12)


def test_calm_day_is_the_weighed_figure_times_the_modelled_ratio(weighed: WeighedRun) -> None:
    simulated, draws = weighed.simulated, weighed.draws
    assert simulated is not None
    assert draws.calm_day_m3pm is not None
    picked = simulated.conditioned.picked
    per_metre = draws.fuel_mass_kg / draws.distance_m / draws.density_15_kgpm3
    expected = per_metre[picked] * np.exp(simulated.log_ratio)
    np.testing.assert_allclose(draws.calm_day_m3pm, expected, rtol=1e-12)
