"""The runs of a comparison as tables: those that count, raw and corrected, and those left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.sheet import Column, Table, noted
from calmday.reports.words import amount, clean, number, signed

if TYPE_CHECKING:
    from calmday.procedures.comparison_result import ComparedRun, ComparisonResult

_SAME_DRIVE = "Calm day, same drive: g/km as well, brought to the one drive that all runs are compared on."


def runs_table(result: ComparisonResult) -> Table:
    """Every run that counts, raw and corrected side by side."""
    used = [run for run in result.runs if run.used]
    ordered = all(run.order is not None for run in used)
    if ordered:
        used.sort(key=lambda run: run.order or 0)
    leveled = any(run.level is not None for run in used)
    swept = any(run.setting for run in used)
    tried = swept or bool(result.effects)
    middle = "the mean of all runs, what was tried taken off" if tried else "the mean of its group"
    off = "off the mean" if tried else "off its group"
    middle += ", a drift taken off" if result.drift_percent_per_run is not None else ""
    doubtful = "; much of it may be the doubt of the day" if leveled else ""
    columns = [
        Column("run"),
        *([] if tried else [Column("group")]),
        *([Column("setting", "right")] if swept else []),
        *([Column("fitted", wrap=True)] if result.effects else []),
        *([Column("date", "left", 3)] if any(run.date for run in used) else []),
        Column("as driven, g/km", "right"),
        *(
            [Column("correction, %", "right", 1), Column("calm day, same drive", "right", note=_SAME_DRIVE)]
            if leveled
            else []
        ),
        Column(f"{off}, %", "right", 2, note=f"{off.capitalize()}: over or under {middle}{doubtful}."),
        Column("", "left", 2),
    ]
    rows = tuple(_run_row(run, leveled, swept, any(r.date for r in used), bool(result.effects)) for run in used)
    return Table(
        title="The runs, in the order driven" if ordered else "The runs",
        columns=tuple(columns),
        rows=rows,
        note=noted(
            columns,
            "As driven is what was weighed. The correction takes off wind, air, cold start and way of driving."
            if leveled
            else "As driven is what was weighed; nothing has been taken off run by run.",
        ),
    )


def _run_row(run: ComparedRun, leveled: bool, swept: bool, dated: bool, several: bool) -> tuple[str, ...]:
    correction = "-" if run.correction_percent is None else amount(run.correction_percent, signed=True, most_decimals=1)
    return (
        clean(run.label),
        *([] if swept or several else [clean(run.group)]),
        *([clean(run.setting)] if swept else []),
        *([" + ".join(clean(each) for each in run.fitted) or "none"] if several else []),
        *([run.date] if dated else []),
        amount(run.as_driven, most_decimals=1) if run.as_driven.half_width > 0 else number(run.as_driven.value, 1),
        *([correction, "-" if run.level is None else amount(run.level, most_decimals=1)] if leveled else []),
        "-" if run.off_group_percent is None else signed(run.off_group_percent, 1),
        "odd" if run.odd else "",
    )


def left_out_table(result: ComparisonResult) -> Table | None:
    """The runs left out, each with its reason and whether that was known before weighing; None where there are none."""
    out = [run for run in result.runs if not run.used]
    if not out:
        return None
    known = {True: "before weighing", False: "after weighing", None: "not said"}
    grouped = any(run.group for run in out)
    rows = tuple(
        (
            clean(run.label),
            *([clean(run.group)] if grouped else []),
            number(run.as_driven.value, 1),
            clean(run.left_out_because),
            known[run.known_before_weighing],
        )
        for run in out
    )
    columns = (
        Column("run"),
        *([Column("group", "left", 1)] if grouped else []),
        Column("as driven, g/km", "right"),
        Column("reason", wrap=True),
        Column("reason known"),
    )
    return Table(title="Runs left out", columns=columns, rows=rows)
