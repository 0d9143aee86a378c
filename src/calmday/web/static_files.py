"""The few files that a page loads, held in memory: a request names one of them or nothing, never a path."""

from __future__ import annotations

import hashlib
from functools import cache
from importlib.resources import files

import msgspec

from calmday.reports.charts.palette import stylesheet
from calmday.reports.shift_card import CARD_STYLE, PAPER_STYLE
from calmday.web.addresses import address

_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml", ".png": "image/png"}


class StaticFile(msgspec.Struct, frozen=True):
    """One file with the digest that stands in its address, so that browsers may keep it for good."""

    content: bytes
    digest: str
    media_type: str


@cache
def static_files() -> dict[str, StaticFile]:
    """All of them by name."""
    found = {}
    for item in files("calmday.web").joinpath("static").iterdir():
        kind = _TYPES.get(item.name[item.name.rfind(".") :])
        if kind is not None:
            found[item.name] = _file(item.read_bytes(), kind)
    found["card.css"] = _file(CARD_STYLE.encode(), "text/css")
    found["paper.css"] = _file(PAPER_STYLE.encode(), "text/css")
    found["charts.css"] = _file(stylesheet().encode(), "text/css")
    return found


def _file(content: bytes, kind: str) -> StaticFile:
    return StaticFile(content, hashlib.sha256(content).hexdigest()[:12], kind)


@cache
def static_address(name: str) -> str:
    """The address of one file. Raises KeyError where there is none of this name."""
    return address("static", digest=static_files()[name].digest, name=name)
