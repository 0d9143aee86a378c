"""What one run may learn from others of its vehicle: gears and the scatter between days are its own."""

from __future__ import annotations

import math

import numpy as np
import pytest
from run_factory import VAN, changed, reading, round_track, run_of, weighings

from calmday.model.basis import build_basis
from calmday.model.conditioning import LEARNING_SD, RUN_TO_RUN_SD, slope_at
from calmday.model.evidence import SHARED
from calmday.model.forward import Forward
from calmday.procedures.drive_of_run import drive_of_run
from calmday.procedures.knowledge import know
from calmday.procedures.simulated_run import model_of_run
from calmday.procedures.weighed_run import WeighedRun, reduce_weighed_run
from calmday.records.run import Run
from calmday.records.vehicle import Engine
from calmday.records.weather import Weather
from calmday.synthetic.coastdown_truth import invented_coastdown

THIRSTY = changed(
    VAN,
    engine=Engine(
        displacement_m3=VAN.engine.displacement_m3,
        cylinders=4,
        fuel="petrol",
        induction="natural",
        injection="carburettor",
        idle_speed_rps=VAN.engine.idle_speed_rps,
        governed_speed_rps=VAN.engine.governed_speed_rps,
    ),
)
"""A throttled engine, which a lower gear makes burn much more."""


def drive(speed_kmph: float, wind_mps: float = 7.0) -> Run:
    weather = Weather(readings=(reading(wind_speed_mps=wind_mps),), field_elevation_m=15.0)
    return run_of(vehicle=THIRSTY, track=round_track(speed_mps=speed_kmph / 3.6), weather=weather)


def burning(run: Run, habit: float) -> Run:
    """The run with the fuel that the model burns, all parameters at their centres, gears changed as `habit` has it."""
    path = drive_of_run(run)
    assert path.drive is not None
    model = model_of_run(run, path.drive)
    scores = np.zeros((1, len(model.parameters)))
    scores[0, model.parameters.column("gear_habit")] = habit
    energy = Forward(model, path.drive, build_basis(model, path.drive)).fuel_energy_j(model.parameters.values(scores))
    return changed(run, weighings=weighings(float(energy[0]) * path.scale / 43.0e6))


def calm(weighed: WeighedRun) -> np.ndarray:
    assert weighed.draws.calm_day_kgpm is not None
    return weighed.draws.calm_day_kgpm


def test_a_run_in_a_low_gear_that_nobody_saw_does_not_move_another() -> None:
    late = [burning(drive(speed), 2.5) for speed in (52.0, 56.0)]
    early = burning(drive(70.0), -1.0)
    known = know(THIRSTY, runs=late, draws=800, seed=3)
    alone, pooled = (calm(reduce_weighed_run(early, 800, 3, learnt=learnt)) for learnt in (None, known.shared))
    doubt = float(np.log(alone).std())
    assert abs(math.log(pooled.mean() / alone.mean())) < 0.55 * doubt
    assert float(np.log(pooled).std()) > 0.77 * doubt


def wind_of(fuel: float, learnt: np.ndarray) -> WeighedRun:
    run = drive(70.0)
    return reduce_weighed_run(changed(run, weighings=weighings(fuel)), 4000, 5, learnt=learnt)


def test_fuel_off_what_others_say_is_shared_out_by_what_days_scatter() -> None:
    """A vehicle known for certain: the run's fuel tells only of its own day, and of the scatter between days, in the
    ratio of their variances (normal theory)."""
    sure = 0.01 * np.random.default_rng(1).standard_normal((4000, len(SHARED)))
    run = drive(70.0)
    path = drive_of_run(run)
    assert path.drive is not None
    model = model_of_run(run, path.drive)
    forward = Forward(model, path.drive, build_basis(model, path.drive))
    zero = np.zeros(len(model.parameters))
    at, slope = slope_at(lambda z: np.log(forward.fuel_energy_j(model.parameters.values(z))), zero)
    expected = math.exp(float(at[0])) * path.scale / 43.0e6
    less, more = (wind_of(expected * factor, sure).simulated for factor in (0.98, 1.02))
    assert less is not None
    assert more is not None
    assert more.run_sd == LEARNING_SD
    moved = float(np.log(more.values["wind_factor"]).mean() - np.log(less.values["wind_factor"]).mean())
    own = np.array([key not in SHARED for key in model.parameters.keys])
    column = model.parameters.column("wind_factor")
    weighed = wind_of(expected, sure).fuel
    weighed_sd = weighed.mass_sd_kg / weighed.mass_kg

    def share(scatter: float) -> float:
        total = float((slope[own, 0] ** 2).sum()) + scatter**2 + weighed_sd**2
        return float(slope[column, 0]) * model.parameters["wind_factor"].spread * math.log(1.02 / 0.98) / total

    assert moved == pytest.approx(share(LEARNING_SD), rel=0.2)
    assert share(RUN_TO_RUN_SD) > 1.4 * share(LEARNING_SD)


def test_a_run_alone_is_reduced_as_before() -> None:
    alone = reduce_weighed_run(drive(70.0), 500, 5)
    assert alone.simulated is not None
    assert alone.simulated.run_sd == RUN_TO_RUN_SD


def test_a_day_of_coastdowns_says_nothing_of_how_rolling_goes_with_temperature() -> None:
    """A still day on an even road, whose two temperature readings differ by 3 K: the passes are alike to a per mille,
    and what was read wrongly must not become a property of the tyres."""
    _, day = invented_coastdown(7, wind_10m_mps=0.0, waves=False)
    first, last = day.weather.readings
    readings = (changed(first, temperature_k=285.0), changed(last, temperature_k=288.0))
    still = changed(day, weather=changed(day.weather, readings=readings))
    scores = know(still.vehicle, coastdowns=[still], draws=1000, seed=4).shared
    assert abs(scores[:, SHARED.index("rolling_temperature")].mean()) < 0.5
    assert scores[:, SHARED.index("rolling_temperature")].std() > 0.75
    assert scores[:, SHARED.index("rolling_resistance")].std() < 0.6
