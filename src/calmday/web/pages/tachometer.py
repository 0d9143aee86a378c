"""The live tachometer: the microphone of the laptop in the cab, a large number, marks, and a recording to keep."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.responses import JSONResponse, Response

from calmday.errors import InputError
from calmday.reports.words import number
from calmday.web.addresses import address
from calmday.web.habits import clean_name
from calmday.web.pages.common import frame, go, vehicle_of
from calmday.web.render import Context, page
from calmday.web.sound_fields import LARGEST_RECORDING, judge_recording

if TYPE_CHECKING:
    from calmday.web.asked import Asked


class Mark(msgspec.Struct, frozen=True, kw_only=True):
    """A place on the scale: its shape, words, engine speed as text, and how far along from 0 to 100."""

    shape: str
    words: str
    shown: str
    place: float


class TachometerPage(Context, frozen=True, kw_only=True):
    """The tachometer of a vehicle. Engine speeds in rpm; `missing` what the build sheet must say first."""

    template: ClassVar[str] = "tachometer.html"
    cylinders: int
    strokes: int
    governed: float
    lowest: float
    highest: float
    down: float
    up: float
    marks: tuple[Mark, ...]
    missing: str
    assumed: str
    keep: str
    back: str


def tachometer(asked: Asked) -> Response:
    """The tachometer, marked with what this vehicle's curve and gears say."""
    vehicle = vehicle_of(asked)
    from calmday.operations.logbook import heard_engine  # noqa: PLC0415  (with the database layer)

    try:
        engine = heard_engine(
            asked.desk.book, vehicle.id, lambda: asked.desk.studies.of_vehicle(asked.desk.book, vehicle.id).study
        )
        missing = (
            ""
            if engine.cylinders
            else "The build sheet does not say how many cylinders; the sound alone leaves that open."
        )
    except InputError:
        engine, missing = None, "The build sheet has a fault that must be mended first."
    if engine is None or not engine.cylinders:
        from calmday.operations.logbook import NO_ENGINE  # noqa: PLC0415

        engine = NO_ENGINE
    span = max(engine.highest_rpm, 1.0)
    found = (
        ("▼", engine.down_rpm, "change down below"),
        ("▲", engine.up_rpm, "change up for least fuel"),
        ("■", engine.governed_rpm, "do not exceed"),
    )
    marks = tuple(
        Mark(shape=shape, words=words, shown=number(rpm, -1), place=round(100 * rpm / span, 1))
        for shape, rpm, words in found
        if rpm > 0
    )
    return page(
        TachometerPage(
            frame=frame(asked, "Tachometer by ear", tab="sounds", vehicle=vehicle, wide=True),
            cylinders=engine.cylinders or 4,
            strokes=engine.strokes,
            governed=engine.governed_rpm,
            lowest=engine.lowest_rpm,
            highest=engine.highest_rpm,
            down=engine.down_rpm,
            up=engine.up_rpm,
            marks=marks,
            missing=missing,
            assumed=engine.assumed,
            keep=address("sound_keep", vehicle=vehicle.id),
            back=address("sounds", vehicle=vehicle.id),
        )
    )


def sound_keep(asked: Asked) -> Response:
    """Keep what the microphone recorded as a recording of this vehicle."""
    vehicle = vehicle_of(asked)
    if not asked.files:
        raise InputError.one("form", "file", "is not there", "a recording made on the tachometer page")
    _, upload = asked.files[0]
    upload.file.seek(0)
    data = upload.file.read(LARGEST_RECORDING + 1)
    if len(data) > LARGEST_RECORDING:
        most = LARGEST_RECORDING // 1_000_000
        raise InputError.one("recording", "file", "is too large", f"at most {most} MB: record a shorter piece")
    judge_recording("recording", data)
    now = dt.datetime.now().astimezone()
    book, by = asked.desk.book, asked.habits.by
    made = book.create("sound", f"Recording of {now.day} {now:%B}, {now:%H:%M}", vehicle.id, by=by, device=asked.device)
    began = now - dt.timedelta(seconds=min(max(_seconds(asked), 0.0), 7200.0))
    offset = now.strftime("%z")
    said = {
        "date": now.date().isoformat(),
        "timezone": f"{offset[:3]}:{offset[3:5]}",
        "started": began.strftime("%H:%M:%S"),
        "microphone": "the laptop in the cab",
        "listened_by": clean_name(asked.form.get("listened_by", "")),
    }
    book.write("sound", made, {key: text for key, text in said.items() if text}, by, asked.device)
    book.attach("sound", made, "recording", "cab.wav", data, by=by, device=asked.device)
    if asked.wants_json:
        return JSONResponse({"where": address("sound", document=made)})
    return go("sound", document=made, done="kept")


def _seconds(asked: Asked) -> float:
    try:
        return float(asked.form.get("seconds", "0"))
    except ValueError:
        return 0.0
