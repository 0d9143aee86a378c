"""Weighed runs with little, odd or swapped input, and single units."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from run_factory import VAN, changed, reading, reduced, round_track, run_of, without_track
from weighed_samples import NORMAL, sheet, tracked, tracked_sheet

from calmday.errors import InputError
from calmday.procedures.consumption import consumption
from calmday.procedures.weighed_run_result import Consumption
from calmday.records.declared import Declared
from calmday.records.run import Fill, FuelSystem, Odometer, Run, Weighing
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Weather


def test_grams_and_distance_only() -> None:
    """Nothing but two readings and a distance on an unnamed vehicle: the figure as driven, wide, and flags."""
    bare = Run(
        label="bare",
        vehicle=Vehicle(name="?"),
        weighings=(Weighing(when="before", gross_kg=(5.0,)), Weighing(when="after", gross_kg=(3.0,))),
        distance_m=Declared(30_000.0),
    )
    result = sheet(reduced(bare))
    driven = result.as_driven.L_per_100km
    assert 7.0 < driven.value < 9.5
    assert driven.standard_uncertainty / driven.value > 0.03  # nobody said which fuel it was
    by_mass = result.as_driven.g_per_km
    assert by_mass.standard_uncertainty / by_mass.value < 0.015
    assert result.calm_day is None
    assert {"no-track", "no-wind", "no-weather", "one-run"} <= {flag.code for flag in result.flags}
    assert not any(flag.severity == "stop" for flag in result.flags)


def test_laps_and_duration_give_a_wide_calm_day() -> None:
    """Laps, lap length and time: a calm day, but wider than with track and weather."""
    bare = run_of(
        1.25,
        laps=3,
        lap_length_m=Declared(7000.0),
        moving_time_s=Declared(1100.0),
        weather=Weather(),
        terrain=None,
        engine_start=None,
    )
    wide = sheet(reduced(bare, draws=1000))
    narrow = sheet(reduced(run_of(1.25, track=round_track()), draws=1000))
    assert wide.distance.value == pytest.approx(21.0)
    assert wide.calm_day.L_per_100km.standard_uncertainty > 1.5 * narrow.calm_day.L_per_100km.standard_uncertainty
    assert wide.calm_day.L_per_100km.low < narrow.calm_day.L_per_100km.value < wide.calm_day.L_per_100km.high
    assert wide.laps == ()
    assert wide.legs == ()


def test_without_any_distance_only_the_fuel() -> None:
    result = sheet(reduced(run_of(1.25)))
    assert result.fuel_mass.value == pytest.approx(1.25 * 1.00128, rel=1e-4)
    assert math.isnan(result.distance.value)
    assert math.isnan(result.as_driven.L_per_100km.value)
    assert result.calm_day is None


def test_nothing_weighed_is_refused() -> None:
    with pytest.raises(InputError, match="weighing"):
        reduced(without_track(weighings=()))


@pytest.mark.parametrize(
    ("fields", "metres", "relative_sd", "source"),
    [
        ({"distance_m": Declared(21e3, 100.0)}, 21e3, 100 / NORMAL / 21e3, "distance as declared"),
        ({"distance_m": Declared(21e3)}, 21e3, 0.005, "distance as declared"),
        ({"laps": 3, "lap_length_m": Declared(7000.0, 14.0)}, 21e3, 14 / NORMAL / 7000, "laps x lap length"),
        ({"odometer": Odometer(start_m=1e6, end_m=1.021e6)}, 21e3, 0.02, "odometer, factor unknown"),
        (
            {"odometer": Odometer(start_m=1e6, end_m=1.02e6, factor=Declared(1.05, 0.01))},
            21e3,
            0.01 / NORMAL / 1.05,
            "odometer x factor",
        ),
    ],
    ids=["stated with doubt", "stated", "laps", "odometer", "odometer with factor"],
)
def test_distance_without_a_track(fields: dict[str, object], metres: float, relative_sd: float, source: str) -> None:
    weighed = reduced(without_track(**({"distance_m": None} | fields)), draws=200)
    assert weighed.path.distance.metres == pytest.approx(metres)
    assert weighed.path.distance.sd_m / metres == pytest.approx(relative_sd)
    assert weighed.path.distance.source == source


def test_track_wins_over_what_was_written_down() -> None:
    weighed = reduced(run_of(1.2, track=round_track(), distance_m=Declared(25e3)), draws=200)
    assert weighed.path.distance.metres == pytest.approx(21e3, rel=1e-3)
    assert weighed.path.distance.source == "satellite track"


def test_fills_by_volume() -> None:
    """Fifteen litres full to full: volume is the measurement, mass follows, and it is wider than weighing."""
    draws, far = 1500, {"distance_m": Declared(210e3, 100.0), "moving_time_s": Declared(10_900.0)}
    by_volume = without_track(
        weighings=(), fills=(Fill(volume_m3=15e-3, temperature_k=288.15),), fuel_system=FuelSystem(), **far
    )
    filled = sheet(reduced(by_volume, draws))
    can = (Weighing(when="before", gross_kg=(19.0,)), Weighing(when="after", gross_kg=(19.0 - 15 * 0.836 / 1.0013,)))
    weighed = sheet(reduced(without_track(weighings=can, **far), draws))
    assert filled.fuel_volume.value == pytest.approx(15, rel=1e-3)
    assert filled.as_driven.L_per_100km.value == pytest.approx(15 / 2.1, rel=0.01)
    assert filled.as_driven.L_per_100km.standard_uncertainty > 3 * weighed.as_driven.L_per_100km.standard_uncertainty
    assert sum(line.share for line in filled.budget_as_driven) == pytest.approx(1)
    assert not any(line.source.startswith("fuel density") for line in filled.budget_as_driven)


def test_swapped_weighings_give_the_mirrored_mass_and_no_calm_day() -> None:
    run = run_of(1.25, track=round_track())
    before, after = run.weighings
    swapped = reduced(changed(run, weighings=(changed(before, when="after"), changed(after, when="before"))))
    straight = reduced(run)
    assert swapped.fuel.mass_kg == pytest.approx(-straight.fuel.mass_kg)
    assert swapped.calm_day is None
    result = sheet(swapped)
    assert result.flags[0].severity == "stop"
    assert {flag.code for flag in result.flags} >= {"after-heavier-than-before"}


def test_a_distance_twice_as_long_is_half_the_consumption() -> None:
    one, two = (
        reduced(without_track(distance_m=Declared(m), moving_time_s=Declared(m / 19.4)), draws=400)
        for m in (21e3, 42e3)
    )
    assert one.as_driven.L_per_100km.value == pytest.approx(2 * two.as_driven.L_per_100km.value, rel=1e-6)


def test_units_of_one_consumption_agree() -> None:
    """Exact factors: 235.214583, 282.480936 (CV-43, CV-44), 3.785411784 L, 1.609344 km."""
    c = tracked_sheet().as_driven
    assert c.mpg_us.value * c.L_per_100km.value == pytest.approx(235.214583, rel=2e-3)
    assert c.mpg_imp.value / c.mpg_us.value == pytest.approx(1.2009499, abs=1e-7)
    assert c.km_per_L.value / c.mpg_us.value == pytest.approx(1.609344 / 3.785411784)
    assert c.g_per_km.value / c.L_per_100km.value == pytest.approx(8.36, rel=2e-3)
    assert c.MJ_per_km.value / c.g_per_km.value == pytest.approx(0.0428, rel=2e-3)
    assert c.co2_g_per_km.value / c.g_per_km.value == pytest.approx(3.165, rel=2e-3)
    assert c.cost_per_km is None


@settings(max_examples=25, deadline=None)
@given(st.floats(20e-6, 300e-6), st.floats(700, 900), st.floats(40e6, 44e6), st.floats(500, 5000))
def test_consumption_of_one_draw(per_metre: float, density: float, heating: float, price: float) -> None:
    """Every unit by hand for a single draw."""
    one = np.array([per_metre])
    c = consumption(one, np.array([density]), np.array([heating]), np.array([3.1]), price, "EUR")
    litres = per_metre / density * 1e8
    expected = Consumption.__struct_fields__
    values = {
        "L_per_100km": litres,
        "mpg_us": 100 / litres * 3.785411784 / 1.609344,
        "mpg_imp": 100 / litres * 4.54609 / 1.609344,
        "km_per_L": 100 / litres,
        "g_per_km": per_metre * 1e6,
        "MJ_per_km": per_metre * 1000 * heating / 1e6,
        "co2_g_per_km": per_metre * 1e6 * 3.1,
        "cost_per_km": litres / 100 * price / 1000,
    }
    assert set(values) == set(expected)
    for key, value in values.items():
        assert getattr(c, key).value == pytest.approx(value, rel=1e-9)


def test_payload_weighs() -> None:
    """Three hundred kilograms more to carry: the same fuel then speaks for a better vehicle, not a thirstier one."""
    empty, laden = (reduced(without_track(payload_kg=Declared(kg, 5.0)), draws=800) for kg in (0.0, 300.0))
    assert laden.simulated.expected_fuel_kg > 1.03 * empty.simulated.expected_fuel_kg
    assert laden.as_driven.L_per_100km.value == empty.as_driven.L_per_100km.value


def test_soft_tyres_are_expected_to_cost_and_are_no_penalty_of_the_day() -> None:
    soft, usual = (reduced(without_track(tyre_pressure_pa=Declared(p)), draws=800) for p in (220e3, 300e3))
    assert soft.simulated.expected_fuel_kg > 1.02 * usual.simulated.expected_fuel_kg
    difference = soft.simulated.penalties["cold_tyres"].mean() - usual.simulated.penalties["cold_tyres"].mean()
    assert abs(difference) < 0.5


def test_parking_at_the_ends_is_not_driving() -> None:
    """A logger left running for ten minutes before and after changes neither distance nor calm day."""
    short, long = (reduced(run_of(1.2, track=round_track(parked_s=s)), draws=800) for s in (20, 600))
    assert long.path.distance.metres == pytest.approx(short.path.distance.metres, rel=5e-4)
    assert long.path.moving_time_s == pytest.approx(short.path.moving_time_s, rel=0.01)
    calm = short.calm_day.L_per_100km
    assert long.calm_day.L_per_100km.value == pytest.approx(calm.value, abs=0.3 * calm.standard_uncertainty)


def test_vehicle_less_known_is_wider() -> None:
    known = reduced(run_of(1.2, track=round_track()), draws=1000)
    unknown = reduced(
        run_of(1.2, track=round_track(), vehicle=changed(VAN, drag_coefficient=None, rolling_resistance=None)),
        draws=1000,
    )
    assert unknown.simulated.conditioned.expected_sd > known.simulated.conditioned.expected_sd


def test_wind_of_a_leg_is_the_turned_wind_of_each_draw() -> None:
    """Wind as complex numbers, east + i north: turned clockwise, scaled, offset, then taken along the leg's heading."""
    weighed, result = tracked(), tracked_sheet()
    p, air, track = weighed.simulated.values, weighed.path.weather, weighed.path.track
    for leg in result.legs[:4]:
        stamps = track.time_s[weighed.path.samples]
        inside = (stamps >= leg.start_s) & (stamps <= leg.end_s)
        wind = complex(air.wind_east_mps[inside].mean(), air.wind_north_mps[inside].mean())
        met = p["wind_factor"] * wind * np.exp(-1j * p["wind_direction"])
        met = met + p["wind_offset_east"] + 1j * p["wind_offset_north"]
        nose = np.exp(1j * (np.pi / 2 - np.radians(leg.heading_deg)))
        ahead = -(met * np.conj(nose)).real
        assert leg.wind_along.value == pytest.approx(ahead.mean(), abs=1e-9)
        assert leg.wind_along.standard_uncertainty == pytest.approx(ahead.std(ddof=1), rel=1e-9)
        assert leg.wind_across.value == pytest.approx(-(met * np.conj(nose)).imag.mean(), abs=1e-9)


