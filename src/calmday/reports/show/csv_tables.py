"""Tables for any spreadsheet: one row for every run, reading, weather report, lap and leg, with every column described.

UTF-8 with a mark at the start so that old programs see it; lines end as RFC 4180 has them. Units stand in the heads,
dates are ISO 8601. A text that a spreadsheet would take for a formula gets an apostrophe in front.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

import msgspec

from calmday.records.track import FIRST_CLOCK_S
from calmday.reports.words import clean

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import RunResult
    from calmday.records.run import Run

CsvCell = str | float | int | None

FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%", "＝", "＋", "－", "＠")
"""What makes a spreadsheet calculate. OWASP, CSV Injection (from memory), with the full-width forms."""

_KELVIN = 273.15


class CsvColumn(msgspec.Struct, frozen=True):
    """A column: its head with the unit in brackets, and what it means."""

    head: str
    meaning: str


class CsvTable(msgspec.Struct, frozen=True):
    """A table for a spreadsheet. None: not known, an empty cell."""

    name: str
    columns: tuple[CsvColumn, ...]
    rows: tuple[tuple[CsvCell, ...], ...]


def csv_bytes(table: CsvTable, *, decimal_comma: bool = False) -> bytes:
    """The table as a file: commas between cells, or semicolons where the decimal sign is a comma."""
    out = io.StringIO(newline="")
    rows = csv.writer(out, delimiter=";" if decimal_comma else ",", lineterminator="\r\n")
    rows.writerow([harmless(column.head) for column in table.columns])
    for row in table.rows:
        rows.writerow([_cell(cell, decimal_comma) for cell in row])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def _cell(cell: CsvCell, decimal_comma: bool) -> str:
    if cell is None or (isinstance(cell, float) and not math.isfinite(cell)):
        return ""
    if isinstance(cell, str):
        return harmless(cell)
    text = str(cell) if isinstance(cell, int) else f"{cell:.10g}"
    return text.replace(".", ",") if decimal_comma else text


def harmless(text: str) -> str:
    """A text that no spreadsheet takes for a formula, without control characters."""
    plain = clean(text)
    return f"'{plain}" if plain.lstrip().startswith(FORMULA) or text.startswith(("\t", "\r", "\n")) else plain


def columns_table(tables: Sequence[CsvTable]) -> CsvTable:
    """What every column of every table means."""
    rows = tuple((f"{table.name}.csv", column.head, column.meaning) for table in tables for column in table.columns)
    heads = (
        CsvColumn("file", "name of the table"),
        CsvColumn("column", "head of the column, unit in brackets"),
        CsvColumn("meaning", "what stands in it"),
    )
    return CsvTable("columns", heads, rows)


def run_tables(result: RunResult, run: Run) -> tuple[CsvTable, ...]:
    """The tables of one run, each with at least its head."""
    return (
        runs_csv([(result, run)]),
        readings_csv([run]),
        weather_csv([run]),
        laps_csv([(result, run)]),
        legs_csv([(result, run)]),
    )


_RUN = (CsvColumn("run", "label of the run"), CsvColumn("date", "day of the run, ISO 8601"))


def two_columns(head: str, unit: str, meaning: str) -> tuple[CsvColumn, CsvColumn]:
    """A figure and its give-or-take."""
    return (
        CsvColumn(f"{head} [{unit}]", meaning),
        CsvColumn(f"{head} give or take [{unit}]", f"half of the 95 % interval of: {meaning}"),
    )


def figure_cells(figure: Figure | None) -> tuple[CsvCell, CsvCell]:
    if figure is None or not math.isfinite(figure.value):
        return (None, None)
    return (figure.value, figure.half_width)


def _who(run: Run) -> tuple[CsvCell, CsvCell]:
    return (run.label, run.date.isoformat() if run.date is not None else None)


def runs_csv(runs: Sequence[tuple[RunResult, Run]]) -> CsvTable:
    """One row for every run."""
    columns = (
        *_RUN,
        CsvColumn("vehicle", "name on the build sheet"),
        *two_columns("distance", "km", "distance driven"),
        CsvColumn("moving time [s]", "time in which the vehicle moved"),
        *two_columns("fuel mass", "kg", "fuel burnt, by mass"),
        *two_columns("fuel volume 15 degC", "L", "fuel burnt, as litres at 15 degC"),
        *two_columns("fuel density 15 degC", "kg/m3", "density of the fuel at 15 degC"),
        *two_columns("as driven", "L/100km", "fuel over distance, nothing corrected"),
        *two_columns("calm day", "L/100km", "in still air at 20 degC and 100 kPa, engine and tyres warm"),
        *two_columns("as driven", "mpg US", "miles per US gallon, as driven"),
        *two_columns("as driven", "mpg imp", "miles per imperial gallon, as driven"),
        *two_columns("calm day", "mpg US", "miles per US gallon on the calm day"),
        *two_columns("calm day", "mpg imp", "miles per imperial gallon on the calm day"),
        *two_columns("wind", "% of calm-day fuel", "what the wind cost"),
        *two_columns("air density", "% of calm-day fuel", "what thick or thin air cost"),
        *two_columns("cold engine", "% of calm-day fuel", "what the cold engine cost"),
        *two_columns("cold tyres", "% of calm-day fuel", "what cold tyres cost"),
        CsvColumn("remarks", "codes of what the result flags, stops first"),
        CsvColumn("data digest", "SHA-256 over the inputs"),
    )
    return CsvTable("runs", columns, tuple(_run_row(result, run) for result, run in runs))


def _run_row(result: RunResult, run: Run) -> tuple[CsvCell, ...]:
    calm, costs = result.calm_day, result.penalties
    order = ("stop", "caution", "note")
    flags = sorted(result.flags, key=lambda flag: order.index(flag.severity))
    return (
        *_who(run),
        result.vehicle,
        *figure_cells(result.distance),
        result.moving_time.value if result.moving_time is not None else None,
        *figure_cells(result.fuel_mass),
        *figure_cells(result.fuel_volume),
        *figure_cells(result.fuel_density_15C),
        *figure_cells(result.as_driven.L_per_100km),
        *figure_cells(calm.L_per_100km if calm else None),
        *figure_cells(result.as_driven.mpg_us),
        *figure_cells(result.as_driven.mpg_imp),
        *figure_cells(calm.mpg_us if calm else None),
        *figure_cells(calm.mpg_imp if calm else None),
        *figure_cells(costs.wind if costs else None),
        *figure_cells(costs.air_density if costs else None),
        *figure_cells(costs.cold_engine if costs else None),
        *figure_cells(costs.cold_tyres if costs else None),
        " ".join(flag.code for flag in flags),
        result.provenance.inputs_sha256,
    )


def readings_csv(runs: Sequence[Run]) -> CsvTable:
    """One row for every reading of the scale, and one for every fill."""
    columns = (
        *_RUN,
        CsvColumn("kind", "weighing or fill"),
        CsvColumn("number", "which weighing or fill, in the order written down"),
        CsvColumn("when", "before the drive, added during it, after it"),
        CsvColumn("reading", "which reading of this weighing"),
        CsvColumn("gross [g]", "what the scale showed, as entered"),
        CsvColumn("tare [g]", "empty can; 0 where the scale was zeroed"),
        CsvColumn("net [g]", "gross less tare"),
        CsvColumn("volume [L]", "what was filled in, as the pump had it"),
        CsvColumn("temperature [degC]", "of what was filled in, where it was read"),
        CsvColumn("batch", "batch of the fuel"),
    )
    rows: list[tuple[CsvCell, ...]] = []
    for run in runs:
        for number, weighing in enumerate(run.weighings, start=1):
            for reading, gross in enumerate(weighing.gross_kg, start=1):
                masses = (1000 * gross, 1000 * weighing.tare_kg, 1000 * (gross - weighing.tare_kg))
                told = ("weighing", number, weighing.when, reading)
                rows.append((*_who(run), *told, *masses, None, None, weighing.batch))
        for number, fill in enumerate(run.fills, start=1):
            warm = fill.temperature_k - _KELVIN if fill.temperature_k is not None else None
            told_fill = ("fill", number, None, None, None, None, None)
            rows.append((*_who(run), *told_fill, 1000 * fill.volume_m3, warm, fill.batch))
    return CsvTable("readings", columns, tuple(rows))


def weather_csv(runs: Sequence[Run]) -> CsvTable:
    """One row for every report or roadside reading of the weather."""
    columns = (
        *_RUN,
        CsvColumn("time", "when it was read, ISO 8601, universal time"),
        CsvColumn("source", "metar: airfield report; roadside: read by the tester"),
        CsvColumn("wind speed [m/s]", "mean wind at the height of the instrument"),
        CsvColumn("wind from [deg]", "where it comes from, clockwise from true north"),
        CsvColumn("gust [m/s]", "highest gust reported"),
        CsvColumn("height [m]", "of the wind instrument above ground"),
        CsvColumn("temperature [degC]", "of the air"),
        CsvColumn("pressure [hPa]", "on the spot"),
        CsvColumn("QNH [hPa]", "pressure reduced to sea level, as airfields report it"),
        CsvColumn("relative humidity [%]", "of the air"),
    )
    rows: list[tuple[CsvCell, ...]] = []
    for run in runs:
        for r in run.weather.readings:
            at = dt.datetime.fromtimestamp(r.time_s, dt.UTC).isoformat() if r.time_s > FIRST_CLOCK_S else None
            rows.append(
                (
                    *_who(run), at, r.source, r.wind_speed_mps, r.wind_from_deg, r.gust_mps, r.height_m,
                    r.temperature_k - _KELVIN if r.temperature_k is not None else None,
                    r.pressure_pa / 100 if r.pressure_pa is not None else None,
                    r.qnh_pa / 100 if r.qnh_pa is not None else None,
                    100 * r.relative_humidity if r.relative_humidity is not None else None,
                )
            )  # fmt: skip
    return CsvTable("weather", columns, tuple(rows))


def laps_csv(runs: Sequence[tuple[RunResult, Run]]) -> CsvTable:
    """One row for every lap found in the track."""
    columns = (
        *_RUN,
        CsvColumn("lap", "number of the lap"),
        *two_columns("distance", "km", "length of the lap"),
        CsvColumn("moving time [s]", "time in which the vehicle moved"),
        *two_columns("speed", "km/h", "mean speed while moving"),
        *two_columns("fuel share", "1", "part of the fuel of the run, by the model"),
        *two_columns("consumption", "L/100km", "consumption on this lap, by the model"),
    )
    rows = tuple(
        (
            *_who(run), lap.number, *figure_cells(lap.distance), lap.moving_time.value, *figure_cells(lap.speed),
            *figure_cells(lap.fuel_share), *figure_cells(lap.L_per_100km),
        )
        for result, run in runs
        for lap in result.laps
    )  # fmt: skip
    return CsvTable("laps", columns, rows)


def legs_csv(runs: Sequence[tuple[RunResult, Run]]) -> CsvTable:
    """One row for every stretch in one direction."""
    columns = (
        *_RUN,
        CsvColumn("leg", "number of the leg"),
        CsvColumn("heading [deg]", "mean direction of travel, clockwise from true north"),
        *two_columns("wind along", "m/s", "wind at vehicle height, plus from ahead"),
        *two_columns("wind across", "m/s", "wind at vehicle height, plus where the air moves to the right"),
        *two_columns("distance", "km", "length of the leg"),
        *two_columns("speed", "km/h", "mean speed while moving"),
        *two_columns("fuel share", "1", "part of the fuel of the run, by the model"),
        *two_columns("consumption", "L/100km", "consumption on this leg, by the model"),
    )
    rows = tuple(
        (
            *_who(run), leg.number, leg.heading_deg, *figure_cells(leg.wind_along), *figure_cells(leg.wind_across),
            *figure_cells(leg.distance), *figure_cells(leg.speed), *figure_cells(leg.fuel_share),
            *figure_cells(leg.L_per_100km),
        )
        for result, run in runs
        for leg in result.legs
    )  # fmt: skip
    return CsvTable("legs", columns, rows)
