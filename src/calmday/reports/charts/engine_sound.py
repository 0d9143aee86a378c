"""The sound of an engine as a picture: loudness over time and frequency, the firing line marked, engine speed below."""

from __future__ import annotations

import base64
import math

import numpy as np
from numpy.typing import NDArray

from calmday.procedures.sound_result import SoundResult
from calmday.reduction.sound_picture import Picture
from calmday.reports.charts.axes import Field, lying_scale, standing_scale, tick_room
from calmday.reports.charts.canvas import Canvas, FloatArray, num
from calmday.reports.charts.chart import Chart, DataColumn, DataTable
from calmday.reports.charts.fields import Curve, Panel, draw_panel, lay_panels, panel_height
from calmday.reports.charts.lettering import escaped
from calmday.reports.charts.scale import Scale, extent
from calmday.reports.png_writer import grey_png
from calmday.reports.words import duration, number

USUAL_HEIGHT = 240.0
MOST_ROWS = 60


def _trace(result: SoundResult) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    trace = result.trace
    columns = (trace.engine_speed_rpm, trace.low_rpm, trace.high_rpm)
    time = np.array(trace.time_s)
    return time, *(np.array([math.nan if v is None else v for v in column]) for column in columns)  # type: ignore[return-value]


def spectrogram_chart(result: SoundResult, picture: Picture, image: str = "") -> Chart:
    """The spectrogram, dark where it is loud, with the firing line drawn over it where it is known.

    The picture itself is a PNG inside the SVG, or at the address `image` where a page forbids that; the lines are
    drawn, white beneath black, so that they stand out on any grey and in any colour.
    """
    time, rpm, _, _ = _trace(result)
    firing = rpm / 60 * result.cylinders / (result.strokes / 2)
    top = _top_hz(firing, picture.top_hz)
    where = (
        escaped(image) or f"data:image/png;base64,{base64.b64encode(grey_png(shown_grey(result, picture))).decode()}"
    )

    def draw(canvas: Canvas) -> None:
        start = canvas.heading("The sound of the engine", note)
        size = canvas.frame.number
        room = tick_room(0, top, USUAL_HEIGHT, size) + 0.6 * size
        high = panel_height(canvas, 1, start, USUAL_HEIGHT)
        words = start + canvas.frame.text
        canvas.text(canvas.left, words, "frequency, Hz", colour="soft")
        head = words + 0.4 * canvas.frame.text
        field = Field(
            Scale(picture.start_s, picture.end_s, canvas.left + room, canvas.right),
            Scale(0.0, top, head + high, head),
        )
        canvas.add(
            f'<image x="{num(field.left)}" y="{num(field.top)}" width="{num(field.right - field.left)}" '
            f'height="{num(field.bottom - field.top)}" preserveAspectRatio="none" href="{where}"/>'
        )
        standing_scale(canvas, field)
        x = np.array([field.x(t) for t in time.tolist()])
        for order, dash in ((1, ""), (2, "6 5")):
            y = np.array([field.y(f) if f <= top else math.nan for f in (order * firing).tolist()])
            canvas.curve(x, y, "paper", 5.0 if order == 1 else 3.5)
            canvas.curve(x, y, "second", 2.4 if order == 1 else 1.4, dash)
        _label(canvas, field, x, firing)
        canvas.bottom(lying_scale(canvas, field, "time in the recording", "s"))

    note = "Dark is loud. Solid: the firing line; dashed: twice that. No line: engine speed not known"
    return Chart(
        name="engine-sound",
        title="The sound of the engine",
        note=note,
        description=_description(result),
        table=_table(result),
        draw=draw,
    )


def shown_grey(result: SoundResult, picture: Picture) -> NDArray[np.uint8]:
    """The part of the spectrogram that is shown, dark where it is loud."""
    _, rpm, _, _ = _trace(result)
    top = _top_hz(rpm / 60 * result.cylinders / (result.strokes / 2), picture.top_hz)
    keep = max(round(top / picture.top_hz * picture.grey.shape[0]), 1)
    return 255 - picture.grey[-keep:]


