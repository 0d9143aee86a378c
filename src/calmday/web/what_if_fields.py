"""Changes that are thought of, and a year of driving, on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.documents import DocumentKind, read_ours
from calmday.web.fields import Field, Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

CHANGED: Final = (
    ("final_drive", "axle ratio"),
    ("tyre_pressure", "tyre pressure"),
    ("rolling_resistance", "rolling resistance"),
    ("drag_coefficient", "air drag"),
    ("frontal_area", "frontal area"),
    ("test_mass", "mass"),
    ("engine_efficiency", "engine efficiency"),
    ("engine_friction", "engine friction"),
    ("full_load_power", "full-load power"),
    ("accessory_power", "power for fan, generator and pumps"),
    ("driveline_efficiency", "driveline efficiency"),
)
"""What can be changed here, under the keys of `calmday whatif --set`."""

FEWEST: Final = {"change": 2, "year": 2}
MOST: Final = {"change": 5, "year": 6}
_ELSEWHERE: Final = re.compile(r"vehicle.*|engine.*|file|runs.*|coastdowns.*")
"""Keys of faults that no box of this page can mend."""
_OF_THE_SHEET: Final = ("has no gearing to belong to", "has nothing to be compared with")
"""What is wrong only as long as the build sheet is not at hand; told with it, above the boxes."""


def groups(keys: Collection[str]) -> tuple[Group, ...]:
    """The driving, the changes begun and one more, the parts of a year begun and one more."""
    return (
        Group(
            name="about",
            title="What is asked",
            lead="The steady driving that every change is judged by.",
            fields=(
                field("label", "What do you call it?", "", kind="text", room=30, example="Winter plans"),
                field("speed", "Speed", "By satellite.", "road speed", example="85", left_out="80 km/h"),
                field("wind", "Wind from all around", "As on a loop, at the vehicle: about 0.6 of a forecast’s.",
                      "speed", example="3", left_out="still air"),
                field("temperature", "Air temperature", "", "temperature", left_out="20 °C"),
                field("price", "Price of fuel", "With its currency, for a litre or gallon; 0 EUR/L if it is free.",
                      kind="text", figures=True, room=14, example="1.62 EUR/L", left_out="nothing is said in money"),
                field("distance_per_year", "Driven in a year", "", "distance", example="12000",
                      left_out="no saving in a year"),
            ),
        ),
        Group(
            name="changes",
            title="Which change first?",
            lead="Up to five changes, with what each costs and how long it takes. Where each has its price, all in one "
            "currency, they are ranked by fuel saved for the money; else by fuel saved for the hours, where each has "
            "its hours; else by fuel saved.",
            fields=(),
        ),
        *(Group(name=f"change-{i}", title=f"Change {i + 1}", fields=_change(i)) for i in _places("change", keys)),
        Group(
            name="year",
            title="A whole year",
            lead="The year in up to six kinds of driving: how far, how fast, in which weather. What is left out is as "
            "above. With changes, the year is told as it is and with all of them.",
            fields=(),
        ),
        *(Group(name=f"year-{i}", title=f"Driving {i + 1}", fields=_part(i)) for i in _places("year", keys)),
    )  # fmt: skip


def _places(name: str, keys: Collection[str]) -> range:
    """Rows to show: those in use, and one more as long as there are few."""
    used = [int(found[1]) + 1 for key in keys if (found := re.match(rf"{name}\[(\d{{1,3}})\]", key))]
    begun = max(used, default=0)
    return range(max(begun, min(max(begun + 1, FEWEST[name]), MOST[name])))


def _change(i: int) -> tuple[Field, ...]:
    at = f"change[{i}]"
    return (
        field(f"{at}.what", "What do you call it?", "", kind="text", room=24, example="rack off"),
        field(f"{at}.key", "What is changed?", "", kind="choice", choices=CHANGED, unsaid="nothing yet"),
        field(f"{at}.by", "By how much", "More is plus, less is minus.", "fraction", example="-7"),
        field(f"{at}.to", "Or: what it becomes", "With its unit, where it has one.", kind="text", figures=True, room=12,
              example="3.7 or 330 kPa"),
        field(f"{at}.cost", "Price", "With its currency in three letters.", kind="text", figures=True, room=12,
              example="350 EUR"),
        field(f"{at}.work", "Work", "", "working time", example="9"),
    )  # fmt: skip


def _part(i: int) -> tuple[Field, ...]:
    at = f"year[{i}]"
    return (
        field(f"{at}.distance", "How far in a year", "", "distance", example="6000"),
        field(f"{at}.speed", "Speed", "", "road speed", example="75", left_out="as above"),
        field(f"{at}.temperature", "Air temperature", "", "temperature", example="3", left_out="as above"),
        field(f"{at}.wind", "Wind from all around", "", "speed", example="3", left_out="as above"),
        field(f"{at}.cold_starts", "Cold starts", "", kind="whole", room=5, example="150", left_out="none"),
    )


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.what_if_file import what_if_of  # noqa: PLC0415  (the readers only where something is judged)

    return read_ours(
        lambda: what_if_of(document, "whatif.toml", "whatif"),
        lambda fault: fault.wrong in _OF_THE_SHEET or _ELSEWHERE.fullmatch(fault.key),
    )


WHAT_IF: Final = DocumentKind(
    kind="whatif",
    words="Changes",
    page="what_if_of",
    home="what_if",
    groups=groups,
    read=judge,
    file_keys=frozenset(),
)
