"""What does it cost? What do others say? How is it set? Which change first? Documents, each with its sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar, Final

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.reports.fuel_cautions import UNTAXED
from calmday.reports.json_result import json_result
from calmday.reports.sheet import Prose
from calmday.web.addresses import address
from calmday.web.forms import fault_words
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    DocumentLine,
    FormView,
    document_of,
    documents_of,
    form_view,
    keep_document,
    lines,
    spec_of,
)
from calmday.web.pages.what_if import drawn_vehicle
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.reports.sheet import Sheet
    from calmday.web.asked import Asked

MOST_FAULTS = 12
PUT_RIGHT = "put this right below."


class Question(msgspec.Struct, frozen=True):
    """One question: its words, what one document is called in a button, and a sentence about it. `first` what an empty
    document asks for, `needed` the parts it cannot do without, `all` the way back, `caution` where work can hurt."""

    words: str
    begin: str
    about: str
    first: str
    needed: tuple[str, ...]
    all: str
    caution: str = ""


QUESTIONS: Final[dict[str, Question]] = {
    "price": Question(
        "What does it cost?",
        "Begin a cost sheet",
        "Prices and exchange rates as you read them, each with its day: what a distance costs, at which price gap "
        "another fuel is as cheap, and when the swap has paid for itself. A price that changes is a new entry; the old "
        "one stays in the history.",
        "begin with one use and one price: what it uses, and what the fuel costs.",
        ("use", "price"),
        "All cost sheets",
        UNTAXED,
    ),
    "published": Question(
        "What do others say?",
        "Write down a published figure",
        "A label, a brochure, a road test: taken apart by its rule and held beside your newest drive by naming every "
        "difference. Nothing is scored.",
        "begin with one figure, as it is printed, and its unit.",
        ("value",),
        "All published figures",
    ),
    "setting": Question(
        "How is it set?",
        "Begin a settings log",
        "What was it set at before you touched it? Which screw, which way, how far, from where. Millimetres become "
        "degrees only by your own pump’s lift curve, and limits are yours alone.",
        "begin with one visit: what was found, before anybody touched it.",
        ("setting",),
        "All settings logs",
        "Engine off and cold before anything is turned; stands, not a jack alone, before anybody goes under. Never "
        "feel for a leak on an injection line: the jet goes through skin, and such an injury is for the hospital "
        "at once. Fuel that is spilt is wiped up before the engine runs.",
    ),
    "whatif": Question(
        "What if?",
        "Begin a list of changes",
        "Changes with their price and hours, ranked; and what a whole year of your driving takes, as it is and with "
        "them. None of it has to be made to be asked about.",
        "begin with a change: what, and by how much.",
        ("change",),
        "Back to the sliders",
        "Tyres only within the pressures on their side and on the plate of the vehicle. Stands, not a jack alone, "
        "before anybody goes under. Whether a change must be inspected, the law where you live says.",
    ),
}


class LedgerPage(Context, frozen=True, kw_only=True):
    """The documents of one kind about a vehicle, and the sentence of the newest."""

    template: ClassVar[str] = "ledger.html"
    question: str
    about: str
    caution: str
    sentence: str
    kind: str
    begin: str
    documents: tuple[DocumentLine, ...]


class LedgerEntryPage(Context, frozen=True, kw_only=True):
    """One document: its sheet, or why there is none yet, and its boxes. `take` where a figure can be taken from."""

    template: ClassVar[str] = "ledger_entry.html"
    question: str
    sentence: str
    begin: str
    caution: str
    faults: tuple[str, ...]
    blocks: tuple[BlockView, ...]
    form: FormView
    kind: str
    home: str
    all_words: str
    json: str
    take: str
    take_words: str


def cost(asked: Asked) -> Response:
    """What does it cost? The cost sheets of a vehicle."""
    return _list(asked, "price")


def cost_of(asked: Asked) -> Response:
    """One cost sheet, to be read and filled in."""
    return _one(asked, "price")


def published(asked: Asked) -> Response:
    """What do others say? The published figures beside a vehicle."""
    return _list(asked, "published")


def published_of(asked: Asked) -> Response:
    """One published figure, to be read and filled in."""
    return _one(asked, "published")


def settings_log(asked: Asked) -> Response:
    """How is it set? The settings logs of a vehicle."""
    return _list(asked, "setting")


def settings_of(asked: Asked) -> Response:
    """One settings log, to be read and filled in."""
    return _one(asked, "setting")


def what_if_of(asked: Asked) -> Response:
    """Which change first, and what a whole year takes: one list of changes, to be read and filled in."""
    return _one(asked, "whatif")


def ledger_json(asked: Asked) -> Response:
    """The result of a document as the command prints it. 404 where it cannot be worked out."""
    kind = asked.part("kind")
    if kind not in QUESTIONS:
        raise HTTPException(404)
    try:
        result, _ = _worked(asked, document_of(asked, kind))
    except InputError:
        raise HTTPException(404) from None
    return Response(
        json_result(result),
        media_type="application/json",
        headers={"Content-Disposition": f'attachment; filename="{kind}.json"'},
    )


def cost_take(asked: Asked) -> Response:
    """Write the vehicle's newest calm-day figure into the first use without one."""
    from calmday.operations.logbook import newest_figure  # noqa: PLC0415  (with the database layer)

    found = document_of(asked, "price")
    taken = newest_figure(asked.desk.book, found.parent)
    if taken is None:
        raise InputError.one("form", "figure", "is not there yet", "a weighed run that has been worked out")
    figure, fuel, label = taken
    values = asked.desk.book.values("price", found.id)
    place = next(i for i in range(12) if f"use[{i}].consumption.value" not in values)
    changes = {
        f"use[{place}].consumption.value": f"{figure.value:.3f} L/100km",
        f"use[{place}].consumption.pm": f"{100 * figure.half_width / figure.value:.2f} %",
    }
    if f"use[{place}].name" not in values:
        changes[f"use[{place}].name"] = label
    if fuel and f"use[{place}].fuel" not in values:
        changes[f"use[{place}].fuel"] = fuel
    book = asked.desk.book
    book.write("price", found.id, changes, asked.habits.by, asked.device, why=f"taken from the run {label}")
    return go("cost_of", document=found.id, done="kept")


