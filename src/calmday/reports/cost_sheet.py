"""The sheet about money: the sentence, what each costs, five ways of counting, break-even, payback, small savings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.cost_sentence import cost_headline, years_between, years_words
from calmday.reports.fuel_cautions import UNTAXED
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Block, Column, Prose, Sheet, Table, noted
from calmday.reports.words import amount, clean, file_words, headed, number, short

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.cost_result import CostResult, Payback

BASIS_WORDS = {
    "volume": "fuel by volume",
    "mass": "fuel by mass",
    "energy": "energy of the fuel",
    "carbon dioxide": "carbon dioxide",
    "money": "money",
}


def cost_sheet(result: CostResult) -> Sheet:
    """The whole sheet."""
    blocks: list[Block | None] = [
        _costs(result),
        _payback(result.payback) if result.payback is not None else None,
        _five_ways(result),
        _differences(result),
        _break_even(result),
        _small_saving(result),
        _prices(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
        Prose(title="Fuel and the law", lines=(UNTAXED,)),
    ]
    return Sheet(
        title=headed(result.label, "what it costs") if result.label else "What it costs",
        lead=clean(result.sentence) or cost_headline(result),
        blocks=tuple(block for block in blocks if block is not None),
    )


def _figure(figure: Figure | None, places: int = 2) -> str:
    return "-" if figure is None else amount(figure, most_decimals=places)


def _costs(result: CostResult) -> Table | None:
    if not result.costs:
        return None
    ranged = any(line.cost_over_year is not None for line in result.costs)
    carried = any(line.converted is not None for line in result.costs)
    per = clean(result.quoted_for)
    year_note = f"At a year’s prices: for {per} too, at a price anywhere between the lowest and the highest named."
    columns = [
        Column("what", wrap=True),
        Column("at the price", wrap=True, rank=1),
        Column(f"for {per}", "right"),
        Column("a km", "right", 3),
        Column("a mile", "right", 4),
        *([Column("at a year’s prices", "right", 2, note=year_note)] if ranged else []),
        *([Column("carried over", "right", 1)] if carried else []),
    ]
    rows = tuple(
        (
            clean(line.use),
            clean(line.price),
            _with_currency(line.cost),
            _with_currency(line.cost_per_km, 3),
            _with_currency(line.cost_per_mile, 3),
            *([_with_currency(line.cost_over_year)] if ranged else []),
            *([_with_currency(line.converted)] if carried else []),
        )
        for line in result.costs
    )
    note = noted(columns)
    if carried:
        note = f"{note} Carried over by the rate typed: {'; '.join(map(clean, result.rates))}.".strip()
    return Table(title="What it costs", columns=tuple(columns), rows=rows, note=note)


def _with_currency(figure: Figure | None, places: int = 2) -> str:
    """`12.2 ± 0.6 EUR`, whatever distance or time it is for."""
    return "-" if figure is None else f"{_figure(figure, places)} {figure.unit.split('/')[0]}"


def _payback(back: Payback) -> Table:
    rows = [
        ("the change", f"from “{clean(back.base)}” to “{clean(back.use)}”"),
        ("what it cost", f"{_figure(back.outlay, 0)} {back.currency}"),
        ("saved on fuel", amount_unit_words(back.saved_per_distance)),
        ("driven in a year", f"{_figure(back.yearly_distance, 0)} km"),
        ("saved in a year", f"{_figure(back.yearly_saving, 0)} {back.currency}"),
        ("paid for after", _span(back.years)),
        ("which is a distance of", f"{_distance(back.distance)}"),
        ("pays for itself at all", f"in {number(100 * back.pays_ever, 0)} of 100 cases"),
        (
            f"within {short(back.horizon)} years",
            f"in {number(100 * back.pays_within, 0)} of 100 cases",
        ),
        (f"gain after {short(back.horizon)} years", f"{_figure(back.gain, 0)} {back.currency}"),
    ]
    return Table(
        title="When has it paid for itself?",
        columns=(Column(""), Column("", wrap=True)),
        rows=tuple(rows),
        note=f"Reckoned with: {'; '.join(map(clean, back.prices))}. Money later counts like money now.",
    )


def amount_unit_words(figure: Figure) -> str:
    """`4.3 ± 0.6 EUR for 100 km` from a figure in EUR/100 km."""
    currency, _, per = figure.unit.partition("/")
    return f"{_figure(figure)} {currency} for {per}"


def _span(figure: Figure) -> str:
    middle = years_words(figure.value)
    return middle if figure.low == figure.high else f"{middle} ({years_between(figure)})"


def _distance(figure: Figure) -> str:
    def said(value: float) -> str:
        return number(value, -2 if value < 20_000 else -3) if value < 1e12 else "never"

    return f"{said(figure.value)} km ({said(figure.low)} to {said(figure.high)})"


def _five_ways(result: CostResult) -> Table | None:
    columns = (
        Column("counted by"),
        *(Column(clean(use.name), "right", 1 if i > 2 else 0, wrap=True) for i, use in enumerate(result.uses)),
        Column("least", rank=1, wrap=True),
    )
    rows = []
    for basis in result.bases:
        figures = tuple("-" if figure is None else amount(figure, most_decimals=2) for figure in basis.figures)
        unit = f", {_unit(basis.unit)}" if basis.unit else ""
        if basis.sure is None:
            least = clean(basis.why) or "-"
        elif basis.sure < 0.9:
            least = "we can't tell"
        else:
            least = f"{clean(basis.least)} ({number(100 * basis.sure, 0)} in 100)"
        rows.append((f"{BASIS_WORDS[basis.basis]}{unit}", *figures, least))
    single = len(result.uses) < 2
    return Table(
        title="Five ways of counting the same driving",
        columns=columns[:-1] if single else columns,
        rows=tuple(row[:-1] if single else row for row in rows),
        note="" if single else "None of the five is the right one: say which you mean.",
    )


def _unit(unit: str) -> str:
    return {"L/100km": "L/100 km", "kg/100km": "kg/100 km"}.get(unit, unit)


def _differences(result: CostResult) -> Table | None:
    if not result.differences:
        return None
    rows = tuple(
        (
            f"{clean(each.use)} against {clean(each.base)}",
            BASIS_WORDS[each.basis],
            f"{amount(each.fuel_change, signed=True, most_decimals=1)} %",
            f"{amount(each.distance_change, signed=True, most_decimals=1)} %",
            f"{amount(each.symmetric, signed=True, most_decimals=1)} %",
        )
        for each in result.differences
    )
    columns = (
        Column("which", wrap=True),
        Column("counted by", rank=1),
        Column(
            "same distance", "right",
            note="Same distance: how much more or less it takes; the one named last is 100 %.",
        ),
        Column(
            "same amount", "right", 2,
            note="Same amount: how much further or less far it goes, with the same 100 %: one change, two bases.",
        ),
        Column("of the mean", "right", 3, note="Of the mean: the difference over the mean of both."),
    )  # fmt: skip
    return Table(
        title="The same difference as a percentage, said three ways", columns=columns, rows=rows, note=noted(columns)
    )


def _break_even(result: CostResult) -> Table | None:
    if not result.break_even:
        return None
    rows = []
    for each in result.break_even:
        cheaper = "-" if each.cheaper is None else f"{number(100 * each.cheaper, 0)} in 100"
        most = "-"
        if each.break_even_price is not None:
            currency, _, unit = each.break_even_price.unit.partition("/")
            most = f"{amount(each.break_even_price, most_decimals=2)} {currency} per {unit}"
        rows.append(
            (
                f"{clean(each.use)} against {clean(each.base)}",
                amount(each.price_ratio, most_decimals=2),
                "-" if each.ratio_now is None else number(each.ratio_now, 2),
                most,
                cheaper,
            )
        )
    return Table(
        title="At what price gap is it the same?",
        columns=(
            Column("which", wrap=True),
            Column("price ratio", "right"),
            Column("now", "right", 1),
            Column("its fuel may cost at most", "right"),
            Column("cheaper now", "right", 2),
        ),
        rows=tuple(rows),
        note="Price ratio: price of its fuel over that of the other, per litre, at which both cost the same.",
    )


def _small_saving(result: CostResult) -> Table | None:
    rows = [
        (
            clean(use.name),
            "-" if use.range is None else f"{_figure(use.range, 0)} km",
            "-" if use.yearly_fuel is None else f"{_figure(use.yearly_fuel, 0)} L",
            _with_currency(use.yearly_cost, 0),
            "-" if use.saved_fuel is None else f"{_figure(use.saved_fuel, 0)} L",
            _with_currency(use.saved_cost, 0),
        )
        for use in result.uses
    ]
    if all(cell == "-" for row in rows for cell in row[1:]):
        return None
    saving = short(result.saving.value)
    return Table(
        title=f"In a year, on a tank, and what {saving} % less fuel is worth",
        columns=(
            Column("what", wrap=True),
            Column("on a tank", "right", 2),
            Column("fuel in a year", "right", 1),
            Column("money in a year", "right"),
            Column(f"{saving} % in fuel", "right", 1),
            Column(f"{saving} % in money", "right"),
        ),
        rows=tuple(rows),
    )


def _price(figure: Figure | None, places: int) -> str:
    """A price as it is written on a pump: no more places than it has, and so many at the most."""
    if figure is None:
        return "-"
    return _figure(figure, places) if figure.half_width > 0 else short(round(figure.value, places))


def _prices(result: CostResult) -> Table | None:
    if not result.prices:
        return None
    rows = tuple(
        (
            clean(each.name),
            each.currency,
            _price(each.per_litre, 3),
            _price(each.per_us_gallon, 2),
            _price(each.per_imp_gallon, 2),
            _price(each.per_kg, 3),
            {"in": "tax in", "out": "without tax"}.get(each.tax, "not said"),
            each.date or "no day",
        )
        for each in result.prices
    )
    return Table(
        title="The prices",
        columns=(
            Column("price", wrap=True),
            Column("currency", rank=1),
            Column("a litre", "right"),
            Column("a US gallon", "right", 3),
            Column("an imperial gallon", "right", 4),
            Column("a kg", "right", 5),
            Column("tax", rank=2),
            Column("read on", rank=1),
        ),
        rows=rows,
    )


def _how(result: CostResult) -> Prose:
    origins = "; ".join(f"{clean(use.name)}: {clean(use.origin)}" for use in result.uses)
    made = result.provenance
    notes = tuple(f"{note[:1].upper()}{note[1:]}." for note in result.notes)
    return Prose(
        title="How it was found",
        lines=(
            f"{origins}.",
            *notes,
            "Give or take (±): 95 times in 100 the truth lies inside. Prices and rates are those you typed; "
            "none is fetched.",
            f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
            f"from {file_words(made.files)}.",
        ),
    )
