"""A published figure in every unit, its city and highway put together, and the same under other rules."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterator
from typing import Final

from calmday.metrology.constants import CUBIC_METRE_PER_IMPERIAL_GALLON, CUBIC_METRE_PER_US_GALLON, METRE_PER_MILE
from calmday.metrology.figure import Figure
from calmday.metrology.fuels import fuel_properties
from calmday.procedures.label_rules import (
    CITY_WEIGHT,
    EXTRA_URBAN_KM,
    LABEL_RULES,
    URBAN_KM,
    LabelRule,
    harmonic,
    restated,
    rule_of_year,
)
from calmday.procedures.published_differences import differences_of, published_flags
from calmday.procedures.published_result import CombinedCheck, OurSide, PublishedLine, PublishedResult, RuleReading
from calmday.procedures.weighed_run_result import Provenance, RunResult
from calmday.records.consumption import GivenConsumption
from calmday.records.published import PublishedFigure
from calmday.records.run import Run

US: Final = 1e8 * CUBIC_METRE_PER_US_GALLON / METRE_PER_MILE
IMPERIAL: Final = 1e8 * CUBIC_METRE_PER_IMPERIAL_GALLON / METRE_PER_MILE
_DIGITS = re.compile(r"\d+(?:\.(\d*))?")
RESTATED: Final = ("us laboratory", "us 1985", "us 2008", "us 2017")


def result_of_published(
    given: PublishedFigure, provenance: Provenance, run: Run | None = None, result: RunResult | None = None
) -> PublishedResult:
    """The whole comparison; the sentence is the caller's. `run` with its `result`: the drive to hold it against."""
    rule = rule_of_figure(given)
    lines = tuple(_lines(given, rule))
    ours = _our_side(result) if result is not None else None
    combined = _combined(given, rule)
    return PublishedResult(
        label=given.label,
        sentence="",
        vehicle=given.vehicle,
        rule=rule.name if rule is not None else "",
        rule_words=rule.words if rule is not None else "",
        adjusted=rule.adjusted if rule is not None else "",
        rule_source=rule.source if rule is not None else "",
        model_year=given.model_year,
        source=given.source,
        lines=lines,
        combined=combined,
        other_rules=tuple(_readings(given, rule)),
        ours=ours,
        differences=tuple(differences_of(given, rule, run, result)) if run is not None and result is not None else (),
        flags=tuple(published_flags(given, rule, combined, lines, ours, run)),
        provenance=provenance,
    )


def rule_of_figure(given: PublishedFigure) -> LabelRule | None:
    """The rule named; else that of the model year, where it is a United States label by its gallon."""
    if given.rule is not None:
        return LABEL_RULES[given.rule]
    city = given.city
    if city is not None and city.unit == "mpg_us" and given.highway is not None and given.model_year is not None:
        name = rule_of_year(given.model_year)
        return LABEL_RULES[name] if name is not None else None
    return LABEL_RULES["steady speed"] if given.steady and city is None and given.value is None else None


def half_step(given: GivenConsumption) -> float:
    """Half of the last printed place: 24 mpg was anywhere from 23.5 to 24.5."""
    match = _DIGITS.search(given.as_entered)
    places = len(match[1]) if match is not None and match[1] else 0
    return float(0.5 * 10.0**-places)


def litres_of(value: float, unit: str, fuel: str | None) -> float:
    """A consumption in L/100 km; grams by the usual density of the fuel."""
    match unit:
        case "L_per_100km":
            return value
        case "mpg_us":
            return US / value
        case "mpg_imp":
            return IMPERIAL / value
        case "km_per_L":
            return 100.0 / value
        case _:
            return 100.0 * value / fuel_properties(fuel).density_15_kgpm3


def rounded_figure(centre: float, reach: float, change: Callable[[float], float], unit: str) -> Figure:
    """A printed number through an equation, its interval that of the rounding (rectangular, JCGM 100, 4.3.7)."""
    value = change(centre)
    low, high = sorted((change(centre - reach), change(centre + reach)))
    return Figure(value, (high - low) / 2 / math.sqrt(3.0), low, high, unit)


def _lines(given: PublishedFigure, rule: LabelRule | None) -> Iterator[PublishedLine]:
    parts = [("city", given.city), ("highway", given.highway), ("combined", given.combined), ("figure", given.value)]
    for kind, each in parts:
        if each is not None:
            yield _line(kind, each, given, _laboratory(kind, each, given, rule))
    for steady in given.steady:
        yield _line(f"steady {3.6 * steady.speed_mps:.0f} km/h", steady.value, given, None)


