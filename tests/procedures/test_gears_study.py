"""A whole answer about gears: what it says, that it says it the same way again, and what a run adds."""

from __future__ import annotations

import json
import math

import jsonschema
import msgspec
import numpy as np
import pytest
from gears_samples import BREAD_VAN, PLAINS_TRUCK

from calmday import operations
from calmday.metrology.figure import Figure
from calmday.operations.gears import conditions, study_gears, study_gears_file
from calmday.procedures.gears_result import GearsResult
from calmday.records.vehicle import Engine, FullLoadCurve, Vehicle
from calmday.reports.json_result import json_result

EXAMPLE = operations.demo_folder()
TRUCK = study_gears(PLAINS_TRUCK, draws=300)


def codes(result: GearsResult) -> set[str]:
    return {flag.code for flag in result.flags}


def test_figures_of_the_scenario_lie_in_their_intervals():
    """Declared figures with their usual doubt: the exact values (12.3 and 16.4 m/s, 1776 rpm) are well inside."""
    result = TRUCK.answer(conditions(temperature_k=293.15, pressure_pa=101_000.0), speed_kmh=90.0)
    fourth, fifth = result.gears[3], result.gears[4]
    for figure, exact in (
        (fifth.strongest_headwind, 12.3),
        (fourth.strongest_headwind, 16.4),
        (fifth.engine_speed, 1776),
    ):
        assert figure is not None
        assert figure.low < exact < figure.high
    assert result.gears[2].reserve is None
    assert result.gears[2].out_of_range == "above governed speed"


def test_the_sentence_names_the_gear_that_holds_more():
    windy = TRUCK.answer(conditions(head_wind_mps=14.0)).sentence
    assert windy.startswith("In fifth it holds ")
    assert "km/h into 14 m/s of wind, give or take " in windy
    assert "; fourth holds " in windy
    assert "on the level in still air" in TRUCK.answer().sentence
    steep = TRUCK.answer(conditions(grade=0.08)).sentence
    assert steep.startswith("In fifth it cannot hold any speed up 8 %")


def test_the_gear_to_hold_is_the_tallest_that_surely_pulls():
    calm = TRUCK.answer(speed_kmh=70.0)
    assert calm.hold.gear == 5
    hill = TRUCK.answer(conditions(grade=0.045), speed_kmh=60.0)
    assert hill.hold.gear is not None
    assert hill.hold.gear < 5
    chosen = hill.gears[hill.hold.gear - 1]
    assert chosen.holds_chosen >= 0.95
    assert all(gear.holds_chosen < 0.95 for gear in hill.gears[hill.hold.gear :])
    cliff = TRUCK.answer(conditions(grade=0.3), speed_kmh=60.0)
    assert cliff.hold.gear is None
    assert cliff.hold.why == "no gear holds that speed"


def test_shares_of_the_limits_sum_to_one():
    for gear in TRUCK.answer(conditions(head_wind_mps=9.0)).gears:
        shares = gear.limit_shares
        assert shares.power + shares.governor + shares.gearing == pytest.approx(1.0)
        assert getattr(shares, gear.limit) == max(shares.power, shares.governor, shares.gearing)


def test_the_same_seed_gives_the_same_answer_and_another_one_a_little_other():
    once, again = (json_result(study_gears(BREAD_VAN, draws=200, seed=5).answer()) for _ in range(2))
    assert once == again
    other = study_gears(BREAD_VAN, draws=200, seed=6).answer()
    held = json.loads(once)["gears"][3]["sustained_speed"]["value"]
    assert other.gears[3].sustained_speed is not None
    assert other.gears[3].sustained_speed.value != held
    assert other.gears[3].sustained_speed.value == pytest.approx(held, rel=0.01)


def test_the_json_follows_its_schema_and_holds_no_word_for_not_a_number():
    schema = json.loads(json_result(operations.schema("gears")))
    for on in (conditions(), conditions(head_wind_mps=20.0, grade=0.1)):
        printed = json.loads(json_result(TRUCK.answer(on, speedometer_factor=0.93)))
        assert list(jsonschema.Draft202012Validator(schema).iter_errors(printed)) == []
        assert printed["schema"] == "calmday/gears/1"
        assert {"speed_per_1000rpm", "sustained_speed", "engine_speed_there", "reserve"} <= set(printed["gears"][0])
        assert set(printed["shift_points"]) == {"best_acceleration", "least_fuel"}


def test_thrust_curves_are_bands_over_rising_speed():
    result = TRUCK.answer()
    assert len(result.thrust) == 5
    for line in (*result.thrust, result.road_load):
        assert list(line.speed) == sorted(line.speed)
        assert all(low <= mean <= high for low, mean, high in zip(line.low, line.mean, line.high, strict=True))


def test_the_dial_shows_what_the_speedometer_factor_says():
    for point in TRUCK.answer(speedometer_factor=0.9).shift_points.best_acceleration:
        assert point.speed is not None
        assert point.speedometer is not None
        assert point.speedometer.value == pytest.approx(point.speed.value / 0.9)


