"""A result as JSON text, and one that was kept read back."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import msgspec

S = TypeVar("S")
R = TypeVar("R")


def json_result(result: Any) -> bytes:
    """The result as UTF-8 JSON, indented, newline at the end; a number that is not finite becomes null."""
    return msgspec.json.format(msgspec.json.encode(result), indent=2) + b"\n"


def readable(read: Callable[[S], R], stored: S | None) -> R | None:
    """The result behind a stored one; None where another version of the program made it in another form: it can be
    worked out anew."""
    if stored is None:
        return None
    try:
        return read(stored)
    except msgspec.ValidationError:
        return None
