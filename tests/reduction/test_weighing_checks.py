import pytest
from hypothesis import given
from hypothesis import strategies as st

from calmday.records.run import Fill, FuelBatch, Run, Scale, Weighing
from calmday.records.vehicle import Engine, Vehicle
from calmday.reduction.scale import inferred_division_kg, scale_figures, scatter_variance
from calmday.reduction.weighing_checks import (
    after_heavier_than_before,
    batches,
    fuel_kind_of,
    heaviest_gross_kg,
    identical_readings,
    net_kg,
    over_capacity,
    spread_in_divisions,
    tare_above_gross,
    tare_on_one_side_only,
)


def weighing(when, *gross, tare=0.0, batch=""):
    return Weighing(when=when, gross_kg=gross, tare_kg=tare, batch=batch)


def run_of(*weighings, **changes):
    return Run(label="test", vehicle=Vehicle(name="van", engine=Engine(fuel="hvo")), weighings=weighings, **changes)


def test_three_alike_are_suspect_two_are_not():
    assert identical_readings(weighing("before", 9.0, 9.0, 9.0))
    assert not identical_readings(weighing("before", 9.0, 9.0))
    assert identical_readings(weighing("before", 9.0, 9.0), least=2)
    assert not identical_readings(weighing("before", 9.0, 9.005, 9.0))


def test_spread():
    assert spread_in_divisions(weighing("before", 9.0, 9.02, 9.01), 0.005) == pytest.approx(4.0)
    assert spread_in_divisions(weighing("before", 9.0), 0.005) == 0.0


def test_capacity_is_for_what_stands_on_the_scale():
    loaded = weighing("before", 19.0, 20.001, tare=5.0)
    assert over_capacity(run_of(loaded, scale=Scale(capacity_kg=20.0)))
    assert not over_capacity(run_of(loaded, scale=Scale(capacity_kg=20.001)))
    assert not over_capacity(run_of(loaded))
    assert heaviest_gross_kg(run_of(loaded)) == 20.001
    assert heaviest_gross_kg(run_of()) == 0.0


def test_after_heavier_than_before_counts_what_was_added():
    before, after = weighing("before", 9.0, tare=1.0), weighing("after", 9.5, tare=1.0)
    assert after_heavier_than_before(run_of(before, after))
    assert not after_heavier_than_before(run_of(before, weighing("added", 2.0), after))
    assert not after_heavier_than_before(run_of())
    assert net_kg(before) == 8.0


def test_tares():
    assert tare_above_gross(weighing("before", 0.9, tare=1.0))
    assert not tare_above_gross(weighing("before", 1.1, tare=1.0))
    assert tare_on_one_side_only(run_of(weighing("before", 9.0, tare=0.6), weighing("after", 5.0)))
    assert not tare_on_one_side_only(run_of(weighing("before", 9.0), weighing("after", 5.0)))


def test_fuel_and_batches():
    assert fuel_kind_of(run_of()) == "hvo"
    assert fuel_kind_of(run_of(fuel=FuelBatch(kind="diesel"))) == "diesel"
    run = run_of(
        weighing("before", 9.0, batch="May"),
        weighing("after", 5.0),
        fuel=FuelBatch(batch="May"),
        fills=(Fill(volume_m3=0.01, batch="June"),),
    )
    assert batches(run) == ("May", "June")


@pytest.mark.parametrize(
    ("readings", "division"),
    [
        ((8.460, 3.135), 0.005),
        ((18.432, 13.618), 0.002),
        ((18.433, 13.618), 0.001),
        ((8.460, 3.120), 0.005),  # two readings share 20 g by chance: no coarser than usual
        ((8.46, 3.12, 5.04), 0.020),
        ((8.4, 3.1, 5.0), 0.100),
        ((8.0, 3.0, 5.0), 0.100),  # whole kilograms as typed: no scale is that coarse
        ((8.4601, 3.135), None),
        ((5.386, 5.386), None),
    ],
)
def test_division_betrayed_by_the_readings(readings, division):
    assert inferred_division_kg(readings) == (pytest.approx(division) if division else None)


@given(
    st.sampled_from([1, 2, 5, 10, 20, 50]),
    st.lists(st.integers(100, 4000), min_size=3, max_size=6, unique=True),
)
def test_inferred_division_divides_every_reading(step, counts):
    readings = tuple(step * count / 1000 for count in counts)
    grams = round(1000 * inferred_division_kg(readings))
    assert all(round(1000 * reading) % grams == 0 for reading in readings)


def test_scatter_moves_from_prior_to_observation():
    assert scatter_variance(3.0, 0.0, 0) == 9.0
    assert scatter_variance(3.0, 1e6 * 25.0, 1_000_000) == pytest.approx(25.0, rel=1e-4)
    assert scatter_variance(3.0, 20.0, 4, already_counted=100.0) == pytest.approx(4.5)


def test_declared_scale_is_taken_at_its_word():
    figures = scale_figures(
        run_of(weighing("before", 9.0), scale=Scale(resolution_kg=0.01, repeatability_kg=0.007, accuracy=0.003))
    )
    assert (figures.division_kg, figures.repeatability_kg) == (0.01, 0.007)
    assert figures.accuracy_sd == pytest.approx(0.003 / 3**0.5)
    assert figures.notes == ()
