"""The order of the day: the steps of a weighed run and what each asks for."""

from __future__ import annotations

from functools import cache
from typing import Final

import msgspec

from calmday.reports.fuel_cautions import UNTAXED
from calmday.web.fields import CLOCK, Field, field
from calmday.web.guess_fields import GUESSING
from calmday.web.vehicle_fields import FUELS

TERRAINS = (
    ("open", "Open: heath, airfield"),
    ("farmland", "Farmland: fields, a few hedges"),
    ("hedged", "Hedges or woods along the road"),
    ("suburban", "Houses with gardens"),
    ("town", "Town"),
    ("water", "Shore or open water"),
)
ARRANGEMENTS = (
    ("test can", "A can feeds the engine and takes the returns"),
    ("drained tank", "The tank is drained and weighed"),
    ("brim to brim", "Filled to the same level before and after"),
)
STARTS = (("cold", "Cold: stood for hours"), ("warm", "Warm: driven 20 minutes or more"))


class Step(msgspec.Struct, frozen=True, kw_only=True):
    """One step: what to do, in the order of doing it. `caution` said once, where it belongs; `of_fuel`: the one that
    fits the fuel."""

    name: str
    title: str
    lead: str
    fields: tuple[Field, ...] = ()
    extra: str = ""
    caution: str = ""
    of_fuel: bool = False


WEIGH_OUT, WEIGH_IN = "weigh-out", "weigh-in"
_ORDER = ("First", "Second", "Third", "Fourth", "Fifth")


def readings(weighing: int, words: str, count: int = 3) -> tuple[Field, ...]:
    """Repeat readings of one filling of the can, and its empty weight."""
    first = "Lift off and put back between readings; write what the display shows each time."
    return (
        *(
            field(
                f"weighing[{weighing}].gross[{n}]",
                f"{_ORDER[n]} reading, {words}",
                first if n == 0 else "",
                "weighing",
                example="12.885",
                room=9,
            )
            for n in range(count)
        ),
        field(
            f"weighing[{weighing}].tare",
            "The empty can",
            "Same cap, hoses and rag as above. Leave empty where the scale was zeroed with the empty can on it.",
            "weighing",
            example="1.020",
            room=9,
            left_out="the scale was zeroed with the empty can",
        ),
    )


QUESTION: Final = field(
    "question",
    "The question",
    "What should this run answer? It stands on top of its report.",
    kind="text",
    room=40,
    example="Is the new axle worth it?",
)

