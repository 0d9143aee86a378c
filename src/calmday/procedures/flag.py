"""A flag in three parts."""

from __future__ import annotations

from collections.abc import Iterable

from calmday.procedures.weighed_run_result import Flag, Severity

__all__ = ["Flag", "flag", "gravest_first"]

_GRAVITY = {"stop": 0, "caution": 1, "note": 2}


def flag(code: str, severity: Severity, saw: str, why: str, remedy: str) -> Flag:
    """Make a flag; its message is the three sentences in a row."""
    return Flag(code=code, severity=severity, message=f"{saw} {why} {remedy}", saw=saw, why=why, remedy=remedy)


def gravest_first(flags: Iterable[Flag]) -> tuple[Flag, ...]:
    """The flags with those that stop first, then cautions, then notes, else as they came."""
    return tuple(sorted(flags, key=lambda one: _GRAVITY[one.severity]))
