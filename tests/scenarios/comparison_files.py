"""Comparisons as text: runs of which only grams and kilometres were noted."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from calmday.operations import compare_file
from calmday.procedures.comparison_result import ComparisonResult

_GROUPS = {"A": "baseline", "B": "changed"}


def table(**keys: object) -> str:
    """One [[run]] table."""
    lines = [
        f"{key} = {value if isinstance(value, bool | int | list) else repr(str(value))}" for key, value in keys.items()
    ]
    return "\n".join(["[[run]]", *(line.replace("True", "true").replace("False", "false") for line in lines), ""])


def weighed(grams: Iterable[tuple[str, float]], km: float, **more: object) -> str:
    """Runs in the order driven: ("A", grams) before, ("B", grams) after the change."""
    rows = [
        table(
            group="changed" if letter == "B" else "baseline", label=str(i), fuel=f"{g} g", distance=f"{km} km", **more
        )
        for i, (letter, g) in enumerate(grams, 1)
    ]
    return "".join(rows)


def in_order(count: int) -> str:
    """The order in which runs labelled 1, 2, ... were driven."""
    return f"order = [{', '.join(f'{chr(34)}{i}{chr(34)}' for i in range(1, count + 1))}]\n"


def compared(folder: Path, text: str) -> ComparisonResult:
    """The result of a comparison file."""
    path = folder / "comparison.toml"
    path.write_text(text, encoding="utf-8")
    return compare_file(path)


def codes(result: ComparisonResult) -> set[str]:
    """Codes of its flags."""
    return {flag.code for flag in result.flags}
