"""A fuel consumption as somebody gave it, in the unit they gave it in."""

from __future__ import annotations

import msgspec


class GivenConsumption(msgspec.Struct, frozen=True, kw_only=True):
    """`value` in `unit`, a consumption unit of results; `half_width` 95 % in the same unit, None: not said."""

    value: float
    unit: str
    half_width: float | None = None
    as_entered: str = ""
