"""The sheet of the dials: what to believe, in one sentence, then each dial."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, is_known, number

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.dials_result import DialsResult

R39 = (
    "UN R39, 5.3, for type approval of new vehicles: a speedometer never shows less than the true speed, and never "
    "more than a tenth of it and 4 km/h too much. Tested at 40, 80 and 120 km/h on the dial (these speeds from "
    "memory). What holds for your vehicle your own country says; for odometers this text sets no limit."
)


CAUTIONS = Prose(
    title="On the road and with fuel",
    lines=(
        "The driver drives, somebody else reads and writes. Stay within the limit by the receiver.",
        "Fuel is drained and filled outside, engine off, an extinguisher at hand, nothing that sparks near.",
    ),
)


def dials_headline(result: DialsResult) -> str:
    """What a driver does with it."""
    parts = []
    speed = result.speedometer
    if speed is not None:
        near = min(speed.speeds, key=lambda s: abs(s.indicated.value - 80) if s.read else 1e9)
        shown = number(near.indicated.value, 0)
        parts.append(f"At {shown} km/h on the dial you drive {amount(near.true_speed, most_decimals=1)} km/h")
    way = result.odometer
    if way is not None:
        parts.append(f"100 km on the odometer are {amount(way.factor.scaled(100, 'km'), most_decimals=1)} km of road")
    far = result.range
    if far is not None:
        goes = amount(far.distance, most_decimals=0)
        parts.append(f"the fuel goes {goes} km; count on no more than {number(far.count_on, -1)}")
    elif result.fuel_gauge is not None:
        half = next(p for p in result.fuel_gauge.points if p.needle == 0.5)
        parts.append(f"needle on the middle means {amount(half.content, most_decimals=0)} L in the tank")
    for change in result.changes[:1] if len(parts) < 2 else ():
        if change.true_speed is not None and change.at_indicated is not None:
            parts.append(
                f"after {clean(change.what)}, {number(change.at_indicated.value, 0)} km/h on the dial are "
                f"{amount(change.true_speed, most_decimals=1)} km/h"
            )
        elif not parts:
            parts.append(
                f"after {clean(change.what)} the dials read {number(100 * (change.reads.value - 1), 1)} % otherwise"
            )
    said = "; ".join(parts) or "No dial was read"
    return f"{said[0].upper()}{said[1:]}."


def dials_sheet(result: DialsResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _speedometer(result),
        _odometer(result),
        _gauge(result),
        _range(result),
        _changes(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
        CAUTIONS,
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: {clean(result.label)}",
        lead=clean(result.sentence) or dials_headline(result),
        under=("Give or take (±): 95 times in 100 the truth lies inside.",),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _speedometer(result: DialsResult) -> Table | None:
    found = result.speedometer
    if found is None:
        return None
    carried = any(not s.read for s in found.speeds)
    columns = (
        Column("dial, km/h", "right"),
        Column("true, km/h", "right"),
        Column("reads high by, km/h", "right"),
        Column("UN R39: dial at most, km/h", "right", 1),
        Column("keeps to it", "right", 2),
        *((Column("read", "left", 3),) if carried else ()),
    )
    rows = tuple(
        (
            number(s.indicated.value, 0),
            amount(s.true_speed, most_decimals=1),
            amount(s.error, signed=True, most_decimals=1),
            number(s.upper_limit.value, 0),
            _chance(s.within_limits),
            *(("" if s.read else "carried on",) if carried else ()),
        )
        for s in found.speeds
    )
    words = {
        "within": "It keeps to the limits of UN R39 where it was read.",
        "probably within": "It probably keeps to the limits of UN R39 where it was read.",
        "open": "Whether it keeps to the limits of UN R39 is open.",
        "probably outside": "It probably does not keep to the limits of UN R39.",
        "outside": "It does not keep to the limits of UN R39.",
    }
    return Table(title="Speedometer", columns=columns, rows=rows, note=words[found.verdict])


def _chance(share: float) -> str:
    if share > 0.995:
        return "sure"
    return "no" if share < 0.005 else f"{number(100 * share, 0)} in 100"


def _odometer(result: DialsResult) -> Table | None:
    found = result.odometer
    if found is None:
        return None
    columns = (Column("odometer, km", "right"), Column("true, km", "right"), Column("factor", "right"))
    rows = tuple(
        (
            amount(s.indicated, most_decimals=2),
            amount(s.distance, most_decimals=2),
            amount(s.factor, most_decimals=4),
        )
        for s in found.stretches
    )
    to = f" It belongs to {clean(found.belongs_to)}." if found.belongs_to else ""
    note = (
        f"Factor, true over indicated: {amount(found.factor, most_decimals=4)}.{to} A change of tyres or axle ends it."
    )
    return Table(title="Odometer", columns=columns, rows=rows, note=note)


def _gauge(result: DialsResult) -> Table | None:
    found = result.fuel_gauge
    if found is None:
        return None
    columns = (Column("needle"), Column("in the tank, L", "right"))
    names = {0.0: "empty", 0.25: "1/4", 0.5: "1/2", 0.75: "3/4", 1.0: "full"}
    rows = tuple(
        (names.get(p.needle, f"{8 * p.needle:.0f}/8"), amount(p.content, most_decimals=1)) for p in found.points
    )
    return Table(title="Fuel gauge", columns=columns, rows=rows)


def _range(result: DialsResult) -> Table | None:
    found = result.range
    if found is None:
        return None
    columns = (Column("fuel"), Column("", "right"))
    rows = (
        ("left in the tank, L", amount(found.fuel_left, most_decimals=1)),
        ("consumption, L/100 km", amount(found.consumption, most_decimals=1)),
        ("goes, km", amount(found.distance, most_decimals=0)),
        ("count on, km", number(found.count_on, -1)),
    )
    note = f"By the {found.known_by}. Of 100 such tanks 95 reach what is counted on."
    return Table(title="How far the fuel goes", columns=columns, rows=rows, note=note)


def _changes(result: DialsResult) -> Table | None:
    if not result.changes:
        return None
    columns = (
        Column("change", wrap=True),
        Column("dials read", "right"),
        Column("80 km/h on the dial", "right"),
        Column("odometer factor", "right", 1),
        Column("engine speed", "right", 2),
    )
    rows = tuple(
        (
            clean(c.what),
            _share(c.reads.scaled(100, "%")),
            "-" if c.true_speed is None else f"{amount(c.true_speed, most_decimals=1)} km/h",
            "-" if c.odometer_factor is None else amount(c.odometer_factor, most_decimals=3),
            _share(c.engine_speed_change, signed=True),
        )
        for c in result.changes
    )
    note = "Dials read: new over old at the same true speed. Engine speed: at the same true speed in the same gear."
    return Table(title="What a change will do", columns=columns, rows=rows, note=note)


def _share(figure: Figure, *, signed: bool = False) -> str:
    """Per cent with its give-or-take; to a tenth where there is none."""
    if figure.half_width > 0 or not is_known(figure):
        return f"{amount(figure, signed=signed, most_decimals=1)} %"
    return f"{'+' if signed and figure.value > 0 else ''}{number(figure.value, 1)} %"


def _how(result: DialsResult) -> Prose:
    made = result.provenance
    return Prose(
        title="How it was found",
        lines=(
            R39,
            "Speedometer and odometer have factors of their own: never use one for the other.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
