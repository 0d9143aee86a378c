"""The tables of a comparison for a spreadsheet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.show.csv_tables import (
    CsvCell,
    CsvColumn,
    CsvTable,
    figure_cells,
    readings_csv,
    two_columns,
    weather_csv,
)

if TYPE_CHECKING:
    from calmday.procedures.comparison_result import ComparedRun, ComparisonResult
    from calmday.records.comparison import Comparison


def comparison_tables(result: ComparisonResult, asked: Comparison) -> tuple[CsvTable, ...]:
    """Runs, readings and weather of a comparison."""
    runs = [entry.run for entry in asked.entries if entry.run is not None]
    return (compared_runs_csv(result), readings_csv(runs), weather_csv(runs))


def compared_runs_csv(result: ComparisonResult) -> CsvTable:
    """One row for every run, those left out too."""
    columns = (
        CsvColumn("run", "label of the run"),
        CsvColumn("date", "day of the run, ISO 8601"),
        CsvColumn("number", "in the order named in the comparison"),
        CsvColumn("group", "before or after the change"),
        CsvColumn("order", "place in the order driven, where it is known"),
        CsvColumn("block", "runs driven together"),
        CsvColumn("setting", "setting of this run, with its unit"),
        CsvColumn("fitted", "which of several changes this run had"),
        CsvColumn("temperature [degC]", "of the air"),
        *two_columns("as driven", "g/km", "fuel over distance, nothing corrected; empty where nobody knows how good"),
        *two_columns("calm day", "g/km", "in still air at 20 degC and 100 kPa, engine and tyres warm"),
        *two_columns("calm day, same drive", "g/km", "brought to the one drive that all runs are compared on"),
        *two_columns("correction", "%", "from as driven to the calm day over the same drive"),
        CsvColumn("off its group [%]", "over the mean of its group, once drift, temperature and pairs are taken off"),
        CsvColumn("its own [%]", "the part of that put down to the run itself, and not to the doubt of its day"),
        CsvColumn("used", "yes, or no where it was left out"),
        CsvColumn("left out because", "the reason"),
        CsvColumn("reason known before weighing", "yes, no, or empty where it was not said"),
        CsvColumn("odd", "yes where it is far from the rest"),
    )
    return CsvTable("runs", columns, tuple(_row(run) for run in result.runs))


def _row(run: ComparedRun) -> tuple[CsvCell, ...]:
    driven, doubt = figure_cells(run.as_driven)
    return (
        run.label, run.date or None, run.number, run.group, run.order, run.block, run.setting, " + ".join(run.fitted),
        run.temperature_C, driven, doubt or None, *figure_cells(run.calm_day), *figure_cells(run.level),
        *figure_cells(run.correction_percent), run.off_group_percent, run.residual_percent, _yes(run.used),
        run.left_out_because, _yes(run.known_before_weighing), _yes(run.odd),
    )  # fmt: skip


def _yes(said: bool | None) -> str | None:
    return None if said is None else "yes" if said else "no"
