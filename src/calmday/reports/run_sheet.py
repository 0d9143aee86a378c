"""The sheet of one weighed run."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from calmday.reports import run_tables
from calmday.reports.fuel_cautions import UNTAXED, fuel_caution
from calmday.reports.sentence import ONE_RUN, headline
from calmday.reports.sheet import Block, Prose, Remark, Remarks, Sheet
from calmday.reports.words import clean

if TYPE_CHECKING:
    from collections.abc import Iterable

    from calmday.procedures.weighed_run_result import Flag, RunResult


SAID_ABOVE = "one-run"
"""This flag says what `ONE_RUN` says right under the sentence."""


def run_sheet(result: RunResult) -> Sheet:
    """The whole sheet: sentence, picture, doubt and where it comes from, remarks, details."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    others = remarks("Worth knowing", result.flags, ("caution", "note"))
    blocks: list[Block | None] = [
        stops,
        run_tables.consumption(result),
        run_tables.energy(result),
        run_tables.doubt(result),
        others,
        run_tables.day_cost(result),
        run_tables.cruise(result),
        run_tables.laps(result),
        run_tables.legs(result),
        run_tables.estimates(result),
        run_tables.measured(result),
        _assumed(result),
        _how(result),
        _cautions(result.fuel),
    ]
    label, vehicle = clean(result.label), clean(result.vehicle)
    return Sheet(
        title=f"{vehicle}: {label}" if vehicle and label else vehicle or label or "One weighed run",
        lead=clean(result.sentence) or headline(result),
        under=() if stops else (ONE_RUN,),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _cautions(fuel: str) -> Prose:
    """What to take care of, with the fuel that was burnt."""
    return Prose(
        title="On the road and with fuel",
        lines=(
            "The passenger writes, the driver drives. Keep to the limits; no reading is worth a risk.",
            fuel_caution(fuel),
            "Under way: can strapped down, vented outside the cabin, returns into the same can, no drip.",
            UNTAXED,
        ),
    )


def remarks(title: str, flags: Iterable[Flag], severities: tuple[str, ...]) -> Remarks | None:
    """The flags of the given severities as remarks, in the order of `severities`; None if there is none."""
    found = tuple(flag for flag in flags if flag.code != SAID_ABOVE)
    chosen = [flag for severity in severities for flag in found if flag.severity == severity]
    items = tuple(
        Remark(severity=flag.severity, saw=clean(flag.saw), why=clean(flag.why), remedy=clean(flag.remedy))
        for flag in chosen
    )
    return Remarks(title=title, items=items) if items else None


def _assumed(result: RunResult) -> Prose | None:
    """What was assumed or put right on the way; None if nothing was."""
    lines = tuple(f"{line[:1].upper()}{line[1:].rstrip('.')}." for line in map(clean, result.notes))
    return Prose(title="Assumed or put right", lines=lines) if lines else None


def _how(result: RunResult) -> Prose:
    """What the calm day means, how the figure was found, and what it was found from."""
    day = result.reference
    lines = []
    if result.calm_day is not None:
        still = "still air" if day.wind == "0 m/s" else f"wind {day.wind}"
        warmth = day.temperature.replace("degC", "°C")
        lines.append(
            f"Calm day: the same drive over the same road in {still}, {warmth}, "
            f"{day.pressure}, {day.relative_humidity} humidity, engine and tyres warm. The hills stay."
        )
    lines.append("Litres and gallons are at 15 °C. Give or take (±): 95 times in 100 the truth lies inside.")
    if result.quality is not None:
        quality = result.quality
        verdict = "enough" if quality.sound else "too few to trust the give-or-take"
        counted = f"{quality.effective_draws:.0f} of {quality.draws}"
        lines.append(f"{counted} simulated vehicles still count after the weighing: {verdict}.")
    made = result.provenance
    lines.append(
        f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12]}, "
        f"from {', '.join(_file_name(name) for name in made.files) or 'no files'}."
    )
    return Prose(title="How it was found", lines=tuple(lines))


def _file_name(path: str) -> str:
    """The name without its folders, whichever way they are written: a sheet may be shown to anyone."""
    return clean(re.split(r"[\\/]", path)[-1])
