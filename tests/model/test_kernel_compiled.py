"""Machine code against the portable kernel: the same figures for every vehicle, condition and weighting."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

pytest.importorskip("numba")

from calmday import operations
from calmday.errors import MissingExtraError
from calmday.model import kernel_compiled, kernel_loop
from calmday.model.basis import AS_DRIVEN, Conditions, build_basis
from calmday.model.drive import Drive
from calmday.model.forward import Forward
from calmday.model.scores import draw_matrix
from calmday.model.vehicle_model import build
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, FullLoadCurve, Vehicle

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler" / "run.toml"
EVERY_CONDITION = [Conditions(*on) for on in itertools.product((False, True), repeat=4)]
FEW = 24
"""So few draws that none can lie further from their mean than the margin by which the portable kernel settles samples:
the largest possible distance is (m - 1) / sqrt(m) standard deviations. Then both must agree to rounding."""


def hilly_drive(samples: int, seed: int = 1) -> Drive:
    """Stops, sharp bends, hills, head winds stronger than the vehicle is fast, a spell with the engine off."""
    rng = np.random.default_rng(seed)
    t = np.arange(samples, dtype=float)
    speed = 18 * np.clip(1.4 * np.abs(np.sin(t / 47)) - 0.2, 0, 1) + np.sin(t / 11) ** 2
    zero = np.zeros(samples)
    return Drive(
        step_s=rng.uniform(0.5, 1.5, samples),
        elapsed_s=t * 3,
        speed_mps=speed,
        acceleration_mps2=np.gradient(speed),
        grade=0.08 * np.sin(t / 140),
        heading_rad=t / 60,
        wind_east_mps=zero + 5 * np.sin(t / 300),
        wind_north_mps=zero + 4,
        turbulence_along_mps2=rng.uniform(0.5, 2, samples),
        turbulence_across_mps2=rng.uniform(0.2, 1, samples),
        air_density_kgpm3=1.2 + 0.02 * np.sin(t / 200),
        temperature_k=279 + t / samples,
        pressure_pa=98e3 + 500 * np.sin(t / 200),
        running=np.where((t > 40) & (t < 60), 0.0, 1.0),
        wind_factor_log_sd=0.3,
        wind_offset_sd_mps=0.8,
        direction_sd_rad=0.3,
        density_relative_sd=0.005,
    )


def van(**engine: Any) -> Vehicle:
    """An invented van."""
    own: dict[str, Any] = {"displacement_m3": Declared(2.1e-3), "fuel": "diesel", "injection": "indirect"} | engine
    return Vehicle(
        name="Marsh Carrier",
        body="van",
        test_mass_kg=Declared(1480.0),
        frontal_area_m2=Declared(2.9),
        drag_coefficient=Declared(0.44),
        gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
        final_drive=4.1,
        rolling_circumference_m=Declared(2.13),
        engine=Engine(**own),
    )


WEAK_CURVE = FullLoadCurve(
    speed_rps=np.array([15.0, 30.0, 45.0, 70.0]), torque_nm=np.array([40.0, 62.0, 66.0, 45.0]), source="invented"
)
VEHICLES = {
    "diesel": van(overrun_fuel_cut=True),
    "petrol without overrun cut": van(fuel="petrol", injection="carburettor", overrun_fuel_cut=False),
    "too weak for the hills": van(full_load=WEAK_CURVE),
}


def both(vehicle: Vehicle, drive: Drive, **run: Any) -> tuple[Forward, Forward]:
    model = build(vehicle, drive, **run)
    basis = build_basis(model, drive)
    return Forward(model, drive, basis), Forward(model, drive, basis, compiled=True)


def drawn(forward: Forward, count: int, seed: int = 1) -> dict[str, np.ndarray]:
    return forward.model.parameters.values(draw_matrix(count, len(forward.model.parameters), seed).parameters)


@pytest.mark.parametrize("vehicle", VEHICLES.values(), ids=VEHICLES)
@pytest.mark.parametrize("start", ["cold", "warm", None])
def test_fuel_energy_agrees_under_every_condition(vehicle: Vehicle, start: str | None) -> None:
    portable, machine = both(vehicle, hilly_drive(700), start=start, tyre_pressure_pa=2.4e5)
    values = drawn(portable, FEW)
    for on in EVERY_CONDITION:
        expected = portable.fuel_energy_j(values, on)
        np.testing.assert_allclose(machine.fuel_energy_j(values, on), expected, rtol=1e-11, err_msg=str(on))


def test_every_branch_was_taken() -> None:
    """The comparison above would say little if no sample met high load, the overrun or the choke."""
    drive = hilly_drive(700)
    portable, _ = both(VEHICLES["too weak for the hills"], drive, start="cold")
    values = drawn(portable, FEW)
    stronger = values | {"full_load_scale": values["full_load_scale"] * 2.8}
    free = values | {"full_load_scale": values["full_load_scale"] * 100}
    assert np.any(portable.fuel_energy_j(stronger) > 1.00001 * portable.fuel_energy_j(free))
    assert portable.fuel_energy_j(values).mean() < 0.999 * portable.fuel_energy_j(stronger).mean()
    petrol, _ = both(VEHICLES["petrol without overrun cut"], drive, start="cold")
    values = drawn(petrol, FEW)
    assert np.all(petrol.fuel_energy_j(values) > petrol.fuel_energy_j(values, Conditions(cold_engine=False)))
    assert np.all(petrol.fuel_energy_j(values | {"cold_enrichment": np.zeros(FEW)}) < petrol.fuel_energy_j(values))
    diesel, _ = both(VEHICLES["diesel"], drive)
    values = drawn(diesel, FEW)
    each = diesel.indicated_energy_j(values, AS_DRIVEN, np.diag(drive.step_s))
    shut_off = (each == 0) & (drive.running == 1)
    assert shut_off.all(axis=0).any() and (shut_off.any(axis=0) & ~shut_off.all(axis=0)).any()


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 2**32 - 1),
    samples=st.integers(2, 90),
    columns=st.integers(1, 5),
    on=st.sampled_from(EVERY_CONDITION),
    name=st.sampled_from(sorted(VEHICLES)),
)
def test_any_weights_agree(seed: int, samples: int, columns: int, on: Conditions, name: str) -> None:
    portable, machine = both(VEHICLES[name], hilly_drive(samples, seed), start="cold")
    values = drawn(portable, FEW, seed)
    rng = np.random.default_rng(seed)
    weights = rng.uniform(0, 2, (samples, columns)) * (rng.uniform(size=(samples, columns)) < 0.7)
    weights[: samples // 3, 0] = 0.0
    expected = portable.indicated_energy_j(values, on, weights)
    found = machine.indicated_energy_j(values, on, weights)
    assert found.shape == (FEW, columns)
    np.testing.assert_allclose(found, expected, rtol=1e-11, atol=1e-9)


def test_many_draws_agree_to_the_margin_of_the_portable_kernel() -> None:
    portable, machine = both(VEHICLES["diesel"], hilly_drive(2500), start="cold")
    values = drawn(portable, 2000)
    for on in (AS_DRIVEN, Conditions(False, False, False, False)):
        off = np.abs(machine.fuel_energy_j(values, on) / portable.fuel_energy_j(values, on) - 1)
        assert np.mean(off < 1e-9) > 0.998
        assert off.max() < 3e-4  # a draw far out, where the portable kernel takes a sample as settled


def test_shared_out_over_threads_or_not_the_figures_are_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    _, machine = both(VEHICLES["diesel"], hilly_drive(1500))
    values = drawn(machine, 301)
    monkeypatch.setattr(kernel_compiled, "thread_count", lambda: 3)
    shared = machine.fuel_energy_j(values)
    monkeypatch.setattr(kernel_compiled, "thread_count", lambda: 1)
    np.testing.assert_array_equal(machine.fuel_energy_j(values), shared)


def test_several_callers_at_once_do_not_disturb_each_other() -> None:
    _, machine = both(VEHICLES["diesel"], hilly_drive(1500))
    sets = [drawn(machine, 200, seed) for seed in range(6)]
    alone = [machine.fuel_energy_j(values) for values in sets]
    with ThreadPoolExecutor(6) as callers:
        together = list(callers.map(machine.fuel_energy_j, sets))
    np.testing.assert_array_equal(together, alone)


def test_a_parameter_that_is_no_number_spoils_its_own_draw_only() -> None:
    _, machine = both(VEHICLES["petrol without overrun cut"], hilly_drive(300), start="cold")
    sound = machine.fuel_energy_j(drawn(machine, FEW))
    for key in machine.model.parameters.keys:
        values = drawn(machine, FEW)
        values[key][3] = np.nan
        found = machine.fuel_energy_j(values)
        assert np.isnan(found[3]), key
        np.testing.assert_array_equal(np.delete(found, 3), np.delete(sound, 3))


@pytest.fixture
def without_numba(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A process in which numba was never installed."""
    kernel_compiled._add_energy.cache_clear()
    monkeypatch.delitem(sys.modules, "calmday.model.kernel_loop")
    monkeypatch.delattr("calmday.model.kernel_loop")
    monkeypatch.setitem(sys.modules, "numba", None)
    yield
    kernel_compiled._add_energy.cache_clear()


