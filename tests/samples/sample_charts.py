"""One chart of each kind from invented results."""

from __future__ import annotations

import datetime as dt

from sample_drives import drive
from sample_results import full_result, leg

from calmday.metrology.figure import from_normal
from calmday.procedures.along_the_drive import AlongTheDrive
from calmday.procedures.weighed_run_result import RunResult
from calmday.reports.charts import (
    ChangeMark,
    Chart,
    Guess,
    HistoryPoint,
    charts_of_run,
    full_load_chart,
    history_chart,
    route_chart,
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
        ChangeMark(date=dt.date(2025, 6, 10), what="Final drive 3.7 instead of 4.1"),
        ChangeMark(date=dt.date(2025, 8, 1), what="Tyres at 330 kPa"),
        ChangeMark(date=dt.date(2025, 8, 3), what="Mirrors folded in"),
    ]
    return points, changes


def whole_run() -> tuple[RunResult, AlongTheDrive]:
    legs = tuple(leg(i, 47.0 * i, 4.0 - 0.7 * i) for i in range(1, 12))
    return full_result(legs=legs), drive(gap=True)


def every_chart() -> dict[str, Chart]:
    result, along = whole_run()
    found = [
        *charts_of_run(result, along, guesses()),
        route_chart(along, "engine_power"),
        traces_chart(along, "time"),
        history_chart(*history()),
        full_load_chart(
            [n / 60 for n in RPM], TORQUE, [1.02 * n / 60 * 6.2831853 * t for n, t in zip(RPM, TORQUE, strict=True)]
        ),
    ]
    return {chart.name: chart for chart in found if chart is not None}