def _line(kind: str, each: GivenConsumption, given: PublishedFigure, laboratory: Figure | None) -> PublishedLine:
    reach = each.half_width if each.half_width is not None else half_step(each)

    def litres(value: float) -> float:
        return litres_of(value, each.unit, given.fuel)

    return PublishedLine(
        kind=kind,
        as_entered=each.as_entered,
        L_per_100km=rounded_figure(each.value, reach, litres, "L/100km"),
        mpg_us=rounded_figure(each.value, reach, lambda v: US / litres(v), "mpg US"),
        mpg_imp=rounded_figure(each.value, reach, lambda v: IMPERIAL / litres(v), "mpg imp"),
        laboratory_mpg=laboratory,
    )


def _laboratory(kind: str, each: GivenConsumption, given: PublishedFigure, rule: LabelRule | None) -> Figure | None:
    """Before the label's adjustment, for city or highway, which do not depend on each other."""
    if rule is None or rule.to_laboratory is None or kind not in ("city", "highway"):
        return None
    back = rule.to_laboratory
    index = 0 if kind == "city" else 1

    def before(value: float) -> float:
        mpg = US / litres_of(value, each.unit, given.fuel)
        return back(mpg, mpg)[index]

    return rounded_figure(each.value, half_step(each), before, "mpg US")


def _combined(given: PublishedFigure, rule: LabelRule | None) -> CombinedCheck | None:
    city, highway = given.city, given.highway
    if city is None or highway is None or city.unit != highway.unit:
        return None
    by_length = rule is not None and rule.name == "europe 1996"
    weight = URBAN_KM / (URBAN_KM + EXTRA_URBAN_KM) if by_length else CITY_WEIGHT
    how = (
        "litres by the length of the two parts, 4.052 and 6.955 km"
        if by_length
        else "harmonically, 55 % city and 45 % highway"
    )
    per_distance = city.unit in ("L_per_100km", "g_per_km")

    def together(c: float, h: float) -> float:
        return weight * c + (1 - weight) * h if per_distance else harmonic(c, h, weight)

    a, b = half_step(city), half_step(highway)
    value = together(city.value, highway.value)
    low, high = together(city.value - a, highway.value - b), together(city.value + a, highway.value + b)
    printed = given.combined
    agrees = None
    if printed is not None and printed.unit == city.unit:
        reach = half_step(printed)
        agrees = low - reach <= printed.value <= high + reach
    return CombinedCheck(
        unit=city.unit,
        computed=Figure(value, (high - low) / 2 / math.sqrt(3.0), low, high, city.unit.replace("_", " ")),
        printed=printed.value if printed is not None and printed.unit == city.unit else None,
        arithmetic=weight * city.value + (1 - weight) * highway.value
        if not per_distance
        else 1 / (weight / city.value + (1 - weight) / highway.value),
        agrees=agrees,
        how=how,
    )


def _readings(given: PublishedFigure, rule: LabelRule | None) -> Iterator[RuleReading]:
    """The same laboratory figures under the other rules of that country."""
    city, highway = given.city, given.highway
    if city is None or highway is None or rule is None or rule.to_laboratory is None:
        return
    for name in RESTATED:
        other = LABEL_RULES[name]
        if name == rule.name or (other.to_label is rule.to_label):
            continue

        def under(c: float, h: float, by: LabelRule = other) -> tuple[float, float]:
            mpg = (US / litres_of(c, city.unit, given.fuel), US / litres_of(h, highway.unit, given.fuel))
            found = restated(*mpg, rule, by)
            return found if found is not None else (math.nan, math.nan)

        ends = [
            under(city.value + s * half_step(city), highway.value + s * half_step(highway)) for s in (0.0, -1.0, 1.0)
        ]
        yield RuleReading(
            rule=name,
            city=_span([end[0] for end in ends]),
            highway=_span([end[1] for end in ends]),
            combined=_span([harmonic(*end) for end in ends]),
        )


def _span(values: list[float]) -> Figure:
    centre, *ends = values
    low, high = min(ends), max(ends)
    return Figure(centre, (high - low) / 2 / math.sqrt(3.0), low, high, "mpg US")


def _our_side(result: RunResult) -> OurSide:
    speed = None
    if result.moving_time is not None and result.moving_time.value > 0:
        speed = result.distance.scaled(3600 / result.moving_time.value, "km/h")
    calm = result.calm_day
    return OurSide(
        label=result.label,
        vehicle=result.vehicle,
        figure="calm day" if calm is not None else "as driven",
        consumption=calm if calm is not None else result.as_driven,
        average_speed=speed,
    )
