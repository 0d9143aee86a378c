"""A flag in three parts."""

from __future__ import annotations

from calmday.procedures.weighed_run_result import Flag, Severity

__all__ = ["Flag", "flag"]


def flag(code: str, severity: Severity, saw: str, why: str, remedy: str) -> Flag:
    """Make a flag; its message is the three sentences in a row."""
    return Flag(code=code, severity=severity, message=f"{saw} {why} {remedy}", saw=saw, why=why, remedy=remedy)
