"""The sheet of a comparison: the answer, the runs raw and corrected, where the doubt comes from, what would help."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.metrology.rounding import common_decimals, counted, listed
from calmday.reports.comparison_runs_sheet import left_out_table, runs_table
from calmday.reports.comparison_sentence import comparison_headline, places, same_to_us, span, way
from calmday.reports.run_sheet import remarks
from calmday.reports.sheet import Bar, Bars, Block, Column, Prose, Sheet, Table
from calmday.reports.words import amount, clean, file_words, number, signed

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.comparison_result import ComparisonResult

_SMALLEST_SHARE = 0.01


def comparison_sheet(result: ComparisonResult) -> Sheet:
    """The whole sheet."""
    stops = remarks("Before anything else", result.flags, ("stop",))
    blocks: list[Block | None] = [
        stops,
        _answer(result),
        _effects(result),
        _sweep(result),
        runs_table(result),
        left_out_table(result),
        _stories(result),
        _corrections(result),
        _doubt(result),
        remarks("Worth knowing", result.flags, ("caution", "note")),
        _other_ways(result),
        _how(result),
    ]
    vehicle = clean(result.vehicle)
    label = clean(result.label)
    return Sheet(
        title=f"{vehicle}: {label}" if vehicle else label,
        lead=clean(result.sentence) or comparison_headline(result),
        under=tuple(line for line in (clean(result.question), _confidence(result), _other_story(result)) if line),
        blocks=tuple(block for block in blocks if block is not None),
        sound=stops is None,
    )


def _confidence(result: ComparisonResult) -> str:
    """Confidence tied to how the test was laid out, not to adjectives; less where the answer stands on corrections."""
    design = result.design
    fewest = min(design.baseline_runs, design.changed_runs)
    leaning = any(flag.code == "correction-larger-than-effect" for flag in result.flags)
    several_days = design.days is not None and design.days > 1
    if result.change_percent is None or (result.verdict == "cannot tell" and fewest > 1):
        return ""
    if fewest <= 1:
        return "One run on a side: an indication."
    if leaning and result.verdict in ("less fuel", "more fuel"):
        return "What was taken off is more than what is left: an indication, whatever the number of runs."
    if fewest < 4:
        return "Two or three runs on a side: a fair figure if they agree."
    worth = ", over several days: you can argue with it." if several_days else ": a result."
    return f"Four runs or more on each side{worth}"


def _other_story(result: ComparisonResult) -> str:
    """The raw figures beside the answer, where it stands on what was taken off or they tell something else."""
    codes = {flag.code for flag in result.flags}
    raw = next((story.change_percent for story in result.stories if not story.headline), None)
    if raw is None or not codes & {"stories-disagree", "correction-larger-than-effect"}:
        return ""
    told = f"{number(abs(raw.value), places(raw))} % {way(raw.value)}, somewhere {span(raw)}"
    return f"As driven, with nothing taken off, it reads {told}: the answer stands on what was taken off."


def _answer(result: ComparisonResult) -> Table | None:
    change, economy = result.change_percent, result.mpg_change_percent
    if change is None or economy is None:
        return None
    rows = [
        ("fuel for the same distance", _signed(change), _span(change)),
        ("distance on the same fuel (mpg, km/L)", _signed(economy), _ends(economy)),
    ]
    for name, figure in ((result.baseline, result.baseline_g_per_km), (result.changed, result.changed_g_per_km)):
        if figure is not None:
            rows.append((f"{clean(name)}, g/km", amount(figure, most_decimals=1), ""))
    for name, figure in ((result.baseline, result.baseline_L_per_100km), (result.changed, result.changed_L_per_100km)):
        if figure is not None:
            rows.append((f"{clean(name)}, L/100 km", amount(figure, most_decimals=2), ""))
    chance = result.probability_less_fuel
    thirstier = change.value > 0
    if chance is not None:
        way = "more" if thirstier else "less"
        rows.append((f"chance that it uses {way} fuel at all", _chance(1 - chance if thirstier else chance), ""))
    rows += [
        (
            f"chance of at least {one.percent:g} % {'more' if thirstier else 'less'}",
            _chance(one.more if thirstier else one.less),
            "",
        )
        for one in result.chances
        if one.percent in (2.0, 5.0, result.design.smallest_change_percent)
    ]
    if result.smallest_detectable_percent is not None:
        rows.append(
            (
                "change that such a test sees four times in five",
                f"{number(result.smallest_detectable_percent, 1)} %",
                "",
            )
        )
    if result.aim_percent is not None:
        rows.append((f"more runs until {result.aim_percent:g} % would be seen", _needed(result.runs_needed), ""))
    return Table(
        title="The answer",
        columns=(Column("", wrap=True), Column("figure", "right"), Column("somewhere", "left", 1)),
        rows=tuple(rows),
        note="The first two lines are one and the same change, counted on two bases.",
    )


def _needed(runs: int | None) -> str:
    return "more than 200" if runs is None else "none" if runs == 0 else str(runs)


def _chance(chance: float) -> str:
    """A probability as so many times in a hundred."""
    if chance > 0.995:
        return "over 99 in 100"
    return "under 1 in 100" if chance < 0.005 else f"{number(100 * chance, 0)} in 100"


def _signed(figure: Figure) -> str:
    return f"{signed(figure.value, places(figure))} %"


def _span(figure: Figure) -> str:
    return span(figure)


def _ends(figure: Figure) -> str:
    at = places(figure)
    return f"{number(figure.low, at)} to {number(figure.high, at)} %"


def _effects(result: ComparisonResult) -> Table | None:
    if not result.effects:
        return None
    rows = tuple(
        (
            clean(effect.name),
            "-" if effect.change_percent is None else _signed(effect.change_percent),
            "-" if effect.change_percent is None else span(effect.change_percent),
            listed([clean(name) for name in effect.tied_to]) if effect.tied_to else "",
        )
        for effect in result.effects
    )
    columns = (Column("change"), Column("fuel", "right"), Column("somewhere"), Column("cannot be told from", wrap=True))
    return Table(title="Each change by itself", columns=columns, rows=rows)


def _sweep(result: ComparisonResult) -> Table | None:
    sweep = result.sweep
    if sweep is None:
        return None
    places_of = common_decimals(point.setting for point in sweep.points)
    rows = tuple(
        (
            f"{point.setting:.{places_of}f} {clean(sweep.unit)}",
            str(point.runs),
            amount(point.above_best_percent, most_decimals=1),
            same_to_us(sweep, point),
        )
        for point in sweep.points
    )
    columns = (
        Column("setting", "right"),
        Column("runs", "right", 1),
        Column("more than the best, %", "right"),
        Column("the same to us"),
    )
    said = [sweep.best_words]
    if any(row[-1] == "cannot tell" for row in rows):
        said.append("Cannot tell: above the best by less than its own doubt.")
    said.append(f"If it did not matter, a curve so marked would come {_chance(sweep.probability)}.")
    said.append(f"Runs scatter by {number(sweep.scatter_percent, 2)} % about the curve.")
    return Table(title="Fuel over the setting", columns=columns, rows=rows, note=" ".join(said))


def _stories(result: ComparisonResult) -> Table | None:
    if len(result.stories) < 2:
        return None
    rows = tuple(
        (
            story.name,
            _signed(story.change_percent),
            span(story.change_percent),
            _chance(story.probability_less_fuel),
            "this sheet" if story.headline else "",
        )
        for story in result.stories
    )
    columns = (
        Column("figures"),
        Column("fuel", "right"),
        Column("somewhere"),
        Column("chance of less", "right", 1),
        Column("", "left", 2),
    )
    return Table(title="The same question, as driven and corrected", columns=columns, rows=rows)


def _corrections(result: ComparisonResult) -> Table | None:
    if not result.corrections:
        return None
    rows = tuple(
        (
            one.of,
            number(one.baseline_percent, 1),
            number(one.changed_percent, 1),
            amount(one.difference_percent, signed=True, most_decimals=1),
        )
        for one in result.corrections
    )
    columns = (
        Column("what it cost"),
        Column(f"{clean(result.baseline)}, %", "right"),
        Column(f"{clean(result.changed)}, %", "right"),
        Column("difference, %", "right"),
    )
    return Table(
        title="What was taken off",
        columns=columns,
        rows=rows,
        note="Means of each group, in per cent of the calm-day figure. The difference is what the corrections add to "
        "or take from the answer.",
    )


def _doubt(result: ComparisonResult) -> Bars | None:
    lines = [line for line in result.budget if line.share >= _SMALLEST_SHARE]
    if not lines:
        return None
    longest = lines[0].share
    bars = tuple(Bar(line.source, line.share / longest, f"{number(100 * line.share, 0)} %") for line in lines)
    return Bars(
        title="Where the doubt of the difference comes from",
        bars=bars,
        note="Shares of the whole doubt, counted by squares. What all runs share (drag, rolling, the scale itself) has "
        "mostly fallen out.",
    )


def _other_ways(result: ComparisonResult) -> Table | None:
    if not result.other_methods:
        return None
    rows = tuple(
        (
            method.name,
            "-" if method.change_percent is None else _signed(method.change_percent),
            "-" if method.change_percent is None else span(method.change_percent),
            _by_chance(method.probability),
            method.words,
        )
        for method in result.other_methods
    )
    columns = (
        Column("method", wrap=True),
        Column("fuel", "right"),
        Column("somewhere"),
        Column("by chance", "right", 1),
        Column("what it assumes", "left", 2, wrap=True),
    )
    return Table(
        title="Counted in other ways",
        columns=columns,
        rows=rows,
        note="By chance: how often a difference at least so large comes up if there is none (the p value).",
    )


def _by_chance(probability: float | None) -> str:
    """A p value to three places; never none at all."""
    if probability is None:
        return "-"
    return "under 0.001" if probability < 0.001 else number(probability, 3)


def _how(result: ComparisonResult) -> Prose:
    made = result.provenance
    lines = []
    design = result.design
    if result.scatter is not None:
        found = result.scatter.found
        lines.append(
            f"Run-to-run scatter {number(found.value, 1)} % (from {number(found.low, 1)} to {number(found.high, 1)}). "
            f"{result.scatter.words}"
        )
    if result.drift_percent_per_run is not None:
        lines.append(f"Drift taken off: {amount(result.drift_percent_per_run, signed=True)} % per run.")
    if result.temperature_percent_per_K is not None:
        lines.append(f"Temperature taken off: {amount(result.temperature_percent_per_K, signed=True)} % per °C.")
    if design.planned is not None:
        lines.append(f"{counted(design.planned, 'run was', 'runs were')} declared beforehand.")
    if design.digest:
        lines.append(
            f"The order was drawn by lot and sealed; digest {design.digest[:16]}... {_seal(design.digest_fits)}"
        )
    lines += [clean(note) for note in result.notes]
    lines += [
        f"What is compared: {result.basis}, as logarithms of fuel per distance.",
        "Give or take (±), somewhere: 95 times in 100 the truth lies inside.",
        f"{made.program} {made.version}, seed {made.seed}, input {made.inputs_sha256[:12] or 'as typed'}, "
        f"from {file_words(made.files)}.",
    ]
    return Prose(title="How it was found", lines=tuple(lines))


def _seal(fits: bool | None) -> str:
    return {True: "Opened, and it fits.", False: "Opened, and it does not fit.", None: "Not opened here."}[fits]
