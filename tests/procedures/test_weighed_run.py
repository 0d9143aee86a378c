"""The weighed run as a whole: worked examples, sums that must close, limits, symmetry, missing input."""

from __future__ import annotations

import math

import numpy as np
import pytest
from run_factory import VAN, changed, reading, reduced, round_track, run_of, without_track
from weighed_samples import NORMAL, sheet, tracked, tracked_sheet

from calmday.metrology.air_density import moist_air_density
from calmday.procedures import simulated_run
from calmday.procedures.weighed_run import FEWEST_DRAWS, WeighedRun, reduce_weighed_run
from calmday.records.declared import Declared
from calmday.records.run import FuelBatch, FuelSystem, Run, Scale, Weighing
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Weather


class TestG1:
    """Golden case G1 of reference section 9: 18.432 to 13.618 kg, 838 kg/m3, 48.27 km (own; D R)."""

    @staticmethod
    def weighed() -> WeighedRun:
        temperature, humidity = 288.15, 0.5
        pressure = 1e5 * 1.17 / float(moist_air_density(temperature, 1e5, humidity))
        on_the_spot = reading(
            source="roadside", temperature_k=temperature, pressure_pa=pressure, qnh_pa=None, relative_humidity=humidity
        )
        run = Run(
            label="G1",
            vehicle=Vehicle(name="G1"),
            fuel=FuelBatch(
                kind="diesel",
                density_kgpm3=Declared(838.0, 3 * NORMAL),
                density_temperature_k=288.15,
                price_per_m3=4.00 / 3.785411784e-3,
                price_currency="USD",
            ),
            fuel_system=FuelSystem(arrangement="test can", repeatability_kg=0.003),
            scale=Scale(resolution_kg=0.002, repeatability_kg=0.003, accuracy=0.0005),
            weighings=(
                Weighing(when="before", gross_kg=(18.432,)),
                Weighing(when="after", gross_kg=(13.618,)),
            ),
            distance_m=Declared(48_270.0, 48_270 * 0.003 / math.sqrt(3) * NORMAL),
            weather=Weather(readings=(on_the_spot,), field_elevation_m=100.0),
        )
        return reduced(run, draws=4000)

    def test_mass_and_volume(self) -> None:
        """CV-147: 4.814 kg as read, factor 1.00125168, 4.820026 kg, 5.75182 L, 1.519470 US gal."""
        weighed = self.weighed()
        assert float(np.mean(weighed.path.weather.air_density_kgpm3)) == pytest.approx(1.17, abs=2e-3)
        assert weighed.fuel.as_read_kg == pytest.approx(4.814, abs=1e-9)
        assert weighed.fuel.buoyancy_factor == pytest.approx(1.00125168, abs=3e-6)
        result = sheet(weighed)
        assert result.fuel_mass.value == pytest.approx(4.820026, abs=1e-5)
        assert result.fuel_volume.value == pytest.approx(5.75182, abs=2e-5)
        assert result.fuel_volume.value / 3.785411784 == pytest.approx(1.519470, abs=5e-6)

    def test_consumption_and_cost(self) -> None:
        """CV-148: 11.9159 L/100 km, 19.7395 and 23.7062 mpg, 99.8555 g/km, 0.20264 per mile. The figures are means of
        a quotient's draws: up to 2e-5 from the quotient of the means."""
        driven = self.weighed().as_driven
        assert driven.L_per_100km.value == pytest.approx(11.9159, rel=4e-5)
        assert driven.mpg_us.value == pytest.approx(19.7395, rel=4e-5)
        assert driven.mpg_imp.value == pytest.approx(23.7062, rel=4e-5)
        assert driven.g_per_km.value == pytest.approx(99.8555, rel=4e-5)
        assert driven.cost_per_km.value * 1.609344 == pytest.approx(0.20264, rel=4e-5)
        assert driven.cost_per_km.unit == "USD/km"

    def test_uncertainty(self) -> None:
        """CV-149: 0.4135 % on L/100 km, 0.2069 % on g/km (k = 1)."""
        weighed = self.weighed()
        result = sheet(weighed)
        lines = {
            line.source: line.contribution.value / result.as_driven.L_per_100km.value
            for line in result.budget_as_driven
        }
        assert 100 * math.hypot(*lines.values()) == pytest.approx(0.4135, abs=0.0005)
        by_mass = [value for source, value in lines.items() if not source.startswith("fuel density")]
        assert 100 * math.hypot(*by_mass) == pytest.approx(0.2069, abs=0.0005)
        for figure, percent in ((result.as_driven.L_per_100km, 0.4135), (result.as_driven.g_per_km, 0.2069)):
            assert 100 * figure.standard_uncertainty / figure.value == pytest.approx(percent, rel=0.03)

    def test_only_as_driven(self) -> None:
        """No duration: no drive to simulate, so no calm day; said, not refused."""
        result = sheet(self.weighed())
        assert result.calm_day is None
        assert result.penalties is None
        assert result.level_cruise == ()
        assert result.energy == ()
        assert result.estimates == {}
        assert result.quality is None
        assert "no-track" in {flag.code for flag in result.flags}