STEPS: Final = (
    Step(
        name="plan",
        title="The drive",
        lead="What is this run for, and where?",
        fields=(
            QUESTION,
            field(
                "label",
                "Name of the run",
                "Route and what is special today.",
                kind="text",
                room=34,
                example="Fen loop, four laps",
            ),
            field("date", "Date", "", kind="date"),
            field(
                "timezone",
                "Clock ahead of universal time",
                CLOCK,
                kind="text",
                room=8,
                example="+02:00",
            ),
            field(
                "terrain",
                "What lies beside the road?",
                "Tells how much of the wind reaches the vehicle.",
                kind="choice",
                choices=TERRAINS,
                left_out="anything from open to hedged, with a wide doubt",
            ),
            field(
                "payload",
                "Extra load today",
                "On top of the mass on the build sheet; passengers too.",
                "mass",
                example="0",
                left_out="none",
            ),
            field(
                "smallest_change",
                "Smallest difference worth knowing",
                "Decides what counts as good enough.",
                "fraction",
                example="3",
                left_out="3 %",
            ),
        ),
    ),
    Step(
        name="scale",
        title="Check the scale",
        lead="Level ground, out of the wind. Zero it, then weigh the same bottle three times.",
        fields=(
            field("scale.resolution", "Smallest step of the display", "", "small mass", example="5", left_out="5 g"),
            field(
                "scale.repeatability",
                "Scatter of the same load",
                "Two readings in three lie this near to their mean.",
                "small mass",
                example="4",
                left_out="from your repeat readings, else one step",
            ),
            field("scale.capacity", "Most it may carry", "", "mass", example="20", left_out="not checked"),
            field(
                "scale.accuracy",
                "Maker's limit of error",
                "Of the reading, as the maker states it.",
                "fraction",
                example="0.1",
                left_out="0.5 %, a kitchen scale never checked",
            ),
        ),
    ),
    Step(
        name="rig",
        title="Fuel and rig",
        lead="One batch for the whole test. Every return hose goes into the can that is weighed.",
        caution=f"Outside, engine cool, no flame or spark near; gloves and a rag at hand. {UNTAXED}",
        fields=(
            field(
                "fuel_system.arrangement",
                "How is the fuel caught?",
                "",
                kind="choice",
                choices=ARRANGEMENTS,
                left_out="a test can",
            ),
            field(
                "fuel_system.repeatability",
                "Fuel that hides in lines and filter",
                "A null test finds it: connect, purge, idle a minute, disconnect, weigh, five times.",
                "small mass",
                example="12",
                left_out="12 g, assumed",
            ),
            field("fuel.kind", "Fuel in the can", "", kind="choice", choices=FUELS, left_out="as on the build sheet"),
            field(
                "fuel.density",
                "Density",
                "Delivery note, hydrometer, or weigh a measured litre.",
                "density",
                example="836",
                left_out="usual for the fuel, ± 1.8 %",
            ),
            field(
                "fuel.density_temperature",
                "Density at which temperature?",
                "",
                "temperature",
                example="15",
                left_out="15 °C",
            ),
            field(
                "fuel.price",
                "Price",
                "Currency and volume, such as 1.62 EUR/L or 139.9p/L; 0 EUR/L if it was free.",
                kind="text",
                figures=True,
                example="1.62 EUR/L",
                room=14,
                left_out="no cost is shown",
            ),
        ),
    ),
    Step(
        name="tyres",
        title="Cold tyres",
        lead="Before the first metre: a warm tyre reads high.",
        fields=(
            field(
                "tyre_pressure",
                "Cold pressure today",
                "The mean of all wheels.",
                "pressure",
                example="2.9",
                left_out="as on the build sheet",
            ),
            field(
                "engine_start",
                "How does the engine start?",
                "",
                kind="choice",
                choices=STARTS,
                left_out="either, with a wide doubt",
            ),
        ),
    ),
    Step(
        name="guesses",
        title="Guesses",
        lead="Say how guesses are scored, then everybody guesses before the weighing. A guess is sealed: it shows only "
        "after the can is weighed again. Once they lie open, the rule stands.",
        extra="guesses",
        fields=GUESSING,
    ),
    Step(
        name="weigh-out",
        title="Weigh out",
        lead="The can with its fuel, cap on, hose ends closed. Three readings.",
        of_fuel=True,
    ),
    Step(
        name="weather",
        title="Weather",
        lead="Paste what the airfield reports, or write what you see. Both is best.",
        fields=(
            field(
                "weather.metar",
                "Airfield reports (METAR)",
                "One on each line; those around the drive.",
                kind="lines",
                listed=True,
                example="METAR ZZAA 121120Z 34012G19KT 9999 SCT030 11/04 Q1017",
                room=60,
            ),
            field(
                "weather.field_elevation",
                "Height of that airfield above the sea",
                "Turns its pressure into the road's.",
                "length",
                example="6",
                left_out="the height of the track",
            ),
            field(
                "weather.reading[0].time",
                "At what time did you read your own?",
                "",
                kind="time",
                left_out="no reading of your own",
            ),
            field(
                "weather.reading[0].wind_speed",
                "Wind",
                "Two minutes' mean, away from the vehicle.",
                "speed",
                example="5",
            ),
            field(
                "weather.reading[0].wind_from",
                "From where?",
                "N, NNW, or degrees.",
                kind="text",
                bare="deg",
                example="NNW",
                room=8,
            ),
            field("weather.reading[0].gust", "Gusts", "The peak in those two minutes.", "speed", example="9"),
            field(
                "weather.reading[0].height",
                "Wind meter above the ground",
                "",
                "length",
                example="2",
                left_out="2 m, held in the hand",
            ),
            field("weather.reading[0].temperature", "Temperature", "In the shade.", "temperature", example="11"),
            field(
                "weather.reading[0].pressure",
                "Pressure on the road",
                "Not reduced to the sea.",
                "air pressure",
                example="1013",
            ),
            field("weather.reading[0].relative_humidity", "Humidity", "", "fraction", example="62"),
        ),
    ),
    Step(
        name="drive",
        title="Drive",
        lead="The driver drives, the passenger taps. Same speed by satellite, same gear, same lights each lap.",
        caution="No reading is worth a risk. Only the passenger touches this while the vehicle moves.",
        extra="events",
        fields=(
            field(
                "laps",
                "Laps driven",
                "Checked against the track.",
                kind="whole",
                example="4",
                left_out="from the track",
            ),
            field(
                "odometer.start",
                "Odometer at the start",
                "",
                "distance",
                example="12345.6",
                left_out="its factor is not found",
            ),
            field("odometer.end", "Odometer at the end", "", "distance", example="12384.2"),
            field(
                "lap_length",
                "Length of a lap",
                "Where there is no track.",
                "distance",
                example="9.8",
                left_out="from the track",
            ),
            field(
                "duration",
                "Time on the move",
                "Where there is no track.",
                "time",
                example="36",
                left_out="from the track",
            ),
            field("note", "What happened", "One event on a line.", kind="lines", room=40),
        ),
    ),
    Step(
        name="weigh-in",
        title="Weigh in",
        lead="Same place, same cap, same hoses. Shut the valve, then stop the engine. Three readings.",
    ),
    Step(
        name="track",
        title="The track",
        lead="The file that your satellite receiver or phone recorded: GPX, NMEA, GeoJSON or CSV.",
        extra="track",
    ),
    Step(
        name="check",
        title="Before you leave",
        lead="A minute now saves the day: is this run worth keeping?",
        extra="check",
    ),
)


def step_named(name: str) -> Step | None:
    """The step of this name; None where there is none."""
    return next((step for step in STEPS if step.name == name), None)


@cache
def run_fields(weighings: int = 2) -> tuple[Field, ...]:
    """All fields of a run with so many weighings, each with up to five readings."""
    weighed = tuple(each for n in range(min(weighings, 40)) for each in readings(n, "can", len(_ORDER)))
    return (*(field for step in STEPS for field in step.fields), *weighed)
