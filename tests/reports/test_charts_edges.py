"""Charts of what is not usual: hostile names, one point, nothing known, long drives, less than nothing."""

from __future__ import annotations

import datetime as dt
import itertools
import math
import re

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sample_charts import guesses, history, whole_run
from sample_drives import drive
from sample_results import NOWHERE, consumption, full_result, leg
from svg_reading import parsed, text_of, texts, view_box

from calmday.metrology.figure import Figure, from_normal
from calmday.procedures.along_the_drive import AlongTheDrive, Band, WindMet
from calmday.procedures.weighed_run_result import BudgetLine, EnergyShare, RunResult
from calmday.reports.charts import (
    QUANTITY_KEYS,
    SIZES,
    ChangeMark,
    Chart,
    Guess,
    HistoryPoint,
    charts_of_run,
    comparison_chart,
    cruise_chart,
    day_cost_chart,
    doubt_chart,
    fuel_shares_chart,
    full_load_chart,
    history_chart,
    legs_chart,
    parameters_chart,
    route_chart,
    traces_chart,
)

HOSTILE = (
    "<script>alert(1)</script>",
    '" onload="x',
    "]]> & <!-- '",
    "a\x00b\x1b[2J\u202ereversed\ud800",
    "W" * 300,
    "漢字" * 40,
    "two\nlines\tand tab",
    "",
    "🚐 Größe ÅÄÖ",
)


def fits(chart: Chart) -> None:
    """Every size is well-formed, and its texts lie inside the picture and not on one another."""
    for size in SIZES:
        root = parsed(chart.svg(size, "light"))
        wide, high = view_box(root)
        boxes = texts(root)
        for box in boxes:
            assert -0.1 <= box.left <= box.right <= wide + 0.1, (size, box)
            assert -0.1 <= box.top <= box.bottom <= high + 0.1, (size, box)
        clashes = [(a.text, b.text) for a, b in itertools.combinations(boxes, 2) if a.meets(b)]
        assert clashes == [], size
        coordinates = re.findall(r'(?:x|y|cx|cy|width|height|d)[12]?="([^"]*)"', chart.svg(size, "light"))
        assert not any(re.search("nan|inf", one) for one in coordinates)
    parsed(f"<r>{chart.figure_html()}</r>")


@pytest.mark.parametrize("name", HOSTILE)
def test_names_from_outside_stay_text(name: str) -> None:
    result, _ = whole_run()
    points, _ = history(2)
    charts = [
        comparison_chart(result, [Guess(by=name, value=7.0, unit="L_per_100km")]),
        history_chart(
            [msgspec.structs.replace(p, label=name) for p in points], [ChangeMark(date=dt.date(2025, 5, 9), what=name)]
        ),
        fuel_shares_chart([EnergyShare(to=name, energy=e.energy, share=e.share) for e in result.energy[:2]]),
        doubt_chart([BudgetLine(source=name, contribution=b.contribution, share=b.share) for b in result.budget]),
    ]
    for chart in charts:
        fits(chart)
        for text in (chart.svg("page"), chart.figure_html(), chart.description):
            assert "<script" not in text or text == chart.description
            assert not re.search("[\x00-\x08\x0b\x1b\u202e\ud800]", text)
        assert "<script" not in chart.figure_html()


def test_a_name_with_signs_reads_as_it_was_written() -> None:
    result, _ = whole_run()
    chart = comparison_chart(result, [Guess(by="Tom & <Ann>", value=7.0, unit="L_per_100km")])
    assert "Tom & <Ann>" in text_of(parsed(chart.svg("page")))


@pytest.mark.parametrize("count", [1, 2, 3, 7])
def test_a_drive_of_a_few_samples(count: int) -> None:
    along = drive(count, 1)
    fits(route_chart(along))
    fits(traces_chart(along))
    fits(traces_chart(along, "time"))


def test_a_drive_of_ten_thousand_samples_is_thinned() -> None:
    along = drive(10_000, 4)
    for chart in (route_chart(along, "fuel_rate"), traces_chart(along)):
        for size in SIZES:
            assert len(chart.svg(size)) < 260_000
    fits(traces_chart(along))


def with_holes(along: AlongTheDrive) -> AlongTheDrive:
    holes = {}
    for name in ("air_speed_mps", "engine_power_w", "load"):
        band: Band = getattr(along, name)
        mean = band.mean.copy()
        mean[:40], mean[300:320], mean[321], mean[500:] = math.nan, math.nan, math.nan, math.nan
        holes[name] = Band(mean, band.low + 0 * mean, band.high + 0 * mean)
    return msgspec.structs.replace(along, **holes)


def test_stretches_that_are_not_known_leave_holes() -> None:
    along = with_holes(drive())
    fits(traces_chart(along))
    fits(route_chart(along, "engine_power"))
    nothing = np.full(along.time_s.size, math.nan)
    blank = msgspec.structs.replace(along, load=Band(nothing, nothing, nothing))
    assert "load" not in {row.name.split()[-1] for row in traces_chart(blank).table.columns}
    assert route_chart(blank, "load").name == "route-speed", "speed stands in for what is not known"


@pytest.mark.parametrize("key", QUANTITY_KEYS)
def test_every_quantity_can_colour_the_route(key: str) -> None:
    chart = route_chart(drive(400, 2), key)
    assert chart.name == f"route-{key.replace('_', '-')}"
    fits(chart)


