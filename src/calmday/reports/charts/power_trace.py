"""Speed, engine speed and load along a recorded drive, with the stretches at full load where it gained no speed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from calmday.reports.along_sheet import CAUSE_WORDS
from calmday.reports.charts.axes import Field, lying_scale
from calmday.reports.charts.canvas import Canvas
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.lettering import ASCENT, width
from calmday.reports.charts.placing import without_crowding
from calmday.reports.charts.units import METRIC, ReaderUnits
from calmday.reports.gears_sentence import KMH_PER_MPH, ordinal
from calmday.reports.words import number

if TYPE_CHECKING:
    from calmday.procedures.gears_result import AlongRun, HeldBack

FloatArray = NDArray[np.float64]

USUAL_HEIGHT: Final = 130.0
_STEP_MIN: Final = 5.0
_MEAN_OF: Final = 7


def power_trace_chart(run: AlongRun, units: ReaderUnits = METRIC) -> Chart:
    """Bands are 95 % intervals of the load; a shaded stretch is one where it was held back at full load."""
    minutes = (np.array(run.time_s) - run.time_s[0]) / 60
    factor = 1.0 if units.speed == "km/h" else 1 / KMH_PER_MPH
    speed = factor * np.array(run.speed_kmh)
    turns, load = np.array(run.engine_speed_rpm), 100 * np.array(run.load)
    low, high = 100 * np.array(run.load_low), 100 * np.array(run.load_high)
    panels = (
        Panel(name="speed", unit=units.speed, curves=(Curve(label="speed", y=speed),), zero=True),
        Panel(name="engine speed", unit="rpm", curves=(Curve(label="engine speed", y=turns),), zero=True),
        Panel(
            name="of full load", unit="%", zero=True,
            curves=(Curve(label="load", y=_smooth(load), low=_smooth(low), high=_smooth(high)),),
        ),
    )  # fmt: skip

    def draw(canvas: Canvas) -> None:
        top = canvas.heading(title, note)
        shown = panels[: canvas.frame.panels] if canvas.frame.panels >= 3 else (panels[0], panels[2])
        row = 1.3 * canvas.frame.text if run.held_back else 0.0
        height = panel_height(canvas, len(shown), top + row, USUAL_HEIGHT)
        last = float(minutes[-1]) if minutes[-1] > 0 else 1.0
        fields = lay_panels(canvas, shown, (0.0, last), top + row, height)
        _shade(canvas, fields, run, top)
        for field, panel in zip(fields, shown, strict=True):
            draw_panel(canvas, field, panel, minutes)
        canvas.bottom(lying_scale(canvas, fields[-1], "time since the start", "min"))

    title, note = (
        "Engine speed and load along the drive",
        "Load as means of seven samples; shaded: held back at full load",
    )
    return Chart(
        name="power-trace",
        title=title,
        note=note,
        description=_description(run),
        table=_table(minutes, speed, turns, load, run, units.speed),
        draw=draw,
    )


def _smooth(values: FloatArray) -> FloatArray:
    """Running means: the load of a single second is mostly the receiver's noise."""
    if values.size < 2 * _MEAN_OF:
        return values
    sums = np.convolve(values, np.ones(_MEAN_OF), mode="same")
    return np.asarray(sums / np.convolve(np.ones(values.size), np.ones(_MEAN_OF), mode="same"))


def _shade(canvas: Canvas, fields: Sequence[Field], run: AlongRun, top: float) -> None:
    """Stretches held back, through all fields, with what held the drive back above them."""
    size = canvas.frame.text
    spans = [((one.start_s - run.time_s[0]) / 60, (one.end_s - run.time_s[0]) / 60) for one in run.held_back]
    for field in fields:
        for start, stop in spans:
            a, b = field.x(start), field.x(stop)
            canvas.rect(a, field.top, max(b - a, 2 * canvas.frame.stroke), field.bottom - field.top, "rule")
    names = [one.cause for one in run.held_back]
    starts = [fields[0].x(start) for start, _ in spans]
    stops = [start + width(name, size) for start, name in zip(starts, names, strict=True)]
    for index in without_crowding(starts, stops, 0.5 * size):
        canvas.text(starts[index], top + ASCENT * size, names[index], bold=True)


def _description(run: AlongRun) -> str:
    top = max(run.engine_speed_rpm)
    said = f"The engine turned at up to {number(top, -1)} rpm"
    if not run.held_back:
        return f"{said}; no stretch at full load lasted longer than a few seconds without gaining speed."
    longest = max(run.held_back, key=_length)
    return (
        f"{said}; {len(run.held_back)} stretch{'es' if len(run.held_back) > 1 else ''} at full load gained no speed, "
        f"the longest {number(_length(longest), 0)} s in {ordinal(longest.gear)}, held back by "
        f"{CAUSE_WORDS[longest.cause]}."
    )


def _length(one: HeldBack) -> float:
    return one.end_s - one.start_s


def _table(
    minutes: FloatArray, speed: FloatArray, turns: FloatArray, load: FloatArray, run: AlongRun, unit: str
) -> DataTable:
    """Means over five minutes at a time."""
    columns = (
        DataColumn("from", "min"),
        DataColumn("mean speed", unit),
        DataColumn("mean engine speed", "rpm"),
        DataColumn("mean load", "%"),
        DataColumn("at full load", "%"),
    )
    full = 100.0 * (np.array(run.load) >= 0.95)
    rows = []
    for start in np.arange(0.0, float(minutes[-1]) + 1e-9, _STEP_MIN).tolist():
        part = (minutes >= start) & (minutes < start + _STEP_MIN)
        if part.any():
            means = [float(values[part].mean()) for values in (speed, turns, load, full)]
            rows.append((start, round(means[0], 1), round(means[1]), round(means[2]), round(means[3], 1)))
    return DataTable(columns, tuple(rows))
