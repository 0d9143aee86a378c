"""What an audience will say against a run, each with the answer that the result itself gives, or "fair point".

Eleven objections are usual; five are printed. Which: those that are most to the point. An objection's weight is how
usual it is (0 to 1, our own judgement, no source), plus the share of the doubt it is about, plus how large a
correction it is about, counted in give-or-takes of the figure, at most one. Ties keep the order written here.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING, Final

import msgspec

from calmday.metrology.rounding import counted, listed
from calmday.procedures.what_next import own_share
from calmday.reports.charts.units import consumption_in
from calmday.reports.words import amount, amount_unit, clean, is_known, number, percent

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import BudgetLine, RunResult
    from calmday.records.run import Run

PRINTED: Final = 5
LARGE_SHARE: Final = 0.25
"""From this share of the doubt on an objection is a fair point."""

SCALE, LINES = ("scale", "buoyancy"), ("fuel in lines", "null test", "drips and vapour", "level of the full tank")
WIND, COLD = ("wind at the vehicle", "drag in side wind", "gusts"), ("cold engine", "cold tyres")


class Objection(msgspec.Struct, frozen=True, kw_only=True):
    """One objection as it will be put, and its answer. `fair`: it holds, and the answer says how far."""

    code: str
    says: str
    answer: str
    fair: bool
    weight: float


def objections_to_run(result: RunResult, run: Run, most: int = PRINTED) -> tuple[Objection, ...]:
    """The objections most to the point, the weightiest first."""
    return weightiest([make(result, run) for make in _MAKERS], most)


def weightiest(found: Sequence[Objection | None], most: int = PRINTED) -> tuple[Objection, ...]:
    """The objections of the largest weight, in order."""
    there = [each for each in found if each is not None]
    return tuple(sorted(there, key=lambda each: -each.weight)[:most])


def share_of(budget: Sequence[BudgetLine], sources: tuple[str, ...]) -> float:
    """Share of the variance that some sources have together [0 to 1]."""
    return min(1.0, math.fsum(line.share for line in budget if line.source.startswith(sources)))


def of_doubt(share: float) -> str:
    """`12 % of the doubt`, or that it is next to nothing."""
    return f"{100 * share:.0f} % of the doubt" if share >= 0.005 else "next to none of the doubt"


def _best(result: RunResult) -> Figure:
    return (result.calm_day or result.as_driven).L_per_100km


def _budget(result: RunResult) -> tuple[BudgetLine, ...]:
    return result.budget or result.budget_as_driven


def _which(result: RunResult) -> str:
    return "calm-day figure" if result.budget else "figure as driven"


def _counted(cost_percent: float, result: RunResult) -> float:
    """Size of a correction in give-or-takes of the figure, at most one."""
    best = _best(result)
    if not (math.isfinite(cost_percent) and is_known(best)) or best.half_width <= 0:
        return 0.0
    return min(1.0, abs(cost_percent) / 100 * best.value / best.half_width)


def _one_run(result: RunResult, _: Run) -> Objection:
    best, own = _best(result), own_share(_budget(result))
    answer = "One run is an indication, and is said to be one."
    if is_known(best) and best.half_width > 0:
        halved = best.half_width * math.sqrt(1 - own / 2)
        now, then = _halves(best.half_width, halved)
        answer += (
            f" Its give-or-take of {now} L/100 km holds what is known to vary; a second run that agrees would bring"
            f" it to about {then}, because {100 * own:.0f} % of the doubt is drawn anew in every run."
        )
    return Objection(code="one-run", says="One run proves nothing.", answer=answer, fair=True, weight=1.0)


def _halves(now: float, then: float) -> tuple[str, str]:
    """Two half widths with as many places as tell them apart, at most three."""
    for places in (1, 2, 3):
        one, other = number(now, places), number(then, places)
        if one != other and float(other.replace(" ", "") or 0) > 0:
            return one, other
    return number(now, 2), number(then, 2)


def _wind(result: RunResult, run: Run) -> Objection:
    share = share_of(_budget(result), WIND)
    known = any(reading.wind_speed_mps is not None for reading in run.weather.readings)
    if result.penalties is None:
        answer = "The figure is as driven, wind and all; no calm-day figure is claimed."
        return Objection(code="wind", says="It was the wind.", answer=answer, fair=True, weight=0.9)
    cost = result.penalties.wind
    if not known:
        answer = (
            "No wind was reported. The calm-day figure allows for any usual wind and is wider for it: that is"
            f" {of_doubt(share)}. The figure as driven has whatever wind there was in it."
        )
        return Objection(code="wind", says="It was the wind.", answer=answer, fair=True, weight=0.6 + share)
    did = "cost" if cost.value >= 0 else "saved"
    size = percent(_turned(cost)) if cost.value < 0 else percent(cost)
    answer = (
        f"The wind {did} {size} of the calm-day fuel, leg by leg, and is taken out of that figure, not out of the"
        f" figure as driven. How much of it reached the vehicle makes {of_doubt(share)}."
    )
    weight = 0.5 + share + _counted(cost.value, result)
    return Objection(code="wind", says="It was the wind.", answer=answer, fair=share >= LARGE_SHARE, weight=weight)


def _turned(figure: Figure) -> Figure:
    return figure.scaled(-1.0, figure.unit)


def _scale(result: RunResult, run: Run) -> Objection | None:
    if not run.weighings:
        answer = "Filled to the brim, by volume: the level of the full tank is the weakest link, and counted as such."
        share = share_of(_budget(result), ("level of the full tank", "fill, ", "pump meter"))
        return Objection(
            code="brim", says="Brim to brim is guesswork.", answer=f"{answer} It makes {of_doubt(share)}.",
            fair=share >= LARGE_SHARE, weight=0.7 + share,
        )  # fmt: skip
    share, driven = share_of(_budget(result), SCALE), share_of(result.budget_as_driven, SCALE)
    readings = sum(len(weighing.gross_kg) for weighing in run.weighings)
    division = run.scale.resolution_kg
    shows = f" It shows every {number(1000 * division, 0)} g." if division else ""
    answer = (
        f"{counted(readings, 'reading')}, {amount_unit(result.fuel_mass)} burnt.{shows} The scale makes "
        f"{of_doubt(driven)} of the figure as driven"
    )
    answer += (
        f" and {of_doubt(share).removesuffix(' of the doubt')} of the calm-day figure’s." if result.budget else "."
    )
    return Objection(
        code="scale", says="You cannot do that with a kitchen scale.", answer=answer, fair=driven >= LARGE_SHARE,
        weight=0.5 + share,
    )  # fmt: skip


def _hidden(result: RunResult, run: Run) -> Objection | None:
    share, driven = share_of(_budget(result), LINES), share_of(result.budget_as_driven, LINES)
    if not run.weighings or not driven:
        return None
    tests = len(run.fuel_system.null_test_kg)
    known = f"{tests} null tests say how much" if tests else "How much was not tested here but taken as usual"
    if run.fuel_system.repeatability_kg is not None and not tests:
        known = f"Declared: {number(1000 * run.fuel_system.repeatability_kg, 0)} g, one standard deviation"
    answer = f"Fuel hides in lines and filter, and that is counted. {known}; it makes {of_doubt(share)}."
    return Objection(
        code="hidden-fuel", says="There was fuel left in the lines.", answer=answer, fair=share >= LARGE_SHARE,
        weight=0.3 + share,
    )  # fmt: skip


def _distance(result: RunResult, run: Run) -> Objection | None:
    if not is_known(result.distance) or result.distance.value <= 0:
        return None
    share = share_of(_budget(result), ("distance",))
    relative = 100 * result.distance.half_width / result.distance.value
    one_percent = 0.01 * _best(result).value
    tracked = run.track is not None
    says = "Satellite distance is never right." if tracked else "How do you know the distance?"
    how = "by satellite track, smoothed, without the wander while parked" if tracked else "as declared"
    answer = (
        f"{amount_unit(result.distance)}, {how}: good to {number(relative, 2 if relative < 0.1 else 1)} %, which is"
        f" {of_doubt(share)}. Were it a whole per cent out, the figure would move by {number(one_percent, 2)} L/100 km."
    )
    weight = (0.4 if tracked else 0.6) + share
    return Objection(code="distance", says=says, answer=answer, fair=share >= LARGE_SHARE, weight=weight)


def _cold(result: RunResult, run: Run) -> Objection | None:
    if result.penalties is None:
        return None
    engine, tyres = result.penalties.cold_engine, result.penalties.cold_tyres
    share = share_of(_budget(result), COLD)
    if run.engine_start == "warm":
        says = "You left the warm-up out."
        answer = (
            "The engine was warm at the start, and that is said. A cold start costs extra, which this figure does not"
            " hold; what was left of it is reckoned at"
            f" {percent(engine)} and makes {of_doubt(share)}."
        )
    else:
        started = "was cold" if run.engine_start == "cold" else "may have been cold (nobody wrote it down)"
        says = "It was only cold."
        answer = (
            f"The engine {started}: engine {percent(engine, signed=True)}, tyres {percent(tyres, signed=True)} of the"
            f" calm-day fuel, both taken out of that figure and out of nothing else. That makes {of_doubt(share)}."
        )
    weight = 0.3 + share + _counted(engine.value + tyres.value, result)
    return Objection(code="cold", says=says, answer=answer, fair=share >= LARGE_SHARE, weight=weight)


def _gallon(result: RunResult, run: Run) -> Objection:
    best = result.calm_day or result.as_driven
    used = {p.unit for p in run.predictions} | ({run.published.unit} if run.published is not None else set())
    mixed = len(used & {"mpg_us", "mpg_imp"})
    answer = (
        f"{amount(best.mpg_us)} by the US gallon of 3.785 L, {amount(best.mpg_imp)} by the imperial gallon of 4.546 L:"
        " the same fuel, 20 % more miles on the larger gallon. Litres per 100 km know no gallon."
    )
    return Objection(
        code="gallon", says="Which gallon?", answer=answer, fair=False, weight=0.55 + 0.3 * mixed,
    )  # fmt: skip


def _saint(result: RunResult, _: Run) -> Objection:
    speeds = [lap.speed.value for lap in result.laps if is_known(lap.speed)]
    mean = ""
    if result.moving_time is not None and is_known(result.moving_time) and result.moving_time.value > 0:
        kmh = result.distance.value / (result.moving_time.value / 3600)
        mean = f" The mean was {number(kmh, 0)} km/h"
        mean += f", lap by lap {number(min(speeds), 0)} to {number(max(speeds), 0)}." if len(speeds) > 1 else "."
    cruise = [point for point in result.level_cruise if is_known(point.L_per_100km) and point.sustainable > 0.5]
    steady = ""
    if cruise:
        shown = sorted({0, len(cruise) // 2, len(cruise) - 1})
        said = [f"{amount(cruise[i].L_per_100km)} L/100 km at {number(cruise[i].speed.value, 0)} km/h" for i in shown]
        steady = f" Steady on the level it would be {listed(said)}."
    answer = f"The figure is for this drive, at these speeds; nothing else is claimed.{mean}{steady}"
    return Objection(code="saint", says="You drove like a saint.", answer=answer, fair=True, weight=0.85)


def _label(result: RunResult, run: Run) -> Objection:
    published = run.published
    best = result.calm_day or result.as_driven
    if published is None or published.value <= 0:
        answer = (
            "No published figure was entered, and none would settle it: a laboratory cycle, a steady-speed figure and a"
            " drive on the road are different experiments. For a vehicle that exists once there is none."
        )
        return Objection(code="label", says="The brochure says something else.", answer=answer, fair=False, weight=0.25)
    litres = consumption_in(published.value, published.unit, "L_per_100km", best)
    off = 100 * (best.L_per_100km.value / litres - 1)
    kind = f" ({clean(published.kind)})" if published.kind else ""
    answer = (
        f"Published: {clean(published.as_entered)}{kind}, {number(litres, 1)} L/100 km; this run is"
        f" {number(abs(off), 0)} % {'above' if off > 0 else 'below'} it. Speed, temperature, mass and how cold the"
        " start was differ between the two, so the difference is no score."
    )
    return Objection(code="label", says="The brochure says something else.", answer=answer, fair=True, weight=1.1)


def _density(result: RunResult, _: Run) -> Objection | None:
    lines = [line for line in _budget(result) if line.source.startswith("fuel density")]
    if not lines:
        return None
    share = min(1.0, sum(line.share for line in lines))
    origin = lines[0].source.partition("(")[2].rstrip(")") or "assumed"
    assumed = origin not in ("declared", "measured")
    weighs = amount_unit(result.fuel_density_15C)
    answer = f"Density at 15 °C: {weighs} ({origin}). It changes litres, not grams, and makes {of_doubt(share)}."
    if assumed:
        answer += " Weighing a measured litre of this fuel would settle it."
    weight = (0.4 if assumed else 0.1) + share
    return Objection(code="density", says="You do not know your fuel.", answer=answer, fair=assumed, weight=weight)


def _model(result: RunResult, _: Run) -> Objection | None:
    if result.calm_day is None:
        return None
    driven, calm = result.as_driven.L_per_100km, result.calm_day.L_per_100km
    if not (is_known(driven) and is_known(calm)) or calm.half_width <= 0:
        return None
    moved = driven.value - calm.value
    times = abs(moved) / calm.half_width
    answer = (
        f"That is why both figures stand side by side: {amount(driven)} as driven is scale and distance alone,"
        f" {amount(calm)} is what is left after {number(abs(moved), 2)} L/100 km of corrections, each with its size and"
        f" its doubt. Together they are {number(times, 1)} times the give-or-take of the corrected figure."
    )
    weight = 0.45 + min(1.0, 0.5 * times)
    return Objection(
        code="model", says="The corrected figure is only computed.", answer=answer, fair=times > 1, weight=weight
    )


_MAKERS: Final[tuple[Callable[[RunResult, Run], Objection | None], ...]] = (
    *(_one_run, _wind, _saint, _cold, _model, _gallon, _scale, _distance, _label, _density, _hidden),
)
