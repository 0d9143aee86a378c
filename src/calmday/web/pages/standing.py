"""Where do I stand? The best calm-day figure of a vehicle, how it moved, what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from starlette.responses import Response

from calmday.reports.words import amount, duration, number, percent, unit_words
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view
from calmday.web.pages.common import frame, vehicle_of
from calmday.web.render import Context, Ref, page

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from calmday.logbook.records import StoredResult, Subject
    from calmday.operations.logbook.standing import Standing
    from calmday.procedures.standing import StateFigure
    from calmday.procedures.what_next import NextStep
    from calmday.web.asked import Asked

AT_ONCE: Final = 20
MOST_POINTS: Final = 60
TRUST: Final = ("One run: an indication.", "Runs that agree: a fair figure.", "Runs that differ by more than they say.")


class Best(msgspec.Struct, frozen=True, kw_only=True):
    """The best figure there is. `trust` how far one may trust it, by how it was found."""

    amount: str
    unit: str
    miles: str
    trust: str
    where: str


class NextThing(msgspec.Struct, frozen=True, kw_only=True):
    """One thing worth doing."""

    what: str
    why: str
    time: str


class StateLine(msgspec.Struct, frozen=True, kw_only=True):
    """One state of the vehicle and its figure."""

    what: str
    since: str
    runs: str
    amount: str
    moved: str


class RunLine(msgspec.Struct, frozen=True, kw_only=True):
    """One run."""

    where: str
    name: str
    date: str
    driven: str
    calm: str
    state: str
    void: bool


class StandingPage(Context, frozen=True, kw_only=True):
    """Where a vehicle stands. `older` the address of earlier runs."""

    template: ClassVar[str] = "standing.html"
    sentence: str
    best: Best | None
    open_run: Ref | None
    next_things: tuple[NextThing, ...]
    chart: ChartView | None
    states: tuple[StateLine, ...]
    runs: tuple[RunLine, ...]
    older: str


def standing(asked: Asked) -> Response:
    """The home of a vehicle."""
    from calmday.operations.logbook import standing as stand  # noqa: PLC0415  (with the database layer)

    vehicle = vehicle_of(asked)
    book = asked.desk.book
    found = asked.desk.memory.get(book, ("standing", vehicle.id), lambda: stand(book, vehicle.id))
    runs = asked.desk.runs_of(vehicle.id)
    before = asked.query("before")
    shown = [run for run in runs if not before or run.id < before][-AT_ONCE:]
    wanted = list(dict.fromkeys(run.id for run in (*runs[-MOST_POINTS:], *shown)))
    results = book.newest_results(wanted) if wanted else {}
    open_runs = [run for run in runs if run.id in found.unreduced]
    first_shown = shown[0].id if shown else ""
    return page(
        StandingPage(
            frame=frame(asked, "Where do I stand?", tab="standing", vehicle=vehicle),
            sentence=_sentence(vehicle, found, bool(runs)),
            best=_best(found, results),
            open_run=Ref(id=open_runs[-1].id, name=open_runs[-1].name) if open_runs else None,
            next_things=tuple(_next(step) for step in found.next_steps[:5]),
            chart=_chart(asked, found, runs, results),
            states=tuple(_state(state) for state in found.states) if len(found.states) > 1 else (),
            runs=tuple(_run(run, results.get(run.id)) for run in reversed(shown)),
            older=address("standing", vehicle=vehicle.id, before=first_shown)
            if any(run.id < first_shown for run in runs)
            else "",
        )
    )


def _sentence(vehicle: Subject, found: Standing, any_run: bool) -> str:
    if found.best is not None:
        return f"{vehicle.name or 'It'} uses, on a calm day,"
    if found.best_state >= 0:
        return "No run since the last change has given a figure yet."
    if found.left_out:
        return "No run so far may be used: each says why."
    return "No run has given a figure yet." if any_run else "No run yet. The first one takes a morning."


def _best(found: Standing, results: Mapping[str, StoredResult]) -> Best | None:
    if found.best is None:
        return None
    best = found.best
    newest = best.run_ids[-1]
    summary = results[newest].summary if newest in results else {}
    several = len(best.run_ids) > 1
    trust = TRUST[2] if best.scatter > 1.5 else TRUST[1] if several else TRUST[0]
    miles = f"{summary.get('mpg_us_words', '')}, {summary.get('mpg_imp_words', '')}" if not several and summary else ""
    return Best(
        amount=amount(best.figure),
        unit=unit_words(best.figure.unit),
        miles=miles,
        trust=f"{len(best.run_ids)} runs. {trust}" if several else trust,
        where=address("figure", run=newest, figure="calm_day.L_per_100km"),
    )


def _next(step: NextStep) -> NextThing:
    now, then = number(step.half_width_now, 2), number(step.half_width_then, 2)
    return NextThing(
        what=step.what,
        why=f"{step.why[:1].upper()}{step.why[1:]}. Give or take {now} would become {then} {unit_words(step.unit)}.",
        time=duration(60 * round(step.minutes / 5) * 5),
    )


def _state(state: StateFigure) -> StateLine:
    return StateLine(
        what=", ".join(state.what) or "as built",
        since=state.since.isoformat() if state.since is not None else "the start",
        runs=str(state.runs),
        amount=amount(state.best.figure) if state.best is not None else "not known",
        moved=f"{percent(state.change_percent, signed=True)} fuel" if state.change_percent is not None else "",
    )


def _run(run: Subject, stored: StoredResult | None) -> RunLine:
    summary = stored.summary if stored is not None else {}
    state = "void" if run.void else "open" if stored is None else "worked out"
    if summary.get("worst_flag") == "stop":
        state = "must not be used"
    return RunLine(
        where=address("sheet" if stored is not None else "day", run=run.id),
        name=run.name or "Run without a name",
        date=run.values.get("date", ""),
        driven=str(summary.get("as_driven_words", "")),
        calm=str(summary.get("calm_day_words", "")),
        state=state,
        void=bool(run.void),
    )


def _chart(
    asked: Asked, found: Standing, runs: Sequence[Subject], results: Mapping[str, StoredResult]
) -> ChartView | None:
    """The figures over their dates; only where there are two or more."""
    from calmday.logbook.states import date_of  # noqa: PLC0415
    from calmday.metrology.figure import Figure  # noqa: PLC0415
    from calmday.reports.charts.history import ChangeMark, HistoryPoint, history_chart  # noqa: PLC0415

    points = []
    for run in runs[-MOST_POINTS:]:
        stored, date = results.get(run.id), date_of(run.values.get("date", ""))
        calm = stored.summary.get("calm_day") if stored is not None else None
        if date is None or calm is None or calm["value"] is None or run.id in found.left_out:
            continue
        points.append(HistoryPoint(date=date, label=run.name, figure=Figure(**calm), void=bool(run.void)))
    if len(points) < 2:
        return None
    first = min(point.date for point in points)
    marks = [
        ChangeMark(date=state.since, what=", ".join(state.what) or "changed")
        for state in found.states
        if state.since is not None and state.since >= first
    ]
    chart = history_chart(points, marks)
    return chart_view(chart) if chart is not None else None
