"""A day of pulls and timed hills on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.documents import DocumentKind, FileRole, judge_track_file, read_ours
from calmday.web.fields import CLOCK, Field, Group, field
from calmday.web.run_fields import TERRAINS

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

KINDS: Final = (
    ("acceleration", "Pull: full throttle in one gear, gaining speed"),
    ("climb", "Hill: full throttle in one gear, holding a speed"),
    ("start", "Start: from rest through the gears"),
)
STANDARDS: Final = (("ISO 1585", "ISO 1585"), ("SAE J1349", "SAE J1349"), ("DIN 70020", "DIN 70020"))
_PLACE = re.compile(r"pull\[(\d+)\]")
_ELSEWHERE = re.compile(r"(?:pull|start)\[\d+\]\.track|pull|vehicle.*|engine.*|file")
"""Keys of faults that no box of this page can mend: files are judged when they arrive, the build sheet on its page."""


def groups(keys: Collection[str]) -> tuple[Group, ...]:
    """The day, its air, every pull that is begun and one more."""
    places = {int(found[1]) for key in keys if (found := _PLACE.match(key))}
    shown = [*sorted(places), max(places, default=-1) + 1]
    return (
        Group(name="day", title="The day", fields=_day()),
        Group(
            name="air",
            title="Wind and air",
            lead="Two minutes with a wind meter beside the road, or the nearest airfield. Without it: a wide answer.",
            fields=_air(),
        ),
        *(
            Group(
                name=f"pull-{place}",
                title=f"Pull {number}" if place in places else f"Pull {number}, if there is one",
                lead="" if number > 1 else "Warm engine, tyres warm, windows shut. Three each way on the same stretch.",
                fields=_pull(place),
            )
            for number, place in enumerate(shown, start=1)
        ),
    )


def _day() -> tuple[Field, ...]:
    return (
        field("label", "What do you call it?", "As it should stand on charts.", kind="text", room=30),
        field("date", "Date", "", kind="date"),
        field("timezone", "Clock ahead of universal time", CLOCK, kind="text", example="+02:00"),
        field("payload", "Extra load", "On top of the mass on the build sheet.", "mass", left_out="none"),
        field("tyre_pressure", "Cold pressure", "Mean of all wheels.", "pressure", left_out="as on the build sheet"),
        field("terrain", "What lies beside the road?", "Tells how much of the wind reaches the vehicle.", kind="choice",
              choices=TERRAINS, left_out="anything from open to hedged, with a wide doubt"),
        field("correct_to", "Bring the power to which standard?", "", kind="choice", choices=STANDARDS,
              left_out="ISO 1585"),
    )  # fmt: skip


def _air() -> tuple[Field, ...]:
    return (
        field("weather.reading[0].time", "At what time did you read it?", "", kind="time",
              left_out="no reading of your own"),
        field("weather.reading[0].wind_speed", "Wind", "Two minutes' mean.", "speed", example="3"),
        field("weather.reading[0].wind_from", "From where?", "N, NNW, or degrees.", kind="text", bare="deg",
              example="NNW"),
        field("weather.reading[0].height", "Wind meter above the ground", "", "length", example="2",
              left_out="2 m, held in the hand"),
        field("weather.reading[0].temperature", "Temperature", "In the shade.", "temperature", example="11"),
        field("weather.reading[0].pressure", "Pressure on the road", "Not reduced to the sea.", "air pressure",
              example="1013"),
        field("weather.reading[0].relative_humidity", "Humidity", "", "fraction", example="62"),
        field("weather.metar", "Airfield reports (METAR)", "One on each line.", kind="lines", listed=True, room=60),
        field("weather.field_elevation", "Height of that airfield above the sea", "", "length"),
    )  # fmt: skip


def _pull(place: int) -> tuple[Field, ...]:
    start = f"pull[{place}]"
    return (
        field(f"{start}.kind", "What was it?", "", kind="choice", choices=KINDS, left_out="a pull"),
        field(f"{start}.gear", "In which gear?", "1 is first.", kind="whole", example="3", room=3),
        field(f"{start}.heading", "Which way?", "Direction of travel; for a recording without position.", "angle",
              example="340", left_out="that of the recording"),
        field(f"{start}.grade", "How steep?", "Up is plus.", "fraction", example="0.5",
              left_out="level, with a doubt of 0.6 %"),
        field(f"{start}.rise", "Rise of the hill", "From a map; with its length instead of how steep.", "length"),
        field(f"{start}.length", "Length of the hill", "", "distance"),
        field(f"{start}.time", "Times by hand", "For a hill without a recording: one on each line, like 200 s.",
              kind="lines", figures=True, listed=True, room=12),
        field(f"{start}.from_speed", "Count from", "Cuts the recording.", "road speed", left_out="its slowest place"),
        field(f"{start}.to_speed", "Count up to", "", "road speed", left_out="its fastest place"),
        field(f"{start}.rotating_mass", "Turning parts count like how much more mass?",
              "Engine, gearbox and wheels in this gear, if you know.", "mass",
              left_out="usual for the size of the engine, with a wide doubt"),
    )  # fmt: skip


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.pull_file import pulls_of  # noqa: PLC0415  (the readers only where something is judged)

    return read_ours(lambda: pulls_of(document, "pull.toml", "pull"), lambda fault: _ELSEWHERE.fullmatch(fault.key))


PULL: Final = DocumentKind(
    kind="pull",
    words="Pulls",
    page="pull",
    home="pulls",
    groups=groups,
    read=judge,
    files=(
        FileRole(
            role="pull",
            title="Recordings",
            lead="One file for each pull, in the order driven: GPX, NMEA or CSV with time_s and speed_kmh. Five or ten "
            "fixes a second tell far more than one. Say the gear of each above.",
            accept=".gpx,.nmea,.csv,.txt,.json,.geojson",
            judge=judge_track_file,
            listed=True,
        ),
    ),
    task="pull",
)