def test_a_drive_without_a_model_height_or_wind() -> None:
    along = msgspec.structs.replace(
        drive(modelled=False),
        has_height=False,
        wind=WindMet(speed=from_normal(3, 2, "m/s"), from_deg=10.0, from_half_width_deg=180.0, known=False),
    )
    chart = traces_chart(along)
    assert [column.name for column in chart.table.columns] == ["from", "to", "mean speed"]
    fits(chart)
    route = route_chart(along, "grade")
    assert route.name == "route-speed"
    assert "wind not known" in text_of(parsed(route.svg("page")))
    fits(route)


def test_a_wind_from_anywhere_fills_the_rose() -> None:
    wind = WindMet(speed=from_normal(0.4, 0.4, "m/s"), from_deg=359.9, from_half_width_deg=180.0, known=True)
    fits(route_chart(msgspec.structs.replace(drive(), wind=wind)))


def test_a_car_that_never_moved() -> None:
    along = drive(300, 1)
    still = np.zeros(300)
    parked = msgspec.structs.replace(
        along, east_m=still, north_m=still, distance_m=still, speed_mps=Band(still, still, still), laps=()
    )
    fits(route_chart(parked))
    fits(traces_chart(parked))
    fits(traces_chart(parked, "time"))


def test_figures_that_are_not_known() -> None:
    unknown = consumption(7.0, 0.1)
    unknown = msgspec.structs.replace(unknown, L_per_100km=NOWHERE)
    result = full_result(as_driven=unknown)
    fits(comparison_chart(result, guesses()))
    fits(comparison_chart(msgspec.structs.replace(result, calm_day=unknown), guesses()))
    assert legs_chart([msgspec.structs.replace(leg(1, 0.0, 1.0), L_per_100km=NOWHERE)]) is None
    assert cruise_chart(()) is None
    assert fuel_shares_chart(()) is None
    assert doubt_chart(()) is None
    assert history_chart(()) is None
    assert parameters_chart({}) is None
    assert full_load_chart((), ()) is None
    assert full_load_chart((math.nan, 20.0), (100.0, math.nan)) is None


def test_one_point_of_everything() -> None:
    result, _ = whole_run()
    points, changes = history(1)
    for chart in (
        history_chart(points, changes[:1]),
        history_chart(points),
        full_load_chart((30.0,), (100.0,)),
        full_load_chart((30.0,), (100.0,), half_width=(0.008,)),
        cruise_chart(result.level_cruise[:1]),
        legs_chart(result.legs[:1]),
        fuel_shares_chart(result.energy[:1]),
    ):
        fits(chart)


def test_more_than_there_is_room_for() -> None:
    points, _ = history(80)
    changes = [ChangeMark(date=dt.date(2025, 5, 3) + dt.timedelta(days=9 * i), what=f"Change {i}") for i in range(30)]
    fits(history_chart(points, changes))
    fits(legs_chart([leg(i, 31.0 * i, 5 * math.cos(i)) for i in range(1, 70)]))
    fits(comparison_chart(full_result(), [Guess(by=f"Guest {i}", value=4 + i, unit="L_per_100km") for i in range(50)]))


def test_a_curve_read_off_a_picture_has_the_band_it_was_read_to() -> None:
    chart = full_load_chart((40.0, 20.0, 30.0), (90.0, 100.0, 110.0), half_width=(0.03, 0.006, 0.008))
    assert chart is not None
    assert [row[-1] for row in chart.table.rows] == pytest.approx([0.6, 0.8, 3.0])
    assert "0.6 to 3 % either way" in chart.note
    assert "comes on top" in chart.description
    fits(chart)


def test_typed_points_in_any_order_and_unfinished() -> None:
    chart = full_load_chart((40.0, 20.0, math.nan, 30.0), (90.0, 100.0, 5.0, 110.0), (math.nan, 1e4, 2.0, math.nan))
    assert [row[0] for row in chart.table.rows] == [1200.0, 1800.0, 2400.0]
    fits(chart)


def small_result(scale: float) -> RunResult:
    share = Figure(0.4 * scale, 0.1, 0.4 * scale - 0.2, 0.4 * scale + 0.2, "1")
    result = full_result()
    return msgspec.structs.replace(
        result,
        energy=(
            EnergyShare(to="hills", energy=from_normal(-3 * scale, 1, "MJ"), share=share),
            EnergyShare(to="brakes", energy=from_normal(3, 1, "MJ"), share=from_normal(-scale, 0.05, "1")),
        ),
        penalties=msgspec.structs.replace(
            result.penalties, wind=from_normal(-9 * scale, 3, "%"), cold_tyres=from_normal(scale, 0.001, "%")
        ),
    )


@settings(max_examples=15, deadline=None)
@given(st.floats(-3, 3))
def test_less_than_nothing(scale: float) -> None:
    result = small_result(scale)
    fits(fuel_shares_chart(result.energy))
    fits(day_cost_chart(result))


@settings(max_examples=15, deadline=None)
@given(st.floats(0.5, 900), st.floats(1e-4, 0.9))
def test_any_size_of_figure_and_doubt(value: float, relative: float) -> None:
    result = full_result(
        as_driven=consumption(value, relative * value), calm_day=consumption(0.9 * value, value * relative)
    )
    for chart in charts_of_run(result, None, guesses()):
        if chart.name in ("comparison", "day-cost"):
            fits(chart)


def test_a_history_in_one_day_and_over_decades() -> None:
    figure = from_normal(8, 0.1, "L/100km")
    one_day = [HistoryPoint(date=dt.date(2025, 2, 28), label=str(i), figure=figure) for i in range(3)]
    fits(history_chart(one_day))
    fits(history_chart([*one_day, HistoryPoint(date=dt.date(1987, 1, 1), label="old", figure=figure)]))
