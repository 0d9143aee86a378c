"""The simulator against closed forms, conservation and invariance: nothing here asks the model."""

from __future__ import annotations

import json
import math
import os
import subprocess
import sys

import numpy as np
import pytest

from calmday.synthetic import SimulatedRun, kernel_drive, random_scenario, simulate
from calmday.synthetic.kernel_physics import air_force, full_load
from calmday.synthetic.truth_types import AirTruth, DayTruth, Trace, VehicleTruth


def plain(truth: VehicleTruth, **changes: float) -> VehicleTruth:
    """A vehicle whose road load is exactly A + C v^2."""
    simple = {"rolling_speed2": 0.0, "tyre_temperature_slope": 0.0, "pressure_ratio": 1.0, "yaw_growth": 0.0}
    return truth._replace(**(simple | changes))


def test_coastdown_agrees_with_the_closed_form(still_run: SimulatedRun) -> None:
    """CV-87 (White and Korst, SAE 720099, M; recomputed): 113.652 s and 1667.90 m."""
    radius = 0.3
    veh = plain(
        still_run.vehicle.truth,
        mass_kg=2000.0,
        rolling=0.012,
        drag_area_m2=1.1,
        wheel_radius_m=radius,
        wheel_inertia=60.0 * radius**2,
    )
    day = DayTruth(1.2, 20.0, 20.0, 0.0, 0.0)
    time, way = kernel_drive.coast(veh, day, 0.0, 0.0, 100 / 3.6, 20 / 3.6, 0.1)
    assert time == pytest.approx(113.652, abs=1e-3)
    assert way == pytest.approx(1667.90, abs=0.01)


def test_coastdown_with_wind_and_grade_agrees_with_quadrature(still_run: SimulatedRun) -> None:
    """dt = m dv / F(v) by Simpson's rule, every effect on."""
    from scipy.integrate import quad  # noqa: PLC0415

    veh, day = still_run.vehicle.truth, DayTruth(1.19, 15.0, 15.0, 1.0, 0.0)
    moving = veh.mass_kg + veh.wheel_inertia / veh.wheel_radius_m**2

    def force(v: float) -> float:
        growth = (1 + veh.rolling_speed2 * v * v) / (1 + veh.rolling_speed2 * (80 / 3.6) ** 2)
        roll = veh.mass_kg * 9.80665 * veh.rolling * growth * veh.pressure_ratio**-veh.pressure_exponent
        air = 0.5 * 1.19 * veh.drag_area_m2 * (v + 3.0) ** 2
        return (roll + veh.mass_kg * 9.80665 * 0.01) / math.sqrt(1 + 0.01**2) + air

    expected, _ = quad(lambda v: moving / force(v), 8.0, 25.0)
    way, _ = quad(lambda v: v * moving / force(v), 8.0, 25.0)
    found = kernel_drive.coast(veh, day, 3.0, 0.01, 25.0, 8.0, 0.05)
    assert found == pytest.approx((expected, way), rel=2e-4)


@pytest.mark.parametrize(("ratio", "published"), [(0.1, 1.007495), (0.3, 1.067117), (0.5, 1.184505)])
def test_drag_round_a_circle(still_run: SimulatedRun, ratio: float, published: float) -> None:
    """Mean axial drag over calm drag on a circle: reference sheet 4.3 (D, R)."""
    veh = plain(still_run.vehicle.truth)
    angles = np.linspace(0, 2 * np.pi, 721)[:-1]
    calm = air_force(veh, 20.0, 0.0, 0.0, 1.2)
    wind = ratio * 20.0
    forces = [air_force(veh, 20.0, -wind * math.cos(a), wind * math.sin(a), 1.2) for a in angles]
    assert np.mean(forces) / calm == pytest.approx(published, abs=2e-6)


def test_the_books_balance(windy_run: SimulatedRun, still_run: SimulatedRun) -> None:
    """Work at the shaft = work against air, tyres, hills, brakes, losses; indicated = shaft + the engine's
    own.
    """
    for run in (windy_run, still_run):
        for book in (run.truth.ledger_j, run.truth.calm_ledger_j):
            spent = sum(book[k] for k in ("aero", "rolling", "grade", "kinetic", "brakes", "driveline", "clutch"))
            assert spent - book["carried"] == pytest.approx(book["shaft"], rel=1e-9)
            assert book["shaft"] + book["engine_friction"] == pytest.approx(book["indicated"], rel=1e-9)
            assert 0.15 < book["indicated"] / book["fuel"] < 0.50
            assert abs(book["grade"]) < 1e-3 * book["shaft"]
            assert book["brakes"] >= 0