@pytest.mark.usefixtures("without_numba")
def test_without_the_extra_it_says_which_one_is_missing() -> None:
    with pytest.raises(MissingExtraError, match=r"calmday\[fast\]"):
        operations.warm_up()
    with pytest.raises(MissingExtraError, match=r"calmday\[fast\]"):
        both(VEHICLES["diesel"], hilly_drive(50))


def test_where_no_folder_is_writable_it_compiles_in_memory(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = []

    def njit(*_: object, cache: bool, **__: object) -> Any:
        asked.append(cache)
        if cache:
            raise RuntimeError("cannot cache function '_add_energy': no locator available for file 'kernel_loop.py'")
        return lambda function: function

    monkeypatch.setattr("calmday.model.kernel_loop.numba.njit", njit)
    assert kernel_loop._machine_code() is kernel_loop._add_energy
    assert asked == [True, False]


def test_warming_up_twice_costs_nothing_the_second_time() -> None:
    operations.warm_up()
    misses = kernel_compiled._add_energy.cache_info().misses
    assert operations.warm_up() >= 0
    assert kernel_compiled._add_energy.cache_info().misses == misses


@pytest.mark.skipif(not EXAMPLE.exists(), reason="the example run is not there")
def test_a_whole_run_gives_the_same_sheet() -> None:
    portable = operations.reduce_file(EXAMPLE, draws=400).result
    machine = operations.reduce_file(EXAMPLE, draws=400, compiled=True).result
    assert machine.sentence == portable.sentence
    assert portable.calm_day is not None and machine.calm_day is not None
    for name in ("value", "standard_uncertainty", "low", "high"):
        expected = getattr(portable.calm_day.L_per_100km, name)
        assert getattr(machine.calm_day.L_per_100km, name) == pytest.approx(expected, rel=1e-8)
    for ours, theirs in zip(machine.laps, portable.laps, strict=True):
        assert ours.fuel_share.value == pytest.approx(theirs.fuel_share.value, rel=1e-8)
