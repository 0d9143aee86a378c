"""The sheet of a sweep: the combinations that use least."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from calmday.reports.gears_sentence import ordinal
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import clean, number, spoken_setting

if TYPE_CHECKING:
    from calmday.procedures.sweep_result import SweepResult


def sweep_headline(result: SweepResult) -> str:
    """The best combination in a sentence."""
    if not result.best:
        return f"None of {number(result.combinations, 0)} combinations holds the speed."
    best = result.best[0]
    told = ", ".join(f"{spoken_setting(key)} {_rounded(value)}" for key, value in best.settings.items())
    ends = f"somewhere from {number(best.low, 1)} to {number(best.high, 1)}"
    least = f"{number(best.fuel_L_per_100km, 1)} L/100 km ({ends})"
    return f"Of {number(result.combinations, 0)} combinations the least fuel is {least}, with {told}."


def _rounded(value: str) -> str:
    """A setting with four digits of its number at most: the steps of a grid come with many more."""
    return re.sub(r"-?\d+\.\d+", lambda found: f"{float(found[0]):.4g}", clean(value))


def sweep_sheet(result: SweepResult) -> Sheet:
    """The whole sheet."""
    columns = (
        Column("", "right"),
        *(Column(spoken_setting(axis), "right") for axis in result.axes),
        Column("L/100 km", "right"),
        Column("from", "right", 1),
        Column("to", "right", 1),
        Column("gear"),
        Column("rpm", "right", 2),
        Column("hold it, of 100", "right", 1),
    )
    rows = tuple(
        (
            str(rank),
            *(_rounded(best.settings[axis]) for axis in result.axes),
            number(best.fuel_L_per_100km, 2),
            number(best.low, 1),
            number(best.high, 1),
            ordinal(best.gear),
            number(best.engine_speed_rpm, -1),
            number(100 * best.holds, 0),
        )
        for rank, best in enumerate(result.best, 1)
    )
    made = result.provenance
    blocks: list[Block] = []
    if rows:
        note = "The interval is that of the level; neighbours share most of it, so their order is surer than it looks."
        blocks.append(Table(title="Least fuel first", columns=columns, rows=rows, note=note))
    blocks.append(
        Prose(
            title="How it was found",
            lines=(
                f"{number(result.held, 0)} of {number(result.combinations, 0)} combinations hold the speed, each with "
                f"{number(result.draws, 0)} simulated vehicles, the same for all.",
                f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12]}, "
                f"from {', '.join(clean(name) for name in made.files)}.",
            ),
        )
    )
    return Sheet(title=f"{clean(result.vehicle)}: sweep", lead=sweep_headline(result), blocks=tuple(blocks))
