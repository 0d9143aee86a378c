"""The sheets that go along on a test: filled in with a pencil, read at arm's length, with what to expect printed in."""

from __future__ import annotations

from typing import Final

from calmday.metrology.figure import Figure
from calmday.procedures.plan_result import PlanResult
from calmday.reports.field_sheet import (
    Block,
    Cautions,
    Entries,
    Entry,
    FieldSheet,
    Grid,
    Heading,
    Last,
    Lines,
    Ticks,
    Words,
)
from calmday.reports.plan_sentence import laps_words, percent_words
from calmday.reports.print import Paper
from calmday.reports.words import clean, number

FUEL_CAUTIONS: Final = (
    "No flame, no sparks, outdoors. Extinguisher and absorbent at hand.",
    "Can on the ground to fill and weigh; never in the cab.",
    "High-pressure jets pierce skin: never feel for leaks.",
)
ROAD_CAUTIONS: Final = (
    "The passenger writes. The driver drives.",
    "Limits, traffic and weather come before the test.",
)
COASTDOWN_CAUTIONS: Final = (
    "Engine running: brakes and steering need it.",
    "Empty, straight road; nobody behind. Out of gear is not allowed everywhere: look up your law.",
    "Break off for traffic. A lost pass costs nothing.",
)
LAP_TIME_TOLERANCE: Final = 0.005
"""Elapsed times of runs within half a per cent of each other: a published truck procedure that weighs fuel."""


def sheets_of_test(result: PlanResult, paper: Paper = "a4") -> tuple[FieldSheet, ...]:
    """Every sheet of a planned test, in the order of the day."""
    return (
        rig_checklist(paper),
        course_card(result, paper),
        driving_rules(result),
        *((runs_sheet(result, paper),) if result.question == "comparison" else ()),
        run_sheet(result, paper),
        lap_card(result, paper),
        coastdown_sheet(result, paper),
    )


def _name(result: PlanResult) -> str:
    return clean(result.vehicle) or clean(result.label)


def _between(figure: Figure, places: int) -> str:
    return f"{number(figure.low, places)} to {number(figure.high, places)}"


def _foretold(temperature: Figure) -> str:
    """The range of a temperature that was foretold; where none was, how to read it."""
    return _between(temperature, 0) if temperature.half_width > 0 else "in the shade"


def run_sheet(result: PlanResult, paper: Paper = "a4") -> FieldSheet:
    """One weighed run: readings before and after, clock, laps, wind, what happened."""
    fits = result.fits_scale
    tare = fits.heaviest.value - fits.filled.value / (fits.parts or 1)
    least = tare + result.fuel_mass.high / (fits.parts or 1)
    most = max(fits.heaviest.value * 1.25, least)
    if fits.capacity is not None:
        most = min(most, fits.capacity.value)
    before = f"{number(least, 1)} to {number(most, 1)}"
    less = f"{number(result.fuel_mass.low, 1)} to {number(result.fuel_mass.high, 1)} less"
    names = ("1st", "2nd", "3rd")
    minutes = Figure(result.duration.value / 60, 0, result.duration.low / 60, result.duration.high / 60, "min")
    blocks: list[Block] = [
        Entries(columns=3, boxes=tuple(Entry(label=f"Before {n}", unit="kg", range=before) for n in names)),
        Entries(columns=3, boxes=tuple(Entry(label=f"After {n}", unit="kg", range=less) for n in names)),
        Entries(
            columns=3,
            boxes=(
                Entry(label="Start", unit="h : min", range="clock"),
                Entry(label="End", unit="h : min", range=f"{_between(minutes, 0)} min"),
                Entry(label="Laps", range=f"{result.laps} planned"),
            ),
        ),
        Entries(
            columns=3,
            boxes=(
                Entry(label="Air", unit="°C", range=_foretold(result.temperature)),
                Entry(label="Wind", unit="m/s", range=f"{_between(_not_below_zero(result.wind.at_mast), 0)} at 10 m"),
                Entry(label="From", unit="°", range=_from(result)),
            ),
        ),
    ]
    if paper == "a4":
        blocks.append(
            Entries(
                columns=3,
                boxes=(
                    Entry(label="Odometer start", unit="km"),
                    Entry(label="Odometer end", unit="km", range=f"+ about {number(result.distance.value, 1)}"),
                    Entry(label="Occupants", unit="kg", range="the same every run"),
                ),
            )
        )
    if result.question == "comparison":
        blocks.append(Ticks(items=("A: before the change", "B: after the change")))
    count = 1 if paper == "a5" and result.question == "comparison" else 2
    blocks += [Heading(text="What happened"), Lines(count=count), Last(text=_expected(result))]
    return FieldSheet(
        name="run-sheet", title="Run sheet no. ____ of ____", lead=_run_lead(result), blocks=tuple(blocks)
    )


