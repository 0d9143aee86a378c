"""The sheet of a day of coastdowns: drag and rolling in one sentence, the road load, each pass, where the doubt is."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from calmday.metrology.rounding import decimals_for_half_width
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.coastdown_result import CoastdownResult, ForceAt


BETTER: Final = {
    "mass": "Weigh the vehicle.",
    "rotating parts": "Say in rotating_mass what wheels and shafts add.",
    "wind": "Roll on a calmer day.",
    "gusts, road and receiver": "Roll on another day or road; with places recorded, begin each pair further along.",
}
"""What to do about the largest source of doubt."""


def coastdown_headline(result: CoastdownResult) -> str:
    """Force at the middle speed with its doubt, and what of it is air.

    >>> coastdown_headline(result)  # doctest: +SKIP
    'At 80 km/h on a calm day, 430 N hold this vehicle back, give or take 18: 270 N of it air, 130 N tyres, ...'
    """
    at = _middle(result)
    places = decimals_for_half_width(at.force.half_width) if at.force.half_width > 0 else 0
    said = (
        f"At {number(at.speed.value, 0)} km/h on a calm day, {number(at.force.value, min(places, 0))} N hold this "
        f"vehicle back, give or take {number(at.force.half_width, min(places, 0))}: "
        f"{number(100 * at.air.value / at.force.value, 0)} % of it is air"
    )
    drag = result.drag_area
    fine = min(decimals_for_half_width(drag.half_width), 3) if drag.half_width > 0 else 2
    said += f" (drag area {number(drag.value, fine)} m², give or take {number(drag.half_width, fine)})"
    return f"{said}."


def _middle(result: CoastdownResult) -> ForceAt:
    wanted = result.more_passes.speed.value
    return min(result.forces, key=lambda one: abs(one.speed.value - wanted))


def coastdown_sheet(result: CoastdownResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    count = len(result.passes)
    blocks: list[Block | None] = [
        stops,
        _found(result),
        _forces(result),
        _passes(result),
        _more(result),
        _doubt(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _book(result),
        _how(result),
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: {clean(result.label)}",
        lead=clean(result.sentence) or coastdown_headline(result),
        under=(f"{count} passes, fitted together." if count > 1 else "One pass: an indication.",),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _amount(figure: Figure, places: int = 3) -> str:
    return amount(figure, most_decimals=places) if math.isfinite(figure.value) else "-"


def _found(result: CoastdownResult) -> Table:
    columns = (Column("what"), Column("before", "right", 1), Column("found", "right"), Column("unit"))
    rows = [
        ("drag area", _amount(result.drag_area_before), _amount(result.drag_area), "m²"),
        (
            "rolling resistance, all that turns",
            _amount(result.rolling_resistance_before, 5),
            _amount(result.rolling_resistance, 5),
            "of weight",
        ),
        (
            "of it the tyres",
            _amount(result.tyre_rolling_resistance_before, 5),
            _amount(result.tyre_rolling_resistance, 5),
            "of weight",
        ),
        ("wind along the road, from ahead of pass 1", "-", _amount(result.wind_along, 2), "m/s"),
    ]
    rows += [
        (f"grade of the road{'' if len(result.grade) == 1 else f' {k}'}, as first driven", "-", _amount(one, 2), "%")
        for k, one in enumerate(result.grade, start=1)
    ]
    load = result.road_load
    rows += [
        ("road load f0", "-", _amount(load.f0, 1), "N"),
        ("road load f1", "-", _amount(load.f1, 3), "N/(km/h)"),
        ("road load f2", "-", _amount(load.f2, 5), "N/(km/h)²"),
    ]
    return Table(
        title="What the passes say",
        columns=columns,
        rows=tuple(rows),
        note=(
            "On the calm standard day: still air, 20 °C, 100 kPa; tyres warm. Rolling is stated at 60 km/h, "
            "that of the tyres at 70 km/h."
        ),
    )


def _forces(result: CoastdownResult) -> Table:
    columns = (
        Column("km/h", "right"),
        Column("force, N", "right"),
        Column("air", "right", 1),
        Column("tyres", "right", 1),
        Column("driveline", "right", 2),
        Column("power, kW", "right"),
    )
    rows = tuple(
        (
            number(one.speed.value, 0),
            _amount(one.force, 0),
            _amount(one.air, 0),
            _amount(one.rolling, 0),
            _amount(one.driveline, 0),
            _amount(one.power, 1),
        )
        for one in result.forces
    )
    return Table(title="What holds the vehicle back in neutral", columns=columns, rows=rows)


def _passes(result: CoastdownResult) -> Table:
    columns = (
        Column("pass"),
        Column("km/h", "right"),
        Column("took, s", "right"),
        Column("heading", "right", 2),
        Column("head wind, m/s", "right", 3),
        Column("misfit, km/h", "right", 1),
        Column("on its own, N", "right"),
    )
    rows = tuple(
        (
            f"{one.number}{' odd' if one.odd else ''}",
            f"{number(one.from_speed.value, 0)} to {number(one.to_speed.value, 0)}",
            number(one.duration.value, 0),
            "-" if one.heading_deg is None else f"{number(one.heading_deg, 0)}°",
            _amount(one.headwind, 1),
            number(3.6 * one.misfit.value, 2),
            _amount(one.extra_force, 0),
        )
        for one in result.passes
    )
    note = "On its own: force that this pass alone was held back by, beyond what the others explain."
    return Table(title="Each pass", columns=columns, rows=rows, note=note)


def _more(result: CoastdownResult) -> Table:
    more = result.more_passes
    rows = tuple((str(count), f"{number(half, 1)} %") for count, half in more.table)
    wanted = number(more.wanted_percent, 1)
    if more.now_percent <= more.wanted_percent:
        note = f"The {wanted} % asked for are reached with these passes."
    elif more.passes is not None:
        note = f"{more.passes} passes like these would reach the {wanted} % asked for."
    else:
        out_of_reach = more.floor_percent > more.wanted_percent
        reach = "No number of passes like these reaches" if out_of_reach else "Dozens of passes like these do not reach"
        note = (
            f"{reach} {wanted} %: mass, rotating parts, tyres, driveline and the road itself leave "
            f"{number(more.floor_percent, 1)} %. {_better(result)}"
        )
    columns = (Column("passes in all"), Column("give or take", "right"))
    title = f"How well the force at {number(more.speed.value, 0)} km/h would be known"
    return Table(title=title, columns=columns, rows=rows, note=note)


def _better(result: CoastdownResult) -> str:
    """What would help where more passes do not, by what most of the doubt comes from."""
    most = result.doubt[0].source if result.doubt else ""
    return BETTER.get(most, "Roll on another day, or on another road.")


def _doubt(result: CoastdownResult) -> Bars | None:
    lines = [line for line in result.doubt if line.share >= 0.01]
    if not lines:
        return None
    longest = lines[0].share
    bars = tuple(Bar(line.source, line.share / longest, f"{number(100 * line.share, 0)} %") for line in lines)
    return Bars(
        title="Where the doubt of the force comes from",
        bars=bars,
        note="Shares of the whole doubt, counted by squares.",
    )


def _book(result: CoastdownResult) -> Prose | None:
    book = result.by_the_book
    if book is None:
        return None
    precision = f", precision {number(book.precision_percent, 1)} %" if book.precision_percent is not None else ""
    return Prose(
        title="The same passes by the book",
        lines=(
            f"Times between speeds, both ways, corrected as UN GTR 15 does: {number(book.force, 0)} N at "
            f"{number(book.force_speed, 0)} km/h (f0 {number(book.f0, 0)} N, f1 {number(book.f1, 2)} N/(km/h), "
            f"f2 {number(book.f2, 4)} N/(km/h)²{precision}). Beside the fit as a check: it knows nothing of gusts, "
            f"side wind and the shape of the road. {book.status.capitalize()}.",
        ),
    )


def _how(result: CoastdownResult) -> Prose:
    made, quality = result.provenance, result.quality
    moved = f", moved {quality.moves} times" if quality.moves else ""
    return Prose(
        title="How it was found",
        lines=(
            "The equation of motion is integrated and held against the recorded speed of all passes together; speed is "
            "never differentiated. Gusts, the shape of the road and the receiver are allowed for; their size was read "
            "off the passes.",
            f"{number(quality.draws, 0)} simulated vehicles, of which {number(quality.effective_draws, 0)} still "
            f"counted after the passes at first{moved}.",
            "Give or take (±): 95 times in 100 the truth lies inside.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
