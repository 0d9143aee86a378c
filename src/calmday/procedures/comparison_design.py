"""How a comparison was laid out, and the columns that follow from it."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.rounding import common_decimals
from calmday.records.comparison import Comparison, Entry

FloatArray = NDArray[np.float64]

LEVEL, CHANGE, DRIFT, TEMPERATURE = "level", "change", "drift", "temperature"
SETTING, SETTING_SQUARED = "setting", "setting squared"
SPARE_FOR_DRIFT = 4
"""Runs to spare, after change and drift, before a drift is taken off unasked."""

MOST_ORDER_TIE = 0.8
"""Correlation of the change with the order driven from which the two cannot be told apart to any use."""


class Layout(msgspec.Struct, frozen=True, kw_only=True):
    """Columns of the design: `names` and `columns` (n, p). `factors` the changes among them, `tied` those left out and
    what each cannot be told from. `blocks` whether pairs or blocks have each a level of their own."""

    names: tuple[str, ...]
    columns: FloatArray
    factors: tuple[str, ...]
    tied: dict[str, tuple[str, ...]]
    blocks: bool

    def direction(self, name: str) -> FloatArray:
        """The unit vector of one column."""
        found = np.zeros(len(self.names))
        found[self.names.index(name)] = 1.0
        return found


def has_blocks(entries: Sequence[Entry]) -> bool:
    """Whether every run belongs to a block that holds both a baseline and a changed run."""
    arms: dict[str, set[bool]] = {}
    for entry in entries:
        if not entry.block:
            return False
        arms.setdefault(entry.block, set()).add(entry.changed)
    return bool(arms) and all(len(both) == 2 for both in arms.values())


def order_known(entries: Sequence[Entry]) -> bool:
    """Whether the place of every run in the order driven is known."""
    return len(entries) > 0 and all(entry.order is not None for entry in entries)


def temperatures_known(temperatures: Sequence[float | None]) -> bool:
    """Whether the air of every run is known, and differs."""
    known = [t for t in temperatures if t is not None]
    return len(known) == len(temperatures) and len(known) > 0 and max(known) - min(known) > 0.5


def interleaved(entries: Sequence[Entry]) -> bool | None:
    """Whether baseline and changed runs alternate enough for a steady drift to fall out; None: order not known."""
    if not order_known(entries):
        return None
    return abs(tie_to_order(entries)) < 0.35


def tie_to_order(entries: Sequence[Entry]) -> float:
    """Correlation of "changed" with the order driven, -1 to 1; 0 where there is none."""
    return _tie(entries, [float(entry.changed) for entry in entries])


def _tie(entries: Sequence[Entry], values: Sequence[float]) -> float:
    """Correlation of something tried, a value for each run, with the order driven."""
    place = np.array([entry.order or 0 for entry in entries], dtype=np.float64)
    if len(entries) < 2 or place.std() == 0 or np.std(values) == 0:
        return 0.0
    return float(np.corrcoef(place, values)[0, 1])


def two_groups(asked: Comparison) -> bool:
    """Whether runs before are held against runs after; not where a setting or several changes were tried."""
    return not asked.setting_unit and not asked.factors


def in_step_with_order(asked: Comparison, entries: Sequence[Entry]) -> tuple[str, ...]:
    """What was changed in step with the order driven, where a setting or several changes were tried: a slow drift
    reads as its effect. `the setting`, or the names of changes."""
    if two_groups(asked) or not order_known(entries) or len(entries) < 3:
        return ()
    tried = (
        {"the setting": [entry.setting or 0.0 for entry in entries]}
        if asked.setting_unit
        else {factor: [float(factor in entry.with_) for entry in entries] for factor in asked.factors}
    )
    return tuple(name for name, values in tried.items() if abs(_tie(entries, values)) >= MOST_ORDER_TIE)


def order_of_settings(entries: Sequence[Entry], unit: str) -> str:
    """The settings in the order driven, such as `0.9, 1.0, 0.8 mm`; empty where there are none or it is not known."""
    if not unit or not order_known(entries):
        return ""
    ordered = sorted(entries, key=lambda entry: entry.order or 0)
    places = common_decimals(e.setting for e in ordered if e.setting is not None)
    return f"{', '.join('-' if e.setting is None else f'{e.setting:.{places}f}' for e in ordered)} {unit}"


def order_in_letters(entries: Sequence[Entry]) -> str:
    """The order as A for baseline and B for changed, such as A-B-B-A; empty where it is not known."""
    if not order_known(entries):
        return ""
    ordered = sorted(entries, key=lambda entry: entry.order or 0)
    return "-".join("B" if entry.changed else "A" for entry in ordered)


def lay_out(
    asked: Comparison, entries: Sequence[Entry], temperatures: Sequence[float | None], one_day: bool, modelled: bool
) -> Layout:
    """The columns for the runs that count. `modelled`: the day is taken off already."""
    n = len(entries)
    names, columns = [LEVEL], [np.ones(n)]
    blocks = has_blocks(entries) and len({entry.block for entry in entries}) > 1
    if blocks:
        labels = list(dict.fromkeys(entry.block for entry in entries))
        for label in labels[1:]:
            names.append(f"block {label}")
            columns.append(np.array([float(entry.block == label) for entry in entries]))
    for name, column in _setting_columns(asked, entries):
        if not _spans(columns, column) and n - len(names) > 1:
            names.append(name)
            columns.append(column)
    factors = _factors(asked)
    tied: dict[str, tuple[str, ...]] = {}
    kept: list[str] = []
    for factor, column in _factor_columns(factors, entries):
        if _spans(columns, column):
            tied[factor] = _same_as(factor, factors, entries) or ("the level of all runs",)
            continue
        names.append(factor)
        columns.append(column)
        kept.append(factor)
    wanted = _removed(asked, entries, temperatures, one_day, modelled, blocks, len(names))
    for name, column in _covariates(wanted, entries, temperatures):
        if not _spans(columns, column) and n - len(names) > 1:
            names.append(name)
            columns.append(column)
    return Layout(names=tuple(names), columns=np.column_stack(columns), factors=tuple(kept), tied=tied, blocks=blocks)


def _factors(asked: Comparison) -> tuple[str, ...]:
    return () if asked.setting_unit else asked.factors or (CHANGE,)


def _setting_columns(asked: Comparison, entries: Sequence[Entry]) -> list[tuple[str, FloatArray]]:
    """A setting varied, and its square, in half widths about its middle."""
    if not asked.setting_unit:
        return []
    x = np.array([entry.setting if entry.setting is not None else np.nan for entry in entries], dtype=np.float64)
    reach = 0.5 * float(np.ptp(x))
    if not reach > 0.0:
        return []
    u = (x - 0.5 * (float(x.min()) + float(x.max()))) / reach
    return [(SETTING, u), (SETTING_SQUARED, u * u)]


def _factor_columns(factors: Sequence[str], entries: Sequence[Entry]) -> list[tuple[str, FloatArray]]:
    if tuple(factors) == (CHANGE,):
        return [(CHANGE, np.array([float(entry.changed) for entry in entries]))]
    return [(factor, np.array([float(factor in entry.with_) for entry in entries])) for factor in factors]


def _same_as(factor: str, factors: Sequence[str], entries: Sequence[Entry]) -> tuple[str, ...]:
    """Other changes that were always made together with this one, or never without it."""
    own = [factor in entry.with_ for entry in entries]
    return tuple(
        other
        for other in factors
        if other != factor
        and ([other in e.with_ for e in entries] == own or [other not in e.with_ for e in entries] == own)
    )


def _spans(columns: Sequence[FloatArray], column: FloatArray) -> bool:
    """Whether a column says nothing that those before do not say."""
    before = np.column_stack(columns)
    left = column - before @ np.linalg.lstsq(before, column, rcond=None)[0]
    return float(left @ left) < 1e-9 * max(float(column @ column), 1.0)


def _removed(
    asked: Comparison,
    entries: Sequence[Entry],
    temperatures: Sequence[float | None],
    one_day: bool,
    modelled: bool,
    blocks: bool,
    columns: int,
) -> tuple[str, ...]:
    if asked.removed is not None:
        wanted = asked.removed
        return tuple(
            name
            for name, there in (("order", order_known(entries)), ("temperature", temperatures_known(temperatures)))
            if name in wanted and there
        )
    if asked.setting_unit:
        return ("temperature",) if temperatures_known(temperatures) and not modelled else ()
    drifts = order_known(entries) and one_day and not blocks
    return ("order",) if drifts and len(entries) - columns - 1 >= SPARE_FOR_DRIFT else ()


def _covariates(
    wanted: Sequence[str], entries: Sequence[Entry], temperatures: Sequence[float | None]
) -> list[tuple[str, FloatArray]]:
    found = []
    if "order" in wanted:
        place = np.array([entry.order or 0 for entry in entries], dtype=np.float64)
        found.append((DRIFT, place - place.mean()))
    if "temperature" in wanted:
        air = np.array([t if t is not None else np.nan for t in temperatures], dtype=np.float64)
        found.append((TEMPERATURE, air - air.mean()))
    return found
