"""Every entry about a vehicle, a run or another document; corrections; void runs."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING, ClassVar, Final, cast

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.web.addresses import address
from calmday.web.as_read import as_read
from calmday.web.documents import document_kind
from calmday.web.fields import Field, field
from calmday.web.forms import Box, box, box_id, fault_words, texts_of_form
from calmday.web.habits import clean_name
from calmday.web.judging import faults_of_values
from calmday.web.pages.common import frame, go, run_of, subject, who
from calmday.web.render import Context, Frame, page
from calmday.web.run_fields import run_fields
from calmday.web.vehicle_fields import build_fields
from calmday.web.vehicle_history import label_of

if TYPE_CHECKING:
    from calmday.logbook.records import Entry, Kind, Subject
    from calmday.web.asked import Asked

AT_ONCE: Final = 200
WHY = field("why", "Why?", "Stands beside it for good.", kind="text", room=30, example="read it wrongly: 12 for 21")
REASON = field(
    "reason",
    "Why must it not be used?",
    "Stands on the run for good.",
    kind="text",
    room=40,
    example="return hose was in the main tank",
)
OWN_KEYS: Final = {"@void": "Void", "@note": "Note", "@link.vehicle": "Belongs to a vehicle"}


class EntryLine(msgspec.Struct, frozen=True, kw_only=True):
    """One entry. `stands` whether it is the newest of its field; `where` the form to correct it."""

    what: str
    text: str
    who: str
    why: str
    stands: bool
    where: str


class HistoryPage(Context, frozen=True, kw_only=True):
    """All entries, newest first; the form for one correction where a field was chosen."""

    template: ClassVar[str] = "history.html"
    kind: str
    subject: str
    name: str
    entries: tuple[EntryLine, ...]
    older: str
    one_key: str
    one_label: str
    correct_value: Box | None
    correct_why: Box | None
    faults: tuple[tuple[str, str], ...]


class VoidPage(Context, frozen=True, kw_only=True):
    """Whether a run counts."""

    template: ClassVar[str] = "void.html"
    void: str
    reason: Box
    faults: tuple[tuple[str, str], ...]


def history(asked: Asked) -> Response:
    """Every entry of a vehicle or a run."""
    return _page(asked, _subject(asked), asked.query("key"), {})


def correct(asked: Asked) -> Response:
    """Write a correction with its reason."""
    found = _subject(asked)
    key = asked.form.get("key", "")
    known = _field_of(found.kind, key)
    if known is None:
        raise HTTPException(404)
    why = clean_name(asked.form.get("why", ""))
    text = texts_of_form([known], asked.form, asked.habits).get(known.key)
    faults: dict[str, tuple[str, str]] = {}
    if not why:
        faults["why"] = ("is empty", "the reason for the correction, in a few words")
    values = asked.desk.book.values(found.kind, found.id)
    if text is not None:
        from calmday.logbook.records import Value  # noqa: PLC0415

        tried = {**values, key: Value(id="z", text=text, form="typed", at="", by="")}
        fault = faults_of_values(found.kind, tried).get(key)
        if fault is not None:
            faults[key] = fault
    if faults:
        return _page(asked, found, key, faults)
    asked.desk.book.write(found.kind, found.id, {key: text}, asked.habits.by, asked.device, why)
    return go("history", kind=found.kind, subject=found.id, done="corrected")


def void(asked: Asked) -> Response:
    """Mark a run as not to be used, or take that back."""
    run = run_of(asked)
    fault = ("", "")
    if asked.posted:
        reason = clean_name(asked.form.get("reason", ""))
        if asked.form.get("go") == "back":
            asked.desk.book.void(run.id, None, asked.habits.by)
            return go("day", run=run.id, done="counts")
        if reason:
            asked.desk.book.void(run.id, reason, asked.habits.by)
            return go("day", run=run.id, done="void")
        fault = ("is empty", "the reason, in a few words")
    shown = VoidPage(
        frame=frame(asked, "Void", tab="day", run=run),
        void=run.void,
        reason=box(REASON, asked.form.get("reason"), asked.habits, fault),
        faults=((box_id("reason"), f"The reason {fault[0]}: {fault[1]}."),) if fault[0] else (),
    )
    return page(shown, 422 if fault[0] else 200)


def _subject(asked: Asked) -> Subject:
    kind = asked.part("kind")
    if kind not in ("vehicle", "run") and document_kind(kind) is None:
        raise HTTPException(404)
    return subject(asked, cast("Kind", kind), asked.part("subject"))


def _field_of(kind: str, key: str) -> Field | None:
    """A field that can be corrected on its own: those that the page knows, and places in its lists."""
    spec = document_kind(kind)
    known = _known(kind) if spec is None else {each.key: each for each in spec.fields([key])}
    if key in known:
        return None if known[key].listed else known[key]
    start, _, place = key.rpartition("[")
    each = known.get(start)
    if each is None or not each.listed or not place.removesuffix("]").isdecimal():
        return None
    return field(key, label_of(key) if kind == "vehicle" else each.label, kind="text", room=40)


@cache
def _known(kind: str) -> dict[str, Field]:
    return {each.key: each for each in (build_fields() if kind == "vehicle" else run_fields(40))}


_PARTS = (
    (re.compile(r"prediction\[(\d+)\]\.by"), "Guess {}, who"),
    (re.compile(r"prediction\[(\d+)\]\.value"), "Guess {}"),
    (re.compile(r"weighing\[(\d+)\]\.when"), "Weighing {}, before or after"),
    (re.compile(r"weighing\[(\d+)\]\.tare"), "Weighing {}, empty can"),
    (re.compile(r"track\[(\d+)\]"), "Track {}"),
    (re.compile(r"weather\.metar\[(\d+)\]"), "Airfield report {}"),
)
_GROSS = re.compile(r"weighing\[(\d+)\]\.gross\[(\d+)\]")


def words_of(kind: str, key: str) -> str:
    """A key in words, the logbook’s own too."""
    if key.startswith("@"):
        return OWN_KEYS.get(key) or {"@file": "File", "@guess": "Guess opened"}.get(
            key.split(".", maxsplit=1)[0], "Kept by the logbook"
        )
    gross = _GROSS.fullmatch(key)
    if gross:
        return f"Weighing {int(gross[1]) + 1}, reading {int(gross[2]) + 1}"
    for pattern, words in _PARTS:
        found = pattern.fullmatch(key)
        if found:
            return words.format(int(found[1]) + 1)
    known = _field_of(kind, key)
    return known.label if known is not None else label_of(key)


def _page(asked: Asked, found: Subject, key: str, faults: dict[str, tuple[str, str]]) -> Response:
    every = asked.desk.book.history(found.kind, found.id)
    newest = {entry.key: entry.id for entry in every}
    before = asked.query("before")
    shown = [entry for entry in reversed(every) if not before or entry.id < before]
    known = _field_of(found.kind, key) if key else None
    posted = texts_of_form([known], asked.form, asked.habits).get(key) if known and asked.posted else None
    standing = posted or next((entry.text or "" for entry in reversed(every) if entry.key == key), "")
    context = HistoryPage(
        frame=_frame(asked, found),
        kind=found.kind,
        subject=found.id,
        name=found.name,
        entries=tuple(_line(found, entry, newest) for entry in shown[:AT_ONCE]),
        older=address("history", kind=found.kind, subject=found.id, before=shown[AT_ONCE - 1].id)
        if len(shown) > AT_ONCE
        else "",
        one_key=key if known else "",
        one_label=known.label if known else "",
        correct_value=box(known, standing, asked.habits, faults.get(key, ("", ""))) if known else None,
        correct_why=box(WHY, asked.form.get("why"), asked.habits, faults.get("why", ("", ""))) if known else None,
        faults=tuple(
            (
                box_id(at),
                f"{'Why' if at == 'why' else known.label if known else at}: {fault_words(wrong, right)}",
            )
            for at, (wrong, right) in faults.items()
        ),
    )
    return page(context, 422 if faults else 200)


def _frame(asked: Asked, found: Subject) -> Frame:
    if found.kind == "run":
        return frame(asked, "Every entry", tab="day", run=found)
    if found.kind == "vehicle":
        return frame(asked, "Every entry", tab="build", vehicle=found)
    spec = document_kind(found.kind)
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    return frame(asked, "Every entry", tab=spec.home if spec is not None else "", vehicle=vehicle)


def _line(found: Subject, entry: Entry, newest: dict[str, str]) -> EntryLine:
    stands = newest[entry.key] == entry.id or entry.key == "@note"
    correctable = stands and _field_of(found.kind, entry.key) is not None
    return EntryLine(
        what=words_of(found.kind, entry.key),
        text=_told(found.kind, entry),
        who=who(entry.by, entry.at, entry.device),
        why=entry.why,
        stands=stands,
        where=address("history", kind=found.kind, subject=found.id, key=entry.key) if correctable else "",
    )


def _told(kind: str, entry: Entry) -> str:
    if entry.text is None:
        return "cleared"
    if entry.key.startswith("@link."):
        return "linked"
    if entry.key.startswith("@") and entry.text.startswith("{"):
        try:
            return str(msgspec.json.decode(entry.text).get("name", ""))
        except (msgspec.DecodeError, AttributeError):
            return "file"
    return text_of(kind, entry.key, entry.text)


def text_of(kind: str, key: str, text: str) -> str:
    """An entry as a person reads it."""
    return as_read(text, _field_of(kind, key))
