"""One chart of each kind from invented results."""

from __future__ import annotations

import datetime as dt

import numpy as np
from sample_drives import drive
from sample_results import full_result, leg

from calmday.metrology.figure import Figure, from_normal
from calmday.operations.gears import conditions, study_gears
from calmday.procedures.along_the_drive import AlongTheDrive
from calmday.procedures.gears_result import AlongRun, HeldBack
from calmday.procedures.pull_result import Corrected, DoubtLine, OnePull, PowerPoint, PullResult
from calmday.procedures.weighed_run_result import Provenance, RunResult
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, FullLoadCurve, Vehicle
from calmday.reports.charts import (
    ChangeMark,
    Chart,
    Guess,
    HistoryPoint,
    charts_of_run,
    each_pull_chart,
    full_load_chart,
    history_chart,
    power_trace_chart,
    pull_doubt_chart,
    pull_power_chart,
    route_chart,
    thrust_chart,
    traces_chart,
)

RPM = (800, 1200, 1600, 2000, 2400, 2800, 3200)
TORQUE = (96.0, 108.0, 115.0, 118.0, 116.0, 110.0, 99.0)


def guesses() -> tuple[Guess, ...]:
    named = (
        ("Ada", 34.0, "mpg_us"),
        ("Bram", 7.9, "L_per_100km"),
        ("Cleo", 38.0, "mpg_imp"),
        ("Dov", 15.4, "km_per_L"),
    )
    published = Guess(by="published, laboratory", value=5.9, unit="L_per_100km", published=True)
    return (*(Guess(by=by, value=value, unit=unit) for by, value, unit in named), published)


def history(count: int = 9) -> tuple[list[HistoryPoint], list[ChangeMark]]:
    start = dt.date(2025, 5, 3)
    points = [
        HistoryPoint(
            date=start + dt.timedelta(days=17 * i),
            label=f"Run {i + 1}",
            figure=from_normal(8.4 - 0.1 * i, 0.15, "L/100km"),
            void=i == 3,
        )
        for i in range(count)
    ]
    changes = [
        ChangeMark(date=dt.date(2025, 6, 10), what="Axle 3.7 instead of 4.1"),
        ChangeMark(date=dt.date(2025, 8, 1), what="Tyres at 330 kPa"),
        ChangeMark(date=dt.date(2025, 8, 3), what="Mirrors folded in"),
    ]
    return points, changes


def whole_run() -> tuple[RunResult, AlongTheDrive]:
    legs = tuple(leg(i, 47.0 * i, 4.0 - 0.7 * i) for i in range(1, 12))
    return full_result(legs=legs), drive(gap=True)


def power_charts() -> list[Chart]:
    """Charts about power: an invented vehicle in a head wind, and a drive with two stretches held back."""
    result = study_gears(vehicle_with_gears(), draws=120).answer(conditions(head_wind_mps=6.0))
    pulled = pull_result()
    charts = (pull_power_chart(pulled), each_pull_chart(pulled), pull_doubt_chart(pulled))
    return [
        thrust_chart(result),
        power_trace_chart(held_back_drive()),
        *(chart for chart in charts if chart is not None),
    ]


def vehicle_with_gears() -> Vehicle:
    return Vehicle(
        name="Invented van",
        body="van",
        test_mass_kg=Declared(1480.0),
        gear_ratios=(3.65, 2.02, 1.37, 1.0, 0.83),
        final_drive=4.1,
        rolling_circumference_m=Declared(2.13),
        engine=Engine(
            displacement_m3=Declared(2.1e-3),
            fuel="diesel",
            governed_speed_rps=Declared(4600 / 60),
            full_load=FullLoadCurve(tuple(n / 60 for n in RPM), tuple(TORQUE)),
        ),
    )