def test_changes_that_are_never_reached_say_so():
    van = study_gears(BREAD_VAN, draws=200).answer()
    reached = [point.reached for point in van.shift_points.best_acceleration]
    assert reached[:3] == [1.0, 1.0, 1.0]
    assert reached[3] < 0.5


def test_the_card_stays_below_where_the_next_gear_does_not_pull():
    card = TRUCK.answer(conditions(grade=0.08)).shift_card
    assert card.hill_grade == 0.08
    assert card.rows[0].hill_up is not None
    assert card.rows[3].hill_up is None
    for row in card.rows:
        for up, down in ((row.level_up, row.level_down), (row.headwind_up, row.headwind_down)):
            assert (up is None) == (down is None)
            assert up is None or (down is not None and down < up)


def test_more_is_remarked_where_less_is_known():
    assert codes(TRUCK.answer()) == {"chart-standard-unknown"}
    bare = study_gears(Vehicle(name="Nobody"), draws=200).answer()
    assert codes(bare) >= {"gearing-assumed", "curve-assumed", "governed-speed-assumed", "assumed-by-class"}
    thin = TRUCK.answer(conditions(altitude_m=2500.0))
    assert "air-far-from-chart" in codes(thin)
    stated = study_gears(PLAINS_TRUCK, draws=200, standard="ISO 1585").answer()
    assert codes(stated) == set()


def test_a_curve_that_breaks_power_or_is_in_horsepower_is_told():
    """Scenario of the chart that disagrees with itself: 4,000 rpm +1.8 %, 4,400 rpm +6.5 %; all kW x 1.36 are PS."""
    rpm = (1500, 2000, 2500, 3000, 3500, 4000, 4400)
    torque = (118.0, 132.0, 138.0, 136.0, 130.0, 122.0, 110.0)
    kilowatt = (18.5, 27.6, 36.1, 42.7, 47.6, 52.0, 54.0)

    def told(power: tuple[float, ...]) -> tuple[set[str], str]:
        chart = FullLoadCurve(tuple(n / 60 for n in rpm), torque, tuple(1000 * p for p in power))
        engine = msgspec.structs.replace(BREAD_VAN.engine, full_load=chart)
        result = study_gears(msgspec.structs.replace(BREAD_VAN, engine=engine), draws=200).answer()
        return codes(result), " ".join(flag.message for flag in result.flags)

    found, words = told(kilowatt)
    assert "curve-breaks-power" in found
    assert "4000, 4400 rpm" in words
    assert "6.5 %" in words
    units, words = told(tuple(n * t * 2 * math.pi / 60 * 1.35962e-3 for n, t in zip(rpm, torque, strict=True)))
    assert "curve-unit" in units
    assert "PS" in words


def test_a_chart_that_ends_early_is_told():
    engine = msgspec.structs.replace(BREAD_VAN.engine, governed_speed_rps=PLAINS_TRUCK.engine.governed_speed_rps)
    ends = msgspec.structs.replace(engine, full_load=FullLoadCurve((15.0, 30.0), (120.0, 130.0)))
    found = study_gears(msgspec.structs.replace(BREAD_VAN, engine=ends), draws=200).answer()
    assert "curve-ends-early" in codes(found)


def test_too_few_draws_are_refused():
    with pytest.raises(ValueError, match="too few"):
        study_gears(BREAD_VAN, draws=20)


def test_an_engine_alone_is_enough():
    found = study_gears(Vehicle(name="Kit", engine=Engine(fuel="petrol")), draws=200).answer()
    assert all(isinstance(gear.speed_at_governed, Figure) for gear in found.gears)


@pytest.fixture(scope="module")
def with_run() -> GearsResult:
    if not (EXAMPLE / "run.toml").exists():
        pytest.skip("examples/fen-hauler is not here")
    return study_gears_file(EXAMPLE / "vehicle.toml", EXAMPLE / "run.toml", draws=300).answer()


def test_a_run_narrows_what_is_known_of_the_fuel_and_shows_the_drive(with_run: GearsResult):
    alone = study_gears_file(EXAMPLE / "vehicle.toml", draws=300).answer()
    before, after = alone.gears[4].fuel, with_run.gears[4].fuel
    assert before is not None
    assert after is not None
    assert after.half_width < 0.7 * before.half_width
    assert alone.run is None
    assert with_run.run is not None


def test_the_drive_is_in_gears_that_fit_its_speeds(with_run: GearsResult):
    run = with_run.run
    assert run is not None
    assert len(run.time_s) == len(run.gear) == len(run.load) == len(run.engine_speed_rpm)
    assert set(run.gear) <= set(range(6))
    moving = [(rpm, gear) for rpm, gear in zip(run.engine_speed_rpm, run.gear, strict=True) if gear > 0]
    assert all(rpm <= 1.05 * 4600 for rpm, _ in moving)
    assert sum(gear >= 4 for _, gear in moving) > 0.5 * len(moving)
    assert all(
        low <= load <= high + 1e-9 for low, load, high in zip(run.load_low, run.load, run.load_high, strict=True)
    )
    assert 0 <= run.share_at_full_load.value < 30


