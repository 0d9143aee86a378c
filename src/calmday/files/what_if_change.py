"""What one imagined change sets: `set = { final_drive = 3.7 }`, or one key with `by` or `to`.

key = "drag_coefficient"         key = "final_drive"
by = "-7 %"                      to = 3.7
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import msgspec

from calmday.files.toml_table import Table
from calmday.files.what_if_settings import typed_value
from calmday.metrology.units import shown

_LIMITS = ("-94 %", "900 %")


class Made(msgspec.Struct, frozen=True):
    """The settings of a change; `box` the key that holds the one of them, empty for those of `set`."""

    settings: Mapping[str, Any]
    box: str = ""


def settings_of(table: Table) -> Made:
    """The settings of a change; empty where there are none, which is noted as a fault."""
    if "set" not in table and any(key in table for key in ("key", "by", "to")):
        return _one(table)
    for key in ("key", "by", "to"):
        if table.raw(key) is not None:
            table.fault(key, "stands beside set", "one of the two")
    settings = table.raw("set")
    if isinstance(settings, dict) and settings:
        return Made(dict(settings))
    wrong = "is missing" if settings is None else f"{shown(settings)} is not a table"
    table.fault("set", wrong, "set = { key = value }, or key with by or to")
    return Made({})


def _one(table: Table) -> Made:
    key, value = table.text("key"), table.raw("to")
    share = table.quantity("by", "fraction", _LIMITS)
    if "key" not in table:
        table.fault("key", "is missing", "what is changed, such as drag_coefficient")
    if "by" in table and value is not None:
        table.fault("to", "stands beside a change in per cent", "one of the two")
        return Made({})
    if "by" not in table and value is None:
        table.fault("by", "is missing", "how much it is changed, such as -7 %, or what it becomes")
    if key is None:
        return Made({})
    if share is not None:
        return Made({key: f"{_plain(100 * share)} %"}, "by")
    if value is None:
        return Made({})
    return Made({key: typed_value(value) if isinstance(value, str) else value}, "to")


def _plain(percent: float) -> str:
    """With its sign, without exponent or trailing zeros."""
    return f"{percent:+.6f}".rstrip("0").rstrip(".")
