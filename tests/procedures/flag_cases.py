"""Runs just past and just inside the limit of every flag."""

from __future__ import annotations

import datetime as dt
import math

from flag_runs import (
    Maker,
    at_distance,
    at_the_ends,
    burnt,
    curve,
    cut_in_speed,
    day_moved,
    effective,
    every,
    fuel_at,
    lasting,
    odd_limit,
    plain,
    published,
    read_at,
    readings,
    reported,
    tracked,
    turning,
    two,
    with_run,
    with_temperatures,
    with_track,
    with_tracked_run,
    with_weather,
)
from run_factory import NOON_S, VAN, changed, reading

from calmday.files.tyre_code import parse_tyre
from calmday.procedures.run_flags_fuel import (
    _IMPOSSIBLE_RATIO,
    _IMPOSSIBLE_SD,
)
from calmday.procedures.weighed_run import WeighedRun
from calmday.records.declared import Declared
from calmday.records.run import Fill, FuelBatch, Odometer, Scale, Weighing
from calmday.records.weather import Weather
from calmday.reduction.reduced_track import Gap, TrackFinding

BARE_SHEET = changed(VAN, test_mass_kg=None)
SPARK = changed(VAN, engine=changed(VAN.engine, fuel="petrol"))

UNSAID = changed(VAN, engine=changed(VAN.engine, fuel=None))
FAR, NEAR = 1.003 * _IMPOSSIBLE_SD, 0.997 * _IMPOSSIBLE_SD
OVER, UNDER = 1.006 * _IMPOSSIBLE_RATIO, 0.994 * _IMPOSSIBLE_RATIO


def rolled_out(circumference: float, half_width: float | None = None, tyre: str = "195/75 R16") -> WeighedRun:
    """A run whose build sheet has a tyre and a roll-out."""
    rolled = Declared(circumference, half_width)
    return with_run(vehicle=changed(VAN, tyre=parse_tyre(tyre), rolling_circumference_m=rolled))


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
    "no-distance": [(lambda: with_track(total_distance_m=99.9), lambda: with_track(total_distance_m=100.1))],
    "track-cut-short": [
        (lambda: at_the_ends(5.01, 0.0), lambda: at_the_ends(4.99, 0.0)),
        (lambda: at_the_ends(0.0, 5.01), lambda: at_the_ends(0.0, 4.99)),
    ],
    "durations-disagree": [
        # the slack is 5 % of what was said and a minute
        (lambda: lasting(whole_s=1000, moving_s=900, said_s=1116), lambda: lasting(1000, 900, 1115)),
        (lambda: lasting(whole_s=1000, moving_s=900, said_s=799), lambda: lasting(1000, 900, 801)),
    ],
    "sparse-track": [(lambda: every(5.1), lambda: every(5.0))],
    "recording-paused": [
        (
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 20.1, 0.0, False),)),
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 20.1, 300.0, False),)),
        ),
        (
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 20.1, 0.0, False),)),
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 19.9, 0.0, False),)),
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
        ),
        (
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 1500.0, 300.0, False),)),
            lambda: with_track(gaps=(Gap(NOON_S, NOON_S + 1500.0, 0.0, False),)),
        ),
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
            lambda: with_run(weighings=readings(9.0, 9.015)),
        ),
        (
            # a fine display of a scale that is known to scatter
            lambda: with_run(weighings=readings(9.0, 9.017), scale=Scale(resolution_kg=1e-3, repeatability_kg=4e-3)),
            lambda: with_run(weighings=readings(9.0, 9.016), scale=Scale(resolution_kg=1e-3, repeatability_kg=4e-3)),
        ),
    ],
    "tare-on-one-side": [
        (
            lambda: with_run(weighings=two(8.0, 6.8, 1.0, 0.0)),
            lambda: with_run(weighings=two(8.0, 6.8, 0.0, 0.0)),
        ),
        (lambda: with_run(weighings=two(8.0, 6.8, 0.0, 1.0)), lambda: with_run(weighings=two(8.0, 6.8, 1.0, 1.0))),
    ],
    "fuel-of-another-engine": [
        (lambda: with_run(fuel=FuelBatch(kind="petrol")), lambda: with_run(fuel=FuelBatch(kind="biodiesel"))),
        (
            lambda: with_run(fuel=FuelBatch(kind="diesel"), vehicle=SPARK),
            lambda: with_run(fuel=FuelBatch(kind="lpg"), vehicle=SPARK),
        ),
        (
            lambda: with_run(fuel=FuelBatch(kind="petrol")),
            lambda: with_run(fuel=FuelBatch(kind="petrol"), vehicle=UNSAID),
        ),
    ],
    "tyre-disagrees-with-roll-out": [
        # 195/75 R16: 0.4064 + 2 x 0.195 x 0.75 = 0.6989 m, times 3.05 (ETRTO factor of radial tyres)
        (lambda: rolled_out(1.0501 * 3.05 * 0.6989), lambda: rolled_out(1.0499 * 3.05 * 0.6989)),
        (lambda: rolled_out(0.9499 * 3.05 * 0.6989), lambda: rolled_out(0.9501 * 3.05 * 0.6989)),
        (lambda: rolled_out(1.07 * 3.05 * 0.6989), lambda: rolled_out(1.07 * 3.05 * 0.6989, 0.05)),
        (
            # 6.00-16: 0.4064 + 2 x 0.1524 x 0.95 = 0.696 m, times 2.99
            lambda: rolled_out(1.0801 * 2.99 * 0.69596, tyre="6.00-16"),
            lambda: rolled_out(1.0799 * 2.99 * 0.69596, tyre="6.00-16"),
        ),
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
    "weather-of-another-time": [
        (lambda: reported(10_801), lambda: reported(10_799)),
        # a day later, or where the track's own date says it already
        (lambda: reported(36.1 * 3600), lambda: reported(36.1 * 3600, date=dt.date(2026, 4, 10))),
    ],
    "time-zone-slip": [
        (lambda: reported(7200 + 1799), lambda: reported(7200 + 1801)),
        (lambda: reported(7200 - 1799), lambda: reported(7200 - 1801)),
        (lambda: reported(7200), lambda: reported(7200, offset_s=0.0)),
        (lambda: reported(18_000, offset_s=-18_000.0), lambda: reported(18_000, offset_s=-7200.0)),
        (lambda: reported(36_000, offset_s=36_000.0), lambda: reported(30_000, offset_s=36_000.0)),
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
    "pressure-of-another-height": [
        # p0 (1 - 0.0065 z / 288.15)^5.2559 (ICAO Doc 7488/3, from memory): 77 hPa less at 660 m than at sea level
        (lambda: read_at(660.0, 101_325.0), lambda: read_at(660.0, 93_700.0)),
        (lambda: read_at(20.0, 101_090 - 6010.0), lambda: read_at(20.0, 101_080 - 5990.0)),
    ],
    "temperature-unlikely": [
        (lambda: with_temperatures(318.2), lambda: with_temperatures(318.1)),
        (lambda: with_temperatures(287.0, 302.1), lambda: with_temperatures(287.0, 301.9)),
        (lambda: with_temperatures(287.0, 303.0), lambda: with_temperatures(287.0, 303.0, hours=3.1)),
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
