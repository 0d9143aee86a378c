"""The drive second by second: sums against the model's own sums, winds against complex numbers, limits."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from calmday.files.run_file import read_run
from calmday.model.basis import AS_DRIVEN, coefficients
from calmday.model.kernel import fuel_energy_factor
from calmday.operations import reduce_file
from calmday.procedures.along_the_drive import AlongTheDrive, along_the_drive
from calmday.procedures.simulated_run import thinned
from calmday.procedures.weighed_run import WeighedRun, reduce_weighed_run

EXAMPLES = Path(__file__).parents[2] / "examples"


@pytest.fixture(scope="module")
def weighed() -> WeighedRun:
    return reduce_weighed_run(read_run(EXAMPLES / "fen-hauler" / "run.toml"))


@pytest.fixture(scope="module")
def along(weighed: WeighedRun) -> AlongTheDrive:
    found = along_the_drive(weighed)
    assert found is not None
    return found


def test_the_fuel_rate_adds_up_to_the_weighed_fuel(weighed: WeighedRun, along: AlongTheDrive) -> None:
    step = weighed.path.track.step_s
    total = np.nansum(along.fuel_rate_kgps.mean) * step * weighed.path.scale
    assert total == pytest.approx(weighed.fuel.mass_kg, rel=1e-9)
    full, left = (np.mean(weighing.gross_kg) - weighing.tare_kg for weighing in weighed.run.weighings)
    assert total == pytest.approx(full - left, rel=0.005)


def test_any_part_of_the_drive_burns_what_the_kernel_says(weighed: WeighedRun, along: AlongTheDrive) -> None:
    simulated, path = weighed.simulated, weighed.path
    rows = thinned(simulated, 200)
    c = coefficients(simulated.model, simulated.basis, {k: v[rows] for k, v in simulated.values.items()}, AS_DRIVEN)
    step = path.drive.step_s
    whole = fuel_energy_factor(simulated.basis, c, step)
    rate = along.fuel_rate_kgps.mean[path.samples]
    for first, last in ((0, 120), (120, 900), (900, len(step))):
        part = np.where((np.arange(len(step)) >= first) & (np.arange(len(step)) < last), step, 0.0)
        share = float(np.mean(fuel_energy_factor(simulated.basis, c, part) / whole))
        assert rate @ part / (rate @ step) == pytest.approx(share, rel=1e-3)


def test_air_speed_is_the_length_of_motion_less_wind(weighed: WeighedRun, along: AlongTheDrive) -> None:
    p = {key: value[thinned(weighed.simulated, 200)] for key, value in weighed.simulated.values.items()}
    drive, samples = weighed.path.drive, weighed.path.samples
    for i in (200, 700, 1500, 2100):
        wind = complex(drive.wind_east_mps[i], drive.wind_north_mps[i])
        met = p["wind_factor"] * wind * np.exp(-1j * p["wind_direction"])
        met = met + p["wind_offset_east"] + 1j * p["wind_offset_north"]
        motion = drive.speed_mps[i] * 1j * np.exp(-1j * drive.heading_rad[i])
        length = np.abs(motion - met)
        assert along.air_speed_mps.mean[samples[i]] == pytest.approx(length.mean(), rel=1e-12)
        assert along.air_speed_mps.low[samples[i]] == pytest.approx(np.quantile(length, 0.025), rel=1e-12)
        assert along.air_speed_mps.high[samples[i]] == pytest.approx(np.quantile(length, 0.975), rel=1e-12)


def test_load_is_power_over_what_full_load_gives_and_never_above_it(along: AlongTheDrive) -> None:
    known = np.isfinite(along.load.mean)
    assert along.load.high[known].max() <= 1 + 1e-12
    assert along.load.low[known].min() >= 0
    pulling = known & (along.engine_power_w.low > 0)
    assert pulling.sum() > 500
    assert np.all(along.load.mean[pulling] > 0)


def test_engine_turns_with_the_wheels(weighed: WeighedRun, along: AlongTheDrive) -> None:
    early, late = weighed.simulated.basis.early, weighed.simulated.basis.late
    agreed = early.gear[(early.gear == late.gear) & (early.gear >= 0)]
    gear = int(np.bincount(agreed).argmax())
    # 195/75 R16: 0.699 m over all; a radial rolls 3.05 times that (ETRTO); axle 4.1
    per_metre = (3.65, 2.02, 1.37, 1.0, 0.83)[gear] * 4.1 / (3.05 * (2 * 0.75 * 0.195 + 16 * 0.0254))
    held = (early.gear == gear) & (late.gear == gear) & (early.engine_rps > 1.05 * weighed.simulated.model.idle_rps)
    assert held.sum() > 30
    turns = along.engine_speed_rps.mean[weighed.path.samples][held] / weighed.path.drive.speed_mps[held]
    assert turns == pytest.approx(per_metre, rel=0.005)


def test_nothing_is_known_while_parked_before_the_engine_ran(weighed: WeighedRun, along: AlongTheDrive) -> None:
    outside = np.setdiff1d(np.arange(along.time_s.size), weighed.path.samples)
    for band in (along.air_speed_mps, along.engine_power_w, along.engine_speed_rps, along.load, along.fuel_rate_kgps):
        assert np.isnan(band.mean[outside]).all()
        inside = band.mean[weighed.path.samples]
        assert np.isfinite(inside).all()
        assert np.all(band.low[weighed.path.samples] <= inside)
        assert np.all(inside <= band.high[weighed.path.samples])


def test_the_wind_is_the_reported_one_brought_down_to_the_van(along: AlongTheDrive) -> None:
    assert along.wind.known
    assert 335 < along.wind.from_deg < 355
    assert along.wind.speed.low < along.wind.speed.value < along.wind.speed.high
    knots_at_ten_metres = 12.3 * 1852 / 3600
    assert 0.3 * knots_at_ten_metres < along.wind.speed.value < 0.9 * knots_at_ten_metres
    assert 5 < along.wind.from_half_width_deg < 45


def test_the_same_run_gives_the_same_bands(weighed: WeighedRun, along: AlongTheDrive) -> None:
    again = along_the_drive(weighed)
    assert np.array_equal(again.engine_power_w.mean, along.engine_power_w.mean, equal_nan=True)


def test_the_curves_of_a_reduction_hold_the_bands(along: AlongTheDrive) -> None:
    curves = reduce_file(EXAMPLES / "fen-hauler" / "run.toml").curves
    assert {array.shape for array in curves.values()} == {along.time_s.shape}
    assert np.array_equal(curves["engine_power_w_high"], along.engine_power_w.high, equal_nan=True)
    assert {"speed_mps", "fuel_rate_kgps", "load_low"} < set(curves)


def test_without_a_track_there_is_nothing_to_show_along() -> None:
    run = read_run(EXAMPLES / "spoilt" / "grams-and-laps-only.toml")
    assert along_the_drive(reduce_weighed_run(run, draws=300)) is None


def test_without_fuel_there_is_motion_but_no_power() -> None:
    run = read_run(EXAMPLES / "spoilt" / "after-heavier-than-before.toml")
    found = along_the_drive(reduce_weighed_run(run, draws=300))
    assert found is not None
    assert found.engine_power_w is None
    assert np.isfinite(found.speed_mps.mean).all()
    assert found.wind.known
