"""How do I know? Every figure of a run, opened to what went in, how it is found, and after whom."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.words import clean, number, unit_words
from calmday.web.addresses import address
from calmday.web.figure_list import figure_groups, figure_named
from calmday.web.known_from import Origin, origin_of
from calmday.web.pages.checking import where_of
from calmday.web.pages.common import frame, run_of, who
from calmday.web.pages.history import text_of, words_of
from calmday.web.pages.result import newest_drawn
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import Subject, Value
    from calmday.procedures.weighed_run_result import BudgetLine, RunResult
    from calmday.web.asked import Asked


class FigureLine(msgspec.Struct, frozen=True, kw_only=True):
    """One figure of the list."""

    where: str
    what: str
    amount: str
    known: str


class FiguresPage(Context, frozen=True, kw_only=True):
    """Every figure of a run."""

    template: ClassVar[str] = "figures.html"
    groups: tuple[tuple[str, tuple[FigureLine, ...]], ...]


class InputLine(msgspec.Struct, frozen=True, kw_only=True):
    """One entry that went in."""

    what: str
    text: str
    who: str
    where: str


class FigurePage(Context, frozen=True, kw_only=True):
    """One figure: what it is, how it is found, where its doubt comes from, what went in."""

    template: ClassVar[str] = "figure.html"
    what: str
    amount: str
    unit: str
    between: str
    meaning: str
    equation: str
    method: tuple[str, ...]
    source: str
    doubts: tuple[tuple[str, str, str], ...]
    doubt_unit: str
    inputs: tuple[InputLine, ...]
    from_figures: tuple[tuple[str, str], ...]
    made: str


def figures(asked: Asked) -> Response:
    """Every figure of a run, each with the way to where it comes from."""
    run = run_of(asked)
    results = asked.desk.book.results(run.id)
    groups: tuple[tuple[str, tuple[FigureLine, ...]], ...] = ()
    drawn = asked.desk.gallery.get(asked.desk.book, results[0].id, asked.habits.units) if results else None
    if drawn is not None:
        groups = tuple(
            (
                title,
                tuple(
                    FigureLine(
                        where=address("figure", run=run.id, figure=row.name),
                        what=row.what,
                        amount=f"{row.amount} {row.unit}".strip(),
                        known=row.known,
                    )
                    for row in rows
                ),
            )
            for title, rows in figure_groups(drawn.result)
        )
    return page(FiguresPage(frame=frame(asked, "How do I know?", tab="figures", run=run), groups=groups))


def figure(asked: Asked) -> Response:
    """One figure opened to its inputs, equation and source."""
    run = run_of(asked)
    drawn = newest_drawn(asked, run)
    name = asked.part("figure")
    row, origin = figure_named(drawn.result, name), origin_of(name)
    if row is None or origin is None:
        raise HTTPException(404)
    made = drawn.result.provenance
    low, high = row.figure.low, row.figure.high
    places = decimals_for_half_width((high - low) / 2) if math.isfinite(high - low) and high > low else 0
    ends = f"{number(low, places)} and {number(high, places)} {unit_words(row.figure.unit)}".strip()
    between = f"95 times in 100 the truth lies between {ends}"
    return page(
        FigurePage(
            frame=frame(asked, row.what, tab="figures", run=run),
            what=f"{row.what}{_part_of(name)}",
            amount=row.amount,
            unit=row.unit,
            between=f"{between}." if math.isfinite(low) and low != high else "It carries no doubt of its own.",
            meaning=origin.meaning,
            equation=origin.equation,
            method=origin.method,
            source=origin.source,
            doubts=_doubts(drawn.result, origin),
            doubt_unit=_doubt_unit(drawn.result, origin),
            inputs=_inputs(asked, run, origin),
            from_figures=_from_figures(run.id, drawn.result, origin),
            made=f"{made.program} {made.version}, seed {made.seed}, inputs {made.inputs_sha256[:12]}.",
        )
    )


def _part_of(name: str) -> str:
    return {"as_driven": ", as driven", "calm_day": ", on a calm day", "penalties": ": what it cost"}.get(
        name.split(".", maxsplit=1)[0], ""
    )


def _budget(result: RunResult, origin: Origin) -> tuple[BudgetLine, ...]:
    return {"calm_day": result.budget, "as_driven": result.budget_as_driven}.get(origin.budget, ())


def _doubt_unit(result: RunResult, origin: Origin) -> str:
    """The unit of all lines of a budget."""
    return next((unit_words(line.contribution.unit) for line in _budget(result, origin)), "")


def _doubts(result: RunResult, origin: Origin) -> tuple[tuple[str, str, str], ...]:
    known = [line for line in _budget(result, origin) if line.share == line.share]
    most = max((line.contribution.value for line in known), default=0.0)
    places = max(0, 1 - math.floor(math.log10(most))) if most > 0 else 0
    ordered = sorted(known, key=lambda line: -line.share)
    return tuple(
        (
            clean(line.source),
            _at_least(line.contribution.value, places),
            f"{100 * line.share:.0f} %" if line.share >= 0.005 else "under 1 %",
        )
        for line in ordered
    )


def _at_least(value: float, places: int) -> str:
    """To the places of the largest; what is smaller than half of the last one is said to be under it."""
    least = 10.0**-places
    return number(value, places) if value >= least / 2 else f"under {number(least, places)}"


def _inputs(asked: Asked, run: Subject, origin: Origin) -> tuple[InputLine, ...]:
    """The entries behind a figure: of the run, and of the build sheet where the model is in it."""
    values = asked.desk.book.values("run", run.id)
    lines = [_input_line(run, key, value) for key, value in values.items() if _starts(key, origin.inputs)]
    if origin.vehicle and run.parent:
        built = asked.desk.book.values("vehicle", run.parent)
        lines += [_input_line(run, key, value, "vehicle") for key, value in built.items()]
    return tuple(lines)


def _input_line(run: Subject, key: str, value: Value, kind: str = "run") -> InputLine:
    return InputLine(
        what=words_of(kind, key),
        text=text_of(kind, key, value.text or ""),
        who=who(value.by, value.at, value.device),
        where=where_of(run, key),
    )


def _starts(key: str, starts: tuple[str, ...]) -> bool:
    return any(key == start or key.startswith((start + ".", start + "[")) for start in starts)


def _from_figures(run_id: str, result: RunResult, origin: Origin) -> tuple[tuple[str, str], ...]:
    found = []
    for name in origin.made_of:
        row = figure_named(result, name)
        if row is not None:
            found.append(
                (
                    address("figure", run=run_id, figure=name),
                    f"{row.what}{_part_of(name)}: {row.amount} {row.unit}".strip(),
                )
            )
    return tuple(found)
