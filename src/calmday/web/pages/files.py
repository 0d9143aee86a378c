"""Files of a run: tracks and photographs as they arrive, judged by what they hold, never by their name."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.web.addresses import address
from calmday.web.forms import fault_sentence
from calmday.web.pages.common import go, run_of, when

if TYPE_CHECKING:
    from calmday.logbook.records import File
    from calmday.web.asked import Asked

TRACK, PHOTOGRAPH = "track", "photograph"
LARGEST_PHOTO: Final = 20_000_000
PICTURES: Final = (
    (b"\xff\xd8\xff", "image/jpeg"),
    (b"\x89PNG\r\n\x1a\n", "image/png"),
    (b"RIFF", "image/webp"),
)


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """The files of a run in use."""

    tracks: tuple[File, ...]
    photographs: tuple[File, ...]


class TrackLine(msgspec.Struct, frozen=True, kw_only=True):
    """One track file."""

    id: str
    name: str
    told: str


class PhotoLine(msgspec.Struct, frozen=True, kw_only=True):
    """One photograph."""

    where: str
    name: str
    at: str


def held(asked: Asked, run_id: str) -> Held:
    """The files of a run, in one query."""
    found = asked.desk.book.files("run", run_id)
    return Held(
        tracks=tuple(file for file in found if file.role == TRACK),
        photographs=tuple(file for file in found if file.role == PHOTOGRAPH),
    )


def tracks(found: Held) -> tuple[TrackLine, ...]:
    """The tracks as listed."""
    return tuple(
        TrackLine(id=file.id, name=file.name, told=f"{_size(file.size)}, {when(file.at)}") for file in found.tracks
    )


def photographs(run_id: str, found: Held) -> tuple[PhotoLine, ...]:
    """The photographs as shown."""
    return tuple(
        PhotoLine(where=address("photo", run=run_id, file=file.id), name=file.name, at=when(file.at))
        for file in found.photographs
    )


def track_add(asked: Asked) -> Response:
    """Keep track files that can be read; say of each other why not."""
    from calmday.web.pages.day import step_page  # noqa: PLC0415  (the two pages lead to one another)
    from calmday.web.run_fields import step_named  # noqa: PLC0415

    run = run_of(asked)
    faults: list[str] = []
    if not asked.files:
        faults.append("No file came with it. Choose the file first, then keep it.")
    for _, upload in asked.files:
        name = upload.filename or "track"
        upload.file.seek(0)
        data = upload.file.read()
        try:
            judge_track(name, data)
            asked.desk.book.attach("run", run.id, TRACK, name, data, by=asked.habits.by, device=asked.device)
        except InputError as error:
            faults += [fault_sentence(fault) for fault in error.faults[:3]]
    if faults:
        here = step_named("track")
        assert here is not None
        return step_page(asked, run, here, asked.desk.book.values("run", run.id), {}, tuple(faults))
    return go("step", run=run.id, step="track", done="kept")


def judge_track(name: str, data: bytes) -> None:
    """Raise InputError unless the bytes are a track that can be read. The name only serves as a hint of its format."""
    from calmday.files.track_files import read_track  # noqa: PLC0415  (numpy only when a track arrives)

    ending = Path(name).suffix.lower()
    with tempfile.TemporaryDirectory(prefix="calmday-") as folder:
        place = Path(folder) / ("track" + (ending if ending[1:].isalnum() and len(ending) < 9 else ""))
        place.write_bytes(data)
        read_track(place, shown_name(name))


def shown_name(name: str) -> str:
    """A file's name as it can stand in a sentence."""
    return "".join(c for c in name.replace("\\", "/").rsplit("/", 1)[-1] if c.isprintable())[:80] or "the file"


def file_remove(asked: Asked) -> Response:
    """Take a track away from the run; its bytes stay."""
    run = run_of(asked)
    try:
        asked.desk.book.detach("run", run.id, asked.form.get("file", ""), by=asked.habits.by)
    except InputError:
        raise HTTPException(404) from None
    return go("step", run=run.id, step="track", done="taken")


def photo_add(asked: Asked) -> Response:
    """Keep photographs of the day."""
    run = run_of(asked)
    for _, upload in asked.files:
        upload.file.seek(0)
        data = upload.file.read(LARGEST_PHOTO + 1)
        if picture_type(data) is None or len(data) > LARGEST_PHOTO:
            name = shown_name(upload.filename or "")
            raise InputError.one(
                name, "file", "is not a photograph that can be kept", "JPEG, PNG or WebP of at most 20 MB"
            )
        asked.desk.book.attach(
            "run", run.id, PHOTOGRAPH, upload.filename or "photograph", data, by=asked.habits.by, device=asked.device
        )
    return go("day", run=run.id, done="photo" if asked.files else None)


def picture_type(data: bytes) -> str | None:
    """The media type by the first bytes; None for what is no picture."""
    for start, kind in PICTURES:
        if data.startswith(start) and (kind != "image/webp" or data[8:12] == b"WEBP"):
            return kind
    return None


def photo(asked: Asked) -> Response:
    """One photograph."""
    run = run_of(asked)
    wanted = asked.part("file")
    for file in held(asked, run.id).photographs:
        if file.id == wanted:
            data = asked.desk.book.content(file.sha256)
            return Response(data, media_type=picture_type(data) or "application/octet-stream")
    raise HTTPException(404)


def _size(size: int) -> str:
    return f"{size / 1e6:.1f} MB" if size >= 1e6 else f"{max(size // 1000, 1)} kB"
