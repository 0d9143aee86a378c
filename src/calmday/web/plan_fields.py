"""A test to be driven on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.errors import Fault
from calmday.reports.plan_sentence import QUESTION_WORDS
from calmday.web.documents import DocumentKind, FileRole, judge_track_file, read_ours
from calmday.web.fields import CLOCK, YES_NO, Field, Group, field
from calmday.web.run_fields import ARRANGEMENTS, STARTS, TERRAINS
from calmday.web.vehicle_fields import FUELS

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

WINDS: Final = (
    ("station", "The nearest airfield's reports"),
    ("roadside", "A wind meter held beside the road"),
    ("none", "Nothing"),
)
_ELSEWHERE = re.compile(r"route(?:\[\d+\])?|vehicle.*|engine.*|file")
"""Keys of faults that no box of this page can mend: files are judged when they arrive, the build sheet on its page."""


def groups(_keys: Collection[str]) -> tuple[Group, ...]:
    """Everything a plan may say, in the order one thinks of it."""
    return (
        Group(name="question", title="The question", lead="One test answers one question.", fields=_question()),
        Group(
            name="route",
            title="Where and how far",
            lead="A track of one lap, kept below, says more than any box here. Without it, the length of a lap.",
            fields=_route(),
        ),
        Group(name="weather", title="The forecast", lead="At 10 m above open ground, as forecasts give it.",
              fields=_weather()),
        Group(name="fuel", title="Fuel, can and scale", fields=_fuel()),
        Group(
            name="comparison",
            title="Only where a change is tested",
            lead="Runs before (A) and after (B) the change, in an order that cancels the drift of the day.",
            fields=_comparison(),
        ),
        Group(
            name="capability",
            title="Only where the speed is the question",
            fields=(
                field("head_wind", "Against which wind?", "At the height of the vehicle, from ahead.", "speed",
                      left_out="the wind foretold"),
                field("grade", "On which hill?", "Up is plus.", "fraction", left_out="level"),
            ),
        ),
    )  # fmt: skip


def _question() -> tuple[Field, ...]:
    return (
        field("label", "What do you call it?", "", kind="text", room=30, example="Fen loop, before the new tyres"),
        field("question", "What must it answer?", "", kind="choice", choices=tuple(QUESTION_WORDS.items()),
              left_out="what it uses"),
        field("wanted", "Good enough when it is good to", "Give-or-take of the figure.", "fraction", example="3",
              left_out="3 %, for a cost 5 %"),
        field("smallest_change", "Smallest difference worth knowing", "", "fraction", example="3", left_out="3 %"),
    )  # fmt: skip


def _route() -> tuple[Field, ...]:
    return (
        field("lap_length", "Length of a lap", "", "distance", example="14.2", left_out="that of the track"),
        field("laps", "Laps", "", kind="whole", example="4", room=4, left_out="as many as are good enough"),
        field("most_laps", "Most laps you would drive", "", kind="whole", room=4, left_out="120 km or three hours"),
        field("speed", "Speed on the open road", "By satellite.", "road speed", example="80",
              left_out="as in the track, else 70 km/h"),
        field("stops_per_lap", "Stops on a lap", "0.5: one on every second lap.", kind="number", room=5,
              left_out="as in the track, else one every 12 km"),
        field("stop_time", "How long is a stop?", "", "time", left_out="12 s"),
        field("bends_per_lap", "Bends that slow you down", "", kind="number", room=5,
              left_out="as in the track, else one every 2.5 km"),
        field("bend_speed", "Speed in them", "", "road speed", left_out="two thirds of the speed"),
        field("terrain", "What lies beside the road?", "Tells how much of the wind reaches the vehicle.", kind="choice",
              choices=TERRAINS, left_out="anything from open to hedged, with a wide doubt"),
        field("record_track", "Will a receiver record it?", "", kind="yes_no", choices=YES_NO, left_out="yes"),
        field("engine_start", "The engine at the start", "", kind="choice", choices=STARTS, left_out="warm"),
        field("payload", "Extra load", "On top of the mass on the build sheet.", "mass", left_out="none"),
        field("tyre_pressure", "Cold pressure", "Mean of all wheels.", "pressure", left_out="as on the build sheet"),
    )  # fmt: skip


def _weather() -> tuple[Field, ...]:
    return (
        field("date", "Day of the test", "", kind="date"),
        field("timezone", "Clock ahead of universal time", CLOCK, kind="text", example="+02:00"),
        field("start", "Start", "", kind="time", left_out="noon"),
        field("weather.forecast[0].wind_speed", "Wind foretold", "", "speed", example="5",
              left_out="an ordinary day's wind, from anywhere"),
        field("weather.forecast[0].wind_from", "From where?", "N, NNW, or degrees.", kind="text", bare="deg",
              example="NNW"),
        field("weather.forecast[0].gust", "Gusts", "", "speed", left_out="usual for that wind"),
        field("weather.forecast[0].temperature", "Temperature", "", "temperature", example="9"),
        field("weather.forecast_doubt", "How far off are such forecasts?", "Two forecasts in three are this near.",
              "speed", left_out="1.5 m/s"),
        field("weather.wind_on_the_day", "What will tell the wind then?", "", kind="choice", choices=WINDS,
              left_out="the nearest airfield"),
    )  # fmt: skip


def _fuel() -> tuple[Field, ...]:
    return (
        field("fuel_on_board", "Fuel on board", "", "volume", example="42", left_out="not checked"),
        field("fuel.kind", "Fuel", "", kind="choice", choices=FUELS, left_out="as on the build sheet"),
        field("fuel.density", "Density", "Delivery note, hydrometer, or a weighed litre.", "density",
              left_out="usual for the fuel, ± 1.8 %"),
        field("fuel.density_temperature", "Density at which temperature?", "", "temperature", left_out="15 °C"),
        field("fuel_system.arrangement", "How is the fuel caught?", "", kind="choice", choices=ARRANGEMENTS,
              left_out="a test can"),
        field("fuel_system.repeatability", "Fuel that hides in lines and filter", "Found by a null test.", "small mass",
              example="12", left_out="12 g, assumed"),
        field("scale.resolution", "Smallest step of the display", "", "small mass", example="5", left_out="5 g"),
        field("scale.repeatability", "Scatter of the same load", "Two readings in three lie this near to their mean.",
              "small mass", example="4",
              left_out="3 g, or half a step"),
        field("scale.accuracy", "Maker's limit of error", "Of the reading.", "fraction", example="0.1",
              left_out="0.5 %, a kitchen scale never checked"),
        field("scale.capacity", "Most the scale carries", "", "mass", example="10", left_out="not checked"),
        field("can.tare", "The empty can", "", "weighing", example="1.02", left_out="1.2 kg"),
        field("can.volume", "What the can holds", "", "volume", example="10", left_out="enough"),
        field("can.left", "What must stay in it", "So that no air is drawn.", "small mass",
              left_out="400 g, or 15 % of what is burnt"),
        field("readings", "How often is each weighing read?", "", kind="whole", room=3, left_out="three times"),
    )  # fmt: skip


def _comparison() -> tuple[Field, ...]:
    return (
        field("runs_per_side", "Runs on either side", "", kind="whole", example="4", room=4, left_out="four"),
        field("run_scatter", "Scatter from run to run", "Two runs in three lie this near to their "
              "mean; if runs have shown it.", "fraction",
              left_out="1.5 % and that of weighing"),
        field("change_time", "Time that one change takes", "", "time", left_out="20 min"),
        field("time_available", "Time you have", "", "time", left_out="as long as it takes"),
    )  # fmt: skip


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.plan_file import plan_of  # noqa: PLC0415  (the readers only where something is judged)

    def elsewhere(fault: Fault) -> bool:
        missing = fault.key == "lap_length" and fault.wrong == "is missing"
        return missing or _ELSEWHERE.fullmatch(fault.key) is not None

    return read_ours(lambda: plan_of(document, "plan.toml", "plan"), elsewhere)


PLAN: Final = DocumentKind(
    kind="plan",
    words="Test",
    page="plan_document",
    home="plan",
    groups=groups,
    read=judge,
    files=(
        FileRole(
            role="route",
            title="A track of the route",
            lead="One lap driven with the receiver on, or a whole drive: laps in it are found. GPX, NMEA, GeoJSON or "
            "CSV.",
            accept=".gpx,.nmea,.csv,.txt,.json,.geojson",
            judge=judge_track_file,
        ),
    ),
    file_keys=frozenset({"route"}),
    task="plan",
)
