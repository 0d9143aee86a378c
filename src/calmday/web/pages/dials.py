"""Do the dials tell the truth? Speedometer, odometer, fuel gauge, and what a change will do to them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.dials_sheet import dials_sheet
from calmday.reports.json_result import json_result
from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.forms import fault_words
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    FormView,
    document_of,
    documents_of,
    form_view,
    keep_document,
    lines,
    spec_of,
    words_on_a_page,
)
from calmday.web.pages.worked import Listing, ListingPage
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.procedures.dials_result import DialsResult
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

CHARTS = ("speedometer", "fuel-gauge")
NOTHING_YET = "Read the speedometer against a receiver, the odometer over a known way, the gauge while you fill."


class DialCheckPage(Context, frozen=True, kw_only=True):
    """One set of readings: what it says, and what was written down. `failed` why it says nothing yet."""

    template: ClassVar[str] = "dial_check.html"
    sentence: str
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    keeps: bool
    form: FormView


def dials(asked: Asked) -> Response:
    """The readings of a vehicle's dials."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, "dials", vehicle.id)
    listing = Listing(
        sentence=_newest_words(asked, found),
        kind="dials",
        how="How it is done",
        steps=(
            "Speedometer: hold three steady speeds or more, ten seconds each. The passenger reads dial and receiver at "
            "the same moment.",
            "Odometer: ten kilometres and more, tyres warm, there and back. Note it at both ends, and the receiver’s "
            "distance.",
            "Fuel gauge: drain the tank, fill in steps of a known amount, note the needle after each.",
        ),
        caution="The driver drives. Stay within the limit by the receiver until you know better, and let somebody else "
        "read and write. Fuel outside, engine off, an extinguisher at hand.",
        heading="Readings",
        begin="Write down readings",
        found=lines(spec_of("dials"), found),
    )
    head = frame(asked, "Do the dials tell the truth?", tab="dials", vehicle=vehicle)
    return page(ListingPage(frame=head, listing=listing))


def _newest_words(asked: Asked, found: tuple[Subject, ...]) -> str:
    for each in reversed(found):
        if not each.void:
            result, _ = _result(asked, each)
            return result.sentence if result is not None else NOTHING_YET
    return NOTHING_YET


def dial_check(asked: Asked) -> Response:
    """One set of readings, to fill in and to read."""
    found, spec = document_of(asked, "dials"), spec_of("dials")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("dial_check", document=found.id, done="saved")
    return _page(asked, found)


def _result(asked: Asked, found: Subject) -> tuple[DialsResult | None, tuple[str, ...]]:
    """What the readings say, or why they say nothing yet."""
    from calmday.operations.logbook import check_dials_logged  # noqa: PLC0415  (with the database layer)

    try:
        return check_dials_logged(asked.desk.book, found.id), ()
    except InputError as error:
        told = tuple((fault.key, f"{fault.key}: {fault_words(fault.wrong, fault.right)}") for fault in error.faults[:8])
        return None, words_on_a_page(asked, found, spec_of("dials"), told)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    result, failed = _result(asked, found)
    shown = dials_sheet(result) if result is not None else None
    begun = any("and everything else is missing" in line for line in failed)
    return page(
        DialCheckPage(
            frame=frame(asked, found.name or "Dials without a name", tab="dials", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else NOTHING_YET,
            failed=() if begun else failed,
            charts=_charts(found, result) if result is not None else (),
            blocks=blocks_of(shown) if shown is not None else (),
            json=address("dials_json", document=found.id) if result is not None else "",
            keeps=result is not None and result.odometer is not None and not result.odometer.ended_by,
            form=form_view(asked, found, spec_of("dials"), kept=kept),
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _chart(name: str, result: DialsResult) -> Chart | None:
    from calmday.reports.charts.dials import fuel_gauge_chart, speedometer_chart  # noqa: PLC0415  (needs numpy)

    return speedometer_chart(result) if name == "speedometer" else fuel_gauge_chart(result)


def _charts(found: Subject, result: DialsResult) -> tuple[ChartView, ...]:
    views = []
    for name in CHARTS:
        chart = _chart(name, result)
        if chart is not None:
            view = chart_view(chart)
            taken = pictures_to_take(view.title, partial(_picture, found.id, name))
            views.append(msgspec.structs.replace(view, downloads=taken))
    return tuple(views)


def _picture(document: str, chart: str, form: str) -> str:
    return address("dial_chart", document=document, chart=chart, form=form)


def dials_json(asked: Asked) -> Response:
    """The result as `calmday dials --json` prints it."""
    result, _ = _result(asked, document_of(asked, "dials"))
    if result is None:
        raise HTTPException(404)
    return Response(json_result(result), media_type="application/json")


def dial_chart(asked: Asked) -> Response:
    """A picture of a dial to take along."""
    result, _ = _result(asked, document_of(asked, "dials"))
    if result is None or asked.part("chart") not in CHARTS:
        raise HTTPException(404)
    chart = _chart(asked.part("chart"), result)
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))


def dial_factor(asked: Asked) -> Response:
    """Keep the odometer's factor for runs to point to."""
    from calmday.operations.logbook import keep_factor  # noqa: PLC0415

    found = document_of(asked, "dials")
    keep_factor(asked.desk.book, found.id, asked.habits.by, asked.device)
    return go("dial_check", document=found.id, done="kept")
