"""What a recorded drive says about power: the sentence, and its blocks of the gears sheet."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width, listed
from calmday.reports.gears_sentence import KMH_PER_MPH, in_unit, ordinal
from calmday.reports.sheet import Block, Column, Prose, Table
from calmday.reports.words import amount, clean, duration, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.gears_result import AlongRun, HeldBack

CAUSE_WORDS = {"wind": "the wind", "hill": "the hill", "gear": "the gear", "engine": "the engine"}


def along_sentence(run: AlongRun, unit: str = "km/h") -> str:
    """How much of the drive was at full load, what held it back, and what the next lower gear would have held.
    It says which gear that rests on, because nobody recorded one: a lower gear means less load.

    >>> along_sentence(run)  # doctest: +SKIP
    'Driven in the tallest gear that pulls, it ran at full load for 4 min 10 s, 8 % of the drive; the wind held it back
    twice, and third would have held 92 km/h where fourth held 81.'
    """
    said = f"Driven in the tallest gear that pulls, it ran at full load for {_about(run.time_at_full_load)}, "
    said += f"{_share(run)} of the drive"
    if not run.held_back:
        return f"{said}, and nowhere was it held back for longer than a few seconds."
    said = f"{said}; {listed(_causes(run.held_back))}"
    better = max(run.held_back, key=_gain)
    if _gain(better) >= 1.0 and better.lower_gear is not None and better.lower_gear_speed is not None:
        lower = number(in_unit(better.lower_gear_speed, unit).value, 0)
        held = number(in_unit(better.speed, unit).value, 0)
        said += f", and {ordinal(better.lower_gear)} would have held {lower} {unit} where {ordinal(better.gear)} "
        said += f"held {held}"
    return f"{said}."


def _about(time: Figure) -> str:
    """A time, to the place of its doubt: 49 s that may be 30 or 100 is 50 s."""
    half = time.half_width
    return duration(round(time.value, decimals_for_half_width(half)) if half > 0 else time.value)


def _share(run: AlongRun) -> str:
    return f"{number(run.share_at_full_load.value, 0 if run.share_at_full_load.value >= 1 else 1)} %"


def _gain(one: HeldBack) -> float:
    return 0.0 if one.lower_gear_speed is None else one.lower_gear_speed.value - one.speed.value


def _causes(stretches: Sequence[HeldBack]) -> list[str]:
    times = {1: "once", 2: "twice"}
    counted = {cause: sum(one.cause == cause for one in stretches) for cause in CAUSE_WORDS}
    return [
        f"{CAUSE_WORDS[cause]} held it back {times.get(count, f'{count} times')}"
        for cause, count in sorted(counted.items(), key=lambda pair: -pair[1])
        if count
    ]


def along_blocks(run: AlongRun, unit: str = "km/h") -> list[Block]:
    """Time at full load, and where the drive was held back, by what."""
    share = f"{amount(run.share_at_full_load, most_decimals=0)} %"
    lines = [f"At full load for {amount(run.time_at_full_load, most_decimals=0)} s of the drive, {share} of it."]
    if not run.held_back:
        lines.append("Nowhere was it held back at full load for longer than a few seconds.")
    lines.append(
        "Nobody recorded the gear: it is taken as the tallest that could have done what was recorded, so full load is "
        "the most it can have been. A sound recording would know."
    )
    blocks: list[Block] = [Prose(title=f"What the drive says: {clean(run.label)}", lines=tuple(lines))]
    if run.held_back:
        start = run.time_s[0]
        columns = (
            Column("after"), Column("for", "right"), Column("gear"), Column(unit, "right"), Column("held back by"),
            Column("wind, N", "right", 2), Column("hill, N", "right", 2), Column("gear, N", "right", 2),
            Column("next lower gear", "left", 1),
        )  # fmt: skip
        rows = tuple(_held_back_row(stretch, start, unit) for stretch in run.held_back)
        blocks.append(Table(title="Held back at full load", columns=columns, rows=rows))
    return blocks


def _held_back_row(stretch: HeldBack, start_s: float, unit: str) -> tuple[str, ...]:
    lower = "-"
    if stretch.lower_gear is not None:
        held = "-" if stretch.lower_gear_speed is None else _speed(stretch.lower_gear_speed, unit)
        lower = f"{ordinal(stretch.lower_gear)} would hold {held}" if stretch.lower_gear_speed else "would hold none"
    return (
        duration(stretch.start_s - start_s),
        duration(stretch.end_s - stretch.start_s),
        ordinal(stretch.gear),
        number(stretch.speed.value / (1.0 if unit == "km/h" else KMH_PER_MPH), 0),
        CAUSE_WORDS[stretch.cause],
        _newton(stretch.wind),
        _newton(stretch.hill),
        _newton(stretch.gear_loss),
        lower,
    )


def _speed(figure: Figure, unit: str) -> str:
    return amount(in_unit(figure, unit), most_decimals=1)


def _newton(figure: Figure) -> str:
    return amount(figure, most_decimals=0)