def _run_lead(result: PlanResult) -> str:
    order = f" Order: {result.change.order}." if result.question == "comparison" else ""
    return f"{_name(result)}.{order} Lift off between readings; the passenger writes."


def _not_below_zero(figure: Figure) -> Figure:
    return Figure(figure.value, figure.standard_uncertainty, max(figure.low, 0.0), figure.high, figure.unit)


def _from(result: PlanResult) -> str:
    return f"about {number(result.wind.from_deg, 0)}" if result.wind.from_deg is not None else "where it comes from"


def _expected(result: PlanResult) -> str:
    litres = result.consumption.L_per_100km
    return (
        f"Expect {number(result.fuel_mass.low, 1)} to {number(result.fuel_mass.high, 1)} kg burnt: "
        f"{number(litres.low, 1)} to {number(litres.high, 1)} L/100 km. If outside, check the return hose, the can and "
        "the lap count before you leave."
    )


def runs_sheet(result: PlanResult, paper: Paper = "a4") -> FieldSheet:
    """All runs of a comparison in their order, a row each."""
    order, fitting = result.change.order, 8 if paper == "a5" else 12
    rows = tuple((f"{k + 1}  {arm}", "g", "min", "m/s", "°C") for k, arm in enumerate(order[:fitting]))
    more = len(order) - len(rows)
    change = result.change
    return FieldSheet(
        name="runs",
        title="Runs of the day",
        lead=f"{_name(result)}. A before, B after the change. Keep the order, whatever comes out.",
        blocks=(
            Grid(heads=("Run", "Burnt", "Time", "Wind", "Air"), rows=rows),
            *((Words(text=f"{more} more on a second sheet: {order[fitting:]}."),) if more > 0 else ()),
            Last(
                text=f"These runs would show a change of {percent_words(change.percent)}. Count every run; void one "
                "only before its weighing, and write why."
            ),
        ),
    )


def lap_card(result: PlanResult, paper: Paper = "a4") -> FieldSheet:
    """The passenger's card: a row for each lap, a stroke for everything that happens."""
    fitting = 9 if paper == "a5" else 12
    rows = min(max(result.laps, 6), fitting)
    low, high = _lap_times(result)
    return FieldSheet(
        name="lap-card",
        title="Lap card",
        lead="For the passenger. One stroke for each event; the clock at the start mark.",
        blocks=(
            Grid(
                heads=("Lap", "Clock", "Stop", "Slow", "Rain", "Other"),
                rows=tuple((str(k + 1), "", "", "", "", "") for k in range(rows)),
            ),
            *(
                (Words(text=f"Only {fitting} rows fit: take a second card for lap {fitting + 1} on."),)
                if result.laps > fitting
                else ()
            ),
            Last(
                text=f"A lap takes {low} to {high} min. A stop costs {number(result.stop_cost.stop.value, 0)} g, a "
                f"minute of idling {number(result.stop_cost.idle_per_minute.value, 0)} g. If a lap is longer, write "
                "why."
            ),
        ),
    )


def _lap_times(result: PlanResult) -> tuple[str, str]:
    return _clock(result.lap_time.low), _clock(result.lap_time.high)


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"


