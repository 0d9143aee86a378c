"""In what a published figure and a weighed drive are not alike: each difference named, none of them scored."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.fuels import fuel_properties
from calmday.metrology.rounding import counted, format_signed, format_to
from calmday.procedures.flag import Flag, flag
from calmday.procedures.label_rules import LabelRule
from calmday.procedures.published_result import CombinedCheck, NamedDifference, OurSide, PublishedLine
from calmday.procedures.weighed_run_result import RunResult
from calmday.records.published import PublishedFigure
from calmday.records.run import Run

NOT_SAID: Final = "nobody says"
_TRADE: Final = "common practice, no source"
GALLON_RATIO: Final = (1.17, 1.235)
"""Figures that differ by this much may be one figure in two gallons: the imperial one is 1.20095 US gallons."""


def differences_of(
    given: PublishedFigure, rule: LabelRule | None, run: Run, result: RunResult
) -> Iterator[NamedDifference]:
    """Every difference that can be named, and those nobody can rule out."""
    yield from _driving(given, rule, result)
    yield from _conditions(given, rule, run, result)
    if rule is not None:
        yield NamedDifference(
            what="label adjustment",
            theirs=f"{rule.words}: {rule.adjusted}",
            ours="none: weighed fuel over measured distance",
            matters="A figure of another rule is another figure: see the same car under other rules.",
            origin=rule.source,
        )
    yield from _vehicle(given, run)
    yield from _fuel(given, run)
    yield from _units(given)


def _driving(given: PublishedFigure, rule: LabelRule | None, result: RunResult) -> Iterator[NamedDifference]:
    ours = _speed_of(result)
    stops = counted(len(result.laps), "lap") if result.laps else "one drive"
    yield NamedDifference(
        what="cycle",
        theirs=rule.words if rule is not None else NOT_SAID,
        ours=f"a road of your own, {stops}, {result.distance.value:.0f} km",
        matters="A loop at a steady speed uses less than any mixed cycle, whatever the vehicle: call it steady-speed.",
        origin=_TRADE,
    )
    theirs = _their_speed(given, rule)
    if theirs or ours:
        yield NamedDifference(
            what="speed",
            theirs=theirs or NOT_SAID,
            ours=ours or NOT_SAID,
            matters="Air drag grows with the square of speed; stopping and idling cost fuel without distance.",
            origin="docs/method.md",
        )


def _speed_of(result: RunResult) -> str:
    if result.moving_time is None or not result.moving_time.value > 0:
        return ""
    return f"{3600 * result.distance.value / result.moving_time.value:.0f} km/h on average, moving"


def _their_speed(given: PublishedFigure, rule: LabelRule | None) -> str:
    if given.average_speed_mps is not None:
        return f"{3.6 * given.average_speed_mps:.0f} km/h on average"
    parts = [f"steady {3.6 * each.speed_mps:.0f} km/h" for each in given.steady]
    if rule is not None and rule.city_kmh is not None and (given.city is not None or given.combined is not None):
        parts.append(f"city {rule.city_kmh:.0f} km/h on average")
    if rule is not None and rule.highway_kmh is not None and (given.highway is not None or given.combined is not None):
        parts.append(f"{'highway' if rule.city_kmh is not None else 'all'} {rule.highway_kmh:.0f} km/h on average")
    return ", ".join(parts)


def _conditions(
    given: PublishedFigure, rule: LabelRule | None, run: Run, result: RunResult
) -> Iterator[NamedDifference]:
    own = f"{format_to(given.temperature_k - ZERO_CELSIUS_K, 0)} °C" if given.temperature_k is not None else ""
    told = own or (rule.temperature if rule is not None else "")
    read = [r.temperature_k for r in run.weather.readings if r.temperature_k is not None]
    here = f"{format_to(sum(read) / len(read) - ZERO_CELSIUS_K, 0)} °C" if read else NOT_SAID
    calm = result.calm_day is not None
    yield NamedDifference(
        what="temperature",
        theirs=told or NOT_SAID,
        ours=f"{here}, carried to 20 °C" if calm else here,
        matters="Cold air is thicker and cold tyres roll harder: 10 °C colder is some 3 % more fuel in a small car.",
        origin="computed, docs/method.md",
    )
    start = {"cold": "cold", "warm": "warm"}.get(run.engine_start or "", NOT_SAID)
    their_start = given.engine_start or (rule.start if rule is not None else "")
    yield NamedDifference(
        what="cold or hot start",
        theirs=their_start or NOT_SAID,
        ours=f"{start}, carried to warm" if calm and start == "cold" else start,
        matters="The first kilometres of a cold engine cost more, the more so the shorter the drive.",
        origin=_TRADE,
    )
    yield NamedDifference(
        what="wind and hills",
        theirs="none: on rollers" if rule is not None and rule.laboratory else NOT_SAID,
        ours="a real road; wind taken off, hills kept" if calm else "a real road, wind and hills as they were",
        matters="Even on a loop wind adds fuel; rollers know neither.",
        origin="docs/method.md",
    )


def _vehicle(given: PublishedFigure, run: Run) -> Iterator[NamedDifference]:
    vehicle = run.vehicle
    mass = vehicle.test_mass_kg
    if given.mass_kg is not None or mass is not None:
        theirs = f"{given.mass_kg.value:.0f} kg" if given.mass_kg is not None else NOT_SAID
        ours = f"{mass.value:.0f} kg as driven" if mass is not None else NOT_SAID
        matters = "More mass, more rolling and more fuel in every start."
        if given.mass_kg is not None and mass is not None:
            matters = f"{format_signed(mass.value - given.mass_kg.value, 0)} kg. {matters}"
        yield NamedDifference(what="mass", theirs=theirs, ours=ours, matters=matters, origin="docs/method.md")
    tyre = vehicle.tyre.code if vehicle.tyre is not None else ""
    pairs = (
        ("tyres", given.tyre, tyre, "Another tyre rolls differently and turns the engine differently."),
        (
            "axle",
            f"{given.final_drive:g}" if given.final_drive is not None else "",
            f"{vehicle.final_drive:g}" if vehicle.final_drive is not None else "",
            "A taller axle lets the engine turn slower, which usually saves fuel at a steady speed.",
        ),
        ("body", given.body or "", vehicle.body or "", "Another body, another drag."),
    )
    for what, theirs, ours, matters in pairs:
        if (theirs or ours) and theirs != ours:
            yield NamedDifference(
                what=what, theirs=theirs or NOT_SAID, ours=ours or NOT_SAID, matters=matters, origin=_TRADE
            )


def _more(ratio: float) -> str:
    return f"{format_to(abs(100 * (ratio - 1)), 0)} % {'more' if ratio > 1 else 'less'}"


def _fuel(given: PublishedFigure, run: Run) -> Iterator[NamedDifference]:
    ours = run.fuel.kind or run.vehicle.engine.fuel
    if given.fuel == ours and ours is not None:
        return
    matters = "A litre of one fuel is not a litre of another."
    if given.fuel is not None and ours is not None:
        a, b = fuel_properties(given.fuel), fuel_properties(ours)
        energy = (b.density_15_kgpm3 * b.net_heating_value_jpkg) / (a.density_15_kgpm3 * a.net_heating_value_jpkg)
        carbon = (b.density_15_kgpm3 * b.co2_kgpkg) / (a.density_15_kgpm3 * a.co2_kgpkg)
        matters = (
            f"A litre of {ours} holds {_more(energy)} energy and gives {_more(carbon)} carbon dioxide than a litre of "
            f"{given.fuel}: say whether you compare volume, energy or money."
        )
    yield NamedDifference(
        what="fuel", theirs=given.fuel or NOT_SAID, ours=ours or NOT_SAID, matters=matters,
        origin="docs/parameters.md, fuels",
    )  # fmt: skip


def _units(given: PublishedFigure) -> Iterator[NamedDifference]:
    gallons = {each.unit for each in (given.city, given.highway, given.combined, given.value) if each is not None}
    named = {"mpg_us": "US gallons", "mpg_imp": "imperial gallons"}
    told = sorted(named[unit] for unit in gallons if unit in named)
    if told:
        yield NamedDifference(
            what="gallon",
            theirs=" and ".join(told),
            ours="both shown",
            matters="An imperial gallon is 20 % larger: the same car does 20 % more miles on it.",
            origin="exact, docs/glossary.md",
        )


def published_flags(
    given: PublishedFigure,
    rule: LabelRule | None,
    combined: CombinedCheck | None,
    lines: Sequence[PublishedLine],
    ours: OurSide | None,
    run: Run | None,
) -> Iterator[Flag]:
    """What a reader must know of a published figure."""
    if rule is None:
        yield flag(
            "rule-not-known", "caution",
            "Nobody says by which rule this figure was made.",
            "Labels of different years and countries differ by a quarter for the same car.",
            "Add rule, or model_year with city and highway.",
        )  # fmt: skip
    elif given.model_year is not None and not _fits(rule, given.model_year):
        yield flag(
            "rule-of-another-year", "caution",
            f"Model year {given.model_year} does not belong to: {rule.words}.",
            "The adjustment would be the wrong one.",
            "Look at the label once more.",
        )  # fmt: skip
    if combined is not None and combined.agrees is False:
        yield flag(
            "combined-does-not-follow", "caution",
            f"The combined figure printed ({combined.printed:g}) does not follow from city and highway "
            f"({combined.computed.value:.1f}, {combined.how}).",
            "Fuel adds up, miles per gallon do not: a plain mean comes out too good. Or one figure is misread.",
            "Check all three figures at their source.",
        )  # fmt: skip
    if ours is not None and run is not None:
        yield from _gallon_mix_up(lines, ours)
        yield flag(
            "two-experiments", "note",
            "The published figure and your drive are two different experiments.",
            "Neither can show that the other is wrong.",
            "Name the differences below when you show both.",
        )  # fmt: skip
    if not given.source:
        yield flag(
            "source-not-given", "note",
            "Nobody says where the figure stands.",
            "It cannot be checked.",
            "Write the page, label or issue it was read in.",
        )  # fmt: skip


def _fits(rule: LabelRule, year: int) -> bool:
    first, last = rule.years
    return (first is None or year >= first) and (last is None or year <= last)


def _gallon_mix_up(lines: Sequence[PublishedLine], ours: OurSide) -> Iterator[Flag]:
    own = ours.consumption.L_per_100km.value
    for line in lines:
        if "mpg" not in line.as_entered:
            continue
        ratio = max(own / line.L_per_100km.value, line.L_per_100km.value / own)
        if GALLON_RATIO[0] <= ratio <= GALLON_RATIO[1]:
            yield flag(
                "gallon-mix-up", "caution",
                f"Your figure and {line.as_entered} ({line.kind}) differ by {100 * (ratio - 1):.0f} %.",
                "That is just what two kinds of gallon differ by.",
                "Check whether it says US or imperial gallons where it was printed.",
            )  # fmt: skip
            return
