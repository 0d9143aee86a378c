"""The tables about guesses in a run file: who guessed what, how guesses are scored, and a published figure."""

from __future__ import annotations

import datetime as dt
import re
from typing import cast

from calmday.files.toml_table import Table
from calmday.metrology.units import CONSUMPTION_UNITS, QuantityError, parse_consumption, shown
from calmday.records.run import GUESS_RULES, GUESSED_FIGURES, GuessedFigure, Guessing, GuessRule, Prediction, Published

_DIGEST = re.compile(r"[0-9a-fA-F]{64}")
_UNITS = {"L/100km": "L_per_100km", "mpg US": "mpg_us", "mpg imp": "mpg_imp", "km/L": "km_per_L", "g/km": "g_per_km"}
UNIT_CHOICES = tuple(_UNITS)


def predictions(table: Table) -> tuple[Prediction, ...]:
    """Every [[prediction]] of a run."""
    return tuple(p for each in table.tables("prediction") if (p := _prediction(each)) is not None)


def _prediction(table: Table) -> Prediction | None:
    by, salt, digest = table.text("by") or "", table.text("salt") or "", table.text("digest") or ""
    found = _consumption(table)
    if digest and not _DIGEST.fullmatch(digest.strip()):
        table.fault("digest", f"{shown(digest)} is not a digest", "64 digits of SHA-256, as shown when it was sealed")
    table.finish()
    if found is None:
        return None
    return Prediction(by=by, value=found[0], unit=found[1], as_entered=found[2], salt=salt, digest=digest.strip())


def guessing(table: Table) -> Guessing | None:
    """The [guessing] table: unit and scoring rule, declared before the guesses are opened."""
    if "guessing" not in table:
        table.raw("guessing")
        return None
    inner = table.table("guessing")
    unit = inner.choice("unit", UNIT_CHOICES)
    rule = inner.choice("rule", GUESS_RULES)
    figure = inner.choice("figure", GUESSED_FIGURES)
    declared = inner.raw("declared")
    if declared is not None and not isinstance(declared, (dt.datetime, dt.date)):
        inner.fault("declared", f"{shown(str(declared))} is not a time", "a time such as 2026-04-12T09:30:00+02:00")
    found = Guessing(
        unit=_UNITS[unit] if unit is not None else None,
        rule=cast("GuessRule | None", rule),
        figure=cast(GuessedFigure, figure or "as driven"),
        declared=declared.isoformat() if isinstance(declared, (dt.datetime, dt.date)) else "",
        speed_mps=inner.quantity("speed", "speed", ("5 km/h", "200 km/h")),
    )
    inner.finish()
    return found


def published(table: Table) -> Published:
    """The [published] table of a run: a figure to hold the result against."""
    kind = table.text("kind") or ""
    found = _consumption(table)
    table.finish()
    value, unit, text = found if found is not None else (1.0, CONSUMPTION_UNITS[0], "")
    return Published(value=value, unit=unit, kind=kind, as_entered=text)


def _consumption(table: Table) -> tuple[float, str, str] | None:
    entry = table.raw("value")
    if entry is None:
        table.fault("value", "is missing", 'a consumption such as "34 mpg US" or "6.6 L/100km"')
        return None
    try:
        value, unit = parse_consumption(entry)
    except QuantityError as e:
        table.fault("value", e.wrong, e.right)
        return None
    return value, unit, str(entry).strip()
