"""How fast does the engine turn? Recordings of a vehicle, and what they say."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar, Final

from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.procedures.sound_result import SoundResult
from calmday.web.addresses import address
from calmday.web.pages.worked import (
    Drawers,
    Found,
    Listing,
    Readers,
    Worked,
    WorkedKind,
    chart_answer,
    document_answer,
    json_answer,
    list_answer,
    needed,
)
from calmday.web.render import Context, Frame

if TYPE_CHECKING:
    from calmday.reports.charts.chart import Chart
    from calmday.reports.sheet import Sheet
    from calmday.web.asked import Asked


class SoundsPage(Context, frozen=True, kw_only=True):
    """Every recording of a vehicle."""

    template: ClassVar[str] = "sounds.html"
    listing: Listing
    tachometer: str


class SoundPage(Context, frozen=True, kw_only=True):
    """One recording. `csv` where engine speed against time can be had."""

    template: ClassVar[str] = "sound.html"
    worked: Worked
    csv: str


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


OWN: Final = WorkedKind(
    kind="sound",
    tab="sounds",
    title="How fast does the engine turn?",
    heading="Recordings",
    begin="Bring in a recording",
    every="All recordings of this vehicle",
    nothing_yet="A recording of the engine says how fast it turned, without a rev counter.",
    nameless="Recording without a name",
    first="Keep the recording below, then work it out.",
    json="sound_json",
    chart="sound_chart",
    readers=_readers,
    sheet=_sheet,
    charts=_charts,
    bars=True,
)


def sounds(asked: Asked) -> Response:
    """The recordings of a vehicle."""
    live = address("tachometer", vehicle=asked.part("vehicle"))
    return list_answer(asked, OWN, lambda head, listing: SoundsPage(frame=head, listing=listing, tachometer=live))


def sound(asked: Asked) -> Response:
    """One recording, to fill in and to read."""
    return document_answer(asked, OWN, _page)


def _page(head: Frame, worked: Worked, found: Found[SoundResult] | None) -> SoundPage:
    csv = address("sound_csv", document=found.document.id) if found is not None else ""
    return SoundPage(frame=head, worked=worked, csv=csv)


def sound_json(asked: Asked) -> Response:
    """The result as `calmday sound --json` prints it."""
    return json_answer(asked, OWN)


def sound_csv(asked: Asked) -> Response:
    """Engine speed against time."""
    from calmday.reports.sound_sheet import speed_csv  # noqa: PLC0415

    named = {"Content-Disposition": 'attachment; filename="engine-speed.csv"'}
    return Response(speed_csv(needed(asked, OWN).result), media_type="text/csv; charset=utf-8", headers=named)


def sound_chart(asked: Asked) -> Response:
    """A picture of a recording to take along."""
    return chart_answer(asked, OWN)


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
