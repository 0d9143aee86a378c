"""Every flag fires just past its limit and not just inside it."""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest
from run_factory import CURVE, NOON_S, VAN, changed, reading, reduced, round_track, run_of, without_track

import calmday.procedures
from calmday.metrology.figure import exact
from calmday.procedures.run_flags import FlagSet, flags_of_run
from calmday.procedures.run_flags_fuel import (
    _IMPOSSIBLE_RATIO,
    _IMPOSSIBLE_SD,
    BELIEVABLE_GPKWH,
    implied_gpkwh,
    surprise_sd,
)
from calmday.procedures.weighed_run import WeighedRun
from calmday.procedures.weighed_run_result import Flag
from calmday.records.declared import Declared
from calmday.records.run import Fill, FuelBatch, Odometer, Published, Run, Scale, Weighing
from calmday.records.vehicle import FullLoadCurve
from calmday.records.weather import Weather
from calmday.reduction.reduced_track import Gap, TrackFinding

Maker = Callable[[], WeighedRun]


@lru_cache(maxsize=1)
def tracked() -> WeighedRun:
    return reduced(run_of(1.19, track=round_track()))


@lru_cache(maxsize=1)
def plain() -> WeighedRun:
    return reduced(without_track(1.19))


def flags_by_code(weighed: WeighedRun) -> dict[str, Flag]:
    return {flag.code: flag for flag in flags_of_run(weighed).flags}


def with_run(**fields: object) -> WeighedRun:
    return changed(plain(), run=changed(plain().run, **fields))


def with_tracked_run(**fields: object) -> WeighedRun:
    return changed(tracked(), run=changed(tracked().run, **fields))


def with_weather(**fields: object) -> WeighedRun:
    base = plain()
    return changed(base, path=changed(base.path, weather=changed(base.path.weather, **fields)))


def with_track(**fields: object) -> WeighedRun:
    base = tracked()
    return changed(base, path=changed(base.path, track=changed(base.path.track, **fields)))


def at_distance(metres: float, start: str | None) -> WeighedRun:
    base = with_run(engine_start=start)
    return changed(base, path=changed(base.path, distance=changed(base.path.distance, metres=metres)))


def day_moved(percent: float, **fields: object) -> WeighedRun:
    base = with_run(**fields)
    driven = base.as_driven.L_per_100km.value
    calm = changed(base.calm_day, L_per_100km=exact(driven / (1 + percent / 100), "L/100km"))
    return changed(base, calm_day=calm)


def burnt(specific_gpkwh: float, surprise: float, ratio: float = 1.0) -> WeighedRun:
    """The plain run with shaft work and expectation such that the fuel is so many g/kWh, so many sd from expected, and
    so many times the amount expected."""
    base = plain()
    simulated, fuel = base.simulated, base.fuel
    spread = math.hypot(simulated.conditioned.expected_sd, fuel.mass_sd_kg / fuel.mass_kg)
    conditioned = changed(simulated.conditioned, expected=math.log(fuel.mass_kg) - surprise * spread)
    made = changed(
        base,
        simulated=changed(
            simulated,
            conditioned=conditioned,
            shaft_energy_j=fuel.mass_kg * 1000 / specific_gpkwh * 3.6e6,
            expected_fuel_kg=fuel.mass_kg / ratio,
        ),
    )
    assert implied_gpkwh(made) == pytest.approx(specific_gpkwh)
    assert surprise_sd(made) == pytest.approx(surprise)
    return made


def effective(draws: float) -> WeighedRun:
    base = plain()
    conditioned = changed(base.simulated.conditioned, effective_draws=draws)
    return changed(base, simulated=changed(base.simulated, conditioned=conditioned))


def turning(share: float) -> WeighedRun:
    """All samples at the speed at which top gear turns the engine at `share` of governed speed."""
    base = plain()
    model = base.simulated.model
    speed = share * model.governed_rps / min(model.gearing.turns_per_metre)
    drive = changed(base.path.drive, speed_mps=np.full(len(base.path.drive), speed))
    return changed(base, path=changed(base.path, drive=drive))


def readings(*gross: float, **fields: object) -> tuple[Weighing, ...]:
    given = {"tare_kg": 1.02} | fields
    return (
        Weighing(when="before", gross_kg=gross, **given),
        Weighing(when="after", gross_kg=(7.81,), **given),
    )