def test_penalties_add_up_to_the_difference() -> None:
    """Draw by draw: the four penalties are the percentage from calm day to as driven."""
    weighed = tracked()
    simulated = weighed.simulated
    total = sum(simulated.penalties.values())
    assert total == pytest.approx(100 * (np.exp(-simulated.log_ratio) - 1), abs=1e-9)
    picked = simulated.conditioned.picked
    ratio = weighed.draws.as_driven_m3pm[picked] / weighed.draws.calm_day_m3pm
    assert total == pytest.approx(100 * (ratio - 1), abs=1e-9)
    assert list(simulated.penalties) == list(type(tracked_sheet().penalties).__struct_fields__)


def test_cold_windy_dense_day_costs_everywhere() -> None:
    for name, draws in tracked().simulated.penalties.items():
        assert draws.mean() > 0, name
    assert tracked_sheet().calm_day.L_per_100km.value < tracked_sheet().as_driven.L_per_100km.value


def test_budgets_sum_to_one_largest_first() -> None:
    for budget in (tracked_sheet().budget, tracked_sheet().budget_as_driven):
        assert sum(line.share for line in budget) == pytest.approx(1)
        shares = [line.share for line in budget]
        assert shares == sorted(shares, reverse=True)
        assert len({line.source for line in budget}) == len(budget)


def test_budgets_explain_the_spread_of_the_draws() -> None:
    """Root sum of squares of the contributions against the spread of the draws: as driven within Monte Carlo noise,
    calm day within what straightening the model costs."""
    result = tracked_sheet()
    for budget, figure, tolerance in (
        (result.budget_as_driven, result.as_driven.L_per_100km, 0.06),
        (result.budget, result.calm_day.L_per_100km, 0.25),
    ):
        assert math.hypot(*(line.contribution.value for line in budget)) == pytest.approx(
            figure.standard_uncertainty, rel=tolerance
        )


def test_energy_shares_sum_to_one_and_to_the_fuel() -> None:
    result = tracked_sheet()
    assert sum(part.share.value for part in result.energy) == pytest.approx(1)
    megajoule = sum(part.energy.value for part in result.energy)
    assert megajoule == pytest.approx(result.fuel_mass.value * 42.8, rel=0.01)
    assert megajoule == pytest.approx(result.as_driven.MJ_per_km.value * result.distance.value, rel=0.01)


def test_laps_and_legs() -> None:
    result = tracked_sheet()
    assert [lap.number for lap in result.laps] == [1, 2, 3]
    assert sum(lap.fuel_share.value for lap in result.laps) == pytest.approx(1, abs=0.05)
    for lap in result.laps:
        assert lap.distance.value == pytest.approx(7.0, rel=0.01)
        assert lap.speed.value == pytest.approx(70, rel=0.04)
    # the first lap has the cold engine and the standing start
    assert result.laps[0].L_per_100km.value > result.laps[1].L_per_100km.value
    litres = [lap.L_per_100km.value * lap.distance.value for lap in result.laps]
    assert sum(litres) / 100 == pytest.approx(result.fuel_volume.value, rel=0.05)


