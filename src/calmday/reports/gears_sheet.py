"""The sheet about gears: the sentence, what each gear holds, what is in hand, when to change, what the run says."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.along_sheet import along_blocks
from calmday.reports.gears_sentence import gears_headline, hold_words, in_unit, ordinal
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, number, short

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.gears_result import Gear, GearsResult, ShiftPoint

BASIS_WORDS = {
    "equal acceleration": "both gears pull alike",
    "governed speed": "governed speed",
    "smooth running": "next gear runs cleanly",
    "load": "next gear has a reserve",
    "stay": "stay in the lower gear",
}
LIMIT_WORDS = {"power": "power", "governor": "governed speed", "gearing": "too tall here"}


def gears_sheet(result: GearsResult, unit: str = "km/h") -> Sheet:
    """The whole sheet, speeds in km/h or mph."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _held(result, unit),
        _in_hand(result, unit),
        _which(result, unit),
        _shifts("Change up for best acceleration", result.shift_points.best_acceleration, unit),
        _shifts("Change up for least fuel", result.shift_points.least_fuel, unit),
        _sprint(result, unit),
        *(along_blocks(result.run, unit) if result.run is not None else ()),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: gears" if result.vehicle else "Gears",
        lead=gears_headline(result, unit),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def speed_words(figure: Figure | None, unit: str) -> str:
    """A speed with its give-or-take in the unit asked for, `-` where there is none."""
    if figure is None:
        return "-"
    return amount(in_unit(figure, unit), most_decimals=1)


def _held(result: GearsResult, unit: str) -> Bars:
    fastest = max((g.sustained_speed.value for g in result.gears if g.sustained_speed is not None), default=1.0)
    bars = tuple(
        Bar(
            label=f"{ordinal(gear.gear)}, {_stop(gear)}",
            length=gear.sustained_speed.value / fastest if gear.sustained_speed else 0.0,
            text=speed_words(gear.sustained_speed, unit),
        )
        for gear in result.gears
    )
    return Bars(
        title=f"Speed each gear holds, {unit}, and what stops it",
        bars=bars,
        note="Too tall here: a lower gear holds more in this wind, on this grade, with this load.",
    )


def _stop(gear: Gear) -> str:
    return LIMIT_WORDS[gear.limit] if gear.sustained_speed is not None else "holds none"


def _in_hand(result: GearsResult, unit: str) -> Table:
    shown = short(round(in_unit(result.asked.speed, unit).value, 1))
    columns = (
        Column("gear"),
        Column("of full load, %", "right"),
        Column("climbs, %", "right"),
        Column("head wind, m/s", "right"),
        Column("in hand, N", "right", 1),
        Column("rpm", "right", 1),
        Column("L/100 km", "right", 2),
        Column(f"{unit} at 1000 rpm", "right", 3),
    )
    return Table(
        title=f"In hand at {shown} {unit}",
        columns=columns,
        rows=tuple(_in_hand_row(gear, unit) for gear in result.gears),
        note="Climbs, head wind: the steepest grade and the strongest wind from ahead it could still hold there.",
    )


def _in_hand_row(gear: Gear, unit: str) -> tuple[str, ...]:
    name, per_1000 = ordinal(gear.gear), speed_words(gear.speed_per_1000rpm, unit)
    if gear.out_of_range or gear.load is None:
        return (name, clean(gear.out_of_range) or "-", "-", "-", "-", "-", "-", per_1000)
    return (
        name,
        _figure(gear.load.scaled(100, "%"), 0),
        _figure(gear.reserve_grade, 1),
        _figure(gear.strongest_headwind, 1),
        _figure(gear.reserve, 0),
        _rpm(gear.engine_speed),
        _figure(gear.fuel, 2),
        per_1000,
    )


def _figure(figure: Figure | None, places: int) -> str:
    return "-" if figure is None else amount(figure, most_decimals=places)


def _rpm(figure: Figure | None) -> str:
    """An engine speed to tens at the finest: no rev counter and no ear tells more."""
    if figure is None:
        return "-"
    return amount(figure, most_decimals=-1) if figure.half_width > 0 else number(figure.value, -1)