def two(before: float, after: float, tare_before: float = 1.02, tare_after: float = 1.02) -> tuple[Weighing, ...]:
    return (
        Weighing(when="before", gross_kg=(before,), tare_kg=tare_before),
        Weighing(when="after", gross_kg=(after,), tare_kg=tare_after),
    )


def fuel_at(**fields: object) -> WeighedRun:
    return changed(plain(), fuel=changed(plain().fuel, **fields))


def curve(factor: tuple[float, ...] | float) -> WeighedRun:
    """The build sheet's curve with powers off by a factor."""
    speeds, torques = np.array(CURVE.speed_rps), np.array(CURVE.torque_nm)
    powers = 2 * math.pi * speeds * torques * np.asarray(factor)
    sheet = FullLoadCurve(CURVE.speed_rps, CURVE.torque_nm, tuple(powers.tolist()))
    return with_run(vehicle=changed(VAN, engine=changed(VAN.engine, full_load=sheet)))


def published(ratio: float, unit: str = "mpg_imp") -> WeighedRun:
    ours = getattr(plain().as_driven, unit).value
    return with_run(published=Published(value=ours * ratio, unit=unit))


def reported(seconds_before_start: float, offset_s: float | None = 7200.0) -> WeighedRun:
    start = float(tracked().path.track.time_s[0])
    weather = Weather(readings=(changed(reading(), time_s=start - seconds_before_start),))
    return with_tracked_run(weather=weather, utc_offset_s=offset_s)


def cut_in_speed(limit: float) -> tuple[Maker, Maker]:
    return (lambda: with_weather(wind_at_mast_mps=limit + 0.01)), (lambda: with_weather(wind_at_mast_mps=limit))


