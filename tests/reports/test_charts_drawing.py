"""Each chart's marks stand where its numbers say: ends of curves, lengths of bars, places on a map."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from sample_charts import RPM, TORQUE, every_chart, guesses, history, whole_run
from sample_drives import drive
from sample_results import full_result
from svg_reading import SVG, circles, lines, numbers, parsed, runs, scale_by_labels, text_of, texts

from calmday.reports.charts import (
    ReaderUnits,
    comparison_chart,
    cruise_chart,
    fuel_shares_chart,
    full_load_chart,
    history_chart,
    route_chart,
    traces_chart,
)
from calmday.reports.charts.quantities import linked_samples

CHARTS = every_chart()


def test_bars_are_as_long_as_their_shares() -> None:
    result = full_result()
    root = parsed(fuel_shares_chart(result.energy).svg("page", "light"))
    bars = [r for r in root.iter(f"{SVG}rect") if r.get("x")]
    shares = sorted((item.share.value for item in result.energy), reverse=True)
    lengths = [float(bar.get("width")) for bar in bars]
    assert lengths == pytest.approx([lengths[0] * s / shares[0] for s in shares], abs=0.11)
    assert [bar.get("fill") for bar in bars][:2] == ["#6A7077", "#0072B2"], "what no engine could use is grey"
    assert "53 ± 4 %" in text_of(root)


def test_as_driven_calm_day_and_guesses_stand_on_one_scale() -> None:
    result, _ = whole_run()
    root = parsed(comparison_chart(result, guesses()).svg("page", "light"))
    origin, unit = scale_by_labels(texts(root), "6.0", "7.0")
    x = circles(root)
    assert x[0][0] == pytest.approx(origin + unit * 6.61, abs=0.3)
    squares = [p for p in root.iter(f"{SVG}path") if p.get("fill") == "#D55E00"]
    assert np.mean(numbers(squares[0].get("d"))[::2]) == pytest.approx(origin + unit * 7.118, abs=0.3)
    hollow = [p for p in root.iter(f"{SVG}path") if p.get("fill") == "#FFFFFF"]
    # 34 mpg US, 38 mpg imp, 15.4 km/L and two in L/100 km, by hand: 235.215/34, 282.481/38, 100/15.4
    expected = sorted([235.215 / 34, 282.481 / 38, 100 / 15.4, 7.9, 5.9])
    middles = [float(np.mean([min(n := numbers(p.get("d"))[::2]), max(n)])) for p in hollow]
    assert middles == pytest.approx([origin + unit * value for value in expected], abs=0.3)
    names = [text for text in text_of(root) if text in {"Ada", "Bram", "Cleo", "Dov", "published, laboratory"}]
    assert names == ["published, laboratory", "Dov", "Ada", "Cleo", "Bram"]


def test_guesses_in_the_readers_gallon() -> None:
    result, _ = whole_run()
    chart = comparison_chart(result, guesses(), ReaderUnits(consumption="mpg_imp"))
    rows = {row[0]: row[1] for row in chart.table.rows}
    assert rows["Cleo"] == 38.0
    assert rows["Ada"] == pytest.approx(34 * 4.54609 / 3.785411784, rel=1e-6)
    assert rows["Bram"] == pytest.approx(282.481 / 7.9, rel=1e-5)
    assert rows["calm day"] == result.calm_day.mpg_imp.value


def test_many_guesses_are_counted_where_there_is_no_room() -> None:
    result, _ = whole_run()
    many = [guesses()[1].__class__(by=f"Guest {i}", value=5 + 0.2 * i, unit="L_per_100km") for i in range(30)]
    shown = text_of(parsed(comparison_chart(result, many).svg("16:9", "light")))
    left = next(text for text in shown if text.startswith("and "))
    assert int(left.split()[1]) + sum(text.startswith("Guest") for text in shown) == 30
    assert "Guest 8" in shown, "the nearest to 6.61 is kept"


def test_steps_lead_from_as_driven_to_the_calm_day() -> None:
    root = parsed(CHARTS["day-cost"].svg("page", "light"))
    origin, unit = scale_by_labels(texts(root), "100", "106")
    level = 100 + 5.2 - 0.1 + 2.3 + 0.3
    bars = [r for r in root.iter(f"{SVG}rect") if r.get("x")]
    for bar, cost in zip(bars, (5.2, -0.1, 2.3, 0.3), strict=True):
        left = float(bar.get("x"))
        assert left == pytest.approx(origin + unit * (level - max(cost, 0)), abs=0.15)
        assert float(bar.get("width")) == pytest.approx(unit * abs(cost), abs=0.15)
        assert (bar.get("fill") == "none") == (cost < 0), "what saved fuel is hollow"
        level -= cost
    assert circles(root)[-1][0] == pytest.approx(origin + unit * 100, abs=0.15)


def test_the_cruise_curve_runs_through_its_points() -> None:
    result = full_result()
    root = parsed(cruise_chart(result.level_cruise).svg("page", "light"))
    ox, ux = scale_by_labels(texts(root), "60", "100")
    oy, uy = scale_by_labels(texts(root), "6", "12", lying=False)
    curve = runs(lines(root)[0].get("d"))[0]
    expected = [(ox + ux * v, oy + uy * c) for v, c in ((50, 5.2), (70, 6.4), (110, 11.8))]
    assert np.array(curve) == pytest.approx(np.array(expected), abs=0.5)
    marks = list(root.iter(f"{SVG}circle"))
    assert [mark.get("fill") for mark in marks] == ["#0072B2", "#0072B2", "#FFFFFF"], "hollow: not held"


def test_cruise_in_miles() -> None:
    chart = cruise_chart(full_result().level_cruise, ReaderUnits(speed="mph", consumption="mpg_us"))
    assert [column.head for column in chart.table.columns[:2]] == ["speed, mph", "used, mpg US"]
    assert [row[0] for row in chart.table.rows] == [31.1, 43.5, 68.4]
    assert "31 mph" in chart.description


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_traces_keep_their_extremes_and_break_at_gaps(theme: str) -> None:
    along = drive(10_000, 6, gap=True)
    root = parsed(traces_chart(along).svg("page", theme))
    panels = {g.get("data-quantity"): g for g in root.iter(f"{SVG}g") if g.get("class") == "chart-panel"}
    assert list(panels) == ["speed", "height", "engine_power", "engine_speed", "load", "fuel_rate"]
    panel = panels["engine_power"]
    origin, unit = scale_by_labels(texts(root), "0", "20", lying=False)
    del origin, unit  # other panels carry the same numbers: the field's own edges tell
    curve = next(p for p in panel.iter(f"{SVG}path") if p.get("fill") == "none")
    stretches = runs(curve.get("d"))
    assert len(stretches) == 2, "the line breaks where nothing was recorded"
    points = [point for stretch in stretches for point in stretch]
    assert len(points) < 2500
    lowest, highest = max(y for _, y in points), min(y for _, y in points)
    top, bottom = float(panel.get("data-top")), float(panel.get("data-bottom"))
    power = along.engine_power_w
    low, high = power.low.min() / 1000, power.high.max() / 1000
    low, high = low - 0.05 * (high - low), high + 0.05 * (high - low)
    assert lowest == pytest.approx(bottom + (power.mean.min() / 1000 - low) / (high - low) * (top - bottom), abs=0.3)
    assert highest == pytest.approx(bottom + (power.mean.max() / 1000 - low) / (high - low) * (top - bottom), abs=0.3)


def test_route_and_traces_share_their_samples() -> None:
    along = drive(1500, 3)
    expected = " ".join(map(str, linked_samples(1500)))
    for chart in (route_chart(along), traces_chart(along), traces_chart(along, "time")):
        for size in ("page", "narrow"):
            root = parsed(chart.svg(size))
            group = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "chart-samples")
            assert group.get("data-i") == expected
            assert len(group.get("data-x").split()) == len(expected.split())
            for panel in group.iter(f"{SVG}g"):
                if panel.get("data-values") is not None:
                    assert len(panel.get("data-values").split()) == len(expected.split())
            cursor = next(e for e in root.iter() if e.get("class") == "chart-cursor")
            assert cursor.get("visibility") == "hidden"


def test_the_route_is_to_scale_north_up_with_a_true_scale_bar() -> None:
    along = drive(1500, 1, stop=False)
    root = parsed(route_chart(along).svg("page", "light"))
    group = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "chart-samples")
    samples = np.array([int(i) for i in group.get("data-i").split()])
    x, y = (np.array(numbers(group.get(key))) for key in ("data-x", "data-y"))
    across = np.polyfit(along.east_m[samples], x, 1)[0]
    up = np.polyfit(along.north_m[samples], y, 1)[0]
    assert across == pytest.approx(-up, rel=1e-3)
    label = next(text for text in text_of(root) if re.fullmatch(r"[\d.]+ k?m", text))
    metres = float(label.split()[0]) * (1000 if label.endswith("km") else 1)
    bars = [
        abs(float(e.get("x2")) - float(e.get("x1")))
        for e in root.iter(f"{SVG}line")
        if e.get("y1") == e.get("y2") and e.get("stroke") == "#16181B" and float(e.get("y1")) > y.max()
    ]
    assert bars == pytest.approx([metres * across], rel=2e-3)


def test_route_colours_follow_the_quantity() -> None:
    along = drive(1500, 1, stop=False)
    root = parsed(route_chart(along, "grade").svg("page", "light"))
    widths = {p.get("stroke"): float(p.get("stroke-width")) for p in lines(root)}
    ramp = ["#F0E442", "#E69F00", "#D55E00", "#8A3A00", "#3B1800"]
    found = [widths[colour] for colour in ramp if colour in widths]
    assert len(found) >= 4
    assert found == sorted(found), "more is thicker too"
    # climbing (grade +1 %) is the half where north falls: the darkest pieces lie there, below the middle of the map
    group = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "chart-samples")
    middle = np.mean(numbers(group.get("data-y")))
    steep = [point for p in lines(root) if p.get("stroke") == ramp[-1] for run in runs(p.get("d")) for point in run]
    assert np.mean([y for _, y in steep]) > middle + 20


def test_laps_lie_side_by_side_and_many_on_each_other() -> None:
    def widest(laps: int) -> float:
        root = parsed(route_chart(drive(1200, laps, stop=False)).svg("page", "light"))
        casing = next(p for p in lines(root) if p.get("stroke") == "#16181B")
        x = [point[0] for run in runs(casing.get("d")) for point in run]
        group = next(g for g in root.iter(f"{SVG}g") if g.get("class") == "chart-samples")
        return max(x) - max(numbers(group.get("data-x")))

    assert widest(3) > 4
    assert abs(widest(6)) < 0.2


def test_the_wind_arrow_points_where_the_wind_goes() -> None:
    root = parsed(route_chart(drive()).svg("page", "light"))
    shaft = [e for e in root.iter(f"{SVG}line") if e.get("stroke-width") == "3"]
    dx, dy = (float(shaft[0].get(f"{k}2")) - float(shaft[0].get(f"{k}1")) for k in "xy")
    assert math.degrees(math.atan2(dx, -dy)) % 360 == pytest.approx((250 + 180) % 360, abs=1)
    assert "wind from W 250°" in text_of(root)
    assert "4.2 ± 1.6 m/s" in text_of(root)
    fan = next(p for p in root.iter(f"{SVG}path") if "A" in p.get("d"))
    x0, y0, x1, y1, *_, x2, y2 = numbers(fan.get("d"))
    angles = [math.degrees(math.atan2(a - x0, y0 - b)) % 360 for a, b in ((x1, y1), (x2, y2))]
    assert angles == pytest.approx([45, 95], abs=1)


def test_full_load_points_stand_where_they_were_typed() -> None:
    root = parsed(full_load_chart([n / 60 for n in RPM], TORQUE).svg("page", "light"))
    ox, ux = scale_by_labels(texts(root), "1000", "3000")
    dots = circles(root)
    assert [x for x, _ in dots] == pytest.approx([ox + ux * n for n in RPM], abs=0.3)
    power = [n / 60 * 2 * math.pi * t / 1000 for n, t in zip(RPM, TORQUE, strict=True)]
    oy, uy = scale_by_labels(texts(root), "20", "30", lying=False)
    assert [y for _, y in dots] == pytest.approx([oy + uy * p for p in power], abs=0.3)
    assert "most 118 at 2000 rpm" in text_of(root)


def test_a_curve_that_disagrees_with_itself_is_said() -> None:
    # SC11 of the scenarios: at 4,400 rpm 110 N m give 50.7 kW, 54.0 kW are printed
    rpm, torque, power = (1500, 3000, 4400), (118, 136, 110), (18.5e3, 42.7e3, 54.0e3)
    chart = full_load_chart([n / 60 for n in rpm], torque, power)
    assert "at 4400 rpm the power typed is 6.5 % off" in chart.description
    agreed = full_load_chart([n / 60 for n in rpm[:2]], torque[:2], power[:2])
    assert "off" not in agreed.description


def test_history_stands_in_the_order_of_dates_with_changes_between() -> None:
    points, changes = history()
    root = parsed(history_chart(points[::-1], changes[::-1]).svg("page", "light"))
    x = [place for place, _ in circles(root)]
    assert x == sorted(x)
    assert len(x) == len(points) - 1
    crosses = [p for p in root.iter(f"{SVG}path") if p.get("d").count("M") == 2]
    assert len(crosses) == 1, "the void run is shown, crossed out"
    dashed = sorted(float(e.get("x1")) for e in root.iter(f"{SVG}line") if e.get("stroke-dasharray"))
    days = [(c.date - points[0].date).days for c in changes]
    per_day = (x[-1] - x[0]) / (points[-1].date - points[0].date).days
    assert dashed == pytest.approx([x[0] + per_day * d for d in days], abs=0.5)
    assert "1: 10 Jun 2025, Axle 3.7 instead of 4.1" in text_of(root)


def test_tables_hold_the_numbers_of_the_result() -> None:
    result, along = whole_run()
    assert [row[:2] for row in CHARTS["fuel-shares"].table.rows] == sorted(
        ((item.to, 100 * item.share.value) for item in result.energy), key=lambda row: -row[1]
    )
    assert [row[6] for row in CHARTS["legs"].table.rows] == [leg.L_per_100km.value for leg in result.legs]
    assert CHARTS["day-cost"].table.rows[0] == (
        "wind", result.penalties.wind.value, result.penalties.wind.low, result.penalties.wind.high,
    )  # fmt: skip
    rows = CHARTS["traces-distance"].table.rows
    inside = (along.distance_m >= 1000 * rows[3][0]) & (along.distance_m < 1000 * rows[3][1])
    assert rows[3][2] == pytest.approx(3.6 * along.speed_mps.mean[inside].mean(), rel=1e-12)
    assert rows[-1][1] * 1000 >= along.distance_m[-1]
