"""Did it make a difference? Runs before and after a change, ticked here and compared."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.comparison_sheet import comparison_sheet
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.comparison_fields import MEMBER, member_fields
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    DocumentLine,
    FormView,
    document_of,
    documents_of,
    failed_words,
    form_view,
    keep_document,
    lines,
    newest_result,
    newest_words,
    spec_of,
)
from calmday.web.pages.entering import boxes, current_texts
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.comparison_result import ComparisonResult
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

NOTHING_YET = "Weigh a few runs before the change and a few after it, best in turns. Then compare them here."
FIRST = "Say of each run whether it was before or after the change, then work it out."
MOST_RUNS = 60


class ComparisonsPage(Context, frozen=True, kw_only=True):
    """Every comparison of a vehicle."""

    template: ClassVar[str] = "comparisons.html"
    sentence: str
    found: tuple[DocumentLine, ...]


class ComparisonPage(Context, frozen=True, kw_only=True):
    """One comparison: the answer, and what was written down. `failed` why it could not be worked out."""

    template: ClassVar[str] = "comparison.html"
    sentence: str
    under: tuple[str, ...]
    stale: bool
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    show: str
    form: FormView
    order: str


class OrderPage(Context, frozen=True, kw_only=True):
    """An order drawn by lot, shown once: `digest` for everybody, `line` for the helper alone, `steps` one by one."""

    template: ClassVar[str] = "sealed_order.html"
    digest: str
    line: str
    steps: tuple[str, ...]
    back: str


def comparisons(asked: Asked) -> Response:
    """The comparisons of a vehicle."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, "comparison", vehicle.id)
    return page(
        ComparisonsPage(
            frame=frame(asked, "Did it make a difference?", tab="comparisons", vehicle=vehicle),
            sentence=newest_words(asked, found, NOTHING_YET),
            found=lines(spec_of("comparison"), found),
        )
    )