def pull_result() -> PullResult:
    """Four pulls in third, both ways, of a vehicle that gives nine tenths of its chart."""

    def figure(value: float, unit: str, share: float = 0.06) -> Figure:
        return Figure(value, 0.5 * share * value, (1 - share) * value, (1 + share) * value, unit)

    points = tuple(
        PowerPoint(
            engine_speed=figure(rpm, "rpm", 0.01), torque=figure(90.0, "N m"), engine_power=figure(power, "kW"),
            wheel_power=figure(0.9 * power, "kW"), corrected_power=figure(power, "kW"), of_chart=figure(0.9, "1"),
            pulls=4,
        )
        for rpm, power in ((1500.0, 18.2), (2100.0, 24.6), (2700.0, 29.3), (3300.0, 32.1))
    )  # fmt: skip
    pulls = tuple(
        OnePull(
            number=n, kind="acceleration", gear=3, from_speed=figure(40.0, "km/h"), to_speed=figure(80.0, "km/h"),
            duration=figure(14.0, "s"), grade=figure(0.2, "%"), headwind=figure(1.0, "m/s"),
            engine_speed=figure(2400.0, "rpm", 0.01), engine_power=figure(27.0 + 0.4 * n, "kW"),
            speed_noise=figure(0.1, "m/s"), measured_time=None, predicted_time=None,
        )
        for n in range(1, 5)
    )  # fmt: skip
    return PullResult(
        vehicle="Invented", label="Both ways", sentence="", peak_power=points[-1].engine_power,
        peak_at=points[-1].engine_speed, corrected_peak_power=points[-1].corrected_power, of_chart=figure(0.9, "1"),
        points=points, pulls=pulls, correction=Corrected(
            standard="ISO 1585", factor=1.01, within_limits=True, limits="0.9 to 1.1", status="seen"
        ),
        scatter=figure(1.8, "%"),
        doubt=tuple(
            DoubtLine(source=name, share=share)
            for name, share in (("rotating parts", 0.48), ("mass", 0.21), ("wind", 0.16), ("gusts", 0.15))
        ),
        provenance=Provenance(program="calmday", version="0", seed=1, inputs_sha256="", files=()),
    )  # fmt: skip


def held_back_drive() -> AlongRun:
    """Ten minutes at about 80 km/h, held back by wind and then by a hill."""
    time = np.arange(0.0, 600.0)
    speed = 80 + 3 * np.sin(time / 40)
    load = np.clip(0.7 + 0.3 * np.sin(time / 60), 0.0, 1.0)

    def stretch(start: float, cause: str) -> HeldBack:
        return HeldBack(
            start_s=start, end_s=start + 30, gear=5, speed=Figure(79.0, 0.1, 78.8, 79.2, "km/h"),
            wind=Figure(300.0, 40.0, 220.0, 380.0, "N"), hill=Figure(40.0, 10.0, 20.0, 60.0, "N"),
            gear_loss=Figure(150.0, 20.0, 110.0, 190.0, "N"), cause=cause, lower_gear=4,
            lower_gear_speed=Figure(88.0, 2.0, 84.0, 92.0, "km/h"),
        )  # fmt: skip

    return AlongRun(
        label="Invented", time_at_full_load=Figure(100.0, 10.0, 80.0, 120.0, "s"),
        share_at_full_load=Figure(17.0, 2.0, 13.0, 21.0, "%"),
        held_back=(stretch(60.0, "wind"), stretch(400.0, "hill")),
        time_s=tuple(time.tolist()), speed_kmh=tuple(speed.tolist()), gear=(5,) * time.size,
        engine_speed_rpm=tuple((26.6 * speed).tolist()), load=tuple(load.tolist()),
        load_low=tuple((0.9 * load).tolist()), load_high=tuple((1.1 * load).tolist()),
    )  # fmt: skip


def every_chart() -> dict[str, Chart]:
    result, along = whole_run()
    found = [
        *charts_of_run(result, along, guesses()),
        route_chart(along, "engine_power"),
        traces_chart(along, "time"),
        history_chart(*history()),
        *power_charts(),
        full_load_chart(
            [n / 60 for n in RPM], TORQUE, [1.02 * n / 60 * 6.2831853 * t for n, t in zip(RPM, TORQUE, strict=True)]
        ),
    ]
    return {chart.name: chart for chart in found if chart is not None}
