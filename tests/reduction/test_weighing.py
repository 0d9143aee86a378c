"""Weighings and fills against cases worked by hand and against simulated days with known truth."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.metrology.buoyancy import buoyancy_factor
from calmday.metrology.fuel_volume import density_at
from calmday.records.declared import Declared
from calmday.records.run import Fill, FuelBatch, FuelSystem, Run, Scale, Weighing
from calmday.records.vehicle import Engine, Vehicle
from calmday.reduction.weighing import net_mass_kg, reduce_fuel

AIR = 1.2
SCALE = Scale(resolution_kg=0.005, repeatability_kg=0.004, accuracy=0.001, capacity_kg=20.0)
DIESEL = FuelBatch(kind="diesel", density_kgpm3=Declared(836.0), density_temperature_k=288.15)


def weighing(when, *gross, tare=0.0, batch=""):
    return Weighing(when=when, gross_kg=gross, tare_kg=tare, batch=batch)


def run_of(*weighings, **changes):
    settings = {"fuel": DIESEL, "scale": SCALE, "fuel_system": FuelSystem(repeatability_kg=0.012)} | changes
    return Run(label="test", vehicle=Vehicle(name="van"), weighings=weighings, **settings)


def parts(fuel):
    return {c.source: c.standard_uncertainty for c in fuel.mass_contributions}


def in_volume(fuel):
    return {c.source: c.standard_uncertainty for c in fuel.volume_contributions}


def test_budget_of_the_printed_example():
    """2325 g on a parcel scale: 2.0, 4.2, 3.5, 12 and 3 g make 13.7 g. Worked budget of the needs study,
    section 3.
    """
    run = run_of(
        weighing("before", 8.395),
        weighing("after", 6.070),
        scale=Scale(resolution_kg=0.005),
        fuel=FuelBatch(kind="diesel"),
        fuel_system=FuelSystem(),
    )
    fuel = reduce_fuel(run, 1.22)
    found = parts(fuel)
    display = math.hypot(found["scale, before: division"], found["scale, after: division"])
    assert display == pytest.approx(0.0020, abs=5e-5)
    assert found["scale, repeatability"] == pytest.approx(0.0042, abs=5e-5)
    assert found["scale, accuracy"] == pytest.approx(0.0035, abs=5e-5)
    assert found["fuel in lines, filter, air pockets"] == 0.012
    assert found["drips and vapour"] == 0.003
    assert fuel.mass_sd_kg == pytest.approx(0.0137, abs=5e-5)
    assert in_volume(fuel)["fuel density"] / fuel.volume_15_m3 == pytest.approx(0.0087, abs=5e-5)
    assert fuel.density_origin == "assumed"
    # 42.61 km: 6.56 L/100 km before the lift of the air, 0.13 % more with it.
    assert 1e5 * fuel.volume_15_m3 / 42.61 == pytest.approx(6.56 * 1.0013, abs=5e-3)


def test_as_read_correction_corrected():
    fuel = reduce_fuel(
        run_of(weighing("before", 16.605, 16.610, tare=1.020), weighing("after", 13.240, tare=1.020)), AIR
    )
    assert fuel.as_read_kg == pytest.approx(16.6075 - 13.240, abs=1e-12)
    assert fuel.buoyancy_factor == buoyancy_factor(AIR, 836.0)
    assert fuel.mass_kg == pytest.approx(fuel.as_read_kg * fuel.buoyancy_factor, rel=1e-14)
    assert fuel.volume_15_m3 == pytest.approx(fuel.mass_kg / 836.0, rel=1e-14)
    assert fuel.volume_60f_m3 == pytest.approx(fuel.mass_kg / density_at(836.0, 288.15 + 5 / 9), rel=1e-12)
    assert fuel.measured == "mass" and fuel.density_origin == "declared"


def test_contributions_make_up_the_whole():
    fuel = reduce_fuel(run_of(weighing("before", 9.0), weighing("added", 2.0), weighing("after", 5.0)), AIR)
    assert fuel.as_read_kg == pytest.approx(6.0)
    assert fuel.mass_sd_kg == pytest.approx(math.hypot(*parts(fuel).values()), rel=1e-12)
    assert fuel.volume_15_sd_m3 == pytest.approx(math.hypot(*in_volume(fuel).values()), rel=1e-12)
    assert parts(fuel)["scale, accuracy"] == pytest.approx(6.0 * 0.001 / math.sqrt(3))  # on the difference
    assert parts(fuel)["scale, repeatability"] == pytest.approx(0.004 * math.sqrt(3))


@given(st.integers(1, 6), st.floats(0.5, 15.0))
def test_parts_add_up_and_each_costs_a_weighing(k, each):
    fuel = reduce_fuel(run_of(*[weighing("before", each)] * k, weighing("after", 0.3)), AIR)
    assert fuel.as_read_kg == pytest.approx(k * each - 0.3, rel=1e-12)
    assert parts(fuel)["scale, repeatability"] == pytest.approx(0.004 * math.sqrt(k + 1))
    assert parts(fuel)["scale, before: division"] == pytest.approx(0.005 / math.sqrt(12) * math.sqrt(k))


def test_repeat_readings_average_noise_and_steps_but_copies_keep_the_step():
    differing = parts(reduce_fuel(run_of(weighing("before", 9.000, 9.005, 9.005, 9.010), weighing("after", 5.0)), AIR))
    copied = parts(reduce_fuel(run_of(weighing("before", *[9.005] * 4), weighing("after", 5.0)), AIR))
    step = 0.005 / math.sqrt(12)
    assert differing["scale, before: division"] == pytest.approx(step / 2)
    assert copied["scale, before: division"] == pytest.approx(step)
    assert differing["scale, repeatability"] == pytest.approx(0.004 * math.sqrt(1 / 4 + 1))


def test_common_tare_cancels_unless_it_is_left_over():
    cancelled = reduce_fuel(run_of(weighing("before", 9.0, tare=1.0), weighing("after", 5.0, tare=1.0)), AIR)
    assert "scale, tare: division" not in parts(cancelled)
    two = [weighing("before", 9.0, tare=1.0), weighing("before", 8.0, tare=1.0)]
    left = reduce_fuel(run_of(*two, weighing("after", 5.0, tare=1.0)), AIR)
    assert parts(left)["scale, tare: division"] == pytest.approx(0.005 / math.sqrt(12))
    assert parts(left)["scale, repeatability"] == pytest.approx(0.004 * math.sqrt(3 + 1))
    other = reduce_fuel(run_of(weighing("before", 9.0, tare=1.0), weighing("after", 5.0, tare=0.8)), AIR)
    assert parts(other)["scale, repeatability"] == pytest.approx(0.004 * math.sqrt(2 + 2))


def test_a_tare_forgotten_on_both_sides_changes_nothing():
    with_tare = net_mass_kg(run_of(weighing("before", 9.612, tare=0.612), weighing("after", 5.612, tare=0.612)))
    without = net_mass_kg(run_of(weighing("before", 9.612), weighing("after", 5.612)))
    assert with_tare == pytest.approx(without, abs=1e-12)


def test_null_test_mean_is_a_correction_and_its_scatter_the_doubt():
    tests = (0.020, 0.034, 0.027, 0.023, 0.031, 0.015)
    system = FuelSystem(arrangement="test can", null_test_kg=tests)
    fuel = reduce_fuel(run_of(weighing("before", 9.0), weighing("after", 5.0), fuel_system=system), AIR)
    mean = float(np.mean(tests))
    assert fuel.null_test_correction_kg == pytest.approx(mean)
    assert fuel.as_read_kg == pytest.approx(4.0)
    assert fuel.mass_kg == pytest.approx((4.0 - mean) * fuel.buoyancy_factor)
    # The scatter of the tries holds two weighings each, which the scale's own lines already count.
    scale = 2 * (0.004**2 + 0.005**2 / 12)
    own = float(np.sum((np.array(tests) - mean) ** 2)) - 5 * scale
    variance = (2 * 0.012**2 + own) / (2 + 5)
    assert parts(fuel)["fuel in lines, filter, air pockets"] == pytest.approx(math.sqrt(variance))
    assert parts(fuel)["null test"] == pytest.approx(math.sqrt((variance + scale) / 6))
    assert any("null test" in note for note in fuel.notes)
    assert "drips and vapour" not in parts(fuel)


def test_one_null_test_tells_the_mean_but_no_scatter():
    system = FuelSystem(null_test_kg=(0.02,))
    fuel = reduce_fuel(run_of(weighing("before", 9.0), weighing("after", 5.0), fuel_system=system), AIR)
    assert parts(fuel)["fuel in lines, filter, air pockets"] == pytest.approx(0.012)
    assert parts(fuel)["null test"] > 0.012


def test_petrol_vapour_counts_and_diesel_has_none():
    pair = weighing("before", 9.0), weighing("after", 5.0)
    petrol = FuelBatch(kind="petrol", density_kgpm3=Declared(745.0))
    fuel = reduce_fuel(run_of(*pair, fuel=petrol), AIR)
    assert parts(fuel)["drips and vapour"] == pytest.approx(1e-3 * fuel.mass_kg / math.sqrt(3))
    assert "drips and vapour" not in parts(reduce_fuel(run_of(*pair), AIR))


def test_undeclared_scale_is_wider_and_says_so():
    pair = weighing("before", 9.005), weighing("after", 5.010)
    bare = reduce_fuel(run_of(*pair, scale=Scale()), AIR)
    assert parts(bare)["scale, accuracy"] == pytest.approx(0.005 * bare.as_read_kg)
    assert bare.mass_sd_kg > reduce_fuel(run_of(*pair), AIR).mass_sd_kg
    assert sum("assumed" in note for note in bare.notes) == 3


def test_scatter_beyond_the_declared_repeatability_is_believed():
    quiet = reduce_fuel(run_of(weighing("before", 9.0, 9.005, 9.01), weighing("after", 5.0, 5.005, 5.0)), AIR)
    loud = reduce_fuel(run_of(weighing("before", 9.0, 9.06, 9.03), weighing("after", 5.0, 5.05, 5.02)), AIR)
    assert parts(quiet)["scale, repeatability"] == pytest.approx(0.004 * math.sqrt(2 / 3))
    assert parts(loud)["scale, repeatability"] > 4 * parts(quiet)["scale, repeatability"]
    assert any("scatter more than declared" in note for note in loud.notes)


@pytest.mark.parametrize(("before", "after"), [(5.0, 9.0), (5.0, 5.0), (0.0, 0.0)])
def test_nothing_or_less_than_nothing_still_comes_back(before, after):
    fuel = reduce_fuel(run_of(weighing("before", before), weighing("after", after)), AIR)
    assert fuel.as_read_kg == pytest.approx(before - after)
    assert fuel.mass_sd_kg > 0.012 and math.isfinite(fuel.volume_15_sd_m3)


@pytest.mark.parametrize(
    ("weighings", "word"),
    [
        ((), "no weighing and no fill"),
        ((weighing("before", 9.0),), "after the run"),
        ((weighing("after", 9.0),), "before the run"),
    ],
)
def test_what_cannot_be_computed_is_refused_with_a_remedy(weighings, word):
    with pytest.raises(InputError, match=word) as caught:
        reduce_fuel(run_of(*weighings), AIR)
    assert "weighing" in caught.value.faults[0].right


def test_density_is_brought_to_15_degrees():
    warm = density_at(836.0, 303.15)
    batch = FuelBatch(kind="diesel", density_kgpm3=Declared(warm, half_width=2.0), density_temperature_k=303.15)
    fuel = reduce_fuel(run_of(weighing("before", 9.0), weighing("after", 5.0), fuel=batch), AIR)
    assert fuel.density_15_kgpm3 == pytest.approx(836.0, abs=1e-6)
    assert fuel.density_15_sd_kgpm3 == pytest.approx(2.0 / 1.959964, rel=1e-6)


def test_density_default_follows_the_fuel_or_the_engine():
    pair = weighing("before", 9.0), weighing("after", 5.0)
    by_run = reduce_fuel(run_of(*pair, fuel=FuelBatch(kind="petrol")), AIR)
    unknown = reduce_fuel(run_of(*pair, fuel=FuelBatch()), AIR)
    engine = Vehicle(name="van", engine=Engine(fuel="petrol"))
    by_engine = reduce_fuel(
        Run(
            label="x",
            vehicle=engine,
            weighings=pair,
            scale=SCALE,
            fuel_system=FuelSystem(repeatability_kg=0.012),
        ),
        AIR,
    )
    assert by_run.density_15_kgpm3 == by_engine.density_15_kgpm3 == 745.0
    assert unknown.density_15_sd_kgpm3 > 3 * by_run.density_15_sd_kgpm3
    measured = FuelBatch(density_kgpm3=Declared(836.0, origin="measured"))
    assert reduce_fuel(run_of(*pair, fuel=measured), AIR).density_origin == "measured"


def test_mixed_batches_are_noted():
    fuel = reduce_fuel(
        run_of(weighing("before", 9.0, batch="A"), weighing("added", 1.0, batch="B"), weighing("after", 5.0)),
        AIR,
    )
    assert any("batch" in note for note in fuel.notes)


def test_warm_fuel_is_lifted_a_little_more():
    run = run_of(weighing("before", 9.0), weighing("after", 5.0))
    assert reduce_fuel(run, AIR, 323.15).buoyancy_factor == pytest.approx(
        buoyancy_factor(AIR, density_at(836.0, 323.15)), rel=1e-14
    )


def fills(*fill, **changes):
    return run_of(fills=fill, **({"fuel_system": FuelSystem(arrangement="brim to brim")} | changes))


def test_fills_by_volume():
    fuel = reduce_fuel(
        fills(Fill(volume_m3=0.030, temperature_k=298.15), Fill(volume_m3=0.020, temperature_k=288.15)), AIR
    )
    expected = 0.030 * density_at(836.0, 298.15) / 836.0 + 0.020
    assert fuel.measured == "volume"
    assert fuel.volume_15_m3 == pytest.approx(expected, rel=1e-12)
    assert fuel.mass_kg == pytest.approx(836.0 * expected, rel=1e-12)
    found = in_volume(fuel)
    assert found["level of the full tank"] == pytest.approx(0.3e-3 * math.sqrt(2))  # however many fills
    assert found["pump meter"] == pytest.approx(0.005 / math.sqrt(3) * expected)
    assert parts(fuel)["fuel density"] == pytest.approx(1.5 * expected)
    assert fuel.volume_15_sd_m3 == pytest.approx(math.hypot(*found.values()), rel=1e-12)
    assert fuel.mass_sd_kg == pytest.approx(math.hypot(*parts(fuel).values()), rel=1e-12)


def test_fill_declared_with_its_doubt_replaces_the_defaults():
    fuel = reduce_fuel(fills(Fill(volume_m3=0.030, temperature_k=288.15, half_width_m3=0.2e-3)), AIR)
    found = in_volume(fuel)
    assert set(found) == {"fill, as declared", "fuel temperature"}
    assert found["fill, as declared"] == pytest.approx(0.2e-3 / 1.959964, rel=1e-6)
    brim = FuelSystem(arrangement="brim to brim", repeatability_kg=0.2)
    declared = reduce_fuel(fills(Fill(volume_m3=0.03), fuel_system=brim), AIR)
    assert in_volume(declared)["level of the full tank"] == pytest.approx(0.2 / 836.0)


@pytest.mark.parametrize("arrangement", ["drained tank", "test can", None])
def test_what_lines_and_filter_hide_does_not_make_a_brim_better(arrangement):
    """A run sheet that once was weighed keeps its [fuel_system]; filling to the brim is as uncertain as ever."""
    system = FuelSystem(arrangement=arrangement, repeatability_kg=0.012, null_test_kg=(0.004, 0.006))
    filled = reduce_fuel(fills(Fill(volume_m3=0.03, temperature_k=288.15), fuel_system=system), AIR)
    assert in_volume(filled)["level of the full tank"] == pytest.approx(0.3e-3 * math.sqrt(2))
    assert any("null test left aside" in note for note in filled.notes)
    loose = FuelSystem(arrangement=arrangement, repeatability_kg=0.5)
    wide = reduce_fuel(fills(Fill(volume_m3=0.03), fuel_system=loose), AIR)
    assert in_volume(wide)["level of the full tank"] == pytest.approx(0.5 / 836.0)


def test_fill_without_temperature_is_wider_and_says_so():
    known = reduce_fuel(fills(Fill(volume_m3=0.03, temperature_k=288.15)), AIR)
    guessed = reduce_fuel(fills(Fill(volume_m3=0.03)), AIR)
    assert in_volume(guessed)["fuel temperature"] == pytest.approx(5 * in_volume(known)["fuel temperature"])
    assert any("temperature" in note for note in guessed.notes)
    assert reduce_fuel(fills(Fill(volume_m3=0.03)), AIR, 308.15).volume_15_m3 < guessed.volume_15_m3


def test_brim_to_brim_by_weight_needs_no_second_weighing():
    system = FuelSystem(arrangement="brim to brim")
    fuel = reduce_fuel(run_of(weighing("added", 9.0), fuel_system=system), AIR)
    assert fuel.as_read_kg == 9.0
    assert parts(fuel)["level of the full tank"] == pytest.approx(0.3e-3 * math.sqrt(2) * 836.0)


def test_weighings_go_before_fills():
    fuel = reduce_fuel(run_of(weighing("before", 9.0), weighing("after", 5.0), fills=(Fill(volume_m3=0.1),)), AIR)
    assert fuel.measured == "mass" and any("left aside" in note for note in fuel.notes)


def test_liquefied_gas_expands_by_its_own_coefficient():
    gas = reduce_fuel(fills(Fill(volume_m3=0.03, temperature_k=298.15), fuel=FuelBatch(kind="lpg")), AIR)
    assert gas.volume_15_m3 == pytest.approx(0.03 * (1 - 2.6e-3 * 10), rel=5e-4)


@pytest.mark.parametrize("readings", [1, 3])
def test_intervals_cover_simulated_days(readings):
    """600 days: a scale with span error, noise and steps; fuel left in the lines; known burn. 95 % must mean
    95 %.
    """
    rng = np.random.default_rng(8)
    z = []
    for _ in range(600):
        burnt = rng.uniform(1.0, 6.0)
        span = 1.0 + rng.uniform(-0.001, 0.001)
        lift = 1.0 / buoyancy_factor(AIR, 836.0)

        def read(load, span=span, lift=lift):
            noisy = (load * lift) * span + rng.normal(0.0, 0.004, readings)
            return tuple(0.005 * np.round(noisy / 0.005))

        full, hidden = rng.uniform(8.0, 15.0), rng.normal(0.0, 0.012)
        run = run_of(
            weighing("before", *read(full + 1.0), tare=1.0),
            weighing("after", *read(full - burnt + hidden + 1.0), tare=1.0),
        )
        fuel = reduce_fuel(run, AIR)
        z.append((fuel.mass_kg - burnt) / fuel.mass_sd_kg)
    covered = np.mean(np.abs(z) < 1.96)
    assert 0.925 < covered < 0.975
    assert abs(np.mean(z)) < 0.15