def rig_checklist(paper: Paper = "a4") -> FieldSheet:
    """The fuel rig, before and after: what ruins runs."""
    return FieldSheet(
        name="fuel-rig",
        title="Fuel rig",
        lead="Tick before the first weighing, and again at the end.",
        blocks=(
            Ticks(
                items=(
                    "Return hose goes into the test can",
                    "Leak-off hose goes into the test can",
                    "Can as high as the tank, vent open",
                    "No bubbles in a clear hose for 60 s",
                    "Hoses clamped at the tape mark",
                    "Cap, rag and tray weighed with the can",
                )
            ),
            Entries(
                columns=3,
                boxes=(
                    Entry(label="Scale zero", unit="g"),
                    Entry(label="Bottle", unit="g", range="known mass"),
                    Entry(label="At the end", unit="g", range="same bottle"),
                ),
            ),
            Ticks(items=("End: tank lines back, bled, no leak", "Walk round, sniff, look underneath")),
            Cautions(text="Fuel burns", items=FUEL_CAUTIONS),
        ),
    )


def course_card(result: PlanResult, paper: Paper = "a4") -> FieldSheet:
    """The course: how long, how often, what to expect of a lap, where to weigh."""
    low, high = _lap_times(result)
    per_lap = result.fuel_per_lap
    return FieldSheet(
        name="course-card",
        title="Course",
        lead=f"{_name(result)}: {laps_words(result.laps)} of {number(result.lap_distance.value, 2)} km.",
        blocks=(
            Entries(
                columns=2,
                boxes=(
                    Entry(label="Start, finish", range="same place, height"),
                    Entry(label="Where to weigh", range="level, out of the wind"),
                ),
            ),
            Entries(
                columns=3,
                boxes=(
                    Entry(label="Tyres front", unit="kPa", range="cold"),
                    Entry(label="Tyres rear", unit="kPa", range="cold"),
                    Entry(label="Air", unit="°C", range="in the shade"),
                ),
            ),
            Ticks(
                items=(
                    f"Lap {low} to {high} min at {number(result.speed.value, 0)} km/h",
                    f"A lap burns {number(1000 * per_lap.low, -1)} to {number(1000 * per_lap.high, -1)} g",
                    f"A stop costs {number(result.stop_cost.stop.value, 0)} g: choose turns without stops",
                    "Warmed up for 20 to 30 minutes",
                )
            ),
            Heading(text="Stops, schools, limits on the way"),
            Lines(count=2 if paper == "a4" else 1),
            Cautions(text="On the road", items=ROAD_CAUTIONS),
        ),
    )


def driving_rules(result: PlanResult) -> FieldSheet:
    """What must be the same in every run."""
    tolerance = LAP_TIME_TOLERANCE * result.duration.value
    return FieldSheet(
        name="driving-rules",
        title="Driving rules",
        lead="The same in every run. Tick, and keep to it.",
        blocks=(
            Entries(
                columns=3,
                boxes=(
                    Entry(label="Speed", unit="km/h", range=f"{number(result.speed.value, 0)} by satellite"),
                    Entry(label="Gear", range="all the way"),
                    Entry(label="Lights, fan", range="on or off"),
                ),
            ),
            Ticks(
                items=(
                    "Same driver, same load, windows shut",
                    "Never draft: keep well back",
                    "Same start: rolling or standing, at the mark",
                    f"Runs within {number(max(tolerance, 1), 0)} s of each other",
                    "Hold the speed, also into the wind",
                    "Engine off as soon as the valve is shut",
                    "Void a run before weighing, or not at all",
                )
            ),
            Cautions(text="On the road", items=ROAD_CAUTIONS),
        ),
    )


def coastdown_sheet(result: PlanResult, paper: Paper = "a4") -> FieldSheet:
    """Coastdowns by watch: both directions in turns, times between marks of speed."""
    rows = 8 if paper == "a4" else 6
    top = int(min(80, max(40, 10 * (result.speed.value // 10))))
    bands = (f"{top} to {top - 20}", f"{top - 20} to {max(top - 40, 10)}")
    return FieldSheet(
        name="coastdown",
        title="Coastdown",
        lead=f"{_name(result)}. Warm, out of gear, there and back in turns; km/h by satellite.",
        blocks=(
            Grid(
                heads=("Pass", *bands, "Wind"),
                rows=tuple((f"{k + 1}  {'there' if k % 2 == 0 else 'back'}", "s", "s", "m/s") for k in range(rows)),
            ),
            Words(text="Wind up to 3 m/s, dry road. There and back cancels the slope, not the wind."),
            Cautions(text="On the road", items=COASTDOWN_CAUTIONS),
        ),
    )