BARE_SHEET = changed(VAN, test_mass_kg=None)
FAR, NEAR = 1.003 * _IMPOSSIBLE_SD, 0.997 * _IMPOSSIBLE_SD
OVER, UNDER = 1.006 * _IMPOSSIBLE_RATIO, 0.994 * _IMPOSSIBLE_RATIO
CASES: dict[str, list[tuple[Maker, Maker]]] = {
    "wind-above-procedure-limit": [
        # UN GTR 15 Annex 4: mean 5 m/s, peak 8 m/s (M)
        cut_in_speed(5.0),
        (
            lambda: with_weather(wind_at_mast_mps=3.0, gust_at_mast_mps=8.01),
            lambda: with_weather(wind_at_mast_mps=3.0, gust_at_mast_mps=8.0),
        ),
        (lambda: with_weather(wind_at_mast_mps=9.0), lambda: with_weather(wind_at_mast_mps=9.0, wind_known=False)),
    ],
    "cold-start-in-short-run": [
        (lambda: at_distance(29_999, "cold"), lambda: at_distance(30_001, "cold")),
        (lambda: at_distance(5_000, "cold"), lambda: at_distance(5_000, "warm")),
    ],
    "start-not-said": [(lambda: at_distance(21_000, None), lambda: at_distance(21_000, "warm"))],
    "correction-larger-than-effect": [
        (lambda: day_moved(3.01), lambda: day_moved(2.99)),
        (lambda: day_moved(-3.01), lambda: day_moved(-2.99)),
        (
            lambda: day_moved(1.01, smallest_change_of_interest=0.01),
            lambda: day_moved(4.99, smallest_change_of_interest=0.05),
        ),
    ],
    "distances-disagree": [
        (
            lambda: with_tracked_run(distance_m=Declared(1.0201 * tracked().path.distance.metres)),
            lambda: with_tracked_run(distance_m=Declared(1.0199 * tracked().path.distance.metres)),
        ),
        (
            lambda: with_tracked_run(odometer=Odometer(start_m=0, end_m=0.9799 * tracked().path.distance.metres)),
            lambda: with_tracked_run(odometer=Odometer(start_m=0, end_m=0.9801 * tracked().path.distance.metres)),
        ),
        (
            lambda: with_tracked_run(laps=3, lap_length_m=Declared(7200.0)),
            lambda: with_tracked_run(laps=3, lap_length_m=Declared(7100.0)),
        ),
        (
            # an odometer whose factor is known is judged with its factor
            lambda: with_tracked_run(odometer=Odometer(start_m=0, end_m=21e3, factor=Declared(0.95))),
            lambda: with_tracked_run(odometer=Odometer(start_m=0, end_m=21e3 / 0.95, factor=Declared(0.95))),
        ),
    ],
    "lap-count": [
        (lambda: with_tracked_run(laps=2), lambda: with_tracked_run(laps=3)),
        (lambda: with_tracked_run(laps=4), lambda: with_tracked_run(laps=None)),
    ],
    "track-gap": [
        (
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 20.1, 300.0, True),)),
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 20.0, 300.0, True),)),
        )
    ],
    "many-odd-fixes": [
        (
            lambda: with_track(findings=(TrackFinding("outliers", math.floor(odd_limit()) + 1, ""),)),
            lambda: with_track(findings=(TrackFinding("outliers", math.floor(odd_limit()), ""),)),
        ),
        (
            lambda: with_track(findings=(TrackFinding("outliers", 500, ""),)),
            lambda: with_track(findings=(TrackFinding("parked wander", 500, ""),)),
        ),
    ],
    "gearing-disagrees-with-track": [(lambda: turning(1.0601), lambda: turning(1.0599))],
    "calm-day-not-trustworthy": [(lambda: effective(199), lambda: effective(200))],
    "fuel-cannot-have-been-burnt": [
        (lambda: burnt(451, FAR, OVER), lambda: burnt(449, FAR, OVER)),
        (lambda: burnt(451, FAR, OVER), lambda: burnt(451, NEAR, OVER)),
        (lambda: burnt(451, FAR, OVER), lambda: burnt(451, FAR, UNDER)),
    ],
    "fuel-missed": [
        (lambda: burnt(194, -FAR, 1 / OVER), lambda: burnt(196, -FAR, 1 / OVER)),
        (lambda: burnt(194, -FAR, 1 / OVER), lambda: burnt(194, -NEAR, 1 / OVER)),
        (lambda: burnt(194, -FAR, 1 / OVER), lambda: burnt(194, -FAR, 1 / UNDER)),
    ],
    "fuel-far-from-expected": [
        (lambda: burnt(451, FAR, UNDER), lambda: burnt(451, FAR, OVER)),
        (lambda: burnt(300, 2.51), lambda: burnt(300, 2.49)),
        (lambda: burnt(300, -2.51), lambda: burnt(300, -2.49)),
    ],
    "after-heavier-than-before": [
        (lambda: with_run(weighings=two(8.0, 8.001)), lambda: with_run(weighings=two(8.001, 8.0))),
        (
            lambda: with_run(weighings=two(8.0, 9.0, 1.02, 0.0)),
            lambda: with_run(
                weighings=(*two(8.0, 8.5), Weighing(when="added", gross_kg=(2.0,), tare_kg=1.0)),
            ),
        ),
    ],
    "no-fuel-burnt": [
        (
            lambda: changed(with_run(weighings=two(8.0, 8.0)), fuel=changed(plain().fuel, mass_kg=0.0)),
            lambda: changed(with_run(weighings=two(8.001, 8.0)), fuel=changed(plain().fuel, mass_kg=0.001)),
        )
    ],
    "over-scale-capacity": [
        (
            lambda: with_run(weighings=two(20.001, 18.8)),
            lambda: with_run(weighings=two(20.0, 18.8)),
        ),
        (
            lambda: with_run(weighings=two(20.001, 18.8)),
            lambda: with_run(weighings=two(99.0, 97.0), scale=Scale()),
        ),
    ],
    "tare-above-gross": [
        (
            lambda: with_run(weighings=two(8.0, 6.8, tare_before=8.001)),
            lambda: with_run(weighings=two(8.0, 6.8, tare_before=8.0)),
        )
    ],
    "identical-readings": [
        (
            lambda: with_run(weighings=readings(9.0, 9.0, 9.0)),
            lambda: with_run(weighings=readings(9.0, 9.0, 9.005)),
        ),
        (lambda: with_run(weighings=readings(9.0, 9.0, 9.0)), lambda: with_run(weighings=readings(9.0, 9.0))),
    ],
    "readings-spread": [
        (
            lambda: with_run(weighings=readings(9.0, 9.0155)),
            lambda: with_run(weighings=readings(9.0, 9.0149)),
        )
    ],
    "tare-on-one-side": [
        (
            lambda: with_run(weighings=two(8.0, 6.8, 1.0, 0.0)),
            lambda: with_run(weighings=two(8.0, 6.8, 0.0, 0.0)),
        ),
        (lambda: with_run(weighings=two(8.0, 6.8, 0.0, 1.0)), lambda: with_run(weighings=two(8.0, 6.8, 1.0, 1.0))),
    ],
    "mixed-batches": [
        (
            lambda: with_run(
                fuel=FuelBatch(kind="diesel", batch="March"), fills=(Fill(volume_m3=1e-3, batch="April"),)
            ),
            lambda: with_run(
                fuel=FuelBatch(kind="diesel", batch="March"), fills=(Fill(volume_m3=1e-3, batch="March"),)
            ),
        ),
        (
            lambda: with_run(weighings=(*readings(9.0, batch="a"), Weighing(when="added", gross_kg=(2.0,), batch="b"))),
            lambda: with_run(weighings=readings(9.0, batch="a")),
        ),
    ],
    "density-outside-standard": [
        # EN 590: 820 to 845 kg/m3 at 15 degC (CV-42; S)
        (lambda: fuel_at(density_15_kgpm3=845.1), lambda: fuel_at(density_15_kgpm3=845.0)),
        (lambda: fuel_at(density_15_kgpm3=819.9), lambda: fuel_at(density_15_kgpm3=820.0)),
    ],
    "too-little-fuel": [
        (
            lambda: fuel_at(mass_sd_kg=0.0301 * plain().fuel.mass_kg),
            lambda: fuel_at(mass_sd_kg=0.0299 * plain().fuel.mass_kg),
        )
    ],
    "track-of-another-day": [
        (
            lambda: with_tracked_run(date=dt.date(2026, 4, 11)),
            lambda: with_tracked_run(date=dt.date(2026, 4, 12)),
        ),
        (
            # 10:00 UTC is the 13th only from 14 hours east on
            lambda: with_tracked_run(utc_offset_s=14.01 * 3600),
            lambda: with_tracked_run(utc_offset_s=13.9 * 3600),
        ),
    ],
    "weather-of-another-time": [(lambda: reported(10_801), lambda: reported(10_799))],
    "time-zone-slip": [
        (lambda: reported(7200 + 1799), lambda: reported(7200 + 1801)),
        (lambda: reported(7200 - 1799), lambda: reported(7200 - 1801)),
        (lambda: reported(7200), lambda: reported(7200, offset_s=0.0)),
    ],
    "no-track": [(plain, tracked)],
    "no-wind": [(lambda: with_weather(wind_known=False), plain)],
    "no-weather": [
        (lambda: with_run(weather=Weather()), plain),
        (
            lambda: with_run(weather=Weather(readings=(reading(temperature_k=None, qnh_pa=None),))),
            lambda: with_run(weather=Weather(readings=(reading(qnh_pa=None),))),
        ),
    ],
    "assumed-by-class": [(lambda: with_run(vehicle=BARE_SHEET), plain)],
    "curve-unit": [
        (lambda: curve(1.35962), lambda: curve(1.0)),  # PS (CV-46: 735.49875 W)
        (lambda: curve(1.34102), lambda: curve((1.34102, 1.34102, 1.34102, 1.34102, 1.34102, 1.30))),
    ],
    "curve-breaks-power": [
        (lambda: curve((1, 1, 1, 1, 1.0151, 1)), lambda: curve((1, 1, 1, 1, 1.0149, 1))),
        (lambda: curve((1, 1, 1, 1, 1, 0.9849)), lambda: curve((1, 1, 1, 1, 1, 0.9851))),
    ],
    "gallon-mix-up": [
        # imperial over US gallon 1.20095 (CV-45)
        (lambda: published(1.171), lambda: published(1.169)),
        (lambda: published(1 / 1.239, "mpg_us"), lambda: published(1 / 1.241, "mpg_us")),
        (lambda: published(1.20095), lambda: published(1.20095, "L_per_100km")),
    ],
    "published-figure-is-another-test": [(lambda: published(1.0), plain)],
    "one-run": [(plain, plain)],
}


