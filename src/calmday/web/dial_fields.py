"""Readings off the dials on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.web.documents import DocumentKind, read_ours
from calmday.web.fields import Field, Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

DRIVEN: Final = (("gearbox", "the gearbox, before the axle"), ("wheel", "a wheel"))
_ELSEWHERE = re.compile(r"vehicle.*|engine.*|file|speedometer")
"""Keys of faults that no box of this page can mend; and that nothing is read yet."""

LISTS: Final = ("speedometer.reading", "odometer.stretch", "fuel_gauge.reading", "change")
FEWEST: Final = {"speedometer.reading": 3, "odometer.stretch": 2, "fuel_gauge.reading": 4, "change": 1}


def groups(keys: Collection[str]) -> tuple[Group, ...]:
    """The day, each dial with the readings begun and one more, changes thought of."""
    counts = {name: max(FEWEST[name], _most(name, keys) + 2) for name in LISTS}
    return (
        Group(
            name="day", title="The day", lead="Factors belong to the tyres and the axle of this day.",
            fields=(
                field("label", "What do you call it?", "", kind="text", room=30),
                field("date", "Date", "", kind="date"),
                field("driven_by", "What drives both dials?", "", kind="choice", choices=DRIVEN,
                      left_out="the gearbox"),
            ),
        ),
        Group(
            name="speedometer", title="Speedometer",
            lead="Steady speeds, ten seconds each, spread over what you drive. The passenger reads and writes; stay "
            "within the limit by the receiver.",
            fields=(
                *(each for i in range(counts["speedometer.reading"]) for each in _speed(i)),
                field("speedometer.division", "Smallest step you can read", "", "road speed", left_out="2 km/h"),
            ),
        ),
        Group(
            name="odometer", title="Odometer",
            lead="Ten kilometres and more, tyres warm, there and back, against the receiver or kilometre posts.",
            fields=(
                *(each for i in range(counts["odometer.stretch"]) for each in _stretch(i)),
                field("odometer.division", "Smallest step you can read", "", "distance", left_out="0.1 km"),
            ),
        ),
        Group(
            name="gauge", title="Fuel gauge",
            lead="Drain the tank, fill in steps of a known amount, note the needle after each: 0 is empty, 1 is full, "
            "3/4 is right too. Fuel outside, engine off, an extinguisher at hand, nothing that sparks.",
            fields=(
                field("fuel_gauge.capacity", "The tank holds", "", "volume", left_out="55 L, give or take half"),
                *(each for i in range(counts["fuel_gauge.reading"]) for each in _needle(i)),
                field("fuel_gauge.unusable", "Left behind by the pickup", "", "volume", left_out="nothing"),
            ),
        ),
        Group(
            name="range", title="How far does the fuel go?",
            lead="From the needle, or with a dead gauge from the way since the tank was full.",
            fields=(
                field("range.needle", "Needle now", "", kind="text", figures=True, room=6, example="1/4"),
                field("range.since_full", "Or: driven since full", "", "distance"),
                field("range.consumption", "It uses", "", "consumption", left_out="what the newest weighed run used"),
            ),
        ),
        *(
            Group(
                name=f"change-{i}", title="A change you think of" if i == 0 else f"Another change ({i + 1})",
                lead="" if i else "What another tyre or axle will do to both dials, before you buy it.",
                fields=(
                    field(f"change[{i}].what", "What do you call it?", "", kind="text", room=24),
                    field(f"change[{i}].tyre", "Tyre", "", kind="text", room=14, example="205/75 R16"),
                    field(f"change[{i}].rolling_circumference", "Or: rolling circumference", "", "length"),
                    field(f"change[{i}].final_drive", "Axle ratio", "", kind="number", example="3.7"),
                ),
            )
            for i in range(counts["change"])
        ),
    )  # fmt: skip


def _most(name: str, keys: Collection[str]) -> int:
    """The highest place of a list that is in use; -2 for none."""
    pattern = re.compile(re.escape(name) + r"\[(\d+)\]")
    return max((int(found[1]) for key in keys if (found := pattern.match(key))), default=-2)


def _speed(place: int) -> tuple[Field, ...]:
    start = f"speedometer.reading[{place}]"
    return (
        field(f"{start}.indicated", f"Dial, reading {place + 1}", "", "road speed"),
        field(f"{start}.satellite", f"Receiver, reading {place + 1}", "", "road speed"),
    )


def _stretch(place: int) -> tuple[Field, ...]:
    start = f"odometer.stretch[{place}]"
    return (
        field(f"{start}.start", f"At the start of stretch {place + 1}", "", "distance"),
        field(f"{start}.end", "At its end", "", "distance"),
        field(f"{start}.distance", "True way", "", "distance"),
    )


def _needle(place: int) -> tuple[Field, ...]:
    start = f"fuel_gauge.reading[{place}]"
    return (
        field(f"{start}.added", f"Filled in, step {place + 1}", "Since the step before.", "fuel amount"),
        field(f"{start}.needle", "Needle then", "", kind="text", figures=True, room=6, example="1/4"),
    )


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.dials_file import dials_of  # noqa: PLC0415  (the readers only where something is judged)

    return read_ours(lambda: dials_of(document, "dials.toml", "dials"), lambda fault: _ELSEWHERE.fullmatch(fault.key))


DIALS: Final = DocumentKind(
    kind="dials", words="Dials", page="dial_check", home="dials", groups=groups, read=judge, file_keys=frozenset()
)