def test_files_are_named_and_fingerprinted(with_run: GearsResult):
    made = with_run.provenance
    assert set(made.files) >= {"vehicle.toml", "full_load.csv", "run.toml", "out.gpx"}
    assert len(made.inputs_sha256) == 64


@pytest.mark.parametrize("rate_hz", [0.2, 1.0, 10.0])
def test_a_drive_up_a_long_hill_in_the_wind_is_held_back(rate_hz: float):
    """A heavy load on an 8.6 % hill: the stretch is found, named, and a lower gear would have held more. However often
    the receiver wrote, no gear is held for less than five seconds."""
    from run_factory import NOON_S  # noqa: PLC0415

    from calmday.procedures.gears_run import along_run  # noqa: PLC0415
    from calmday.procedures.weighed_run import reduce_weighed_run  # noqa: PLC0415

    weighed = reduce_weighed_run(hill_run(NOON_S, rate_hz), draws=300)
    found = along_run(weighed, seed=1)
    assert found is not None
    assert found.held_back
    stretch = max((s for s in found.held_back if s.cause == "hill"), key=lambda s: s.end_s - s.start_s)
    assert stretch.hill.value > stretch.wind.value
    assert found.time_at_full_load.value > 10
    assert stretch.lower_gear == stretch.gear - 1
    assert stretch.lower_gear_speed is None or stretch.lower_gear_speed.value > 0
    gear = np.array(found.gear)
    driven = weighed.path.drive
    assert driven is not None
    assert len(gear) == len(driven)
    edges = np.flatnonzero(np.diff(gear)) + 1
    held_s = np.diff(np.cumsum(driven.step_s)[edges - 1])
    assert held_s.min() >= 5.0


def test_thick_oil_loads_the_engine_along_a_frosty_drive():
    """At -10 degC and 70 km/h on the level: v (1 + v/25) D more, with oil that thickens, over full load."""
    from run_factory import NOON_S  # noqa: PLC0415

    from calmday.procedures.gears_run import along_run  # noqa: PLC0415
    from calmday.procedures.weighed_run import reduce_weighed_run  # noqa: PLC0415

    weighed = reduce_weighed_run(hill_run(NOON_S, 1.0, temperature_k=263.15), draws=300)
    simulated = weighed.simulated
    assert simulated is not None
    values = simulated.values
    loads = []
    for per_kelvin in (0.0, 0.02):
        oil = values | {"driveline_thickening": np.full_like(values["driveline_drag"], per_kelvin)}
        thick = msgspec.structs.replace(weighed, simulated=msgspec.structs.replace(simulated, values=oil))
        found = along_run(thick, seed=1)
        assert found is not None
        loads.append(np.array(found.load)[20:180].mean())
    watt = 19.4 * (1 + 19.4 / 25) * float(values["driveline_drag"].mean()) * (math.exp(0.6) - 1)
    assert loads[1] - loads[0] == pytest.approx(watt / 30e3, rel=0.4), "some 30 kW of full load in top gear"


def hill_run(start_s: float, rate_hz: float, temperature_k: float = 288.0):
    """Ten minutes: level at 70 km/h, then 8.6 % at what third just carries at full load, then level again."""
    from run_factory import VAN  # noqa: PLC0415

    from calmday.records.declared import Declared  # noqa: PLC0415
    from calmday.records.run import FuelBatch, Run, Weighing  # noqa: PLC0415
    from calmday.records.track import Track  # noqa: PLC0415
    from calmday.records.weather import Weather, WeatherReading  # noqa: PLC0415

    seconds = np.arange(round(600 * rate_hz)) / rate_hz
    speed = np.interp(seconds, [0, 200, 230, 400, 430, 599], [19.4, 19.4, 13.6, 13.6, 19.4, 19.4])
    grade = np.interp(seconds, [0, 200, 230, 400, 430, 599], [0, 0, 0.086, 0.086, 0, 0])
    along = np.cumsum(speed) / rate_hz
    height = 20 + np.cumsum(speed * grade) / rate_hz
    none = np.full(seconds.size, np.nan)
    track = Track(
        time_s=start_s + seconds, latitude_deg=52.0 + along / 111_250.0, longitude_deg=0 * along + 0.1,
        height_m=np.round(height, 1), speed_mps=np.round(speed, 2), course_deg=0 * along, hdop=none,
        segment=np.zeros(seconds.size, dtype=np.int64), files=("hill.gpx",),
    )  # fmt: skip
    air = WeatherReading(
        time_s=start_s, source="roadside", wind_speed_mps=1.0, wind_from_deg=0.0, height_m=2.0,
        temperature_k=temperature_k, pressure_pa=100_000.0, relative_humidity=0.6,
    )  # fmt: skip
    return Run(
        label="Up the hill", vehicle=VAN, track=track, engine_start="warm", payload_kg=Declared(500.0, 20.0),
        fuel=FuelBatch(kind="diesel", density_kgpm3=Declared(836.0)), weather=Weather(readings=(air,)),
        weighings=(
            Weighing(when="before", gross_kg=(10.0,), tare_kg=1.0),
            Weighing(when="after", gross_kg=(8.75,), tare_kg=1.0),
        ),
    )  # fmt: skip
