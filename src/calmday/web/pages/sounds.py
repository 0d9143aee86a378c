"""How fast does the engine turn? Recordings of a vehicle, and what they say."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Final

from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.procedures.sound_result import SoundResult
from calmday.web.addresses import address
from calmday.web.pages.worked import Answers, Drawers, Found, Readers, Way, WorkedKind, needed

if TYPE_CHECKING:
    from calmday.reports.charts.chart import Chart
    from calmday.reports.sheet import Sheet
    from calmday.web.asked import Asked


def _readers() -> Readers[SoundResult]:
    from calmday.operations.logbook import sound_is_stale, sound_result_of  # noqa: PLC0415  (with the database layer)

    return Readers(sound_result_of, sound_is_stale)


def _sheet(result: SoundResult) -> Sheet:
    from calmday.reports.sound_sheet import sound_sheet  # noqa: PLC0415

    return sound_sheet(result)


def _charts(_: Asked, found: Found[SoundResult], taken: bool) -> Drawers:
    from calmday.reports.charts.engine_sound import engine_speed_chart  # noqa: PLC0415  (drawing needs numpy)

    return {"spectrogram": partial(_spectrogram, found, taken), "speed": partial(engine_speed_chart, found.result)}


def _spectrogram(found: Found[SoundResult], taken: bool) -> Chart | None:
    """The picture behind its lines; a picture taken along carries it within, the page asks for it."""
    from calmday.operations.logbook import sound_picture_of  # noqa: PLC0415
    from calmday.reports.charts.engine_sound import spectrogram_chart  # noqa: PLC0415

    picture = sound_picture_of(found.stored)
    if picture is None:
        return None
    image = "" if taken else address("sound_grey", document=found.document.id, result=found.stored.id)
    return spectrogram_chart(found.result, picture, image)


def _csv(found: Found[SoundResult]) -> tuple[Way, ...]:
    return (Way("Engine speed as CSV", address("sound_csv", document=found.document.id), taken=True),)


def _live(vehicle: str) -> tuple[Way, ...]:
    return (Way("Show it live from the microphone", address("tachometer", vehicle=vehicle)),)


OWN: Final = WorkedKind(
    kind="sound",
    tab="sounds",
    title="How fast does the engine turn?",
    heading="Recordings",
    begin="Bring in a recording",
    every="All recordings of this vehicle",
    how="How to record",
    steps=(
        "A telephone or the laptop in the cab, out of the wind, near the engine or the exhaust. WAV, FLAC or OGG.",
        "Start it standing, then drive. To check gearing or clutch, let the receiver record its track, or hold one "
        "speed by satellite.",
        "Write down who listened beside it: somebody who hears well notices a knock or a whistle that no number shows.",
    ),
    caution="The passenger handles the recorder, the driver drives. Keep hands, hair and cables away from fans and "
    "belts, never run an engine in a closed room, and protect your ears.",
    nothing_yet="A recording of the engine says how fast it turned, without a rev counter.",
    nameless="Recording without a name",
    unworked="Keep the recording below, then work it out.",
    json="sound_json",
    chart="sound_chart",
    readers=_readers,
    sheet=_sheet,
    charts=_charts,
    bars=True,
    more=_live,
    taken=_csv,
)
ANSWERS: Final = Answers(OWN)


def sound_csv(asked: Asked) -> Response:
    """Engine speed against time."""
    from calmday.reports.sound_sheet import speed_csv  # noqa: PLC0415

    named = {"Content-Disposition": 'attachment; filename="engine-speed.csv"'}
    return Response(speed_csv(needed(asked, OWN).result), media_type="text/csv; charset=utf-8", headers=named)


def sound_grey(asked: Asked) -> Response:
    """The spectrogram alone, as the page puts it behind the lines."""
    from calmday.operations.logbook import sound_picture_of  # noqa: PLC0415
    from calmday.reports.charts.engine_sound import shown_grey  # noqa: PLC0415
    from calmday.reports.png_writer import grey_png  # noqa: PLC0415

    found = needed(asked, OWN)
    picture = sound_picture_of(found.stored)
    if picture is None:
        raise HTTPException(404)
    return Response(grey_png(shown_grey(found.result, picture)), media_type="image/png")
