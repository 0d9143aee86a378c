"""Drawn charts as somebody would mark them: a hand that is off by a pixel or so, on the axes or on four crossings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.records.chart_picture import AxisScale, ChartPicture, CurveAsked, Mark
from calmday.synthetic.drawn_chart import COLOURS, ChartLook, DrawnChart, draw_chart

FloatArray = NDArray[np.float64]

RPM: tuple[float, float] = (500.0, 5000.0)
ENDS: tuple[float, float] = (900.0, 4600.0)
TOP: dict[str, float] = {"torque": 160.0, "power": 60.0}
GUIDES_RPM = (1200.0, 2600.0, 3400.0, 4300.0)


class EngineShape(msgspec.Struct, frozen=True):
    """An invented full-load torque: peak (N m), where it is (rpm), how it falls off, and how lopsided it is."""

    peak: float = 137.0
    at: float = 2400.0
    fall: float = 45.0
    lopsided: float = 12.0

    def torque(self, rpm: FloatArray) -> FloatArray:
        """N m."""
        x = (np.asarray(rpm) - self.at) / 2400
        return np.asarray(self.peak - self.fall * x**2 - self.lopsided * x**3)

    def power(self, rpm: FloatArray) -> FloatArray:
        """kW, torque x speed."""
        return np.asarray(self.torque(rpm) * np.asarray(rpm) * 2 * np.pi / 60e3)

    def of(self, axis: str) -> Callable[[FloatArray], FloatArray]:
        """The curve of an axis."""
        return self.torque if axis == "torque" else self.power


def marked_chart(
    look: ChartLook,
    *,
    curves: Sequence[Literal["torque", "power"]] = ("torque", "power"),
    shape: EngineShape | None = None,
    crossings: bool = False,
    guided: bool = False,
    hand_px: float = 0.7,
    seed: int = 0,
) -> tuple[ChartPicture, DrawnChart, EngineShape]:
    """A drawn chart, marked with an error of `hand_px` (one standard deviation) in each direction."""
    shape = shape or EngineShape()
    drawn = draw_chart({axis: shape.of(axis) for axis in curves}, RPM, ENDS, TOP, look)
    generator = np.random.Generator(np.random.PCG64(seed))
    low = {axis: 0.0 if look.value_axis == "linear" else top / 10 for axis, top in TOP.items()}

    def at(rpm: float, axis: str, value: float) -> tuple[float, float]:
        x, y = drawn.place(rpm, axis, value)
        dx, dy = hand_px * generator.standard_normal(2)
        return float(x + dx), float(y + dy)

    ends = (low["torque"], TOP["torque"])
    if crossings:
        marks = [Mark(at=at(n, "torque", t), speed_rps=n / 60, torque_nm=t) for n in RPM for t in ends]
    else:
        marks = [Mark(at=at(n, "torque", low["torque"]), speed_rps=n / 60) for n in RPM]
        marks += [Mark(at=at(RPM[0], "torque", t), torque_nm=t) for t in ends]
    marks += [Mark(at=at(RPM[1], "power", p), power_w=1000 * p) for p in (low["power"], TOP["power"])]
    asked = [
        CurveAsked(
            of=axis,
            colour=COLOURS[axis] if look.colours else (0, 0, 0),
            guides=tuple(drawn.place(n, axis, float(shape.of(axis)(np.array(n)))) for n in GUIDES_RPM)
            if guided
            else (),
        )
        for axis in curves
    ]

    def scale(name: str) -> AxisScale:
        return "linear" if name == "linear" else "logarithmic"

    chart = ChartPicture(
        picture="chart.png", data=drawn.data, marks=tuple(marks), curves=tuple(asked), source="invented",
        licence="own drawing", label="Invented engine", speed_scale=scale(look.speed_axis),
        torque_scale=scale(look.value_axis), power_scale=scale(look.value_axis), mark_pm_px=max(1.96 * hand_px, 0.2),
    )  # fmt: skip
    return chart, drawn, shape