def test_energies_agree_with_sums_over_the_trace(windy_run: SimulatedRun) -> None:
    """Air work in still air and wheel work at rest-to-rest, from the trace alone."""
    trace, veh = windy_run.trace, windy_run.vehicle.truth
    still_air = 0.5 * 1.1837 * veh.drag_area_m2 * np.sum(trace.speed**3) * 0.1
    assert windy_run.truth.calm_ledger_j["aero"] == pytest.approx(still_air, rel=1e-3)
    inertia = (veh.mass_kg + veh.wheel_inertia / veh.wheel_radius_m**2) * trace.acceleration
    assert abs(np.sum(inertia * trace.speed) * 0.1) < 1e-4 * windy_run.truth.ledger_j["shaft"]
    assert windy_run.truth.distance_m == pytest.approx(np.sum(trace.speed) * 0.1, rel=1e-12)


def test_without_wind_the_wind_costs_nothing(still_run: SimulatedRun) -> None:
    truth = still_run.truth
    assert truth.without_kg["wind"] == truth.fuel_burnt_kg
    assert truth.alone_kg["wind"] == truth.calm_fuel_kg
    assert truth.penalties_percent["wind"] == 0.0


def test_penalties_nearly_add_up(windy_run: SimulatedRun) -> None:
    truth = windy_run.truth
    whole = 100 * (truth.fuel_burnt_kg / truth.calm_fuel_kg - 1)
    assert whole > 5
    assert sum(truth.penalties_percent.values()) == pytest.approx(whole, abs=0.3)


def test_a_finer_step_changes_nothing(windy_run: SimulatedRun) -> None:
    """The same motion in steps of half the length burns the same fuel to 0.02 %."""
    run, trace = windy_run, windy_run.trace
    fine = Trace(*(np.repeat(part, 2) for part in trace))
    calm = DayTruth(1.184, 20.0, 20.0, 0.0, 0.0)
    start = np.array([10.0, 10.0, 10.0, 10.0, 0.0])
    nothing = np.zeros(fine.speed.size)
    air = AirTruth(nothing, nothing, nothing)
    common = (run.vehicle.truth, calm, run.road, air)
    launch = run.vehicle.driver.launch_speed
    coarse, *_ = kernel_drive.replay(*common, trace, launch, start, 0.1)
    finer, *_ = kernel_drive.replay(*common, fine, launch, start, 0.05)
    assert finer == pytest.approx(coarse, rel=2e-4)


def test_the_engine_never_gives_more_than_full_load(still_run: SimulatedRun) -> None:
    """Torque needed by the trace, stays under the curve."""
    veh, trace = still_run.vehicle.truth, still_run.trace
    engaged = (trace.mode == 0) & (trace.speed > 3.0)
    v, a = trace.speed[engaged], trace.acceleration[engaged]
    ratio = veh.gear_ratio[trace.gear[engaged]] / veh.wheel_radius_m
    grade = still_run.road.grade[trace.place[engaged]]
    air = 0.5 * 0.93 * still_run.air.density * veh.drag_area_m2 * v**2
    force = air + veh.mass_kg * (a + 9.8 * grade)
    needed = force / (ratio * veh.gear_efficiency[trace.gear[engaged]])
    available = np.array([full_load(veh, w) for w in v * ratio])
    assert np.all(needed < available * 1.02)
    assert np.max(needed / available) > 0.3


def test_plain_python_gives_the_same_figures() -> None:
    """Without compilation the loops are ordinary Python; a short drive agrees to rounding."""
    choices = {
        "lap_length_m": 900.0,
        "laps": 1,
        "stops_per_lap": 0.0,
        "route_kind": "smooth loop",
        "cruise_mps": 15.0,
    }
    compiled = simulate(random_scenario(3, **choices)).truth
    program = (
        "from calmday.synthetic import random_scenario, simulate; import json; "
        f"t = simulate(random_scenario(3, **{choices!r})).truth; "
        "print(json.dumps([t.fuel_burnt_kg, t.calm_fuel_kg, t.distance_m]))"
    )
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1"}
    done = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True)
    slow = json.loads(done.stdout)
    assert slow == pytest.approx([compiled.fuel_burnt_kg, compiled.calm_fuel_kg, compiled.distance_m], rel=1e-9)