def odd_limit() -> float:
    return 0.02 * len(tracked().path.track.time_s)


def codes_in_source() -> set[str]:
    folder = Path(calmday.procedures.__file__).parent
    text = "\n".join(file.read_text(encoding="utf-8") for file in sorted(folder.glob("run_flags*.py")))
    return set(re.findall(r'\bflag\(\s*"([a-z0-9-]+)"', text))


def test_every_flag_has_a_case() -> None:
    """A flag added without a test of its limit fails here."""
    assert codes_in_source() == set(CASES)
    assert len(CASES) > 30


ALWAYS = {"one-run"}


@pytest.mark.parametrize(
    ("code", "fires", "inside"), [(code, *pair) for code, pairs in CASES.items() for pair in pairs], ids=str
)
def test_fires_at_its_limit_and_not_just_inside(code: str, fires: Maker, inside: Maker) -> None:
    found = flags_by_code(fires())
    assert code in found
    if code not in ALWAYS:
        assert code not in flags_by_code(inside())


@pytest.mark.parametrize("code", CASES)
def test_says_what_why_and_what_now(code: str) -> None:
    flag = flags_by_code(CASES[code][0][0]())[code]
    for sentence in (flag.saw, flag.why, flag.remedy):
        assert sentence[0].isupper() or sentence[0].isdigit()
        assert sentence.endswith(".")
        assert "nan" not in sentence.lower().split()
    assert flag.message == f"{flag.saw} {flag.why} {flag.remedy}"


