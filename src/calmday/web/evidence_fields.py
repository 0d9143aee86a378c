"""A small measurement on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING, Any, Final

import msgspec

from calmday.web.documents import DocumentKind, read_ours
from calmday.web.fields import YES_NO, Field, Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

KINDS: Final = (
    ("tow force", "Tow force: a spring scale on the rope, walking pace"),
    ("weighbridge", "Weighbridge: mass as driven"),
    ("idle burn", "Fuel at idle: weighed over some minutes"),
    ("roll-out", "Roll-out: way of so many turns of the wheel"),
    ("roll-down", "Roll-down: time between two speeds, gear out"),
    ("held speed", "Held speed: full throttle in a gear, no faster, no slower"),
    ("hill roll", "Hill roll: steady speed down a long hill, gear out"),
    ("weighed litre", "Weighed litre: density of the fuel"),
)
READINGS: Final[Mapping[str, tuple[str, str, str]]] = {
    "tow force": ("force", "Force on the rope", "190 N"),
    "weighbridge": ("mass", "Mass of the vehicle", "1500 kg"),
    "idle burn": ("mass", "Fuel burnt", "320 g"),
    "roll-out": ("length", "Way rolled", "21.2 m"),
    "roll-down": ("time", "Time between the two speeds", "10.4 s"),
    "held speed": ("speed", "Speed held", "97 km/h"),
    "hill roll": ("speed", "Speed that no longer changed", "84 km/h"),
    "weighed litre": ("mass", "Mass of the fuel", "836 g"),
}
"""What is read for each kind: key, words, an example."""
BESIDE: Final[Mapping[str, tuple[str, ...]]] = {
    "tow force": ("both_ways", "grade", "payload"),
    "weighbridge": ("payload",),
    "idle burn": ("duration", "idle_speed"),
    "roll-out": ("turns",),
    "roll-down": ("from_speed", "to_speed", "both_ways", "headwind", "grade", "payload"),
    "held speed": ("gear", "both_ways", "headwind", "grade", "payload"),
    "hill roll": ("grade", "headwind", "payload"),
    "weighed litre": ("volume", "temperature"),
}
"""What belongs to the readings of each kind."""
_ELSEWHERE = re.compile(r"vehicle.*|engine.*|file")


def shown(texts: Mapping[str, str]) -> tuple[Group, ...]:
    """The boxes of the chosen kind, and those of other kinds that hold something; without a kind only what it was."""
    kind = texts.get("kind", "")
    what = Group(
        name="what",
        title="What was measured?",
        lead="" if kind in READINGS else "Choose the kind and save: the boxes that belong to it come then.",
        fields=_what(),
    )
    held = {key.partition("[")[0] for key, text in texts.items() if text}
    if kind not in READINGS:
        return what, *_left_over(held)
    key, label, example = READINGS[kind]
    readings = {one.key: one for one in _readings()}
    own = (msgspec.structs.replace(readings[key], label=label, example=example), readings["instrument"])
    beside = tuple(one for wanted in BESIDE[kind] for one in _beside() if one.key == wanted)
    lead = "Each repeat on a line of its own, with its unit."
    return (
        what,
        Group(name="readings", title="Readings", lead=lead, fields=own),
        Group(name="beside", title="What belongs to it", fields=beside),
        *_left_over(held - {key, "instrument", *BESIDE[kind]}),
    )


def _left_over(held: Collection[str]) -> tuple[Group, ...]:
    """What was filled in and belongs to no box of the chosen kind: nothing that was typed is out of sight."""
    fields = tuple(one for one in (*_readings(), *_beside()) if one.key in held)
    lead = "It was filled in, and does not belong to this kind: empty it, or choose another kind."
    return (Group(name="left", title="Not of this kind", lead=lead, fields=fields),) if fields else ()


def groups(_keys: Collection[str]) -> tuple[Group, ...]:
    """What was measured, its readings, and what belongs to some kinds only."""
    return (
        Group(name="what", title="What was measured?", fields=_what()),
        Group(
            name="readings",
            title="Readings",
            lead="Fill in the one that belongs to it, each repeat on a line of its own, with its unit.",
            fields=_readings(),
        ),
        Group(
            name="beside", title="What belongs to it", lead="Only what fits; the rest stays empty.", fields=_beside()
        ),
    )


def _what() -> tuple[Field, ...]:
    return (
        field("kind", "Kind", "", kind="choice", choices=KINDS),
        field("label", "What do you call it?", "As it should stand on sheets.", kind="text", room=30),
        field("date", "Date", "Tells which state of the vehicle it belongs to.", kind="date"),
    )


def _readings() -> tuple[Field, ...]:
    def lines(key: str, label: str, example: str) -> Field:
        return field(key, label, "", kind="lines", listed=True, room=14, example=example, figures=True)

    return (
        lines("force", "Force", "190 N"),
        lines("mass", "Mass", "1500 kg"),
        lines("time", "Time", "23.4 s"),
        lines("speed", "Speed", "88 km/h"),
        lines("length", "Length", "21.2 m"),
        field("instrument", "Give-or-take of the instrument", "With its unit, such as 20 N.", kind="text",
              figures=True, room=10, left_out="what such readings usually are"),
    )  # fmt: skip


def _beside() -> tuple[Field, ...]:
    return (
        field(
            "both_ways",
            "Both directions alike?",
            "Then most of wind and slope cancels.",
            kind="yes_no",
            choices=YES_NO,
            left_out="no",
        ),
        field("headwind", "Wind from ahead", "Minus from behind.", "speed", left_out="none, with a doubt of 1.5 m/s"),
        field("grade", "How steep?", "Up is plus; the slope of the hill for a hill roll.", "fraction"),
        field("from_speed", "From speed", "Of a roll-down.", "road speed"),
        field("to_speed", "To speed", "Of a roll-down.", "road speed"),
        field("gear", "In which gear?", "Of a held speed; 1 is first.", kind="whole", room=3),
        field("turns", "Turns of the wheel", "Of a roll-out.", kind="whole", room=4),
        field("duration", "How long", "Of idling.", "time", example="30"),
        field("idle_speed", "Idle speed", "Of idling, if it was read.", "engine speed"),
        field("volume", "Volume", "Of the weighed fuel.", "volume", example="1.000"),
        field("temperature", "Temperature of the fuel", "When it was weighed.", "temperature"),
        field("payload", "Extra load", "On top of the mass on the build sheet.", "mass", left_out="none"),
    )


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.evidence_file import evidence_of  # noqa: PLC0415  (the readers only where something is judged)

    return read_ours(
        lambda: evidence_of(document, "evidence.toml", "evidence"), lambda fault: _ELSEWHERE.fullmatch(fault.key)
    )


EVIDENCE: Final = DocumentKind(
    kind="evidence",
    words="Small measurement",
    page="evidence",
    home="knowledge",
    groups=groups,
    shown=shown,
    read=judge,
)
