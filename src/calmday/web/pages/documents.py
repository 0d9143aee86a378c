"""Documents of any kind: begun, kept box by box, given files, marked void, worked out. See `web/documents.py`."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, cast

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import Fault, InputError
from calmday.web.addresses import address
from calmday.web.documents import DocumentKind, FileRole, document_kind
from calmday.web.forms import Box
from calmday.web.habits import clean_name
from calmday.web.jobs import wait
from calmday.web.pages.common import go, subject, vehicle_of, when
from calmday.web.pages.entering import boxes, current_texts, missing_words
from calmday.web.pages.long_work import PATIENCE_S
from calmday.web.pages.saving import Kept, keep_form
from calmday.web.vehicle_history import label_of

if TYPE_CHECKING:
    from calmday.logbook.records import Kind, StoredResult, Subject, Value
    from calmday.web.asked import Asked
    from calmday.web.fields import Group


class HeldFile(msgspec.Struct, frozen=True, kw_only=True):
    """A file of a document."""

    id: str
    name: str
    told: str


class FilesView(msgspec.Struct, frozen=True, kw_only=True):
    """The files of one role, and the form that adds to them."""

    role: str
    title: str
    lead: str
    accept: str
    held: tuple[HeldFile, ...]


class GroupView(msgspec.Struct, frozen=True, kw_only=True):
    """Boxes under one heading; `folded` away until somebody has something to say there."""

    title: str
    lead: str
    boxes: tuple[Box, ...]
    folded: bool = False


class FormView(msgspec.Struct, frozen=True, kw_only=True):
    """A document as its page shows it to be filled in; drawn by the macro `document` (`pieces.document(form)`)."""

    id: str
    name: str
    action: str
    save: str
    groups: tuple[GroupView, ...]
    faults: tuple[tuple[str, str], ...]
    files: tuple[FilesView, ...]
    file_faults: tuple[str, ...]
    void: str
    task: str


class DocumentLine(msgspec.Struct, frozen=True, kw_only=True):
    """One document in a list; `date` with what was measured before it, where there are several kinds of it."""

    where: str
    name: str
    date: str
    void: bool


def spec_of(kind: str) -> DocumentKind:
    """The description of a kind. Raises 404 where the page keeps none of it."""
    found = document_kind(kind)
    if found is None:
        raise HTTPException(404)
    return found


def document_of(asked: Asked, kind: str) -> Subject:
    """The document in the address, which must be of this kind. Raises 404."""
    return subject(asked, cast("Kind", kind), asked.part("document"))


def any_document(asked: Asked) -> tuple[Subject, DocumentKind]:
    """The document in the address, of whatever kind, and the description of its kind. Raises 404."""
    from calmday.logbook.stamps import is_id  # noqa: PLC0415  (the database layer is loaded by now)

    if not is_id(asked.part("document")):
        raise HTTPException(404)
    try:
        found = asked.desk.book.subject(asked.part("document"))
    except InputError:
        raise HTTPException(404) from None
    return found, spec_of(found.kind)


def documents_of(asked: Asked, kind: str, vehicle_id: str) -> tuple[Subject, ...]:
    """The documents of a kind about a vehicle, oldest first, with their dates."""
    book = asked.desk.book
    keys = ["date", "kind"]
    every = asked.desk.memory.get(book, ("documents", kind), lambda: book.subjects(cast("Kind", kind), keys=keys))
    return tuple(found for found in every if found.parent == vehicle_id)


def lines(spec: DocumentKind, found: Sequence[Subject]) -> tuple[DocumentLine, ...]:
    """Documents as a list shows them, newest first; drawn by the macro `document_list`."""
    return tuple(
        DocumentLine(
            where=address(spec.page, document=each.id),
            name=each.name or f"{spec.words} without a name",
            date=", ".join(
                filter(None, (each.values.get("kind", "") if spec.shown else "", each.values.get("date", "")))
            ),
            void=bool(each.void),
        )
        for each in reversed(found)
    )


def form_view(
    asked: Asked,
    found: Subject,
    spec: DocumentKind,
    *,
    kept: Kept | None = None,
    file_faults: tuple[str, ...] = (),
) -> FormView:
    """The document to be filled in: as it stands, or as `kept` left it with its faults."""
    book = asked.desk.book
    values: Mapping[str, Value] = kept.values if kept is not None else book.values(found.kind, found.id)
    texts = current_texts(values)
    faults = kept.faults if kept is not None else {}
    files = tuple(_files(asked, found, role) for role in spec.files)
    places = {
        f"{each.role}[{n}]"
        for each, role in zip(files, spec.files, strict=True)
        if role.listed
        for n in range(len(each.held))
    }
    keys = texts.keys() | asked.form.keys() | places
    return FormView(
        id=found.id,
        name=found.name or f"{spec.words} without a name",
        action=address(spec.page, document=found.id),
        save=address("save", kind=spec.kind, subject=found.id),
        groups=tuple(
            GroupView(title=group.title, lead=group.lead, boxes=boxes(group.fields, texts, asked.habits, faults))
            for group in (spec.shown(texts) if spec.shown is not None else spec.groups(keys))
        ),
        faults=missing_words(faults, spec.fields(keys)),
        files=files,
        file_faults=file_faults,
        void=found.void,
        task=spec.task,
    )


def _files(asked: Asked, found: Subject, role: FileRole) -> FilesView:
    held = asked.desk.book.files(found.kind, found.id, role.role)
    return FilesView(
        role=role.role,
        title=role.title,
        lead=role.lead,
        accept=role.accept,
        held=tuple(
            HeldFile(id=file.id, name=file.name, told=f"{max(file.size // 1000, 1)} kB, {when(file.at)}")
            for file in held
        ),
    )


def newest_result(asked: Asked, found: Subject) -> StoredResult | None:
    """What was worked out of a document last, whole; None where nothing was."""
    results = asked.desk.book.results(found.id)
    return asked.desk.book.result(results[0].id) if results else None


def newest_words(asked: Asked, found: Sequence[Subject], nothing_yet: str) -> str:
    """The sentence of the newest document that was worked out and counts."""
    usable = [each.id for each in found if not each.void]
    results = asked.desk.book.newest_results(usable) if usable else {}
    newest = next((results[each] for each in reversed(usable) if each in results), None)
    return str(newest.summary["sentence"]) if newest is not None else nothing_yet


def keep_document(asked: Asked, found: Subject, spec: DocumentKind) -> Kept:
    """Keep the form of a document; every text as typed, also one that cannot be used."""
    keys = current_texts(asked.desk.book.values(found.kind, found.id)).keys() | asked.form.keys()
    return keep_form(asked, found.kind, found.id, spec.fields(keys))


# --- what every kind answers alike


def document_new(asked: Asked) -> Response:
    """Begin a document about a vehicle; what was chosen on the way here stands in its boxes."""
    import datetime as dt  # noqa: PLC0415

    vehicle, spec = vehicle_of(asked), spec_of(asked.part("kind"))
    now = dt.datetime.now().astimezone()
    today, offset = now.date(), now.strftime("%z")
    fields = spec.fields(())
    offered = {field.key: dict(field.choices) for field in fields if field.kind == "choice"}
    chosen = {key: text for key, text in asked.form.items() if text in offered.get(key, ())}
    words = chosen.get("kind", "").capitalize() or spec.words
    made = asked.desk.book.create(
        cast("Kind", spec.kind),
        f"{words} of {today.day} {today:%B}",
        vehicle.id,
        by=asked.habits.by,
        device=asked.device,
    )
    said = {"date": today.isoformat(), "timezone": f"{offset[:3]}:{offset[3:5]}"}
    known = {key: text for key, text in said.items() if any(field.key == key for field in fields)} | chosen
    if known:
        asked.desk.book.write(cast("Kind", spec.kind), made, known, asked.habits.by, asked.device)
    return go(spec.page, document=made, done="begun")


def document_file(asked: Asked) -> Response:
    """Keep files that can be used with a document; say of each other why not."""
    found, spec = any_document(asked)
    role = next((role for role in spec.files if role.role == asked.form.get("role")), None)
    if role is None:
        raise HTTPException(404)
    if not asked.files:
        raise InputError.one("form", "file", "is not chosen", "choose the file first, then keep it")
    faults: list[Fault] = []
    for _, upload in asked.files:
        name = upload.filename or "file"
        upload.file.seek(0)
        data = upload.file.read(role.most + 1)
        try:
            if len(data) > role.most:
                raise InputError.one(name, "file", "is too large", f"at most {role.most // 1_000_000} MB")
            role.judge(name, data)
            asked.desk.book.attach(found.kind, found.id, role.role, name, data, by=asked.habits.by, device=asked.device)
        except InputError as error:
            faults += error.faults[:3]
    if faults:
        raise InputError(faults)
    return go(spec.page, document=found.id, done="kept")


def document_file_remove(asked: Asked) -> Response:
    """Take a file away from a document; its bytes stay."""
    found, spec = any_document(asked)
    try:
        asked.desk.book.detach(found.kind, found.id, asked.form.get("file", ""), by=asked.habits.by)
    except InputError:
        raise HTTPException(404) from None
    return go(spec.page, document=found.id, done="taken")


def document_void(asked: Asked) -> Response:
    """Mark a document void with the reason; without one, let a void document count again."""
    found, spec = any_document(asked)
    reason = clean_name(asked.form.get("reason", ""))
    if not reason and not found.void:
        raise InputError.one("form", "reason", "is empty", "why it must not be used, in a few words")
    asked.desk.book.void(found.id, reason or None, asked.habits.by)
    return go(spec.page, document=found.id, done="void" if reason else "counts")


def document_work(asked: Asked) -> Response:
    """Work a document out, and show its page where that is quick."""
    found, spec = any_document(asked)
    if not spec.task:
        raise HTTPException(404)
    job = asked.desk.jobs.start(found.id, spec.task)
    if wait(job, PATIENCE_S):
        return go(spec.page, document=found.id)
    return go("job", job=job.id)


def failed_words(asked: Asked, found: Subject, spec: DocumentKind) -> tuple[str, ...]:
    """Why the last attempt to work a document out failed; empty where it did not."""
    job = asked.desk.jobs.last_of(found.id, spec.task)
    if job is None or job.state != "failed":
        return ()
    return words_on_a_page(asked, found, spec, job.faults)


def words_on_a_page(
    asked: Asked, found: Subject, spec: DocumentKind, faults: Iterable[tuple[str, str]]
) -> tuple[str, ...]:
    """Faults as key and words, in the words of the boxes of a document."""
    groups = spec.groups(asked.desk.book.values(found.kind, found.id))
    return tuple(_said_on_a_page(groups, key, words) for key, words in faults)


def _said_on_a_page(groups: Iterable[Group], key: str, words: str) -> str:
    """What a reader of files misses or finds wrong, in the words of the boxes."""
    if key in MISSED and words.startswith(tuple(f"{key}: It {wrong}" for wrong in WRONG_HERE)):
        return MISSED[key]
    start = f"{key}: "
    if not words.startswith(start):
        return words
    named = next(
        (f"{group.title}, {each.label}" for group in groups for each in group.fields if each.key == key),
        _on_the_build_sheet(key),
    )
    return f"{named}{' ' if named.endswith('?') else ': '}{words.removeprefix(start)}"


def _on_the_build_sheet(key: str) -> str:
    """What a key of the build sheet is called there; another key as it is."""
    label = label_of(key)
    return key if label == key else f"On the build sheet, {label}"


WRONG_HERE: Final = ("is missing", "has no run that counts", "has fewer than two runs that count", "is given for some")
"""What a reader says of a whole part of a file, where the page has words of its own for it."""

MISSED: Final[dict[str, str]] = {
    "pull": "Keep the recording of a pull first; or give a hill its gear, its length and the times by hand.",
    "pass": "Keep the recording of at least one roll in neutral first.",
    "lap_length": "Give the length of a lap, or keep a track of the route.",
    "baseline": "Before the change there is no run that counts: say it of at least one.",
    "changed": "After the change there is no run that counts: say it of at least one.",
    "run": "Two runs that count are needed at the least: say of each on which side it stands.",
    "run.control": "What the other vehicle used is known of some runs only: give it for every run that is part of it, "
    "or for none.",
    "run.setting": "A setting is given for some runs only: give it for every run that is part of it, or for none.",
    "recording": "Keep the recording of the engine first.",
    "picture": "Keep the picture of the chart first.",
    "mark": "Mark two places on the engine speed axis and two on another axis.",
    "curve": "Point at one curve at least.",
}
"""By the part of a file that is missing: what to do on the page."""