def test_legs_feel_the_wind_by_their_heading() -> None:
    """Wind from 250 degrees: into it on headings near 250, with it near 70; the thirst follows."""
    result = tracked_sheet()
    assert len(result.legs) >= 8
    for leg in result.legs:
        towards = math.cos(math.radians(250 - leg.heading_deg))
        if abs(towards) > 0.8:
            assert leg.wind_along.value * towards > 0
    assert sum(leg.fuel_share.value for leg in result.legs) == pytest.approx(1, abs=0.06)
    into = [leg.L_per_100km.value for leg in result.legs[4:] if leg.wind_along.value > 2]
    with_it = [leg.L_per_100km.value for leg in result.legs[4:] if leg.wind_along.value < -2]
    assert min(into) > max(with_it)


def test_level_cruise() -> None:
    points = tracked_sheet().level_cruise
    litres = [point.L_per_100km.value for point in points]
    assert [point.speed.value for point in points][:5] == [50, 60, 70, 80, 90]
    assert litres[2:] == sorted(litres[2:])
    for point in points:
        assert point.mpg_us.value * point.L_per_100km.value == pytest.approx(235.2146, rel=5e-3)
        assert point.mpg_imp.value / point.mpg_us.value == pytest.approx(1.2009499)
    at_70 = points[2].L_per_100km.value  # the drive itself was at 70, with a standing start and gentle hills
    assert 0.92 < at_70 / tracked_sheet().calm_day.L_per_100km.value < 1.0


def test_estimates_lie_between_what_was_thought_and_what_was_weighed() -> None:
    """More fuel than expected moves drag and friction up and efficiency down; no relative spread grows much."""
    thirsty = sheet(reduced(changed(tracked().run, weighings=run_of(1.75).weighings), draws=1000))
    frugal = sheet(reduced(changed(tracked().run, weighings=run_of(1.05).weighings), draws=1000))
    for key in ("drag_area", "rolling_resistance", "friction_mep"):
        assert frugal.estimates[key].value < frugal.estimates[key].before.value < thirsty.estimates[key].value
    efficiency = "indicated_efficiency"
    assert thirsty.estimates[efficiency].value < frugal.estimates[efficiency].value
    for result in (thirsty, frugal):
        for estimate in result.estimates.values():
            relative = estimate.standard_uncertainty / estimate.value
            assert relative < 1.15 * estimate.before.standard_uncertainty / estimate.before.value
            assert estimate.low <= estimate.value <= estimate.high


def test_calm_day_and_weighing_move_together() -> None:
    """Ten per cent more fuel weighed: about ten per cent more on the calm day too; the ratio hardly moves."""
    less, more = (reduced(run_of(kg, track=round_track()), draws=800) for kg in (1.15, 1.265))
    assert more.calm_day.L_per_100km.value / less.calm_day.L_per_100km.value == pytest.approx(1.10, abs=0.012)


def test_reference_day() -> None:
    """Still air, 20 degC, 100 kPa, 50 %, warm: the calm day is the day driven, and every penalty near nothing."""
    still = reading(
        source="roadside",
        wind_speed_mps=0.0,
        wind_from_deg=None,
        temperature_k=293.15,
        qnh_pa=None,
        pressure_pa=100e3,
        relative_humidity=0.5,
    )
    weighed = reduced(
        run_of(1.15, track=round_track(climb_m=0.5), weather=Weather(readings=(still,), field_elevation_m=20.0)),
        draws=1000,
    )
    driven, calm = weighed.as_driven.L_per_100km, weighed.calm_day.L_per_100km
    assert calm.low <= driven.value <= calm.high
    assert calm.value == pytest.approx(driven.value, rel=0.02)
    result = sheet(weighed)
    assert abs(result.penalties.wind.value) < 1.0  # a wind that reads nought may still be a breath of air
    assert abs(result.penalties.air_density.value) < 0.3
    assert 0 <= result.penalties.cold_engine.value < 1.0  # warm, but it stood while the fuel was weighed
    assert abs(result.penalties.cold_tyres.value) < 1.0


