"""The sheet of a day of pulls: the power in one sentence, the curve, each pull, where the doubt comes from."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.gears_sentence import ordinal
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.pull_result import PullResult
    from calmday.procedures.standing_start import StandingStart

KILOWATT_PER_HP = 0.7456998715822702

CAUTIONS = Prose(
    title="On the road",
    lines=(
        "A road is no test track: keep within its limits and the law of the place, and use a closed course where there "
        "is one.",
        "Somebody else works the recorder. Stop the pull at once when anyone comes.",
    ),
)


def pull_headline(result: PullResult) -> str:
    """Peak power with its doubt, in kW and hp, against the chart.

    >>> pull_headline(result)  # doctest: +SKIP
    'The engine gave 35 kW (47 hp), give or take 2, at 3000 rpm in the air of the day; over all speeds ...'
    """
    if result.peak_power is None or result.peak_at is None:
        return start_sentence(result)
    peak = result.peak_power
    half = peak.half_width
    places = min(decimals_for_half_width(half), 1) if half > 0 else 1
    said = (
        f"The engine gave {number(peak.value, places)} kW ({number(peak.value / KILOWATT_PER_HP, min(places, 0))} hp), "
        f"give or take {number(half, places)} kW, at {number(result.peak_at.value, -1)} rpm in the air of the day"
    )
    if result.of_chart is not None:
        chart = result.of_chart
        said += (
            f"; over all speeds {number(100 * chart.value, 0)} % of its chart, "
            f"give or take {number(100 * chart.half_width, 0)}"
        )
    return f"{said}."


def pull_sheet(result: PullResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    count = len(result.pulls)
    blocks: list[Block | None] = [
        stops,
        _curve(result) if result.points else None,
        _pulls(result) if result.pulls else None,
        _starts(result) if result.starts else None,
        _doubt(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
        CAUTIONS,
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: {clean(result.label)}",
        lead=clean(result.sentence) or pull_headline(result),
        under=(f"{count} pulls, averaged." if count > 1 else "One pull: an indication.",) if count else (),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _amount(figure: Figure | None, places: int = 1) -> str:
    return "-" if figure is None else amount(figure, most_decimals=places)


def _curve(result: PullResult) -> Table:
    columns = (
        Column("rpm", "right"),
        Column("engine, kW", "right"),
        Column("hp", "right", 2),
        Column("torque, N m", "right", 1),
        Column("at the wheels, kW", "right", 3),
        Column(f"{result.correction.standard if result.correction else 'corrected'}, kW", "right"),
        Column("of chart, %", "right"),
    )
    rows = tuple(
        (
            number(point.engine_speed.value, -1),
            _amount(point.engine_power),
            number(point.engine_power.value / KILOWATT_PER_HP, 0),
            _amount(point.torque, 0),
            _amount(point.wheel_power),
            _amount(point.corrected_power),
            "-" if point.of_chart is None else _amount(point.of_chart.scaled(100, "%"), 0),
        )
        for point in result.points
    )
    return Table(title="Full-load power found on the road", columns=columns, rows=rows)


def _pulls(result: PullResult) -> Table:
    columns = (
        Column("pull"),
        Column("gear"),
        Column("km/h", "right"),
        Column("took, s", "right"),
        Column("predicted, s", "right", 1),
        Column("grade, %", "right", 2),
        Column("head wind, m/s", "right", 3),
        Column("kW", "right"),
        Column("at rpm", "right", 1),
    )
    rows = tuple(
        (
            str(one.number),
            ordinal(one.gear),
            f"{number(one.from_speed.value, 0)} to {number(one.to_speed.value, 0)}",
            number(one.duration.value, 1),
            _amount(one.predicted_time),
            _amount(one.grade),
            _amount(one.headwind),
            _amount(one.engine_power),
            number(one.engine_speed.value, -1),
        )
        for one in result.pulls
    )
    scatter = 0.0 if result.scatter is None else result.scatter.value
    note = (
        ""
        if result.scatter is None
        else f"From pull to pull the power scatters by {number(scatter, 1 if scatter < 9.95 else 0)} %."
    )
    return Table(title="Each pull", columns=columns, rows=rows, note=note)


def start_sentence(result: PullResult) -> str:
    """What the first start of a day without pulls took, and what was predicted of it."""
    rows = [row for one in result.starts for row in _compared(one)]
    if not rows:
        return "No start reached 60 mph or a quarter mile."
    what, measured, predicted = rows[0]
    said = f"{what} in {amount(measured, most_decimals=1)} s"
    return f"{said[:1].upper()}{said[1:]}; predicted {_amount(predicted)} s."


def _compared(one: StandingStart) -> list[tuple[str, Figure, Figure | None]]:
    """What a start reached: in words, as timed, as predicted."""
    names = (("0 to 100 km/h", "to_100_kmh"), ("0 to 60 mph", "to_60_mph"), ("quarter mile", "quarter_mile"))
    pairs = [(words, getattr(one.measured, key), getattr(one.predicted, key)) for words, key in names]
    return [(words, measured, predicted) for words, measured, predicted in pairs if measured is not None]


def _starts(result: PullResult) -> Table:
    columns = (
        Column("from rest"),
        Column("timed, s", "right"),
        Column("predicted, s", "right"),
        Column("head wind, m/s", "right", 1),
        Column("grade, %", "right", 2),
    )
    rows = tuple(
        (f"{one.number}: {words}", _amount(measured), _amount(predicted), _amount(one.headwind), _amount(one.grade))
        for one in result.starts
        for words, measured, predicted in _compared(one)
    )
    return Table(
        title="From rest, timed and predicted",
        columns=columns,
        rows=rows,
        note="Predicted from build sheet and chart; grip, clutch and the time of a change are assumed.",
    )


def _doubt(result: PullResult) -> Bars | None:
    lines = [line for line in result.doubt if line.share >= 0.01]
    if not lines:
        return None
    longest = lines[0].share
    bars = tuple(Bar(line.source, line.share / longest, f"{number(100 * line.share, 0)} %") for line in lines)
    return Bars(
        title="Where the doubt of the power comes from",
        bars=bars,
        note="Shares of the whole doubt, counted by squares.",
    )


def _how(result: PullResult) -> Prose:
    found = result.correction
    made = result.provenance
    return Prose(
        title="How it was found",
        lines=(
            "Speed against time in one gear gives the force at full load: what speeds the vehicle and its rotating "
            "parts up, climbs, rolls and pushes the air. Fan, alternator and pumps of this vehicle are driven by it.",
            *(
                [f"{found.standard}: factor {number(found.factor, 3)} (allowed {found.limits}; {found.status})."]
                if found is not None
                else []
            ),
            "Give or take (±): 95 times in 100 the truth lies inside.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
