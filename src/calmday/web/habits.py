"""What a person has chosen once: units, decimal sign, look, and the name that stands beside their entries."""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import quote, unquote

import msgspec
from starlette.requests import Request

UNIT_HABITS: Final = (
    ("metric", "Kilometres, kilograms, bar"),
    ("imperial", "Miles, imperial gallons, psi"),
    ("us", "Miles, US gallons, °F"),
)
LOOKS: Final = (("device", "As this device has it"), ("light", "Light: for sunlight"), ("dark", "Dark: for the night"))
SIGNS: Final = ((".", "12.885 (point)"), (",", "12,885 (comma)"))
COOKIE: Final = "calmday_habits"
_COMMA_LANGUAGES: Final = frozenset(
    (
        *("bg", "ca", "cs", "da", "de", "el", "es", "et", "fi", "fr", "hr", "hu", "it", "lt", "lv"),
        *("nb", "nl", "nn", "no", "pl", "pt", "ro", "ru", "sk", "sl", "sr", "sv", "tr", "uk"),
    )
)
_UNPRINTABLE = re.compile(r"[\x00-\x1f\x7f-\x9f]")


class Habits(msgspec.Struct, frozen=True, kw_only=True):
    """The choices of one person on one device."""

    units: str = "metric"
    look: str = "device"
    decimal: str = "."
    by: str = "me"


def habits_of(request: Request) -> Habits:
    """From the cookie; anything that does not fit is passed over."""
    chosen = dict(part.split("=", 1) for part in request.cookies.get(COOKIE, "").split("&") if "=" in part)
    return Habits(
        units=_one_of(UNIT_HABITS, chosen.get("units"), "metric"),
        look=_one_of(LOOKS, chosen.get("look"), "device"),
        decimal=_one_of(SIGNS, unquote(chosen.get("decimal", "")), _usual_sign(request)),
        by=clean_name(unquote(chosen.get("by", ""))) or "me",
    )


def cookie_of(habits: Habits) -> str:
    """The habits as the value of a cookie."""
    return f"units={habits.units}&look={habits.look}&decimal={quote(habits.decimal)}&by={quote(habits.by, safe='')}"


def clean_name(text: str) -> str:
    """A name on one line, not too long."""
    return _UNPRINTABLE.sub("", text).strip()[:60]


def _one_of(allowed: tuple[tuple[str, str], ...], found: str | None, otherwise: str) -> str:
    return found if found is not None and found in {value for value, _ in allowed} else otherwise


def _usual_sign(request: Request) -> str:
    """The decimal sign usual in the first language that the browser asks for."""
    first = request.headers.get("accept-language", "").split(",")[0].split("-")[0].strip().lower()
    return "," if first in _COMMA_LANGUAGES else "."
