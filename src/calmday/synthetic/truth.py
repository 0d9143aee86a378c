"""What the simulated drive would have burnt had one thing or another been otherwise."""

from __future__ import annotations

import msgspec
import numpy as np

from calmday.synthetic.air_truth import WindFacts, moist_density
from calmday.synthetic.scenario import Scenario
from calmday.synthetic.truth_types import (
    COOLANT,
    GEARBOX,
    LEDGER_NAMES,
    OIL,
    TYRE,
    AirTruth,
    DayTruth,
    FloatArray,
    RoadTruth,
    Trace,
)
from calmday.synthetic.vehicle_truth import VehicleFacts

STEP_S = 0.1
CALM_TEMPERATURE_C, CALM_PRESSURE_PA, CALM_HUMIDITY = 20.0, 100_000.0, 0.5
_ENGINE = [COOLANT, OIL, GEARBOX]


class Truth(msgspec.Struct, frozen=True, kw_only=True):
    """What is really so. Masses kg, distances m, times s, energies J.

    `without_kg`: fuel of the day driven with one condition taken away (at reference). `alone_kg`: fuel of the
    calm day with that condition added. `penalties_percent` of the calm-day fuel: mean of both differences.
    """

    fuel_burnt_kg: float
    calm_fuel_kg: float
    without_kg: dict[str, float]
    alone_kg: dict[str, float]
    penalties_percent: dict[str, float]
    distance_m: float
    duration_s: float
    moving_time_s: float
    laps: int
    ledger_j: dict[str, float]
    calm_ledger_j: dict[str, float]
    mean_wind_10m_mps: float
    height_ratio: float
    roughness_m: float
    warm_c: dict[str, float]
    start_c: dict[str, float]


def warm_guess(vehicle: VehicleFacts, ambient_c: float) -> FloatArray:
    """Temperatures [degC] of a vehicle after a good hour on the road, for a start."""
    state = np.zeros(5)
    state[TYRE] = ambient_c + vehicle.truth.tyre_warm_c - 20
    state[COOLANT] = vehicle.truth.thermostat_c
    state[OIL] = vehicle.truth.thermostat_c + 6 + 0.1 * (ambient_c - 20)
    state[GEARBOX] = ambient_c + 40
    return state


class Replayer:
    """One trace, to be driven again on any day from any temperatures."""

    def __init__(self, vehicle: VehicleFacts, road: RoadTruth, air: AirTruth, trace: Trace) -> None:
        self.vehicle, self.road, self.air, self.trace = vehicle, road, air, trace

    def full(self, day: DayTruth, start: FloatArray) -> tuple[float, FloatArray, FloatArray, FloatArray]:
        """Fuel [kg], fuel flow [kg/s], ledger [J], temperatures [degC] in time."""
        from calmday.synthetic.kernel_drive import replay  # noqa: PLC0415  # compiles; slow to import

        launch = self.vehicle.driver.launch_speed
        fuel, flow, ledger, states = replay(
            self.vehicle.truth, day, self.road, self.air, self.trace, launch, start, STEP_S
        )
        return float(fuel), flow, ledger, states  # uncompiled, the sum is a scalar of numpy, which no JSON takes

    def fuel(self, day: DayTruth, start: FloatArray) -> float:
        """Fuel [kg] alone."""
        return self.full(day, start)[0]

    def settled(self, day: DayTruth, guess: FloatArray) -> FloatArray:
        """Temperatures of a vehicle that has been driven like this for long: twice round, mean of the
        second half.
        """
        state = guess
        for _ in range(2):
            states = self.full(day, state)[3]
            state = states[states.shape[0] // 2 :].mean(axis=0)
            state[4] = 0.0
        return state


def known_truth(
    scenario: Scenario, run: Replayer, today: DayTruth, begin: FloatArray, wind: WindFacts
) -> tuple[Truth, FloatArray]:
    """The truth of a drive, and its fuel flow in time [kg/s]."""
    vehicle, trace = run.vehicle, run.trace
    reference = moist_density(CALM_TEMPERATURE_C, CALM_PRESSURE_PA, CALM_HUMIDITY)
    calm = DayTruth(reference, CALM_TEMPERATURE_C, CALM_TEMPERATURE_C, 0.0, 0.0)
    warm = run.settled(calm, warm_guess(vehicle, CALM_TEMPERATURE_C))
    burnt, flow, ledger, _ = run.full(today, begin)
    base, _, calm_ledger, _ = run.full(calm, warm)

    engine_cold, tyres_cold, engine_warm, tyres_warm = warm.copy(), warm.copy(), begin.copy(), begin.copy()
    engine_cold[_ENGINE], tyres_cold[TYRE] = begin[_ENGINE], begin[TYRE]
    engine_warm[_ENGINE], tyres_warm[TYRE] = warm[_ENGINE], warm[TYRE]
    calm_c, today_c = CALM_TEMPERATURE_C, today.temperature_c
    without = {
        "wind": run.fuel(today._replace(wind_scale=0.0), begin),
        "air_density": run.fuel(today._replace(density=reference, lapse=0.0), begin),
        "cold_engine": run.fuel(today._replace(temperature_c=calm_c), engine_warm),
        "cold_tyres": run.fuel(today._replace(tyre_air_c=calm_c), tyres_warm),
    }
    alone = {
        "wind": run.fuel(calm._replace(wind_scale=1.0), warm),
        "air_density": run.fuel(calm._replace(density=today.density, lapse=today.lapse), warm),
        "cold_engine": run.fuel(calm._replace(temperature_c=today_c), engine_cold),
        "cold_tyres": run.fuel(calm._replace(tyre_air_c=today_c), tyres_cold),
    }
    truth = Truth(
        fuel_burnt_kg=burnt,
        calm_fuel_kg=base,
        without_kg=without,
        alone_kg=alone,
        penalties_percent={name: 50 / base * (burnt - without[name] + alone[name] - base) for name in without},
        distance_m=float(trace.speed.sum() * STEP_S),
        duration_s=trace.speed.size * STEP_S,
        moving_time_s=float((trace.speed > 0.15).sum() * STEP_S),
        laps=scenario.laps,
        ledger_j=dict(zip(LEDGER_NAMES, ledger.tolist(), strict=True)),
        calm_ledger_j=dict(zip(LEDGER_NAMES, calm_ledger.tolist(), strict=True)),
        mean_wind_10m_mps=float(wind.speed_10m[: trace.speed.size].mean()),
        height_ratio=wind.height_ratio,
        roughness_m=wind.roughness_m,
        warm_c={"tyre": float(warm[TYRE]), "coolant": float(warm[COOLANT]), "oil": float(warm[OIL])},
        start_c={"tyre": float(begin[TYRE]), "coolant": float(begin[COOLANT]), "oil": float(begin[OIL])},
    )
    return truth, flow
