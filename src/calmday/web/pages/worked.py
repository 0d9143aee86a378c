"""Documents that are worked out, each kind answering alike: its list, one with its result, what is taken along.

A kind says what is its own (`WorkedKind`): the words of its pages, who reads its result back, its sheet, its charts,
where else one may go. `Answers` are its four answers. A page with more on it than that has a context of its own.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar, Generic, Literal, TypeVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.json_result import readable
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


class Way(msgspec.Struct, frozen=True):
    """A link and how it looks; `taken`: what it leads to is kept as a file."""

    words: str
    where: str
    look: Literal["link", "button", "plain button"] = "link"
    taken: bool = False


class Listing(msgspec.Struct, frozen=True, kw_only=True):
    """The documents of a kind about a vehicle, and how one is made: `how` above the `steps`, `caution` below them.

    `heading` above the documents, `begin` on the button that begins one; `ways` to neighbouring pages, `more` to what
    can be done beside.
    """

    question: str = ""
    sentence: str
    kind: str
    how: str
    steps: tuple[str, ...]
    caution: str = ""
    heading: str
    begin: str
    found: tuple[DocumentLine, ...]
    ways: tuple[tuple[str, str], ...] = ()
    more: tuple[Way, ...] = ()


class ListingPage(Context, frozen=True, kw_only=True):
    """Every document of a kind about a vehicle."""

    template: ClassVar[str] = "listing.html"
    listing: Listing


class Worked(msgspec.Struct, frozen=True, kw_only=True):
    """One document: what was found, and what was written down.

    `failed` why it could not be worked out; `first` what can be done with the answer before anything else, `taken` what
    can be taken along.
    """

    question: str
    kind: str
    sentence: str
    under: tuple[str, ...]
    stale: bool
    failed: tuple[str, ...]
    first: tuple[Way, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    taken: tuple[Way, ...]
    answered: bool
    form: FormView
    ways: tuple[tuple[str, str], ...]
    home: str
    home_words: str


class WorkedPage(Context, frozen=True, kw_only=True):
    """One document of a kind, with its answer."""

    template: ClassVar[str] = "worked.html"
    worked: Worked


class Found(msgspec.Struct, Generic[R], frozen=True, kw_only=True):
    """What was worked out of a document last, as the logbook keeps it and as it is read."""

    document: Subject
    stored: StoredResult
    result: R


class Readers(msgspec.Struct, Generic[R], frozen=True):
    """Who reads a result back, and who says whether it is older than what it rests on (logbook, document, result)."""

    result_of: Callable[[StoredResult], R]
    is_stale: Callable[[Logbook, str, StoredResult], bool]


def _page(head: Frame, worked: Worked) -> Context:
    return WorkedPage(frame=head, worked=worked)


def _nowhere(_: str) -> tuple[tuple[str, str], ...]:
    return ()


def _nothing(_: Any) -> tuple[Way, ...]:
    return ()


class WorkedKind(msgspec.Struct, Generic[R], frozen=True, kw_only=True):
    """What is a kind's own. `kind`, its `tab` in the frame; `question` above the titles where it is another.

    Of its list: `title`, `heading`, `begin`, `how`, `steps`, `caution` (see `Listing`), `nothing_yet` while there is
    none; `every` the words of the way back to it. Of a document: `nameless` what it is called without a name,
    `unworked` what to do while nothing was worked out. `ways` to neighbours and `more` beside the list, by the vehicle;
    `first` and `taken` with an answer. `json` and `chart` are names of addresses. `readers` are asked for late, because
    they need the database layer; so are the `charts`, given whether they are taken along or shown on the page. `bars`
    of a sheet are shown where no chart shows them better. `form` and `page` where a kind has its own.
    """

    kind: str
    tab: str
    question: str = ""
    title: str
    heading: str
    begin: str
    every: str
    how: str
    steps: tuple[str, ...]
    caution: str
    nothing_yet: str
    nameless: str
    unworked: str = "Write down what you know, keep the recordings, work it out."
    json: str
    chart: str
    readers: Callable[[], Readers[R]]
    sheet: Callable[[R], Sheet]
    charts: Callable[[Asked, Found[R], bool], Drawers]
    bars: bool = False
    ways: Callable[[str], tuple[tuple[str, str], ...]] = _nowhere
    more: Callable[[str], tuple[Way, ...]] = _nothing
    first: Callable[[Found[R]], tuple[Way, ...]] = _nothing
    taken: Callable[[Found[R]], tuple[Way, ...]] = _nothing
    form: Callable[[Asked, Subject, Kept | None], FormView] | None = None
    page: Callable[[Frame, Worked], Context] = _page


class Answers(Generic[R]):
    """What a kind answers at its four addresses."""

    def __init__(self, own: WorkedKind[R]) -> None:
        self.own = own

    def every(self, asked: Asked) -> Response:
        """The documents of the kind about a vehicle."""
        own, vehicle = self.own, vehicle_of(asked)
        found = documents_of(asked, own.kind, vehicle.id)
        listing = Listing(
            question=own.question,
            sentence=newest_words(asked, found, own.nothing_yet),
            kind=own.kind,
            how=own.how,
            steps=own.steps,
            caution=own.caution,
            heading=own.heading,
            begin=own.begin,
            found=lines(spec_of(own.kind), found),
            ways=own.ways(vehicle.id),
            more=own.more(vehicle.id),
        )
        return page(ListingPage(frame=frame(asked, own.title, tab=own.tab, vehicle=vehicle), listing=listing))

    def one(self, asked: Asked) -> Response:
        """One document, to fill in and to read."""
        own = self.own
        document, spec = document_of(asked, own.kind), spec_of(own.kind)
        kept = keep_document(asked, document, spec) if asked.posted else None
        if kept is not None and not kept.faults:
            return go(spec.page, document=document.id, done="saved")
        vehicle = subject(asked, "vehicle", document.parent) if document.parent else None
        head = frame(asked, document.name or own.nameless, tab=own.tab, vehicle=vehicle, wide=True)
        return page(own.page(head, _worked(asked, own, document, kept)), 422 if kept is not None else 200)

    def json(self, asked: Asked) -> Response:
        """The result as the verb of the kind prints it. Raises 404 where nothing was worked out."""
        return Response(needed(asked, self.own).stored.content, media_type="application/json")

    def chart(self, asked: Asked) -> Response:
        """A picture to take along. Raises 404 where there is none of that name or form."""
        drawer = self.own.charts(asked, needed(asked, self.own), True).get(asked.part("chart"))
        chart = drawer() if drawer is not None else None
        if chart is None:
            raise HTTPException(404)
        return picture_of(chart, asked.part("form"))


def _worked(asked: Asked, own: WorkedKind[R], document: Subject, kept: Kept | None) -> Worked:
    spec, found = spec_of(own.kind), found_in(asked, own, document)
    shown = own.sheet(found.result) if found is not None else None
    json = Way("The result as JSON", address(own.json, document=document.id), taken=True)
    return Worked(
        question=own.question or own.title,
        kind=own.kind,
        sentence=shown.lead if shown is not None else own.unworked,
        under=shown.under if shown is not None else (),
        stale=found is not None and own.readers().is_stale(asked.desk.book, document.id, found.stored),
        failed=failed_words(asked, document, spec),
        first=own.first(found) if found is not None else (),
        charts=_views(asked, own, found) if found is not None else (),
        blocks=tuple(b for b in blocks_of(shown) if own.bars or b.kind != "bars") if shown is not None else (),
        taken=(*own.taken(found), json) if found is not None else (),
        answered=found is not None,
        form=own.form(asked, document, kept) if own.form is not None else form_view(asked, document, spec, kept=kept),
        ways=own.ways(document.parent) if document.parent else (),
        home=address(spec.home, vehicle=document.parent) if document.parent else "",
        home_words=own.every,
    )


def needed(asked: Asked, own: WorkedKind[R]) -> Found[R]:
    """What was worked out of the document in the address. Raises 404 where nothing was."""
    found = found_in(asked, own, document_of(asked, own.kind))
    if found is None:
        raise HTTPException(404)
    return found


def found_in(asked: Asked, own: WorkedKind[R], document: Subject) -> Found[R] | None:
    """What was worked out of a document last; None where nothing was that this version can read."""
    stored = newest_result(asked, document)
    result = readable(own.readers().result_of, stored)
    return None if stored is None or result is None else Found(document=document, stored=stored, result=result)


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
