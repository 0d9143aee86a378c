"""The sheet of a recording: how fast the engine turned, in one sentence, then stretch by stretch."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.gears_sentence import ordinal
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, duration, file_words, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.sound_result import SoundResult, SteadyStretch

MOST_STRETCHES = 20
ALL_KNOWN = 99.5
"""Share, in percent, from which a recording is known throughout as printed."""
CAUTIONS = Prose(
    title="While recording",
    lines=(
        "The passenger handles the recorder, the driver drives. Hands, hair and cables stay away from fans and belts.",
        "Never run an engine in a closed room, and protect your ears.",
    ),
)


def sound_headline(result: SoundResult) -> str:
    """How fast it turned, how sure, and what that says about the gearing."""
    if result.engine_speed is None or result.lowest is None or result.highest is None:
        return "This recording does not say how fast the engine turned."
    steady = longest(result)
    if steady is not None:
        speed = steady.engine_speed
        half = max(speed.half_width, 1.0)
        places = min(decimals_for_half_width(half), 0)
        said = (
            f"The engine turned {number(speed.value, places)} rpm, give or take {number(half, places)}, for "
            f"{duration(steady.end_s - steady.start_s)}"
        )
        if steady.speed is not None:
            said += f" at {number(steady.speed.value, 0)} km/h"
    else:
        said = f"The engine turned between {number(result.lowest.value, -1)} and {number(result.highest.value, -1)} rpm"
    off = result.ratio_difference
    if off is not None:
        if abs(off.value) > 2.0:
            more = "more" if off.value > 0 else "fewer"
            said += f"; that is {number(abs(off.value), 1)} % {more} turns than the build sheet says"
        else:
            said += "; the build sheet's gearing fits"
    if result.slips:
        said += "; the clutch slipped"
    return f"{said}."


def longest(result: SoundResult) -> SteadyStretch | None:
    """The longest steady stretch, if it is a good part of what is known."""
    if not result.stretches:
        return None
    found = max(result.stretches, key=lambda s: s.end_s - s.start_s)
    known = result.share_known.value * result.duration.value
    return found if found.end_s - found.start_s > 0.4 * known else None


def sound_sheet(result: SoundResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _stretches(result),
        _gears(result),
        _slips(result),
        _candidates(result),
        _silences(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
        CAUTIONS,
    ]
    share = 100 * result.share_known.value
    return Sheet(
        title=f"{clean(result.vehicle)}: {clean(result.label)}",
        lead=clean(result.sentence) or sound_headline(result),
        under=(
            f"Engine speed is known for {number(share, 0)} % of {duration(result.duration.value)}"
            + ("." if share >= ALL_KNOWN else "; where it is not, that is said rather than guessed."),
        ),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _maybe(figure: Figure | None, places: int) -> str:
    return "-" if figure is None else amount(figure, most_decimals=places)


def _span(start: float, end: float) -> str:
    return f"{number(start, 1)} to {number(end, 1)}"


def _stretches(result: SoundResult) -> Table | None:
    if not result.stretches:
        return None
    chosen = sorted(result.stretches, key=lambda s: s.start_s - s.end_s)[:MOST_STRETCHES]
    road = any(s.speed is not None for s in chosen)
    columns = [
        Column("from, to, s"),
        Column("rpm", "right"),
        Column("wavers by, rpm", "right", 3),
        Column("firing, Hz", "right", 2),
    ]
    if road:
        columns += [Column("km/h", "right"), Column("overall ratio", "right", 1), Column("gear", "left", 1)]
    rows = []
    for s in sorted(chosen, key=lambda s: s.start_s):
        row = [
            _span(s.start_s, s.end_s),
            amount(s.engine_speed, most_decimals=0),
            number(s.spread.value, 0),
            amount(s.firing_frequency, most_decimals=1),
        ]
        if road:
            row += [_maybe(s.speed, 1), _maybe(s.overall_ratio, 2), "-" if s.gear is None else ordinal(s.gear)]
        rows.append(tuple(row))
    note = f"The {MOST_STRETCHES} longest of {len(result.stretches)}." if len(result.stretches) > MOST_STRETCHES else ""
    return Table(title="Steady stretches", columns=tuple(columns), rows=tuple(rows), note=note)


def _gears(result: SoundResult) -> Table | None:
    if not result.gears_heard:
        return None
    columns = (
        Column("gear"),
        Column("held, s", "right"),
        Column("turns per km", "right", 1),
        Column("overall ratio", "right"),
        Column("build sheet", "right"),
        Column("difference, %", "right"),
    )
    rows = tuple(
        (
            "not known" if g.gear is None else ordinal(g.gear),
            number(g.held.value, 0),
            amount(g.turns_per_km, most_decimals=0),
            _maybe(g.overall_ratio, 2),
            "-" if g.declared_ratio is None else number(g.declared_ratio, 2),
            "-" if g.difference is None else amount(g.difference, signed=True, most_decimals=1),
        )
        for g in result.gears_heard
    )
    offset = result.clock_offset
    note = (
        ""
        if offset is None
        else f"The receiver's clock is taken {amount(offset, signed=True, most_decimals=1)} s after the recording's."
    )
    return Table(title="Gears by ear", columns=columns, rows=rows, note=note)


def _slips(result: SoundResult) -> Table | None:
    if not result.slips:
        return None
    columns = (Column("from, to, s"), Column("gear"), Column("ahead of the road, %", "right"))
    rows = tuple(
        (_span(s.start_s, s.end_s), "-" if s.gear is None else ordinal(s.gear), number(s.excess.value, 0))
        for s in result.slips
    )
    return Table(title="Where the clutch slipped", columns=columns, rows=rows)


def _candidates(result: SoundResult) -> Table | None:
    if not result.candidates:
        return None
    columns = (Column("what would explain it", wrap=True), Column("build sheet"), Column("would have to be", wrap=True))
    return Table(
        title="Ratio or tyre is not what you think",
        columns=columns,
        rows=tuple((c.what, c.declared, c.would_be) for c in result.candidates),
        note="One of these is enough; a roll-out of the tyre or counted teeth decide.",
    )


def _silences(result: SoundResult) -> Table | None:
    if not result.not_known:
        return None
    chosen = sorted(sorted(result.not_known, key=lambda s: s.start_s - s.end_s)[:12], key=lambda s: s.start_s)
    return Table(
        title="Where it is not known",
        columns=(Column("from, to, s"), Column("why", wrap=True)),
        rows=tuple((_span(s.start_s, s.end_s), s.why) for s in chosen),
        note=f"The 12 longest of {len(result.not_known)}." if len(result.not_known) > 12 else "",
    )


def _how(result: SoundResult) -> Prose:
    made = result.provenance
    fires = "two turns" if result.strokes == 4 else "turn"
    heard = f"Listened beside the microphone: {clean(result.listened_by)}." if result.listened_by else ""
    place = f"Microphone: {clean(result.microphone)}." if result.microphone else ""
    noted = f"Heard: {clean(result.heard)}." if result.heard else ""
    lines = [
        f"{result.cylinders} cylinder{'s' if result.cylinders > 1 else ''}, so {result.cylinders} firing"
        f"{'s' if result.cylinders > 1 else ''} every {fires}. All lines of the sound that fit one engine speed count "
        "together, not the loudest alone.",
        f"Looked for between {number(result.searched_low.value, -1)} and {number(result.searched_high.value, -1)} rpm.",
        " ".join(part for part in (heard, place, noted) if part),
        "Give or take (±): 95 times in 100 the truth lies inside.",
        f"{made.program} {made.version}, input {made.inputs_sha256[:12] or 'as typed'}, from {file_words(made.files)}.",
    ]
    return Prose(title="How it was found", lines=tuple(line for line in lines if line))


def speed_csv(result: SoundResult) -> str:
    """Engine speed against time as CSV; empty where it is not known."""
    trace = result.trace
    out = io.StringIO()
    write = csv.writer(out, lineterminator="\n")
    write.writerow(
        ["time_s", "engine_speed_rpm", "low_rpm", "high_rpm", "confidence"] + (["speed_kmh"] if trace.speed_kmh else [])
    )
    columns = [trace.time_s, trace.engine_speed_rpm, trace.low_rpm, trace.high_rpm, trace.confidence]
    if trace.speed_kmh:
        columns.append(trace.speed_kmh)
    for row in zip(*columns, strict=True):
        write.writerow(["" if value is None else value for value in row])
    return out.getvalue()
