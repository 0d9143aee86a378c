"""Between the boxes on a page and the texts of the logbook: number and unit are two boxes there, one text here."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import msgspec

from calmday.errors import Fault
from calmday.web.fields import UNIT_WORDS, UNITS, Field
from calmday.web.habits import Habits

UNIT_BOX = "~unit"
_PURE = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)")
_COMMA_FIGURE = re.compile(r"(?<![\d.,])\d*,\d+(?![\d.,])")
_POINT_FIGURE = re.compile(r"(?<![\d.,])\d*\.\d+(?![\d.,])")
_SPLIT = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+)) (.+)")
_LONGEST = 20_000
_KEPT = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff]")


class Box(msgspec.Struct, frozen=True, kw_only=True):
    """One field as it is shown: what stands in it, and what is wrong with it."""

    field: Field
    id: str
    value: str = ""
    unit: str = ""
    units: tuple[tuple[str, str], ...] = ()
    fault: str = ""
    assumed: str = ""


def box_id(key: str) -> str:
    """The key as an element's id."""
    return "f-" + re.sub(r"[^a-zA-Z0-9]+", "-", key).strip("-")


def fault_words(wrong: str, right: str) -> str:
    """What a reader found, as a sentence: `"38" has no unit` already is one, `is missing` is not."""
    if not wrong:
        return ""
    said = wrong if wrong.startswith(chr(34)) else f"It {wrong}"
    return f"{said}{'' if said.endswith('?') else '.'} Right would be: {right}."


def fault_sentence(fault: Fault) -> str:
    """A fault of a file that was sent, as a sentence: which file, and where in it."""
    place = "" if fault.key in ("file", "folder") else f", {fault.key}"
    return f"{fault.file}{place}: {fault_words(fault.wrong, fault.right)}"


def box(field: Field, text: str | None, habits: Habits, fault: tuple[str, str] = ("", ""), *, assumed: str = "") -> Box:
    """The field with what the logbook holds for it."""
    value, unit = text or "", ""
    offered: tuple[str, ...] = ()
    if field.units:
        offered = UNITS[field.units][habits.units]
        unit = offered[0]
        split = _SPLIT.fullmatch(value)
        if split is not None and split.group(2) in _usual_units(field.units):
            value, unit = split.group(1), split.group(2)
            offered = offered if unit in offered else (*offered, unit)
        elif value:
            offered = ("", *offered)  # a form such as "11 lb 14 oz" holds its own units
            unit = ""
        value = shown_figures(value, habits)
    elif field.kind == "number" or field.figures or field.bare:
        value = shown_figures(value, habits)
    elif field.kind == "time":
        moment = value.replace(" ", "T").rpartition("T")[2]
        value = moment[:5] if moment[5:8] in ("", ":00") else moment[:8]
    return Box(
        field=field,
        id=box_id(field.key),
        value=value,
        unit=unit,
        units=tuple((u, UNIT_WORDS.get(u, u) or "as written") for u in offered),
        fault=fault_words(*fault),
        assumed=assumed,
    )


def _usual_units(row: str) -> frozenset[str]:
    return frozenset(unit for units in UNITS[row].values() for unit in units)


def texts_of_form(fields: Iterable[Field], form: Mapping[str, str], habits: Habits) -> dict[str, str | None]:
    """What the form says about each field it holds, as the interchange files write it; None for an empty box."""
    return {field.key: _text(field, form, habits) for field in fields if field.key in form}


def _text(field: Field, form: Mapping[str, str], habits: Habits) -> str | None:
    typed = _KEPT.sub("", form[field.key][:_LONGEST]).replace("\r", "").strip()
    if not typed:
        return None
    if field.kind in ("number", "quantity") and _PURE.fullmatch(typed):
        typed = _pointed(typed, habits)
        unit = _KEPT.sub("", form.get(field.key + UNIT_BOX, ""))[:30].strip()
        return f"{typed} {unit}".strip() if field.units else typed
    if field.kind == "quantity" or field.figures or field.bare:
        typed = pointed(typed, habits)
    return f"{typed} {field.bare}" if field.bare and _PURE.fullmatch(typed) else typed


def pointed(typed: str, habits: Habits) -> str:
    """A text with a decimal point in every figure that was written with a comma, as a box with a number alone has it:
    "1,62 EUR/L". What may be thousands stays, to be asked about."""
    return _COMMA_FIGURE.sub(lambda found: _pointed(found[0], habits), typed)


def shown_figures(text: str, habits: Habits) -> str:
    """A text of the logbook with the figures in it as this person writes them."""
    return text if habits.decimal == "." else _POINT_FIGURE.sub(lambda found: found[0].replace(".", ","), text)


def _pointed(typed: str, habits: Habits) -> str:
    """The number with a decimal point. A comma that may set off thousands (12,885) stays, to be asked about, unless
    this person writes decimals with it."""
    if "," not in typed:
        return typed
    thousands = len(typed) - typed.index(",") == 4
    return typed if thousands and habits.decimal != "," else typed.replace(",", ".")
