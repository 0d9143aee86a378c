"""From boxes to entries and back, for the build sheet and the order of the day alike."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from calmday.web.fields import Field
from calmday.web.forms import UNIT_BOX, Box, box, box_id, fault_words, texts_of_form

if TYPE_CHECKING:
    from calmday.logbook.records import Value
    from calmday.web.asked import Asked
    from calmday.web.habits import Habits

Texts = Mapping[str, str]
Faults = Mapping[str, tuple[str, str]]
"""By key: what is wrong, what would be right."""

_SPACES = re.compile(r"[\s;]+")
_NUMBERS = re.compile(r"[\s;]+|,\s*")
_TIGHT = re.compile(r"\d,\d")
_WEIGHING = re.compile(r"(weighing\[\d+\])\.(?:gross\[\d+\]|tare)")
MOST_LISTED = 60


def current_texts(values: Mapping[str, Value]) -> dict[str, str]:
    """What the logbook holds now, without what was cleared."""
    return {key: value.text for key, value in values.items() if value.text is not None}


def boxes(
    fields: Iterable[Field], texts: Texts, habits: Habits, faults: Faults | None = None, assumed: Texts | None = None
) -> tuple[Box, ...]:
    """The fields with what the logbook holds for them."""
    found = faults or {}
    told = assumed or {}
    return tuple(
        box(field, shown_text(field, texts, habits), habits, fault_of(field, found), assumed=told.get(field.key, ""))
        for field in fields
    )


def shown_text(field: Field, texts: Texts, habits: Habits) -> str:
    """The text of one box: a list closed up into one text."""
    if not field.listed:
        return texts.get(field.key, "")
    start = field.key + "["
    places = sorted(
        (int(key[len(start) : -1]), key) for key in texts if key.startswith(start) and key[len(start) : -1].isdecimal()
    )
    items = [texts[key] for _, key in places] or ([texts[field.key]] if texts.get(field.key) else [])
    if field.kind == "lines":
        return "\n".join(items)
    if habits.decimal == ",":
        return "; ".join(item.replace(".", ",") for item in items)
    return ", ".join(items)


def fault_of(field: Field, faults: Faults) -> tuple[str, str]:
    """The first fault at this field or within it."""
    for key, fault in faults.items():
        if key == field.key or (field.listed and key.startswith(field.key + "[")):
            return fault
    return "", ""


def entries_of_form(asked: Asked, fields: Iterable[Field], texts: Texts) -> dict[str, str | None]:
    """What the form changes in the logbook, by key; lists spread over their places."""
    changes: dict[str, str | None] = {}
    touched = [field for field in fields if field.key in asked.form and not _as_shown(asked, field, texts)]
    found = texts_of_form(touched, asked.form, asked.habits)
    for field in touched:
        text = found[field.key]
        if field.listed:
            changes |= _spread(field, text, texts, asked.habits)
        elif text != texts.get(field.key):
            changes[field.key] = text
    return changes | _moments(changes, texts)


def _as_shown(asked: Asked, field: Field, texts: Texts) -> bool:
    """Whether the boxes still hold what the page put there: what nobody touched is not written again."""
    shown = box(field, shown_text(field, texts, asked.habits), asked.habits)
    unit = asked.form.get(field.key + UNIT_BOX)
    same_unit = unit is None or unit == shown.unit or not shown.value
    return asked.form[field.key].replace("\r\n", "\n").strip() == shown.value.strip() and same_unit


def _spread(field: Field, text: str | None, texts: Texts, habits: Habits) -> dict[str, str | None]:
    """One text as the items of a list; places that are no longer used are cleared."""
    if field.kind == "lines":
        items = [line.strip() for line in (text or "").split("\n") if line.strip()]
    else:
        items = numbers_in(text or "", habits)
    wanted: dict[str, str | None] = {f"{field.key}[{i}]": item for i, item in enumerate(items[:MOST_LISTED])}
    held = {key for key in texts if key == field.key or key.startswith(field.key + "[")}
    wanted |= dict.fromkeys(held - wanted.keys())
    return {key: item for key, item in wanted.items() if item != texts.get(key)}


def numbers_in(text: str, habits: Habits) -> list[str]:
    """The numbers of one text. Commas part them, or are decimal: where a semicolon parts them, or where this person
    writes so or blanks part them, and no point stands anywhere."""
    parted = habits.decimal == "," or _SPACES.search(text.strip()) is not None
    if ";" in text or (parted and _TIGHT.search(text) and "." not in text):
        return [item.strip(",").replace(",", ".") for item in _SPACES.split(text) if item.strip(",")]
    return [item for item in _NUMBERS.split(text) if item]


def _moments(changes: Mapping[str, str | None], texts: Texts) -> dict[str, str | None]:
    """`when` of each weighing that gets its first reading or loses its last. On the page even places are weighed out
    and odd ones weighed in, so that two devices without a connection agree; what a file brought says it itself."""
    after = {**texts, **changes}
    said: dict[str, str | None] = {}
    for table in {match[1] for key in changes if (match := _WEIGHING.fullmatch(key))}:
        filled = any(text for key, text in after.items() if _WEIGHING.fullmatch(key) and key.startswith(table + "."))
        place = int(table[len("weighing[") : -1])
        usual = "before" if place % 2 == 0 else "after"
        when = texts.get(f"{table}.when")
        if filled and when is None:
            said[f"{table}.when"] = usual
        elif not filled and when is not None:
            said[f"{table}.when"] = None
    return said


def missing_words(faults: Faults, fields: Iterable[Field]) -> tuple[tuple[str, str], ...]:
    """For the list above a form that was not taken: id of the box and what is wrong, in words."""
    found = []
    for field in fields:
        wrong, right = fault_of(field, faults)
        if wrong:
            found.append((box_id(field.key), f"{field.label}: {fault_words(wrong, right)}"))
    return tuple(found)
