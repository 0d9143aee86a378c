"""Sound recordings of the logbook: engine speed, as `calmday sound` finds it on the exported folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec
import numpy as np

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import inputs_digest
from calmday.files.sound_file import sound_of
from calmday.logbook import Logbook, StoredResult
from calmday.logbook.render import Rendered
from calmday.operations.logbook.gears import vehicle_of_logbook
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import known
from calmday.operations.sound import HeardSound, hear_sound
from calmday.procedures.sound import ABOVE_GOVERNED, BELOW_IDLE, orders_of
from calmday.procedures.sound_result import SoundResult
from calmday.records.recording import Recording, Sound
from calmday.reduction.sound_picture import Picture
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.operations.gears import GearStudy

_FORM = 1


def hear_sound_logged(book: Logbook, sound_id: str) -> StoredResult:
    """Find engine speed in a recording of the logbook, and keep the result. Raises InputError."""
    rendered = rendered_of(book, sound_id)
    document, seen = for_readers(book, rendered)
    sound = sound_of(document, rendered.name, book.subject(sound_id).name or "Sound")
    digest = inputs_digest(seen.items())
    heard = hear_sound(sound, files=tuple(seen), inputs_sha256=digest)
    return book.add_result(
        sound_id,
        inputs_sha256=digest,
        version=__version__,
        seed=0,
        draws=0,
        summary={"sentence": heard.result.sentence, "mark": _mark(rendered)},
        content=json_result(heard.result),
        along=_packed(heard),
    )


def work_out_sound(book: Logbook, sound_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a recording."""
    told(0.2, "Listening for the engine")
    hear_sound_logged(book, sound_id)


def sound_result_of(stored: StoredResult) -> SoundResult:
    """The result behind a stored one."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), SoundResult)


def sound_picture_of(stored: StoredResult) -> Picture | None:
    """The spectrogram kept beside a result; None where another version packed it."""
    found: dict[str, Any] = msgspec.msgpack.decode(stored.along) if stored.along else {"form": 0}
    if found["form"] != _FORM:
        return None
    grey = np.frombuffer(found["grey"], np.uint8).reshape(found["rows"], -1)
    return Picture(grey=grey, start_s=found["start_s"], end_s=found["end_s"], top_hz=found["top_hz"])


def sound_is_stale(book: Logbook, sound_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the result, or another version of the program is here."""
    try:
        mark = _mark(rendered_of(book, sound_id))
    except InputError:
        return True
    return stored.version != __version__ or stored.summary.get("mark") != mark


def _mark(rendered: Rendered) -> str:
    from calmday.logbook.render import inputs_of  # noqa: PLC0415

    return inputs_digest(inputs_of(rendered).items())


def _packed(heard: HeardSound) -> bytes:
    picture = heard.picture
    return msgspec.msgpack.encode(
        {
            "form": _FORM,
            "rows": picture.grey.shape[0],
            "grey": np.ascontiguousarray(picture.grey).tobytes(),
            "start_s": picture.start_s,
            "end_s": picture.end_s,
            "top_hz": picture.top_hz,
        }
    )


class HeardEngine(msgspec.Struct, frozen=True, kw_only=True):
    """What a live tachometer needs to know of an engine, speeds in rpm. `cylinders` 0: nobody said. `down_rpm` lowest
    speed that runs cleanly, `up_rpm` where most gears change up for least fuel, 0 where none does. `assumed` what of it
    nobody declared."""

    cylinders: int
    strokes: int
    idle_rpm: float
    governed_rpm: float
    lowest_rpm: float
    highest_rpm: float
    down_rpm: float
    up_rpm: float
    assumed: str


NO_ENGINE = HeardEngine(
    cylinders=0, strokes=4, idle_rpm=800.0, governed_rpm=5000.0, lowest_rpm=600.0, highest_rpm=5600.0, down_rpm=0.0,
    up_rpm=0.0, assumed="",
)  # fmt: skip


def heard_engine(book: Logbook, vehicle_id: str, study: Callable[[], GearStudy]) -> HeardEngine:
    """The engine of a vehicle as its build sheet has it, with the marks of its gears. Raises InputError."""
    vehicle, _ = vehicle_of_logbook(book, vehicle_id)
    silent = Recording(rate_hz=8000.0, seconds=0.0, blocks=lambda: iter(()))
    cylinders = vehicle.engine.cylinders or 0
    orders, declared = orders_of(
        Sound(label="", recording=silent, vehicle=vehicle, cylinders=max(cylinders, 1), strokes=vehicle.engine.strokes)
    )
    missing = [name for name, known in zip(("idle speed", "governed speed"), declared, strict=True) if not known]
    down, up = _marks(study) if vehicle.gear_ratios and cylinders else (0.0, 0.0)
    return HeardEngine(
        cylinders=cylinders,
        strokes=vehicle.engine.strokes,
        idle_rpm=60 * orders.lowest_rps / BELOW_IDLE,
        governed_rpm=60 * orders.highest_rps / ABOVE_GOVERNED,
        lowest_rpm=60 * orders.lowest_rps,
        highest_rpm=60 * orders.highest_rps,
        down_rpm=down,
        up_rpm=up,
        assumed=" and ".join(missing),
    )


def _marks(study: Callable[[], GearStudy]) -> tuple[float, float]:
    """Lowest clean speed and the usual change up for least fuel, rpm."""
    found = study()
    points = [p.engine_speed_before.value for p in found.answer().shift_points.least_fuel if p.engine_speed_before]
    down = 60 * float(np.mean(found.drawn.smooth_rps))
    return down, float(np.median(points)) if points else 0.0
