"""The settings log as a sheet: what it was before anybody touched it, every step since, and what it stands at."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import format_change
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, headed, number, short

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.settings_result import (
        ColdStarts,
        LiftTiming,
        SettingChange,
        SettingHistory,
        SettingsResult,
    )

LIFT = "plunger lift"
WIDEST_EXPECTED = 10.0
"""Upper over lower end from which what other cold starts let expect is no expectation."""
MOST_DOUBT_OF_GROWTH = 20.0
"""Per cent a degree; from there the cost of a degree is not told."""
CAUTIONS = Prose(
    title="Before you touch it",
    lines=(
        "Injection lines hold hundreds of bar, also for a while after the engine has stopped: the jet goes through "
        "skin. Never feel for a leak by hand; such an injury is for the hospital at once, even where it does not hurt.",
        "Engine off, key out, battery off before hands go near belts and fan. Hot manifolds burn long after.",
        "Test opening pressures only on a bench made for it, with the spray caught and eyes covered.",
        "Valve lash: cold or warm as your manual says for this engine, and never while it turns.",
        "Where law or insurance want a licensed hand, theirs is the last word.",
    ),
)


def settings_headline(result: SettingsResult) -> str:
    """What a setting was before anybody touched it, and what it is now.

    >>> settings_headline(result)  # doctest: +SKIP
    'Plunger lift was 0.88 mm before anybody touched it (Ada, 2026-03-02); it now stands at 0.93 mm (2026-04-12).'
    """
    if not result.settings:
        return "Nothing has been set yet that anybody wrote down."
    main = next((each for each in result.settings if each.what == LIFT), result.settings[0])
    name = setting_name(main)
    name = name[:1].upper() + name[1:]
    rest = len(result.settings) - 1
    more = f" {rest} more setting{'s' if rest != 1 else ''} below." if rest else ""
    if main.first is None:
        now = f"{name} now stands at {value(main.now, main.unit)}{_when(main.now_date)}"
        return f"{now}; nobody read it before it was first touched.{more}"
    who = ", ".join(part for part in (clean(main.first_by), main.first_date) if part)
    said = f"{name} was {value(main.first, main.unit)} before anybody touched it{f' ({who})' if who else ''}"
    if main.now == main.first:
        return f"{said}, and still is.{more}"
    return f"{said}; it now stands at {value(main.now, main.unit)}{_when(main.now_date)}.{more}"


def settings_sheet(result: SettingsResult) -> Sheet:
    """The whole sheet."""
    blocks: list[Block | None] = [
        _now(result),
        *(_history(each) for each in result.settings),
        _timing(result.timing),
        _cold(result.cold_starts),
        _limits(result),
        _runs(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        CAUTIONS,
        _how(result),
    ]
    return Sheet(
        title=headed(result.label, "how is it set?") if result.label else "How is it set?",
        lead=clean(result.sentence) or settings_headline(result),
        blocks=tuple(block for block in blocks if block is not None),
    )


def setting_name(history: SettingHistory) -> str:
    """The setting with its cylinder."""
    return f"{clean(history.what)}, cylinder {history.cylinder}" if history.cylinder else clean(history.what)


def value(reading: float | None, unit: str) -> str:
    """A reading as it was written."""
    if reading is None:
        return "not read"
    return f"{short(round(reading, 6))} {unit}".strip()


def _when(date: str) -> str:
    return f" ({date})" if date else ""


def _signed(step: float | None, unit: str) -> str:
    if step is None:
        return "-"
    return f"{format_change(round(step, 6), 4)} {unit}".strip()


def _now(result: SettingsResult) -> Table | None:
    if not result.settings:
        return None
    return Table(
        title="Before anybody touched it, and now",
        columns=(
            Column("setting", wrap=True),
            Column("before", "right"),
            Column("read by", rank=3),
            Column("now", "right"),
            Column("since", rank=1),
        ),
        rows=tuple(
            (
                setting_name(each),
                value(each.first, each.unit),
                ", ".join(part for part in (clean(each.first_by), each.first_date) if part) or "-",
                value(each.now, each.unit),
                each.now_date or "no day",
            )
            for each in result.settings
        ),
    )


def _history(history: SettingHistory) -> Table | None:
    if len(history.changes) < 2 and not history.changes[0].screw and history.changes[0].advance_step is None:
        return None
    turned = any(change.advance is not None for change in history.changes)
    unit = history.unit
    return Table(
        title=f"{setting_name(history)[:1].upper()}{setting_name(history)[1:]} in {clean(unit)}, step by step"
        if unit
        else f"{setting_name(history)[:1].upper()}{setting_name(history)[1:]}, step by step",
        columns=(
            Column("day"),
            Column("who", rank=3),
            Column("found", "right"),
            Column("set", "right"),
            Column("tight", "right", 1),
            Column("step", "right"),
            *([Column("crank, deg", "right", 1), Column("since first, deg", "right", 2)] if turned else []),
            Column("how", wrap=True, rank=4),
        ),
        rows=tuple(_row(change, unit, turned) for change in history.changes),
        note="Tight: read again with the screws tight. Crank: more is earlier, by this pump's own lift curve."
        if turned
        else "Tight: read again with the screws tight.",
    )


def _row(change: SettingChange, unit: str, turned: bool) -> tuple[str, ...]:
    how = ", ".join(
        part
        for part in (
            clean(change.screw),
            clean(change.direction),
            clean(change.turn),
            f"from {clean(change.start)}" if change.start else "",
            f"at {number(change.temperature, 0)} °C" if change.temperature is not None else "",
            clean(change.note),
        )
        if part
    )
    return (
        change.date or "no day",
        clean(change.by) or "-",
        value(change.found, "") if change.found is not None else "-",
        value(change.set, "") if change.set is not None else "-",
        value(change.tightened, "") if change.tightened is not None else "-",
        _signed(change.step, unit),
        *([_degrees(change.advance_step), _degrees(change.advance)] if turned else []),
        how or "-",
    )


def _degrees(figure: Figure | None) -> str:
    return "-" if figure is None else amount(figure, signed=True, most_decimals=1)


def _timing(timing: LiftTiming | None) -> Table | None:
    if timing is None:
        return None
    rows = [
        ("points of the lift curve", str(timing.points)),
        ("lift measured", f"{number(timing.lowest_lift, 2)} to {number(timing.highest_lift, 2)} mm"),
        ("dial gauge, give or take", f"{short(timing.dial.value)} mm"),
        ("crank angle, give or take", f"{short(timing.protractor.value)}°"),
    ]
    if timing.per_degree is not None:
        rows.append(("lift for one degree of crank, where it stands", f"{amount(timing.per_degree)} mm"))
    return Table(
        title="Millimetres to degrees, on this pump",
        columns=(Column("", wrap=True), Column("", "right")),
        rows=tuple(rows),
        note="No factor holds for every pump: it depends on the cam. This one is read off this pump's own curve.",
    )


def _cold(found: ColdStarts | None) -> Table | None:
    if found is None:
        return None
    rows = tuple(
        (
            start.date or "no day",
            f"{number(start.temperature, 0)} °C",
            f"{short(start.time)} s",
            _expected(start.expected),
            clean(start.setting) or "-",
        )
        for start in found.starts
    )
    growth = ""
    if found.growth is not None and found.growth.half_width > MOST_DOUBT_OF_GROWTH:
        growth = " What a degree colder costs cannot be told from so few."
    elif found.growth is not None:
        growth = f" Each degree colder: {amount(found.growth, signed=True, most_decimals=0)} % more seconds."
    return Table(
        title="Cold starts, a weak sign",
        columns=(
            Column("day"),
            Column("at", "right"),
            Column("starter", "right"),
            Column("the others let expect", "right", 1),
            Column("timing then", rank=2),
        ),
        rows=rows,
        note=f"{found.words}{growth}",
    )


def _expected(seconds: Figure | None) -> str:
    """What the other starts let expect; that they say nothing, where it could be ten times as much at one end."""
    if seconds is None:
        return "-"
    if seconds.high > WIDEST_EXPECTED * seconds.low:
        return "anything: too few"
    return f"{number(seconds.low, 1)} to {number(seconds.high, 1)} s"


def _limits(result: SettingsResult) -> Table | None:
    if not result.limits:
        return None
    words = {True: "keeps to it", False: "beyond it", None: "not read"}
    return Table(
        title="Limits that you drew yourself",
        columns=(Column("setting", wrap=True), Column("from", "right"), Column("to", "right"), Column("now", "right"),
                 Column(""), Column("drawn by", rank=1)),
        rows=tuple(
            (
                clean(each.what),
                "-" if each.lowest is None else value(each.lowest, each.unit),
                "-" if each.highest is None else value(each.highest, each.unit),
                value(each.now, each.unit),
                words[each.keeps],
                clean(each.by) or "-",
            )
            for each in result.limits
        ),
        note="This program knows no safe limit of your engine.",
    )  # fmt: skip


def _runs(result: SettingsResult) -> Table | None:
    if not result.runs:
        return None
    return Table(
        title="What was set on each run",
        columns=(Column("run", wrap=True), Column("settings", wrap=True)),
        rows=tuple(
            (clean(run.run), ", ".join(f"{clean(name)} {value(v, run.units[name])}" for name, v in run.values.items()))
            for run in result.runs
        ),
    )


def _how(result: SettingsResult) -> Prose:
    made = result.provenance
    return Prose(
        title="How it was found",
        lines=(
            "What counts is the reading with the screws tight; where there is none, what was set; else what was found.",
            "Give or take (±): 95 times in 100 the truth lies inside.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
