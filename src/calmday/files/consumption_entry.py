"""Reading a consumption with its give-or-take out of a table."""

from __future__ import annotations

import math

from calmday.files.toml_table import Table
from calmday.metrology.units import QuantityError, parse_consumption, parse_quantity, shown
from calmday.records.consumption import GivenConsumption

WIDEST = 0.5
"""Largest half width that is taken, as a part of the value: beyond it the figure says next to nothing."""


def consumption_of(table: Table, key: str) -> GivenConsumption | None:
    """ "7.5 L/100km", or { value = "7.5 L/100km", pm = "0.4 L/100km" or "5 %" }; None where absent or at fault."""
    entry = table.raw(key)
    if entry is None:
        return None
    if not isinstance(entry, dict):
        return _read(table, key, entry, None)
    inner = Table(entry, table.faults, table.path(key))
    found = _read(inner, "value", inner.raw("value"), inner.raw("pm"))
    inner.finish()
    return found


def _read(table: Table, key: str, entry: object, pm: object) -> GivenConsumption | None:
    try:
        value, unit = parse_consumption(entry)
    except QuantityError as error:
        table.fault(key, error.wrong, error.right)
        return None
    text = str(entry).strip()
    if pm is None:
        return GivenConsumption(value=value, unit=unit, as_entered=text)
    half = _half_width(table, pm, value, unit)
    if half is None:
        return None
    return GivenConsumption(value=value, unit=unit, half_width=half, as_entered=f"{text} ± {pm}")


def _half_width(table: Table, pm: object, value: float, unit: str) -> float | None:
    try:
        if isinstance(pm, str) and pm.strip().endswith("%"):
            half = parse_quantity(pm, "fraction") * value
        else:
            half, own = parse_consumption(pm)
            if own != unit:
                table.fault("pm", f"{shown(pm)} is not in the unit of the value", "the same unit as value, or per cent")
                return None
    except QuantityError as error:
        table.fault("pm", error.wrong, f"{error.right}, or per cent of the value")
        return None
    if not (math.isfinite(half) and 0.0 < half <= WIDEST * value):
        table.fault("pm", f"{shown(pm)} is not a possible half width", "above zero, and at most half of the value")
        return None
    return half
