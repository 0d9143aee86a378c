"""Traced charts against the curves they were drawn from: drawn here with a drawing program's library, not read back."""

from __future__ import annotations

import msgspec
import numpy as np
import pytest

from calmday.errors import InputError
from calmday.files.full_load_file import parse_full_load
from calmday.operations.trace import curve_record, full_load_csv, trace_chart
from calmday.procedures.chart_trace_result import TraceResult
from calmday.records.chart_picture import CurveAsked, Mark
from calmday.synthetic.drawn_chart import ChartLook
from calmday.synthetic.marked_chart import TOP, EngineShape, marked_chart

LOOKS: dict[str, dict] = {
    "drawn": {"look": ChartLook()},
    "logarithmic": {"look": ChartLook(speed_axis="log", value_axis="log")},
    "grey on a dark grid": {"look": ChartLook(colours=False, grid="dark"), "guided": True},
    "dashes": {"look": ChartLook(dashes=True)},
    "slanted": {"look": ChartLook(turn_deg=4, slant=0.08)},
    "packed": {"look": ChartLook(jpeg=40)},
    "photograph": {
        "look": ChartLook(tilt=0.12, turn_deg=-2, blur=1.2, jpeg=60, noise=6, shade=0.35), "crossings": True,
    },
}  # fmt: skip


def codes(result: TraceResult) -> set[str]:
    return {flag.code for flag in result.flags}


def errors(result: TraceResult, shape: EngineShape, of: str) -> tuple[np.ndarray, np.ndarray]:
    """Error and 95 % half width of the points of one curve, as shares of the axis."""
    curve = next(c for c in result.curves if c.of == of)
    figures = [p.torque if of == "torque" else p.power for p in curve.points]
    true = shape.of(of)(np.array([p.engine_speed.value for p in curve.points]))
    return (np.array([f.value for f in figures]) - true) / TOP[of], np.array([f.half_width for f in figures]) / TOP[of]


@pytest.mark.parametrize("name", LOOKS)
def test_within_one_per_cent_of_the_drawn_curve(name: str):
    chart, _, shape = marked_chart(**LOOKS[name], seed=3)
    result = trace_chart(chart)
    for of in ("torque", "power"):
        off, band = errors(result, shape, of)
        assert np.abs(off).max() < 0.01
        assert (np.abs(off) <= band).mean() > 0.8
        assert 0.0 < np.median(band) < 0.02
    ends = [p.engine_speed.value for p in result.full_load]
    assert ends[0] < 1010
    assert ends[-1] > 4420
    assert "curve-breaks-power" not in codes(result)
    assert all(abs(p.power_over_torque_speed - 1) < 0.03 for p in result.full_load if p.power_over_torque_speed)


def test_exact_marks_on_a_clean_chart_give_a_thousandth():
    chart, _, shape = marked_chart(ChartLook(), hand_px=0.0)
    off, _ = errors(trace_chart(chart), shape, "torque")
    assert np.abs(off).max() < 0.001


def test_a_photograph_with_marks_on_the_axes_only_is_told_and_believed_less():
    chart, _, shape = marked_chart(ChartLook(tilt=0.18, turn_deg=3))
    result = trace_chart(chart)
    assert {"picture-skewed", "marks-do-not-fit"} & codes(result)
    off, band = errors(result, shape, "torque")
    assert np.abs(off).max() < band.max()
    whole = trace_chart(marked_chart(ChartLook(tilt=0.18, turn_deg=3), crossings=True)[0])
    assert whole.picture.map_kind == "projective"
    assert errors(whole, shape, "torque")[1].max() < 0.3 * band.max()


def test_gaps_are_bridged_and_said():
    chart, _, shape = marked_chart(ChartLook(gaps=((0.3, 0.38), (0.7, 0.74))), curves=("torque",))
    result = trace_chart(chart)
    assert "curve-bridged" in codes(result)
    assert len(result.curves[0].gaps) == 2
    assert {"bridged", "seen"} == {p.origin for p in result.curves[0].points}
    off, band = errors(result, shape, "torque")
    bridged = [p.origin == "bridged" for p in result.curves[0].points]
    assert (np.abs(off) <= band).all()
    assert band[bridged].max() > np.median(band)


def test_two_lines_of_one_colour_need_a_guide():
    look = ChartLook(colours=False)
    chart, drawn, _ = marked_chart(look)
    assert "another-line" in codes(trace_chart(chart))
    guide = drawn.place(2000, "power", float(EngineShape().power(np.array(2000.0))))
    power = msgspec.structs.replace(chart.curves[1], guides=(guide,))
    result = trace_chart(msgspec.structs.replace(chart, curves=(chart.curves[0], power)))
    at = {p.engine_speed.value: p for p in result.curves[1].points}
    assert at[2000.0].power.value == pytest.approx(float(EngineShape().power(np.array(2000.0))), rel=0.02)


