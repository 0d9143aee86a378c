"""A sound recording on the page: what it asks for, and who judges it."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import TYPE_CHECKING, Any, Final

from calmday.errors import InputError
from calmday.web.documents import DocumentKind, FileRole, judge_track_file
from calmday.web.fields import CLOCK, Group, field

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

LARGEST_RECORDING: Final = 60_000_000
"""About ten minutes of 16-bit stereo, or an hour of FLAC in mono."""
YES: Final = (("true", "Yes, it was built to"), ("false", "No"))
STROKES: Final = (("4", "Four-stroke"), ("2", "Two-stroke"))
_ELSEWHERE = re.compile(r"(?:track|recording).*|vehicle.*|engine.*|file|length|sample rate|channels")
"""Keys of faults that no box of this page can mend."""


def groups(_keys: Collection[str]) -> tuple[Group, ...]:
    """The recording, the road, the engine, who listened."""
    return (
        Group(
            name="recording",
            title="The recording",
            fields=(
                field("label", "What do you call it?", "As it should stand on charts.", kind="text", room=30),
                field("date", "Date", "Tells which state of the vehicle it was.", kind="date"),
                field("microphone", "Where was the microphone?", "", kind="text", room=30, example="under the dash"),
                field("listened_by", "Who listened beside it?", "Somebody who hears well, if there was one.",
                      kind="text", room=24),
                field("heard", "What was heard or felt?", "A knock, a whistle, a shudder: at what speed?", kind="text",
                      room=40),
            ),
        ),
        Group(
            name="road",
            title="The road, if gearing is to be checked",
            lead="A steady speed by satellite is enough. With a track, pull away through the gears while recording.",
            fields=(
                field("speed", "Steady road speed", "By satellite.", "road speed", example="80"),
                field("gear", "Gear held throughout", "1 is first.", kind="whole", room=3,
                      left_out="the one that fits best"),
                field("started", "When did the recording begin?", "By the clock; only for a track.", kind="time",
                      left_out="found on the track by itself"),
                field("timezone", "Clock ahead of universal time", CLOCK, kind="text", example="+02:00"),
            ),
        ),
        Group(
            name="engine",
            title="The engine, where the build sheet does not say",
            fields=(
                field("cylinders", "Cylinders", "", kind="whole", room=3, left_out="as on the build sheet"),
                field("strokes", "Two or four strokes?", "", kind="choice", choices=STROKES,
                      left_out="as on the build sheet"),
                field("uneven_firing", "Does it fire at uneven intervals?", "Some twins and vee engines do.",
                      kind="choice", choices=YES, left_out="no"),
            ),
        ),
    )  # fmt: skip


def judge(document: NamedDocument) -> Any:
    """What the reader says about the boxes. Raises InputError with the faults that a box can mend."""
    from calmday.files.sound_file import sound_of  # noqa: PLC0415  (the readers only where something is judged)

    try:
        return sound_of(document, "sound.toml", "sound", bare=True)
    except InputError as error:
        ours = [fault for fault in error.faults if not _ELSEWHERE.fullmatch(fault.key)]
        if ours:
            raise InputError(ours) from None
        return None


def judge_recording(name: str, data: bytes) -> None:
    """Raise InputError unless the bytes are a recording that can be read to its end."""
    from calmday.errors import MissingExtraError  # noqa: PLC0415
    from calmday.files.sound_recording import recording_of_bytes  # noqa: PLC0415

    try:
        for _ in recording_of_bytes(data, name).blocks():
            pass
    except MissingExtraError as error:
        raise InputError.one(name, "file", str(error), "or save the recording as 16-bit WAV") from None


SOUND: Final = DocumentKind(
    kind="sound",
    words="Recording",
    page="sound",
    home="sounds",
    groups=groups,
    read=judge,
    files=(
        FileRole(
            role="recording",
            title="The sound",
            lead="WAV, FLAC or OGG, at most 60 MB. Of several the last one counts.",
            accept=".wav,.flac,.ogg,.oga,audio/*",
            judge=judge_recording,
            most=LARGEST_RECORDING,
        ),
        FileRole(
            role="track",
            title="The track of that drive",
            lead="GPX, NMEA, GeoJSON or CSV; only where gearing is to be checked.",
            accept=".gpx,.nmea,.csv,.txt,.json,.geojson",
            judge=judge_track_file,
        ),
    ),
    file_keys=frozenset({"track", "recording"}),
    task="sound",
)
