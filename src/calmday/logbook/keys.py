"""Dotted keys as people and readers write them: `weighing[0].gross[1]`, `vehicle."odd key"`.

A part is a name or a place in a list. Names that are not plain words stand in quotes, so that every TOML document has
keys. Keys that start with `@` are the logbook's own and no part of the document.
"""

from __future__ import annotations

import json
import re

from calmday.errors import InputError

Part = str | int
OWN = "@"
LONGEST_KEY = 2000
_PLAIN = re.compile(r"[A-Za-z0-9_-]+")
_PART = re.compile(r'(?P<name>[A-Za-z0-9_-]+)|(?P<quoted>"(?:[^"\\]|\\.)*")|\[(?P<index>\d{1,9})\]')


def joined(parts: tuple[Part, ...]) -> str:
    """The dotted key of a path."""
    key = ""
    for part in parts:
        if isinstance(part, int):
            key += f"[{part}]"
        else:
            name = part if _PLAIN.fullmatch(part) else json.dumps(part)
            key += f".{name}" if key else name
    return key


def parts_of(key: str) -> tuple[Part, ...]:
    """The path of a dotted key. Raises InputError where it is none."""
    parts: list[Part] = []
    at = 0
    while at < len(key) <= LONGEST_KEY:
        dotted = key[at] == "."
        found = _PART.match(key, at + dotted)
        if found is None or dotted == (found["index"] is not None or not parts):
            break
        if found["index"] is not None:
            parts.append(int(found["index"]))
        else:
            name = found["name"] if found["name"] is not None else _unquoted(found["quoted"])
            if name is None:
                break
            parts.append(name)
        at = found.end()
    if at != len(key) or not parts or isinstance(parts[0], int):
        raise InputError.one(
            "logbook", key[:60] or "key", "is not the name of a field", "a name such as weighing[0].gross[1]"
        )
    return tuple(parts)


def _unquoted(text: str) -> str | None:
    """The name within quotes; None where it is no text that could be written down."""
    try:
        name: str = json.loads(text)
        name.encode()
    except ValueError:
        return None
    return name


def is_own(key: str) -> bool:
    """Whether a key is the logbook's own: a link, an attached file, a note, and no part of the document."""
    return key.startswith(OWN)


def pattern_of(key: str) -> str:
    """The key with every place in a list left open: `weighing[].gross[]`."""
    return re.sub(r"\[\d+\]", "[]", key)
