"""Documents that are worked out, each kind answering alike: its list, one with its result, what is taken along.

A kind says what is its own (`WorkedKind`): the words of its pages, who reads its result back, its sheet, its charts.
Its templates extend `listing.html` and `worked.html`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, Generic, TypeVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
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
from calmday.web.render import Context, Frame, page

if TYPE_CHECKING:
    from calmday.logbook import Logbook
    from calmday.logbook.records import StoredResult, Subject
    from calmday.reports.charts.chart import Chart
    from calmday.reports.sheet import Sheet
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

R = TypeVar("R")

Drawers = Mapping[str, Callable[[], "Chart | None"]]
"""By the name in an address, in order: what draws a chart, None where there is nothing to draw."""


class Listing(msgspec.Struct, frozen=True, kw_only=True):
    """The documents of a kind about a vehicle. `heading` above them, `begin` on the button that begins one."""

    question: str
    sentence: str
    kind: str
    heading: str
    begin: str
    found: tuple[DocumentLine, ...]


class Worked(msgspec.Struct, frozen=True, kw_only=True):
    """One document: what was found, and what was written down. `failed` why it could not be worked out."""

    question: str
    kind: str
    sentence: str
    under: tuple[str, ...]
    stale: bool
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    form: FormView
    home: str
    home_words: str


class Found(msgspec.Struct, Generic[R], frozen=True, kw_only=True):
    """What was worked out of a document last, as the logbook keeps it and as it is read."""

    document: Subject
    stored: StoredResult
    result: R


class Readers(msgspec.Struct, Generic[R], frozen=True):
    """Who reads a result back, and who says whether it is older than what it rests on (logbook, document, result)."""

    result_of: Callable[[StoredResult], R]
    is_stale: Callable[[Logbook, str, StoredResult], bool]


class WorkedKind(msgspec.Struct, Generic[R], frozen=True, kw_only=True):
    """What is a kind's own. `kind`, its `tab` in the frame; `question` above the titles where it is another.

    `title` and `heading` of its list, `begin` on its button, `every` the words of the way back to it, `nothing_yet`
    while there is none. `nameless` what a document without a name is called, `first` what to do while nothing was
    worked out. `json` and `chart` names of addresses. `readers` are asked for late, because they need the database
    layer; so are the `charts`, given whether they are taken along or shown on the page.
    """

    kind: str
    tab: str
    title: str
    heading: str
    begin: str
    every: str
    nothing_yet: str
    nameless: str
    first: str = "Write down what you know, keep the recordings, work it out."
    question: str = ""
    json: str
    chart: str
    readers: Callable[[], Readers[R]]
    sheet: Callable[[R], Sheet]
    charts: Callable[[Asked, Found[R], bool], Drawers]
    bars: bool = False
    form: Callable[[Asked, Subject, Kept | None], FormView] | None = None


def list_answer(asked: Asked, own: WorkedKind[Any], context: Callable[[Frame, Listing], Context]) -> Response:
    """The documents of a kind about a vehicle; `context` fills the page of the kind."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, own.kind, vehicle.id)
    listing = Listing(
        question=own.question,
        sentence=newest_words(asked, found, own.nothing_yet),
        kind=own.kind,
        heading=own.heading,
        begin=own.begin,
        found=lines(spec_of(own.kind), found),
    )
    return page(context(frame(asked, own.title, tab=own.tab, vehicle=vehicle), listing))


def document_answer(
    asked: Asked, own: WorkedKind[R], context: Callable[[Frame, Worked, Found[R] | None], Context]
) -> Response:
    """One document to fill in and to read; `context` fills the page of the kind."""
    document, spec = document_of(asked, own.kind), spec_of(own.kind)
    kept = keep_document(asked, document, spec) if asked.posted else None
    if kept is not None and not kept.faults:
        return go(spec.page, document=document.id, done="saved")
    vehicle = subject(asked, "vehicle", document.parent) if document.parent else None
    found = found_in(asked, own, document)
    shown = own.sheet(found.result) if found is not None else None
    worked = Worked(
        question=own.question or own.title,
        kind=own.kind,
        sentence=shown.lead if shown is not None else own.first,
        under=shown.under if shown is not None else (),
        stale=found is not None and own.readers().is_stale(asked.desk.book, document.id, found.stored),
        failed=failed_words(asked, document, spec),
        charts=_views(asked, own, found) if found is not None else (),
        blocks=tuple(b for b in blocks_of(shown) if own.bars or b.kind != "bars") if shown is not None else (),
        json=address(own.json, document=document.id) if found is not None else "",
        form=own.form(asked, document, kept) if own.form is not None else form_view(asked, document, spec, kept=kept),
        home=address(spec.home, vehicle=document.parent) if document.parent else "",
        home_words=own.every,
    )
    head = frame(asked, document.name or own.nameless, tab=own.tab, vehicle=vehicle, wide=True)
    return page(context(head, worked, found), 422 if kept is not None else 200)


def json_answer(asked: Asked, own: WorkedKind[Any]) -> Response:
    """The result as its verb prints it. Raises 404 where nothing was worked out."""
    return Response(needed(asked, own).stored.content, media_type="application/json")


def chart_answer(asked: Asked, own: WorkedKind[Any]) -> Response:
    """A picture to take along. Raises 404 where there is none of that name or form."""
    drawer = own.charts(asked, needed(asked, own), True).get(asked.part("chart"))
    chart = drawer() if drawer is not None else None
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))


def needed(asked: Asked, own: WorkedKind[R]) -> Found[R]:
    """What was worked out of the document in the address. Raises 404 where nothing was."""
    found = found_in(asked, own, document_of(asked, own.kind))
    if found is None:
        raise HTTPException(404)
    return found


def found_in(asked: Asked, own: WorkedKind[R], document: Subject) -> Found[R] | None:
    """What was worked out of a document last; None where nothing was."""
    stored = newest_result(asked, document)
    if stored is None:
        return None
    return Found(document=document, stored=stored, result=own.readers().result_of(stored))


def _views(asked: Asked, own: WorkedKind[R], found: Found[R]) -> tuple[ChartView, ...]:
    views = []
    for name, drawer in own.charts(asked, found, False).items():
        chart = drawer()
        if chart is not None:
            view = chart_view(chart)
            taken = pictures_to_take(view.title, partial(_picture, own.chart, found.document.id, name))
            views.append(msgspec.structs.replace(view, downloads=taken))
    return tuple(views)


def _picture(page_name: str, document: str, chart: str, form: str) -> str:
    return address(page_name, document=document, chart=chart, form=form)