def _list(asked: Asked, kind: str) -> Response:
    vehicle = vehicle_of(asked)
    spec, question = spec_of(kind), QUESTIONS[kind]
    found = documents_of(asked, kind, vehicle.id)
    standing = [each for each in found if not each.void]
    sentence = ""
    if standing:
        try:
            sentence = _worked(asked, standing[-1])[1].lead
        except InputError:
            sentence = ""
    return page(
        LedgerPage(
            frame=frame(asked, question.words, tab=spec.home, vehicle=vehicle),
            question=question.words,
            about=question.about,
            caution=question.caution,
            sentence=sentence,
            kind=kind,
            begin=question.begin,
            documents=lines(spec, found),
        )
    )


def _one(asked: Asked, kind: str) -> Response:
    found, spec = document_of(asked, kind), spec_of(kind)
    kept = keep_document(asked, found, spec) if asked.posted else None
    if kept is not None and not kept.faults:
        return go(spec.page, document=found.id, done="saved")
    question = QUESTIONS[kind]
    form = form_view(asked, found, spec, kept=kept)
    shown: Sheet | None = None
    faults: tuple[str, ...] = ()
    begin = ""
    try:
        shown = _worked(asked, found)[1]
    except InputError as error:
        told = [each for each in error.faults if not (each.key in question.needed and each.wrong == "is missing")]
        called = {box.field.key: f"{group.title}, {box.field.label}" for group in form.groups for box in group.boxes}
        faults = tuple(
            f"{called.get(each.key, each.key)}: {fault_words(each.wrong, each.right)}" for each in told[:MOST_FAULTS]
        )
        begin = question.first if len(told) < len(error.faults) else PUT_RIGHT
        begin = f"It cannot be worked out yet: {begin}"
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    takes = kind == "price" and vehicle is not None
    return page(
        LedgerEntryPage(
            frame=frame(asked, f"{question.words} {found.name}", tab=spec.home, vehicle=vehicle, wide=True),
            question=question.words,
            sentence=shown.lead if shown is not None else "",
            begin=begin,
            caution=question.caution,
            faults=faults,
            blocks=_without(question.caution, blocks_of(shown)) if shown is not None else (),
            form=form,
            kind=kind,
            home=address(spec.home, vehicle=found.parent) if found.parent else address("home"),
            all_words=question.all,
            json=address("ledger_json", kind=kind, document=found.id) if shown is not None else "",
            take=address("cost_take", document=found.id) if takes else "",
            take_words="Take the newest calm-day figure of this vehicle" if takes else "",
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _without(caution: str, blocks: tuple[BlockView, ...]) -> tuple[BlockView, ...]:
    """The blocks but the one that says only what stands beside the boxes."""
    return tuple(each for each in blocks if not isinstance(each.block, Prose) or each.block.lines != (caution,))


def _worked(asked: Asked, found: Subject) -> tuple[Any, Sheet]:
    """Result and sheet of a document. Raises InputError with every fault."""
    return _WORK[found.kind](asked, found)


def _cost(asked: Asked, found: Subject) -> tuple[Any, Sheet]:
    from calmday.operations.logbook import cost_logged  # noqa: PLC0415  (with the database layer)
    from calmday.reports.cost_sheet import cost_sheet  # noqa: PLC0415

    result = cost_logged(asked.desk.book, found.id)
    return result, cost_sheet(result)


def _published(asked: Asked, found: Subject) -> tuple[Any, Sheet]:
    from calmday.operations.logbook import published_logged  # noqa: PLC0415
    from calmday.reports.published_sheet import published_sheet  # noqa: PLC0415

    result = published_logged(asked.desk.book, found.id, found.parent)
    return result, published_sheet(result)


def _settings(asked: Asked, found: Subject) -> tuple[Any, Sheet]:
    from calmday.operations.logbook import settings_logged  # noqa: PLC0415
    from calmday.reports.settings_sheet import settings_sheet  # noqa: PLC0415

    result = settings_logged(asked.desk.book, found.id)
    return result, settings_sheet(result)


def _what_if(asked: Asked, found: Subject) -> tuple[Any, Sheet]:
    from calmday.operations.logbook import what_if_logged  # noqa: PLC0415  (with the model)
    from calmday.reports.what_if_sheet import what_if_sheet  # noqa: PLC0415

    result = what_if_logged(asked.desk.book, found.id, lambda named: drawn_vehicle(asked, found.parent, named))
    return result, what_if_sheet(result)


_WORK: Final[dict[str, Callable[[Asked, Subject], tuple[Any, Sheet]]]] = {
    "price": _cost,
    "published": _published,
    "setting": _settings,
    "whatif": _what_if,
}
