"""The sheet about a planned test: the sentence, go or no go, what to expect, how sure it will be, what helps."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.reports.plan_sentence import (
    ANSWER_WORDS,
    QUESTION_WORDS,
    fuel_words,
    laps_words,
    percent_words,
    plan_headline,
    time_words,
)
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, amount_unit, clean, file_words, number

if TYPE_CHECKING:
    from calmday.procedures.plan_result import PlanResult


def plan_sheet(result: PlanResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _verdict(result),
        _expect(result),
        _holds(result),
        _by_laps(result) if result.holds is None else None,
        _changes(result) if result.holds is None else None,
        _better(result) if result.holds is None else None,
        _small_things(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _how(result),
    ]
    return Sheet(
        title=f"{clean(result.vehicle)}: {clean(result.label)}" if result.vehicle else clean(result.label),
        lead=plan_headline(result),
        under=(f"The question: {QUESTION_WORDS[result.question]}",),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _verdict(result: PlanResult) -> Prose:
    verdict = result.verdict
    lines = [
        clean(verdict.why) if verdict.answer == "no go" else f"{ANSWER_WORDS[verdict.answer]}. {clean(verdict.why)}"
    ]
    if verdict.instead:
        lead = "What would answer it" if verdict.answer == "no go" else "What would make it surer"
        lines.append(f"{lead}: {'; '.join(clean(each) for each in verdict.instead)}.")
    return Prose(title="Go or no go, for this question", lines=tuple(lines))


def _expect(result: PlanResult) -> Table:
    rows = [
        ("distance", amount_unit(result.distance), laps_words(result.laps)),
        ("time", time_words(result.duration), f"{number(result.mean_speed.value, 0)} km/h on average"),
        ("fuel burnt", fuel_words(result.fuel_mass), f"{fuel_words(result.fuel_per_lap)} a lap"),
        ("as driven, L/100 km", amount(result.consumption.L_per_100km), _mpg(result, calm=False)),
        ("calm day, L/100 km", amount(result.calm_day.L_per_100km), _mpg(result, calm=True)),
        ("wind at 10 m, m/s", amount(result.wind.at_mast, most_decimals=0), _wind(result)),
        ("on the scale", f"{number(result.fits_scale.heaviest.value, 1)} kg", clean(result.fits_scale.words)),
        ("fuel on board", _board(result), clean(result.reserve.words)),
    ]
    columns = (Column(""), Column("expect", "right"), Column("", "left", 1, wrap=True))
    return Table(
        title="What to expect",
        columns=columns,
        rows=tuple(rows),
        note="Before the test: the give-or-take is that of the prediction, which the weighing will narrow.",
    )


def _mpg(result: PlanResult, *, calm: bool) -> str:
    figure = result.calm_day if calm else result.consumption
    return f"{amount(figure.mpg_us, most_decimals=0)} mpg US, {amount(figure.mpg_imp, most_decimals=0)} mpg imp"


def _wind(result: PlanResult) -> str:
    told = "" if result.wind.foretold else "not foretold; "
    return (
        f"{told}{amount(result.wind.at_vehicle, most_decimals=0)} m/s at the vehicle, costs "
        f"{amount(result.wind.penalty, most_decimals=0)} %"
    )


def _board(result: PlanResult) -> str:
    return fuel_words(result.reserve.on_board) if result.reserve.on_board is not None else "not said"


def _by_laps(result: PlanResult) -> Bars:
    widest = max(option.uncertainty_percent for option in result.by_laps)
    bars = tuple(
        Bar(
            label=f"{laps_words(option.laps)}{', advised' if option.laps == result.laps_advised else ''}",
            length=option.uncertainty_percent / widest,
            text=f"{percent_words(option.uncertainty_percent)}  ({number(option.distance.value, 0)} km, "
            f"{fuel_words(option.fuel_mass)}, weighing alone {percent_words(option.weighing_percent)})",
        )
        for option in result.by_laps
    )
    reached = f"{percent_words(result.wanted_percent)} is wanted{' (assumed)' if result.wanted_assumed else ''}: " + (
        f"{laps_words(result.laps_advised)} give it." if result.reaches_wanted else "no number of laps gives it."
    )
    chosen = next(option for option in result.by_laps if option.laps == result.laps)
    spread = (
        f"Nine days in ten {laps_words(chosen.laps)} give between {percent_words(chosen.low_percent)} and "
        f"{percent_words(chosen.high_percent)}."
    )
    return Bars(
        title="Give or take of the calm-day figure, by laps",
        bars=bars,
        note=reached if result.question in ("baseline", "cost") else spread,
    )


def _changes(result: PlanResult) -> Table:
    columns = (
        Column("runs on either side", "right"),
        Column("order"),
        Column("shows a change of", "right"),
        Column("by these runs alone", "right", 2),
        Column("hours", "right", 1),
        Column("fuel", "right", 3),
    )
    rows = tuple(
        (
            str(each.runs_per_side),
            "-".join(each.order) if each.runs_per_side <= 4 else f"{'-'.join(each.order[:8])}-...",
            percent_words(each.percent),
            percent_words(each.own_percent) if each.own_percent is not None else "cannot tell",
            number(each.hours, 1),
            fuel_words(each.fuel_mass),
        )
        for each in result.smallest_changes
    )
    return Table(
        title="The smallest change it could show",
        columns=columns,
        rows=rows,
        note=f"A before, B after the change; seen four times in five. Runs scatter by "
        f"{percent_words(result.scatter.percent)}: {clean(result.scatter.words)}.",
    )


def _holds(result: PlanResult) -> Prose | None:
    found = result.holds
    if found is None:
        return None
    lines = (
        f"{_times(found.chance)} in 100 it holds {number(found.speed.value, 0)} km/h against "
        f"{amount(found.head_wind, most_decimals=1)} m/s from ahead at the height of the vehicle"
        + (f" on a hill of {number(found.grade.value, 1)} %." if abs(found.grade.value) > 0.05 else "."),
        f"It holds that speed against {amount(found.strongest_wind, most_decimals=1)} m/s at the most.",
        f"In still air a hill of {amount(found.same_grade, most_decimals=1)} % asks as much more of the engine.",
    )
    return Prose(title="Will it hold?", lines=lines)


def _times(chance: float) -> str:
    if chance > 0.99:
        return "More than 99 times"
    return "Less than once" if chance < 0.01 else f"{number(100 * chance, 0)} times"


def _better(result: PlanResult) -> Table | None:
    if not result.improvements:
        return None
    rows = tuple(
        (clean(each.what), percent_words(each.uncertainty_percent), f"{each.minutes:.0f} min" if each.minutes else "-")
        for each in result.improvements
    )
    return Table(
        title=f"What would make {laps_words(result.laps)} surer than {percent_words(result.uncertainty_percent)}",
        columns=(Column("", wrap=True), Column("then give or take", "right"), Column("takes", "right", 1)),
        rows=rows,
    )


def _small_things(result: PlanResult) -> Prose:
    cost = result.stop_cost
    return Prose(
        title="What small things cost",
        lines=(
            f"One stop from {number(cost.speed.value, 0)} km/h: {amount(cost.stop, most_decimals=0)} g of fuel; "
            f"its kinetic energy alone is {amount(cost.kinetic, most_decimals=0)} g.",
            f"A minute of idling: {amount(cost.idle_per_minute, most_decimals=1)} g.",
        ),
    )


def _how(result: PlanResult) -> Prose:
    made = result.provenance
    lines = [
        f"The test was driven on paper {result.simulated_tests} times on {_days(result)} possible days and worked out "
        f"each time as a weighed run is; {number(100 * result.simulated_inside, 0)} in 100 of the intervals held the "
        "truth.",
        f"What is known of the vehicle: {clean(result.learned_from)}.",
        *(clean(note[0].upper() + note[1:]) + ("" if note.endswith(".") else ".") for note in result.notes if note),
        f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
        f"from {file_words(made.files)}.",
    ]
    return Prose(title="How it was found", lines=tuple(lines))


def _days(result: PlanResult) -> str:
    return number(result.simulated_tests / 4, 0)