def test_a_curve_by_hand_alone_and_points_by_hand_in_a_trace():
    chart, drawn, shape = marked_chart(ChartLook(), curves=("torque",), hand_px=0.0)
    speeds = (1000.0, 2000.0, 3000.0, 4000.0)
    places = tuple(drawn.place(n, "torque", float(shape.torque(np.array(n)))) for n in speeds)
    alone = msgspec.structs.replace(chart, curves=(CurveAsked(of="torque", points=places),))
    result = trace_chart(alone)
    assert [round(p.engine_speed.value) for p in result.full_load] == [1000, 2000, 3000, 4000]
    assert {p.origin for p in result.curves[0].points} == {"by hand"}
    assert result.full_load[1].torque.value == pytest.approx(float(shape.torque(np.array(2000.0))), rel=0.002)
    moved = (places[1][0], places[1][1] - 40)
    mixed = msgspec.structs.replace(chart, curves=(msgspec.structs.replace(chart.curves[0], points=(moved,)),))
    found = {round(p.engine_speed.value): p for p in trace_chart(mixed).curves[0].points}
    assert found[2000].torque.value > float(shape.torque(np.array(2000.0))) + 5


def test_what_is_drawn_past_the_marks_is_said():
    chart, drawn, _ = marked_chart(ChartLook(), curves=("torque",))
    near = [Mark(at=drawn.place(n, "torque", 0.0), speed_rps=n / 60) for n in (1000.0, 4300.0)]
    marks = (*near, *(m for m in chart.marks if m.torque_nm is not None))
    result = trace_chart(msgspec.structs.replace(chart, marks=marks))
    assert "beyond-the-marks" in codes(result)
    assert result.curves[0].points[-1].beyond_marks
    assert not result.curves[0].points[5].beyond_marks


def test_metric_horsepower_on_the_right_axis_is_guessed():
    chart, _, _ = marked_chart(ChartLook())
    marks = tuple(
        msgspec.structs.replace(m, power_w=m.power_w * 1.35962) if m.power_w is not None else m for m in chart.marks
    )
    flags = {f.code: f for f in trace_chart(msgspec.structs.replace(chart, marks=marks)).flags}
    assert "(PS)" in flags["curve-unit"].why


def test_the_csv_reads_back_with_its_band():
    result = trace_chart(marked_chart(ChartLook())[0])
    read = parse_full_load(full_load_csv(result), "full_load.csv", "full_load.csv")
    record = curve_record(result.full_load)
    assert read.torque_nm == pytest.approx(record.torque_nm, abs=0.06)
    assert read.power_w == pytest.approx(record.power_w, abs=6)
    assert read.half_width == pytest.approx(record.half_width, abs=0.0006)


def test_a_colour_that_is_not_there():
    chart, _, _ = marked_chart(ChartLook(), curves=("torque",))
    green = CurveAsked(of="torque", colour=(0, 200, 0))
    with pytest.raises(InputError, match="no line of this colour"):
        trace_chart(msgspec.structs.replace(chart, curves=(green,)))
    paper = CurveAsked(of="torque", colour_at=(5.0, 5.0))
    with pytest.raises(InputError, match="only paper"):
        trace_chart(msgspec.structs.replace(chart, curves=(paper,)))


def test_a_colour_pointed_at():
    chart, drawn, shape = marked_chart(ChartLook(), curves=("torque",))
    x, y = drawn.place(3000, "torque", float(shape.torque(np.array(3000.0))))
    pointed = CurveAsked(of="torque", colour_at=(x + 1, y + 1))
    off, _ = errors(trace_chart(msgspec.structs.replace(chart, curves=(pointed,))), shape, "torque")
    assert np.abs(off).max() < 0.01


def test_places_outside_the_picture_and_speeds_of_no_engine_are_refused():
    chart, _, _ = marked_chart(ChartLook(width=300, height=220, line=2), curves=("torque",))
    outside = CurveAsked(of="torque", points=((100.0, 90.0), (1e5, 5.0)))
    with pytest.raises(InputError, match="outside the picture"):
        trace_chart(msgspec.structs.replace(chart, curves=(outside,)))
    near = tuple(
        msgspec.structs.replace(m, speed_rps=1e3 * m.speed_rps) if m.speed_rps is not None else m for m in chart.marks
    )
    with pytest.raises(InputError, match="no engine has"):
        trace_chart(msgspec.structs.replace(chart, marks=near))


def test_a_point_left_out_is_not_written_down():
    chart, _, _ = marked_chart(ChartLook(width=600, height=440), curves=("torque",), hand_px=0.0)
    less = msgspec.structs.replace(chart.curves[0], leave_out_rps=(3000 / 60,))
    speeds = [p.engine_speed.value for p in trace_chart(msgspec.structs.replace(chart, curves=(less,))).full_load]
    assert 3000.0 not in speeds
    assert 3000.0 in [p.engine_speed.value for p in trace_chart(chart).full_load]
