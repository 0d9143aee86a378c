"""The sheet of a what-if: the change in one sentence, before and after side by side, what is worth its money."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from calmday.reports.gears_sentence import ordinal
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.what_if_sentence import change_name, what_if_headline
from calmday.reports.words import amount, clean, file_words, number, percent, unit_words

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.what_if_result import Considered, WhatIfResult, Worth

NONE = "-"
RANKED: Final = {
    "money": "Best first: what saves most fuel for its money.",
    "work": "Best first: what saves most fuel for its hours of work.",
    "fuel": "Best first: what saves most fuel.",
}


def what_if_sheet(result: WhatIfResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _sides(result),
        _each(result),
        _worth(result),
        _axle(result),
        _year(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: what if?",
        lead=clean(result.sentence) or what_if_headline(result),
        under=(_under(result),),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _under(result: WhatIfResult) -> str:
    learnt = f"learnt from {clean(result.learnt_from)}" if result.learnt_from else "from the build sheet alone"
    return f"Before and after are the same simulated vehicles, {learnt}: what they share has cancelled."


def _considered(result: WhatIfResult) -> list[Considered]:
    return [*result.changes, *([result.together] if result.together is not None else [])]


def _sides(result: WhatIfResult) -> Table:
    columns = (
        Column("", wrap=True),
        Column("gear"),
        Column("engine, rpm", "right", 2),
        Column("still air, L/100 km", "right"),
        Column("in the wind", "right", 1),
        Column("load, %", "right", 3),
        Column("in hand, N", "right", 3),
        Column("flat out, km/h", "right", 2),
    )
    named = [("as it is", result.before), *((change_name(each), each.after) for each in _considered(result))]
    rows = tuple(
        (
            name,
            NONE if state.gear is None else ordinal(state.gear),
            _amount(state.engine_speed, 0),
            _amount(state.calm),
            _amount(state.windy),
            _amount(_hundred(state.load), 0),
            _amount(state.reserve, 0),
            _amount(state.sustained_speed, 0),
        )
        for name, state in named
    )
    return Table(
        title=f"As it is and as it would be, at {number(result.before.speed.value, 0)} km/h",
        columns=columns,
        rows=rows,
        note="Load, thrust in hand and flat out are straight into the wind.",
    )


def _hundred(figure: Figure | None) -> Figure | None:
    return None if figure is None else figure.scaled(100, "%")


def _amount(figure: Figure | None, places: int = 9) -> str:
    return NONE if figure is None else amount(figure, most_decimals=places)


def _each(result: WhatIfResult) -> Table | None:
    found = _considered(result)
    if not found:
        return None
    columns = (
        Column("what", wrap=True),
        Column("still air", "right"),
        Column("in the wind", "right"),
        Column("uses less, of 100", "right", 1),
        Column("flat out, km/h", "right", 2),
        Column("engine, rpm", "right", 3),
    )
    rows = tuple(
        (
            change_name(each),
            _percent(each.difference.calm_percent),
            _percent(each.difference.windy_percent),
            _share(each.difference.probability_less_fuel),
            _signed(each.difference.sustained_speed),
            _signed(each.difference.engine_speed),
        )
        for each in found
    )
    note = ""
    if result.interaction_percent is not None and result.together is not None:
        more = result.interaction_percent
        note = (
            f"Together they do {percent(more, signed=True)} beyond the changes one by one."
            if abs(more.value) >= 0.1
            else "Together they do what the changes one by one add up to."
        )
    return Table(title="What it changes, in fuel", columns=columns, rows=rows, note=note)


def _percent(figure: Figure | None) -> str:
    return NONE if figure is None else percent(figure, signed=True)


def _signed(figure: Figure | None) -> str:
    return NONE if figure is None else amount(figure, signed=True, most_decimals=0)


def _share(share: float | None) -> str:
    return NONE if share is None else number(100 * share, 0)


def _worth(result: WhatIfResult) -> Table | None:
    ranked = [(each, each.worth) for each in result.changes if each.worth is not None]
    if len(ranked) < 2 and not any(worth.payback_km or worth.per_year for _, worth in ranked):
        return None
    columns = [Column("", "right"), Column("what", wrap=True), Column("saves, L/100 km", "right", 3)]
    rows = [[str(worth.rank), change_name(each), _amount(worth.saving)] for each, worth in ranked]
    optional = (
        ("saves in a year", 0, [_money(worth.per_year, worth.currency) for _, worth in ranked]),
        (
            "costs",
            0,
            [NONE if worth.cost is None else f"{number(worth.cost, 0)} {worth.cost_currency}" for _, worth in ranked],
        ),
        ("work, h", 2, [NONE if worth.work_hours is None else number(worth.work_hours, 1) for _, worth in ranked]),
        ("has paid after, km", 1, [_payback(worth) for _, worth in ranked]),
    )
    for head, rank, cells in optional:
        if any(cell != NONE for cell in cells):
            columns.append(Column(head, "right", rank))
            for row, cell in zip(rows, cells, strict=True):
                row.append(cell)
    return Table(
        title="What to do first",
        columns=tuple(columns),
        rows=tuple(tuple(row) for row in rows),
        note=f"{RANKED[ranked[0][1].ranked_by]} Fuel alone; wear and pleasure are yours.",
    )


def _money(figure: Figure | None, currency: str) -> str:
    return NONE if figure is None else f"{amount(figure, most_decimals=0)} {currency}"


def _payback(worth: Worth) -> str:
    if worth.payback_km is None:
        return "never" if worth.cost is not None and worth.per_year is not None else NONE
    if worth.payback_km == 0:
        return "at once"
    places = -2 if worth.payback_km < 20_000 else -3
    upper = "perhaps never" if worth.payback_high_km is None else number(worth.payback_high_km, places)
    return f"{number(worth.payback_km, places)} ({number(worth.payback_low_km or 0.0, places)} to {upper})"


def _axle(result: WhatIfResult) -> Bars | None:
    axle = result.axle
    if axle is None:
        return None
    shown = [point for i, point in enumerate(axle.points) if i % 4 == 0 and point.fuel is not None]
    if not shown:
        return None
    most = max(point.fuel.value for point in shown if point.fuel is not None)
    bars = tuple(
        Bar(
            f"{point.ratio:.2f}, {ordinal(point.gear or 0)}",
            point.fuel.value / most,
            f"{amount(point.fuel)} {unit_words(point.fuel.unit)}",
        )
        for point in shown
        if point.fuel is not None
    )
    note = (
        f"Least at {axle.best:.2f}; from {axle.flat_from:.2f} to {axle.flat_to:.2f} the same within one per cent. "
        f"Fitted now: {axle.now:.2f}. The best would save {percent(axle.saving_percent)}. "
        "The gear is the tallest that surely pulls."
    )
    return Bars(title="Axle ratio", bars=bars, note=note)


def _year(result: WhatIfResult) -> Table | None:
    year = result.year
    if year is None:
        return None
    rows = [
        ("distance, km", number(year.distance.value, 0), ""),
        ("fuel, L", _amount(year.fuel_before), _amount(year.fuel_after)),
        ("of it cold starts, L", _amount(year.cold_starts), ""),
        ("L/100 km over the year", _amount(year.per_100_km_before), _amount(year.per_100_km_after)),
    ]
    note = ""
    if year.saved is not None:
        note = f"Saved in a year: {amount(year.saved)} L"
        note += (
            f", {amount(year.money_saved, most_decimals=0)} {year.currency}." if year.money_saved is not None else "."
        )
    columns = (Column("", wrap=True), Column("as it is", "right"), Column("as it would be", "right"))
    return Table(title="A whole year", columns=columns, rows=tuple(rows), note=note)


def _how(result: WhatIfResult) -> Prose:
    made = result.provenance
    return Prose(
        title="How it was found",
        lines=(
            "Steady driving on the model of the road and the engine. A wind from all around is the mean over a road "
            "that turns through every direction.",
            "Give or take (±): 95 times in 100 the truth lies inside, as far as the model goes.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