def _label(canvas: Canvas, field: Field, x: FloatArray, firing: FloatArray) -> None:
    """Name the firing line beside the middle of its longest known part."""
    known = np.flatnonzero(np.isfinite(firing) & (firing < field.y.high))
    if not known.size:
        return
    i = int(known[known.size // 2])
    size = canvas.frame.text
    wide = 0.58 * size * len("firing line")
    left = min(max(float(x[i]) - wide / 2, field.left), field.right - wide - 8)
    y = max(field.y(float(firing[i])) - 0.9 * size, field.top + size)
    canvas.rect(left - 4, y - size, wide + 8, 1.35 * size, "paper", opacity=0.85)
    canvas.text(left, y, "firing line")


def _top_hz(firing: FloatArray, most: float) -> float:
    known = firing[np.isfinite(firing)]
    if not known.size:
        return min(300.0, most)
    return float(min(max(50 * math.ceil(2.3 * known.max() / 50), 100.0), most))


def engine_speed_chart(result: SoundResult) -> Chart | None:
    """Engine speed over time with its 95 % band and confidence; None where nothing is known."""
    time, rpm, low, high = _trace(result)
    if not np.isfinite(rpm).any():
        return None
    panels = [
        Panel(
            name="engine speed", unit="rpm", curves=(Curve(label="engine speed", y=rpm, low=low, high=high, style=0),)
        ),
        Panel(
            name="confidence",
            unit="%",
            curves=(Curve(label="confidence", y=100 * np.array(result.trace.confidence), style=1),),
            zero=True,
        ),
    ]

    def draw(canvas: Canvas) -> None:
        top = canvas.heading("Engine speed", note)
        height = panel_height(canvas, 2, top, 150.0)
        fields = lay_panels(canvas, panels, extent(time.tolist(), pad=0.0), top, height)
        for field, panel in zip(fields, panels, strict=True):
            draw_panel(canvas, field, panel, time)
        canvas.bottom(lying_scale(canvas, fields[-1], "time in the recording", "s"))

    note = "The line breaks where engine speed is not known"
    return Chart(
        name="engine-speed",
        title="Engine speed",
        note=note,
        description=_known_words(result),
        table=_table(result),
        draw=draw,
    )


def _known_words(result: SoundResult) -> str:
    """What the curve of engine speed shows beside the spectrogram: how far it wanders, and how sure it is."""
    if result.engine_speed is None or result.lowest is None or result.highest is None:
        return _description(result)
    span = f"from {number(result.lowest.value, 0)} to {number(result.highest.value, 0)} rpm"
    sure = min((c for c in result.trace.confidence if c is not None), default=math.nan)
    return f"The engine turned {span}; confidence is nowhere under {number(100 * sure, 0)} % where it is known."


def _description(result: SoundResult) -> str:
    if result.engine_speed is None or result.lowest is None or result.highest is None:
        return f"Engine speed is not known anywhere in {duration(result.duration.value)} of sound."
    least, most = number(result.lowest.value, -1), number(result.highest.value, -1)
    middle = number(result.engine_speed.value, -1)
    where = (
        f"at {most} rpm" if least == most else f"between {least} and {most} rpm, half of the time below {middle} rpm"
    )
    known = number(100 * result.share_known.value, 0)
    return f"{duration(result.duration.value)} of sound; engine speed known for {known} %, {where}."


def _table(result: SoundResult) -> DataTable:
    trace = result.trace
    step = max(-(-len(trace.time_s) // MOST_ROWS), 1)
    rows = tuple(
        (trace.time_s[i], trace.engine_speed_rpm[i], trace.low_rpm[i], trace.high_rpm[i], 100 * trace.confidence[i])
        for i in range(0, len(trace.time_s), step)
    )
    columns = (
        DataColumn("time", "s"),
        DataColumn("engine speed", "rpm"),
        DataColumn("low", "rpm"),
        DataColumn("high", "rpm"),
        DataColumn("confidence", "%"),
    )
    return DataTable(columns, rows)