SEVERITY = {
    "stop": {
        "fuel-cannot-have-been-burnt",
        "fuel-missed",
        "after-heavier-than-before",
        "no-fuel-burnt",
        "over-scale-capacity",
        "tare-above-gross",
    },
    "note": {
        "start-not-said",
        "many-odd-fixes",
        "assumed-by-class",
        "published-figure-is-another-test",
        "one-run",
    },
}


@pytest.mark.parametrize("code", CASES)
def test_severity(code: str) -> None:
    """`stop` only where the result must not be used."""
    flag = flags_by_code(CASES[code][0][0]())[code]
    expected = next((name for name, codes in SEVERITY.items() if code in codes), "caution")
    assert flag.severity == expected


def test_copied_readings_by_chance_are_a_note() -> None:
    """A coarse display of a steady scale repeats by itself; a fine one does not."""

    def severity(division: float, scatter: float) -> str:
        scale = Scale(resolution_kg=division, repeatability_kg=scatter)
        return flags_by_code(with_run(weighings=readings(9.0, 9.0, 9.0), scale=scale))["identical-readings"].severity

    assert severity(0.005, 0.003) == "caution"
    assert severity(0.010, 0.001) == "note"


def test_calm_day_that_nothing_explains_is_a_stop() -> None:
    base = burnt(300, 4.1)
    conditioned = changed(base.simulated.conditioned, effective_draws=150.0)
    far = changed(base, simulated=changed(base.simulated, conditioned=conditioned))
    assert flags_by_code(far)["calm-day-not-trustworthy"].severity == "stop"
    assert flags_by_code(effective(150))["calm-day-not-trustworthy"].severity == "caution"


def test_spark_engines_have_their_own_band() -> None:
    """A carburettor at light load takes more than 450 g/kWh."""
    base = burnt(600, FAR, OVER)
    assert "fuel-cannot-have-been-burnt" in flags_by_code(base)
    petrol = changed(base, simulated=changed(base.simulated, model=changed(base.simulated.model, fuel="petrol")))
    assert "fuel-cannot-have-been-burnt" not in flags_by_code(petrol)
    assert BELIEVABLE_GPKWH[True][1] > BELIEVABLE_GPKWH[False][1]


def test_curve_in_another_power_names_that_power() -> None:
    """1 kW = 1.35962 PS = 1.34102 hp (CV-46): the two differ by 1.4 % only, and the nearer one is named."""
    assert "(PS)" in flags_by_code(curve(1.35962))["curve-unit"].why
    assert "(PS)" not in flags_by_code(curve(1.34102))["curve-unit"].why


def test_most_serious_first_and_what_stops() -> None:
    run = with_run(weighings=two(8.0, 8.5), vehicle=BARE_SHEET)
    flags = flags_of_run(run)
    order = [("stop", "caution", "note").index(flag.severity) for flag in flags.flags]
    assert order == sorted(order)
    assert flags.must_not_be_used
    assert not flags_of_run(plain()).must_not_be_used
    assert not FlagSet(()).must_not_be_used


def test_a_good_run_says_little() -> None:
    """Warm, a light wind, everything declared, a clean track: nothing to look at but the wind's share and one run."""
    assert set(flags_by_code(tracked())) <= {"one-run", "correction-larger-than-effect"}


def test_other_fuels_have_no_standard_to_break() -> None:
    base = fuel_at(density_15_kgpm3=700.0)
    lpg: Run = changed(base.run, fuel=FuelBatch(kind="lpg"))
    assert "density-outside-standard" in flags_by_code(base)
    assert "density-outside-standard" not in flags_by_code(changed(base, run=lpg))