def _which(result: GearsResult, unit: str) -> Prose:
    asked, hold = result.asked, result.hold
    at = short(round(in_unit(asked.speed, unit).value, 1))
    lines = [hold_words(result, unit)]
    if hold.top_speed is not None:
        lines.append(f"Fastest: {speed_words(hold.top_speed, unit)} {unit}, in {ordinal(hold.top_speed_gear)}.")
    steepest = max(result.gears, key=lambda gear: gear.steepest_grade.value)
    lines.append(
        f"Steepest hill: {_figure(steepest.steepest_grade, 1)} % in {ordinal(steepest.gear)} at "
        f"{speed_words(steepest.steepest_grade_at, unit)} {unit}, if the tyres grip."
    )
    if asked.assumed_speed:
        lines.append(f"Nobody chose the speed; {at} {unit} was taken.")
    return Prose(title="Which gear", lines=tuple(lines))


def _shifts(title: str, points: tuple[ShiftPoint, ...], unit: str) -> Table | None:
    if not points:
        return None
    dial = any(point.speedometer is not None for point in points)
    thrifty = any(point.fuel_saving is not None for point in points)
    columns = [
        Column("change"),
        Column(f"{unit} by satellite", "right"),
        *([Column("on the dial", "right")] if dial else []),
        Column("rpm before", "right", 1),
        Column("rpm after", "right", 2),
        *([Column("fuel saved, %", "right", 1)] if thrifty else []),
        Column("because", "left", 3),
    ]
    return Table(
        title=title,
        columns=tuple(columns),
        rows=tuple(_shift_row(point, unit, dial, thrifty) for point in points),
        note=_unreached(points),
    )


def _shift_row(point: ShiftPoint, unit: str, dial: bool, thrifty: bool) -> tuple[str, ...]:
    return (
        f"{point.from_gear} to {point.to_gear}",
        speed_words(point.speed, unit) if point.speed is not None else f"stay in {point.from_gear}",
        *([speed_words(point.speedometer, unit)] if dial else []),
        _rpm(point.engine_speed_before),
        _rpm(point.engine_speed_after),
        *([_figure(point.fuel_saving, 0)] if thrifty else []),
        BASIS_WORDS[point.basis],
    )


def _unreached(points: tuple[ShiftPoint, ...]) -> str:
    never = [point for point in points if point.speed is not None and point.reached < 0.5]
    if not never:
        return ""
    names = ", ".join(f"{point.from_gear} to {point.to_gear}" for point in never)
    return f"Not reached here: {names}. The lower gear runs out of thrust first."


def _sprint(result: GearsResult, unit: str) -> Table | None:
    found = result.acceleration
    rows = (
        ("0 to 100 km/h", found.to_100_kmh),
        ("0 to 60 mph", found.to_60_mph),
        ("quarter mile", found.quarter_mile),
    )
    known = [(name, f"{amount(time, most_decimals=1)} s") for name, time in rows if time is not None]
    if found.quarter_mile_speed is not None:
        known.append(("speed at its end", f"{speed_words(found.quarter_mile_speed, unit)} {unit}"))
    if not known:
        return None
    return Table(
        title="From rest at full load, predicted",
        columns=(Column(""), Column("", "right")),
        rows=tuple(known),
        note="Grip, clutch and the time of a change are assumed. Not on a public road.",
    )


def _how(result: GearsResult) -> Prose:
    asked = result.asked
    lines = [
        f"Air {number(asked.air_density.value, 3)} kg/m³ at {number(asked.temperature.value, 0)} °C; full load is "
        f"then {amount(asked.full_load_factor, most_decimals=2)} times the chart"
        f"{' (' + clean(asked.chart_standard) + ')' if asked.chart_standard else ''}.",
        "Head wind is at the height of the vehicle, steady and straight from ahead; a mast at 10 m shows more.",
        "Give or take (±): 95 times in 100 the truth lies inside.",
    ]
    made = result.provenance
    lines.append(
        f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
        f"from {file_words(made.files)}."
    )
    return Prose(title="How it was found", lines=tuple(lines))