def test_budget_knows_how_the_weighing_moves_the_calm_day() -> None:
    """The response in the budget is the slope of ln(calm day) over ln(fuel), found by weighing ten per cent more."""
    cold = tracked().run
    less, more = (reduced(changed(cold, weighings=run_of(kg).weighings), draws=2000) for kg in (1.30, 1.43))
    assert less.simulated.weighing_response != pytest.approx(1, abs=0.02)
    measured = math.log(more.calm_day.g_per_km.value / less.calm_day.g_per_km.value) / math.log(
        more.fuel.mass_kg / less.fuel.mass_kg
    )
    for weighed in (less, more):
        response = weighed.simulated.weighing_response
        assert response == pytest.approx(measured, abs=0.05)
        result = sheet(weighed)
        driven, calm = (
            {line.source: line.contribution.value / figure.value for line in budget}
            for budget, figure in (
                (result.budget_as_driven, result.as_driven.L_per_100km),
                (result.budget, result.calm_day.L_per_100km),
            )
        )
        for source, relative in driven.items():
            expected = relative if source.startswith(("distance", "fuel density")) else response * relative
            assert calm[source] == pytest.approx(expected, rel=1e-9), source


def test_without_a_track_the_wind_comes_from_all_sides() -> None:
    """Only distance and time: a loop is assumed, so the bearing of the wind is nothing and its strength something."""
    expected = []
    for bearing, speed in ((10.0, 6.0), (100.0, 6.0), (235.0, 6.0), (10.0, 0.5)):
        weather = Weather(readings=(reading(wind_speed_mps=speed, wind_from_deg=bearing),), field_elevation_m=15.0)
        expected.append(reduced(without_track(weather=weather), draws=200).simulated.expected_fuel_kg)
    assert expected[:3] == pytest.approx([expected[0]] * 3, rel=1e-3)
    assert expected[0] > 1.01 * expected[3]


def test_estimates_carry_their_unit() -> None:
    """Friction of a diesel 1.2 to 3 bar (Millington and Hartles: 1.8 to 2.2 at 2000 rpm; M), mass in kg, area in m2."""
    found = tracked_sheet().estimates
    assert 1.2 < found["friction_mep"].value < 3.0
    assert found["friction_mep"].unit == "bar"
    assert found["test_mass"].before.value == pytest.approx(1480, rel=0.01)
    assert found["drag_area"].before.value == pytest.approx(2.9 * 0.44, rel=0.01)
    assert found["drag_area"].unit == "m2"
