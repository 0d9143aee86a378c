"""What a reader of a settings log must know."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from calmday.files.settings_file import LIFT
from calmday.metrology.rounding import format_change
from calmday.procedures.flag import Flag, flag
from calmday.procedures.settings_result import SettingHistory, SettingsResult
from calmday.records.setting import SettingsLog

MOVED_BY_TIGHTENING_MM: Final = 0.01
"""From this on tightening is said to have moved a lift: half of the usual tolerance."""


def settings_flags(log: SettingsLog, result: SettingsResult, curve: bool) -> Iterator[Flag]:
    """The flags of a settings log."""
    yield from _untouched(result)
    yield from _tightening(result)
    yield from _between(result)
    yield from _curve(log, result, curve)
    yield from _limits(result)
    if any(entry.date is None for entry in log.entries):
        yield flag(
            "setting-undated", "note",
            "Some entries have no day.",
            "They stand before all others, which may be the wrong order.",
            "Write the day of each.",
        )  # fmt: skip
    if result.cold_starts is not None:
        yield flag(
            "cold-start-weak", "note",
            "Cold starts are written down.",
            result.cold_starts.words,
            "Judge timing by weighed fuel, knock and smoke; keep the seconds as a remark.",
        )  # fmt: skip


def _name(history: SettingHistory) -> str:
    return f"{history.what}, cylinder {history.cylinder}" if history.cylinder is not None else history.what


def _untouched(result: SettingsResult) -> Iterator[Flag]:
    lost = [_name(each) for each in result.settings if each.first is None]
    if lost:
        yield flag(
            "first-reading-lost", "caution",
            f"Nobody read it before it was first touched: {', '.join(lost)}.",
            "The way back to where it was is gone.",
            "Before you next loosen anything, read it and write it under found.",
        )  # fmt: skip


def _tightening(result: SettingsResult) -> Iterator[Flag]:
    for each in result.settings:
        if each.what != LIFT:
            continue
        factor = {"mm": 1.0, "in": 25.4, "m": 1000.0, "cm": 10.0}.get(each.unit, 1.0)
        moved = [
            change
            for change in each.changes
            if change.moved_by_tightening is not None
            and abs(change.moved_by_tightening) * factor >= MOVED_BY_TIGHTENING_MM - 1e-9
        ]
        if moved:
            told = ", ".join(
                f"{format_change(c.moved_by_tightening or 0.0)} {each.unit} ({c.date or 'no day'})" for c in moved
            )
            yield flag(
                "tightening-moved-it", "caution",
                f"Tightening moved the pump: {told}.",
                "What was set is not what was driven with.",
                "Count the reading after tightening; set a little against the pull next time.",
            )  # fmt: skip
        unread = [change for change in each.changes if change.set is not None and change.tightened is None]
        if unread:
            yield flag(
                "not-read-after-tightening", "note",
                "The lift was set, and not read again after tightening.",
                "Tightening often turns the pump a little.",
                "Read it again with the screws tight.",
            )  # fmt: skip


def _between(result: SettingsResult) -> Iterator[Flag]:
    moved = [
        f"{_name(each)} by {format_change(change.moved_since)} {each.unit} before {change.date or 'no day'}"
        for each in result.settings
        for change in each.changes
        if change.moved_since is not None and abs(change.moved_since) > 0
    ]
    if moved:
        yield flag(
            "moved-between-visits", "note",
            f"Found elsewhere than it was left: {'; '.join(moved)}.",
            "It moved by itself, was touched without a note, or was read differently.",
            "Runs between the two visits belong to neither setting for sure.",
        )  # fmt: skip


def _curve(log: SettingsLog, result: SettingsResult, curve: bool) -> Iterator[Flag]:
    lifts = [each for each in result.settings if each.what == LIFT]
    if log.lift_curve is not None and not curve:
        yield flag(
            "lift-curve-turns-back", "caution",
            "The lift curve does not rise throughout.",
            "One lift would then belong to two angles.",
            "Measure again in the running direction only, taking up the lash.",
        )  # fmt: skip
    if lifts and log.lift_curve is None:
        yield flag(
            "no-lift-curve", "note",
            "There is no lift curve of this pump, so millimetres stay millimetres.",
            "No factor from lift to crank degrees holds for every pump: it depends on the cam.",
            "Turn the crank two degrees at a time, read the lift, and write both under [lift_curve].",
        )  # fmt: skip
    outside = any(
        change.advance is None and i > 0
        for each in lifts
        for i, change in enumerate(each.changes)
        if change.set is not None or change.tightened is not None
    )
    if curve and outside:
        yield flag(
            "outside-lift-curve", "caution",
            "A lift lies outside the curve that was measured, or too near its end.",
            "Beyond the last point nobody knows the cam.",
            "Measure the curve a few degrees further.",
        )  # fmt: skip


def _limits(result: SettingsResult) -> Iterator[Flag]:
    beyond = [each for each in result.limits if each.keeps is False]
    if beyond:
        told = "; ".join(f"{each.what} at {each.now:g} {each.unit}" for each in beyond)
        yield flag(
            "beyond-own-limit", "caution",
            f"Beyond the limit that you drew yourself: {told}.",
            "You drew it for a reason.",
            "Go back, or draw the limit anew and say why.",
        )  # fmt: skip
    yield flag(
        "no-safe-limit-known", "note",
        "This program knows no safe limit of your engine.",
        "Only limits that you write down yourself are watched.",
        "Ask who knows this engine before you go further than it was.",
    )  # fmt: skip
