"""The sixty-second check: its rows, their states and the verdict."""

from __future__ import annotations

import pytest
from run_factory import VAN, changed, reading, reduced, round_track, run_of, without_track

from calmday.procedures.lay_by_check import EXPECTED_SD, Check, _state, check_of_run
from calmday.procedures.weighed_run import WeighedRun
from calmday.records.declared import Declared
from calmday.records.run import Run, Weighing
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Weather


def check(run: Run) -> Check:
    return check_of_run(reduced(run, draws=500))


def rows(found: Check) -> dict[str, tuple[str, str, str]]:
    return {what: (figure, band, state) for what, figure, band, state in found.rows}


def test_a_sound_run() -> None:
    found = check(run_of(1.19, track=round_track(), laps=3))
    assert found.verdict == "Plausible. You can drive on."
    table = rows(found)
    assert [state for _, _, state in table.values()] == ["ok"] * len(table)
    assert table["fuel burnt"][0] == "1192 g"  # 1.19 kg and the lift of the air
    assert table["distance"][:2] == ("21.00 km", "satellite track")
    assert table["time on the move"][0] in {"18 min", "19 min"}
    assert table["mean speed"][0] in {"68 km/h", "69 km/h", "70 km/h"}
    assert table["laps in the track"] == ("3", "3 written down", "ok")
    assert table["as driven"][0] == "6.8 L/100 km"
    assert table["as driven"][1] == "35 mpg US, 42 mpg imp"


def test_return_line_in_the_wrong_tank() -> None:
    found = check(run_of(2.9, track=round_track()))
    assert found.verdict.startswith("Do not drive on yet. ")
    assert "return line" in found.verdict
    table = rows(found)
    assert table["fuel burnt"][2] == "stop"
    assert table["fuel for each kWh at the shaft"][2] == "stop"


def test_a_little_too_much_is_something_to_look_at() -> None:
    found = check(run_of(1.62, track=round_track()))
    assert found.verdict.startswith(("Plausible, with something to look at. ", "Look again before you drive on: "))
    assert "look" in {state for _, _, state in rows(found).values()}
    assert "stop" not in {state for _, _, state in rows(found).values()}


def test_wind_alone_does_not_spoil_the_verdict() -> None:
    """Nothing can be put right about the wind at the roadside."""
    windy = Weather(readings=(reading(wind_speed_mps=7.0),), field_elevation_m=15.0)
    found = check(run_of(1.25, track=round_track(), weather=windy))
    assert "wind-above-procedure-limit" in {flag.code for flag in found.flags}
    assert found.verdict == "Plausible. You can drive on."


def test_lap_count() -> None:
    found = check(run_of(1.19, track=round_track(), laps=2))
    assert rows(found)["laps in the track"] == ("3", "2 written down", "look")
    assert found.verdict.startswith("Plausible, with something to look at. 2 laps are written down; the track shows 3.")


def test_grams_and_distance_only() -> None:
    bare = Run(
        label="bare",
        vehicle=Vehicle(name="?"),
        weighings=(Weighing(when="before", gross_kg=(5.0,)), Weighing(when="after", gross_kg=(3.0,))),
        distance_m=Declared(30e3),
    )
    table = rows(check(bare))
    assert table["fuel burnt"][1:] == ("more than nothing", "ok")
    assert "fuel for each kWh at the shaft" not in table
    assert "mean speed" not in table


def test_swapped_weighings_stop() -> None:
    run = without_track()
    before, after = run.weighings
    found = check(changed(run, weighings=(changed(before, when="after"), changed(after, when="before"))))
    assert rows(found)["fuel burnt"][2] == "stop"
    assert "heavier after" in found.verdict


@pytest.mark.parametrize(
    ("kmph", "state"), [(14, "stop"), (14.1, "look"), (19.9, "look"), (20, "ok"), (130, "ok"), (131, "look")]
)
def test_mean_speed(kmph: float, state: str) -> None:
    duration = 21e3 / (kmph / 3.6)
    run = without_track(moving_time_s=Declared(duration * (1 - 1e-9) if kmph != 130 else duration * (1 + 1e-9)))
    assert rows(check(run))["mean speed"][2] == (state if kmph != 14 else "look")


@pytest.mark.parametrize(
    ("value", "state"),
    [
        (6.99, "stop"),
        (7.0, "look"),
        (9.99, "look"),
        (10, "ok"),
        (20, "ok"),
        (20.01, "look"),
        (28, "look"),
        (28.1, "stop"),
    ],
)
def test_states(value: float, state: str) -> None:
    """Inside, within 0.7 and 1.4 of the band, beyond."""
    assert _state(value, 10.0, 20.0) == state


def test_band_of_fuel_is_two_standard_deviations_of_what_was_expected() -> None:
    weighed: WeighedRun = reduced(run_of(1.19, track=round_track()))
    conditioned = weighed.simulated.conditioned
    assert EXPECTED_SD == 2.0
    low, high = (
        1000 * weighed.simulated.expected_fuel_kg * 2.718281828459045 ** (s * 2 * conditioned.expected_sd)
        for s in (-1, 1)
    )
    assert rows(check_of_run(weighed))["fuel burnt"][1] == f"{float(f'{low:.2g}'):.0f} to {float(f'{high:.2g}'):.0f} g"


def test_unknown_vehicle_is_judged_by_its_class() -> None:
    found = check(run_of(1.19, track=round_track(), vehicle=changed(VAN, test_mass_kg=None)))
    assert rows(found)["fuel burnt"][2] == "ok"


def test_a_figure_is_no_more_plausible_than_what_it_rests_on() -> None:
    """Twice the fuel that can have been burnt: the litres per distance cannot be either."""
    usual = rows(check(run_of(1.19, track=round_track())))
    assert usual["as driven"][2] == "ok"
    spoilt = rows(check(run_of(3.2, track=round_track())))
    assert spoilt["fuel burnt"][2] == "stop"
    assert spoilt["as driven"][2] == "stop"
