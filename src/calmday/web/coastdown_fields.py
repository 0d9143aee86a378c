"""A day of coastdowns on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.documents import DocumentKind, FileRole, judge_track_file, read_ours
from calmday.web.fields import CLOCK, Field, Group, field
from calmday.web.run_fields import TERRAINS

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

_PLACE = re.compile(r"pass\[(\d+)\]")
_ELSEWHERE = re.compile(r"pass\[\d+\]\.track|pass|vehicle.*|engine.*|file")
"""Keys of faults that no box of this page can mend: files are judged when they arrive, the build sheet on its page."""


def groups(keys: Collection[str]) -> tuple[Group, ...]:
    """The day, its air, every pass that is begun and one more."""
    places = {int(found[1]) for key in keys if (found := _PLACE.match(key))}
    shown = [*sorted(places), max(places, default=-1) + 1]
    return (
        Group(name="day", title="The day", fields=_day()),
        Group(
            name="air",
            title="Wind and air",
            lead="Two minutes with a wind meter beside the road, before and after. Both ways cancel the slope, not the "
            "wind.",
            fields=_air(),
        ),
        *(
            Group(
                name=f"pass-{place}",
                title=f"Recording {number}" if place in places else f"Recording {number}, if there is one",
                lead=""
                if number > 1
                else "One file for each roll, or one long track with several: they are found in it "
                "by their slowing down.",
                fields=_pass(place),
            )
            for number, place in enumerate(shown, start=1)
        ),
    )


def _day() -> tuple[Field, ...]:
    return (
        field("label", "What do you call it?", "As it should stand on charts.", kind="text", room=30),
        field("date", "Date", "", kind="date"),
        field("timezone", "Clock ahead of universal time", CLOCK, kind="text", example="+02:00"),
        field("warm_up", "Driven before the first roll", "Warm tyres roll easier.", "time", example="25",
              left_out="warm"),
        field("payload", "Extra load", "On top of the mass on the build sheet.", "mass", left_out="none"),
        field("tyre_pressure", "Cold pressure", "Mean of all wheels.", "pressure", left_out="as on the build sheet"),
        field("terrain", "What lies beside the road?", "Tells how much of the wind reaches the vehicle.", kind="choice",
              choices=TERRAINS, left_out="anything from open to hedged, with a wide doubt"),
        field("rotating_mass", "Turning parts count like how much more mass?",
              "Wheels and shafts in neutral, if you know.", "mass",
              left_out="3.5 % of the mass, with a doubt"),
        field("wanted", "Give-or-take that would do", "Of the force at 80 km/h; tells how many rolls it takes.",
              "fraction", example="5", left_out="5 %"),
    )  # fmt: skip


def _air() -> tuple[Field, ...]:
    return (
        field("weather.reading[0].time", "At what time did you read it?", "", kind="time",
              left_out="no reading of your own"),
        field("weather.reading[0].wind_speed", "Wind", "Two minutes' mean.", "speed", example="2"),
        field("weather.reading[0].wind_from", "From where?", "N, NNW, or degrees.", kind="text", bare="deg",
              example="NNW"),
        field("weather.reading[0].height", "Wind meter above the ground", "", "length", example="2",
              left_out="2 m, held in the hand"),
        field("weather.reading[0].temperature", "Temperature", "In the shade.", "temperature", example="14"),
        field("weather.reading[0].pressure", "Pressure on the road", "Not reduced to the sea.", "air pressure",
              example="1009"),
        field("weather.reading[0].relative_humidity", "Humidity", "", "fraction", example="62"),
        field("weather.metar", "Airfield reports (METAR)", "One on each line.", kind="lines", listed=True, room=60),
        field("weather.field_elevation", "Height of that airfield above the sea", "", "length"),
    )  # fmt: skip


def _pass(place: int) -> tuple[Field, ...]:
    start = f"pass[{place}]"
    return (
        field(f"{start}.heading", "Which way?", "Direction of travel; for a recording without position.", "angle",
              example="340", left_out="that of the recording"),
        field(f"{start}.from_speed", "Count from", "Cuts the recording.", "road speed", left_out="its beginning"),
        field(f"{start}.to_speed", "Count down to", "", "road speed", left_out="its end"),
        field(f"{start}.mass", "Mass on this roll", "If it was another.", "mass", left_out="that of the day"),
        field(f"{start}.grade", "How steep?", "Up is plus, in the direction driven.", "fraction", example="0.1",
              left_out="level, with a doubt of 0.6 %"),
    )  # fmt: skip


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.coastdown_file import coastdown_of  # noqa: PLC0415  (the readers only where something is judged)

    return read_ours(
        lambda: coastdown_of(document, "coastdown.toml", "coastdown"), lambda fault: _ELSEWHERE.fullmatch(fault.key)
    )


COASTDOWN: Final = DocumentKind(
    kind="coastdown",
    words="Coastdowns",
    page="coastdown",
    home="coastdowns",
    groups=groups,
    read=judge,
    files=(
        FileRole(
            role="pass",
            title="Recordings",
            lead="In the order driven: GPX, NMEA or CSV with time_s and speed_kmh. Say which way each went above, "
            "where the file has no positions.",
            accept=".gpx,.nmea,.csv,.txt,.json,.geojson",
            judge=judge_track_file,
            listed=True,
        ),
    ),
    task="coastdown",
)
