"""Keeping fields: one by one as they are typed, or a whole form; and correcting what stands, with a reason."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, cast

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, Response

from calmday.web.documents import document_kind
from calmday.web.fields import Field
from calmday.web.forms import fault_words
from calmday.web.judging import faults_of_values
from calmday.web.pages.common import subject
from calmday.web.pages.entering import current_texts, entries_of_form, fault_of
from calmday.web.run_fields import run_fields
from calmday.web.vehicle_fields import build_fields

if TYPE_CHECKING:
    from calmday.logbook.records import Kind, Value
    from calmday.web.asked import Asked

LATE_S = 60
"""From this delay on an entry says when it was typed: it waited on a device without a connection."""


class Kept:
    """What stands after keeping a form: values, and what the readers say about the fields that the form held."""

    def __init__(self, values: Mapping[str, Value], faults: dict[str, tuple[str, str]]) -> None:
        self.values = values
        self.texts = current_texts(values)
        self.faults = faults


def keep_form(asked: Asked, kind: Kind, subject_id: str, fields: Iterable[Field]) -> Kept:
    """Write what the form changes; every text is kept as typed, also one that cannot be used."""
    book = asked.desk.book
    known = [field for field in fields if field.key in asked.form]
    values = book.values(kind, subject_id)
    changes = entries_of_form(asked, known, current_texts(values))
    if changes:
        book.write(kind, subject_id, changes, asked.habits.by, device=asked.device + _typed_at(asked))
        values = book.values(kind, subject_id)
    every = faults_of_values(kind, values)
    found = {field.key: fault for field in known if (fault := fault_of(field, every))[0]}
    return Kept(values, found)


def save(asked: Asked) -> Response:
    """Keep a field as it is typed; the answer says what is wrong with it, if anything."""
    kind = asked.part("kind")
    spec = document_kind(kind)
    if spec is None and kind not in ("vehicle", "run"):
        raise HTTPException(404)
    found = subject(asked, cast("Kind", kind), asked.part("subject"))
    if spec is not None:
        fields = spec.fields(asked.desk.book.values(found.kind, found.id).keys() | asked.form.keys())
    else:
        fields = build_fields() if kind == "vehicle" else run_fields(_weighings(asked.form))
    kept = keep_form(asked, found.kind, found.id, fields)
    words = {key: fault_words(wrong, right) for key, (wrong, right) in kept.faults.items()}
    return JSONResponse({"faults": words})


def _weighings(form: Mapping[str, str]) -> int:
    """How many weighings the form knows of."""
    places = [key[len("weighing[") :].split("]")[0] for key in form if key.startswith("weighing[")]
    return max((int(place) + 1 for place in places if place.isdecimal() and len(place) < 3), default=2)


def _typed_at(asked: Asked) -> str:
    """When a late entry was typed, as the device says; nothing where it came at once."""
    try:
        typed = dt.datetime.fromisoformat(asked.form.get("~typed", ""))
    except ValueError:
        return ""
    if typed.tzinfo is None or (dt.datetime.now(dt.UTC) - typed).total_seconds() < LATE_S:
        return ""
    return f", typed {typed.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"