def test_direction_of_a_steady_wind_does_not_matter_on_a_circle() -> None:
    """Every heading alike: only the strength counts, and the penalty grows with it."""
    penalties = []
    for bearing in (20.0, 110.0, 290.0):
        weather = Weather(readings=(reading(wind_speed_mps=5.0, wind_from_deg=bearing),), field_elevation_m=15.0)
        weighed = reduced(run_of(1.2, track=round_track(climb_m=0.0), weather=weather), draws=800)
        penalties.append(float(weighed.simulated.penalties["wind"].mean()))
    assert penalties == pytest.approx([penalties[0]] * 3, rel=0.12)
    strong = Weather(readings=(reading(wind_speed_mps=10.0),), field_elevation_m=15.0)
    windy = reduced(run_of(1.2, track=round_track(climb_m=0.0), weather=strong), draws=800)
    assert float(windy.simulated.penalties["wind"].mean()) > 2.5 * penalties[0]


def test_thin_air_is_a_negative_penalty() -> None:
    """On a hot day at 1500 m the air gives: the calm-day figure is above the reading."""
    weather = Weather(
        readings=(reading(wind_speed_mps=0.5, temperature_k=303.15, qnh_pa=101_300.0),), field_elevation_m=1500.0
    )
    high = round_track()
    track = changed(high, height_m=high.height_m + 1480)
    result = sheet(reduced(run_of(1.1, track=track, weather=weather)))
    assert result.penalties.air_density.high < 0
    assert result.penalties.cold_tyres.value < 0
    assert result.calm_day.L_per_100km.value > result.as_driven.L_per_100km.value


@pytest.mark.parametrize("fuel", ["diesel", "petrol"])
def test_a_warm_engine_may_have_cost_nothing(fuel: str) -> None:
    """After a warm start the interval of the cold engine's penalty begins at nothing; after a cold one it does not."""
    engine = changed(VAN.engine, fuel=fuel, injection="port" if fuel == "petrol" else "indirect")
    ours = {"vehicle": changed(VAN, engine=engine), "track": round_track(), "fuel": FuelBatch(kind=fuel)}
    warm, cold = (
        sheet(reduced(run_of(1.3, engine_start=start, **ours), draws=1000)).penalties.cold_engine
        for start in ("warm", "cold")
    )
    assert warm.low == 0
    assert 0 < warm.value < 0.5 * cold.value
    assert cold.low > 0


def test_the_drive_breathes_the_air_that_was_reported() -> None:
    """QNH 1017 hPa, station 15 m and road 20 m above the sea: about 1 hPa less for each 8.3 m (ICAO)."""
    for run in (run_of(track=round_track(climb_m=0.0)), without_track()):
        path = reduced(run).path
        assert path.drive is not None
        assert np.array_equal(path.drive.pressure_pa, path.weather.pressure_pa)
        assert path.drive.pressure_pa == pytest.approx(101_700 - 100 / 8.3 * 18, abs=60)


def test_same_seed_same_result_other_seed_within_noise() -> None:
    run = run_of(1.25, track=round_track())
    one, again, other = (reduce_weighed_run(run, 1000, seed) for seed in (3, 3, 4))
    assert np.array_equal(one.draws.calm_day_m3pm, again.draws.calm_day_m3pm)
    assert sheet(one) == sheet(again)
    calm, moved = one.calm_day.L_per_100km, other.calm_day.L_per_100km
    assert moved.value != calm.value
    assert moved.value == pytest.approx(calm.value, abs=0.25 * calm.standard_uncertainty)
    assert moved.standard_uncertainty == pytest.approx(calm.standard_uncertainty, rel=0.15)


def test_too_few_draws_are_refused() -> None:
    with pytest.raises(ValueError, match=str(FEWEST_DRAWS)):
        reduce_weighed_run(without_track(), FEWEST_DRAWS - 1)
    assert reduce_weighed_run(without_track(), FEWEST_DRAWS).calm_day is not None


def test_shares_of_many_stretches_are_the_same_in_pieces(monkeypatch: pytest.MonkeyPatch) -> None:
    """What a day of many laps does not hold in memory at once, to the last digit but rounding."""
    simulated = tracked().simulated
    assert simulated is not None
    generator = np.random.default_rng(0)
    weights = np.column_stack([np.ones(len(tracked().path.drive)), generator.random((len(tracked().path.drive), 7))])
    rows = np.arange(50)
    whole = simulated_run.shares_of_fuel(simulated, weights, rows)
    monkeypatch.setattr(simulated_run, "_WEIGHTS_AT_ONCE", 3 * len(weights))
    assert simulated_run.shares_of_fuel(simulated, weights, rows) == pytest.approx(whole, rel=1e-12)
