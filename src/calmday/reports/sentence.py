"""The one sentence that leads a sheet, in words a person can repeat."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from calmday.metrology.rounding import decimals_for_half_width, listed
from calmday.reports.words import clean, is_known, is_lopsided, number, short

if TYPE_CHECKING:
    from calmday.metrology.figure import Figure
    from calmday.procedures.weighed_run_result import Consumption, Penalties, RunResult

WORTH_SAYING_PERCENT, WORTH_SAYING_SHARE = 0.5, 0.2
"""A condition of the day that cost less than this, or than this share of the largest, is left out."""

UNSURE_BELOW_PERCENT, CLEARLY_THERE_PERCENT = 1.0, 0.2
"""A smaller cost is named only where its 95 % interval keeps this far from none."""

WIDE = 0.25
"""From this relative half width on, the two ends say more than a middle with a give-or-take."""

ONE_RUN = "One run: an indication. Two or three runs that agree make a fair figure."


def headline(result: RunResult) -> str:
    """The result of one run in one sentence: the figure, its doubt, its conditions, and what was left out.

    >>> headline(result)  # doctest: +SKIP
    'Fen Hauler used 6.6 L/100 km (36 mpg US, 43 mpg imp), give or take 0.2, on a calm standard day; ...'
    """
    stops = [flag for flag in result.flags if flag.severity == "stop"]
    if stops:
        reading = _spoken(result.as_driven)
        as_it_stands = f" As it stands it reads {reading}." if reading else ""
        return f"This result must not be used. {clean(stops[0].saw).rstrip('.')}.{as_it_stands}"
    name = clean(result.vehicle) or "The vehicle"
    driven = _spoken(result.as_driven)
    if result.calm_day is None or not is_known(result.calm_day.L_per_100km):
        if not driven:
            return f"We can't tell what {name} used; the remarks below say why."
        return f"{name} used {driven}, as driven; we can't tell what it would use on a calm day."
    calm = _spoken(result.calm_day)
    return f"{name} used {calm}, on a calm standard day{_as_driven_clause(result)}."


def _spoken(consumption: Consumption) -> str:
    """`6.6 L/100 km (36 mpg US, 43 mpg imp), give or take 0.2`, or the two ends where the doubt is wide."""
    litres = consumption.L_per_100km
    if not is_known(litres) or litres.value <= 0:
        return ""
    miles = _miles(consumption)
    half = litres.half_width
    if half <= 0:
        return f"{short(litres.value)} L/100 km ({miles})"
    places = decimals_for_half_width(half)
    if half > WIDE * litres.value or is_lopsided(litres):
        ends = f"it could be as low as {number(litres.low, places)} or as high as {number(litres.high, places)}"
        return f"about {number(litres.value, places)} L/100 km ({miles}; {ends})"
    return f"{number(litres.value, places)} L/100 km ({miles}), give or take {number(half, places)}"


def _miles(consumption: Consumption) -> str:
    """Both gallons without their doubt, to the first digit that is known of the less well known one."""
    gallons = (consumption.mpg_us, consumption.mpg_imp)
    widest = max(figure.half_width for figure in gallons)
    if not all(is_known(figure) for figure in gallons):
        return "not known in miles"
    places = -math.floor(math.log10(widest)) if widest > 0 else None
    us, imp = (short(each.value) if places is None else number(each.value, places) for each in gallons)
    return f"{us} mpg US, {imp} mpg imp"


def _as_driven_clause(result: RunResult) -> str:
    driven = result.as_driven.L_per_100km
    if not is_known(driven) or result.calm_day is None:
        return ""
    half = max(driven.half_width, result.calm_day.L_per_100km.half_width)
    value = number(driven.value, decimals_for_half_width(half)) if half > 0 else short(driven.value)
    went_up = driven.value > result.calm_day.L_per_100km.value
    causes = _causes(result.penalties) if went_up == _cost_fuel(result.penalties) else []
    return f"; {value} as driven{', with ' + listed(causes) if causes else ''}"


def _cost_fuel(penalties: Penalties | None) -> bool:
    """Whether the day cost fuel on the whole. A poor weighing may set the two figures the other way round."""
    if penalties is None:
        return False
    each = (penalties.wind, penalties.air_density, penalties.cold_engine, penalties.cold_tyres)
    return math.fsum(figure.value for figure in each) > 0


def _causes(penalties: Penalties | None) -> list[str]:
    """The conditions that cost or saved something worth saying, largest first."""
    if penalties is None:
        return []
    named = [
        ("the wind", penalties.wind),
        ("the thick air" if penalties.air_density.value > 0 else "the thin air", penalties.air_density),
        ("the cold engine", penalties.cold_engine),
        ("the cold tyres" if penalties.cold_tyres.value > 0 else "the warm tyres", penalties.cold_tyres),
    ]
    largest = max((abs(cost.value) for _, cost in named if math.isfinite(cost.value)), default=0.0)
    least = max(WORTH_SAYING_PERCENT, WORTH_SAYING_SHARE * largest)
    told = [(name, abs(cost.value)) for name, cost in named if abs(cost.value) >= least and _is_sure(cost)]
    return [name for name, _ in sorted(told, key=lambda pair: -pair[1])]


def _is_sure(cost: Figure) -> bool:
    """Whether a condition may be named: large, or small and clearly there. An engine started warm is not."""
    nearest = cost.low if cost.value > 0 else -cost.high
    return abs(cost.value) >= UNSURE_BELOW_PERCENT or nearest >= CLEARLY_THERE_PERCENT