def comparison(asked: Asked) -> Response:
    """One comparison, to fill in and to read."""
    found, spec = document_of(asked, "comparison"), spec_of("comparison")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("comparison", document=found.id, done="saved")
    return _page(asked, found)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    from calmday.operations.logbook import comparison_is_stale, comparison_result_of  # noqa: PLC0415  (the database)

    spec = spec_of("comparison")
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    stored = newest_result(asked, found)
    result = comparison_result_of(stored) if stored is not None else None
    shown = comparison_sheet(result) if result is not None else None
    return page(
        ComparisonPage(
            frame=frame(
                asked, found.name or "Comparison without a name", tab="comparisons", vehicle=vehicle, wide=True
            ),
            sentence=shown.lead if shown is not None else FIRST,
            under=shown.under if shown is not None else (),
            stale=stored is not None and comparison_is_stale(asked.desk.book, found.id, stored),
            failed=failed_words(asked, found, spec),
            charts=_charts(found, result) if result is not None else (),
            blocks=tuple(blocks_of(shown)) if shown is not None else (),
            json=address("comparison_json", document=found.id) if stored is not None else "",
            show=address("comparison_show", document=found.id) if stored is not None else "",
            form=_form(asked, found, kept),
            order=address("comparison_order", document=found.id),
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _form(asked: Asked, found: Subject, kept: Kept | None) -> FormView:
    """The form with the vehicle's runs by name: first which side each is on, then what there is to say about it."""
    spec = spec_of("comparison")
    plain = form_view(asked, found, spec, kept=kept)
    values = kept.values if kept is not None else asked.desk.book.values(found.kind, found.id)
    texts = current_texts(values)
    faults = kept.faults if kept is not None else {}
    said = {match[1] for key in texts if (match := MEMBER.match(key))}
    runs = [each for each in asked.desk.runs_of(found.parent) if not each.void or each.id in said][-MOST_RUNS:]
    used = _used_words(asked, [each.id for each in runs])
    asks = {each.id: member_fields(each.id, _called(each), used.get(each.id, "not worked out yet")) for each in runs}
    chosen = [asks[each.id] for each in runs if texts.get(f"member.{each.id}.group")]
    out = [fields for fields in chosen if texts.get(fields["left_out"].key)]
    lead = "Best driven in turns: before, after, after, before." if runs else "This vehicle has no run yet."
    pairs = "The same word for runs that belong together: a pair, a morning, a pair of laps. Leave it empty otherwise."
    varied = "Then give it for every run, in one unit; on which side a run stands does not matter then."
    reason = "Only for what happened on the road. Write the reason; the run stays visible with it."
    asked_for = [("Which runs?", lead, [fields["group"] for fields in asks.values()])]
    if chosen:
        asked_for.append(("Were they driven in pairs?", pairs, [fields["block"] for fields in chosen]))
        asked_for.append(("Was a setting tried at several values?", varied, [fields["setting"] for fields in chosen]))
        left = [
            fields[name]
            for fields in chosen
            for name in ("left_out", "known_before_weighing")
            if name == "left_out" or fields in out
        ]
        asked_for.append(("Leave one out?", reason, left))
    shown = tuple(
        (title, words, boxes(tuple(fields), texts, asked.habits, faults)) for title, words, fields in asked_for
    )
    titles = {group.title for group in spec.groups(texts.keys()) if group.name in said}
    own = tuple(group for group in plain.groups if group[0] not in titles)
    return msgspec.structs.replace(plain, groups=(own[0], shown[0], *own[1:], *shown[1:]))


def _called(run: Subject) -> str:
    """What a run is called where it has to be told from others."""
    date = run.values.get("date", "")
    name = run.name or "Run"
    return f"{name}, {date}" if date else run.name or f"Run {run.id[-4:]}"


def _used_words(asked: Asked, ids: list[str]) -> dict[str, str]:
    """What each run used, from its newest result."""
    found = asked.desk.book.newest_results(ids) if ids else {}
    told = {}
    for run_id, stored in found.items():
        calm, driven = stored.summary.get("calm_day_words"), stored.summary.get("as_driven_words")
        told[run_id] = f"{driven} as driven" + (f", {calm} on the calm day" if calm else "")
    return told


def _drawn(result: ComparisonResult) -> tuple[Chart, ...]:
    from calmday.reports.charts.compared import charts_of_comparison  # noqa: PLC0415  (drawing needs numpy)

    return charts_of_comparison(result)


def _charts(found: Subject, result: ComparisonResult) -> tuple[ChartView, ...]:
    views = []
    for chart in _drawn(result):
        view = chart_view(chart)
        taken = pictures_to_take(view.title, partial(_picture, found.id, chart.name))
        views.append(msgspec.structs.replace(view, downloads=taken))
    return tuple(views)


def _picture(document: str, chart: str, form: str) -> str:
    return address("comparison_chart", document=document, chart=chart, form=form)


def comparison_json(asked: Asked) -> Response:
    """The result as `calmday compare --json` prints it."""
    stored = newest_result(asked, document_of(asked, "comparison"))
    if stored is None:
        raise HTTPException(404)
    return Response(stored.content, media_type="application/json")


def comparison_chart(asked: Asked) -> Response:
    """A picture of a comparison to take along."""
    from calmday.operations.logbook import comparison_result_of  # noqa: PLC0415

    stored = newest_result(asked, document_of(asked, "comparison"))
    drawn = _drawn(comparison_result_of(stored)) if stored is not None else ()
    chart = next((chart for chart in drawn if chart.name == asked.part("chart")), None)
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))


def comparison_order(asked: Asked) -> Response:
    """Draw an order by lot: its digest is kept with the comparison, the line that opens it is shown once."""
    from calmday.operations import sealed_order  # noqa: PLC0415

    found = document_of(asked, "comparison")
    typed = asked.form.get("runs", "").strip()
    if not typed.isdecimal() or len(typed) > 3:
        raise InputError.one("form", "runs", "is not a whole number", "an even number from 2 to 60, such as 8")
    drawn = sealed_order(int(typed))
    asked.desk.book.write(
        found.kind, found.id, {"sealed_order": drawn.digest, "sealed_with": None}, asked.habits.by, device=asked.device
    )
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    words = {"A": "before the change", "B": "after the change"}
    return page(
        OrderPage(
            frame=frame(asked, "An order drawn by lot", tab="comparisons", vehicle=vehicle),
            digest=drawn.digest,
            line=drawn.sealed_with,
            steps=tuple(words[letter] for letter in drawn.order.split("-")),
            back=address("comparison", document=found.id),
        )
    )
