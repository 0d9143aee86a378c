"""A result as JSON text."""

from __future__ import annotations

from typing import Any

import msgspec


def json_result(result: Any) -> bytes:
    """The result as UTF-8 JSON, indented, newline at the end; a number that is not finite becomes null."""
    return msgspec.json.format(msgspec.json.encode(result), indent=2) + b"\n"
