"""How fast does the engine turn? Recordings of a vehicle, and what they say."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.web.addresses import address
from calmday.web.chart_view import ChartView, chart_view, picture_of, pictures_to_take
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    DocumentLine,
    FormView,
    document_of,
    documents_of,
    failed_words,
    form_view,
    keep_document,
    lines,
    newest_result,
    newest_words,
    spec_of,
)
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import StoredResult, Subject
    from calmday.reports.charts.chart import Chart
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

CHARTS = ("spectrogram", "speed")
NOTHING_YET = "A recording of the engine says how fast it turned, without a rev counter."


class SoundsPage(Context, frozen=True, kw_only=True):
    """Every recording of a vehicle."""

    template: ClassVar[str] = "sounds.html"
    sentence: str
    tachometer: str
    found: tuple[DocumentLine, ...]


class SoundPage(Context, frozen=True, kw_only=True):
    """One recording: what was found, and what was written down. `failed` why nothing could be found."""

    template: ClassVar[str] = "sound.html"
    sentence: str
    stale: bool
    failed: tuple[str, ...]
    charts: tuple[ChartView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    csv: str
    form: FormView


def sounds(asked: Asked) -> Response:
    """The recordings of a vehicle."""
    vehicle = vehicle_of(asked)
    found = documents_of(asked, "sound", vehicle.id)
    return page(
        SoundsPage(
            frame=frame(asked, "How fast does the engine turn?", tab="sounds", vehicle=vehicle),
            sentence=newest_words(asked, found, NOTHING_YET),
            tachometer=address("tachometer", vehicle=vehicle.id),
            found=lines(spec_of("sound"), found),
        )
    )


def sound(asked: Asked) -> Response:
    """One recording, to fill in and to read."""
    found, spec = document_of(asked, "sound"), spec_of("sound")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("sound", document=found.id, done="saved")
    return _page(asked, found)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    from calmday.operations.logbook import sound_is_stale, sound_result_of  # noqa: PLC0415  (with the database layer)
    from calmday.reports.sound_sheet import sound_sheet  # noqa: PLC0415

    spec = spec_of("sound")
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    stored = newest_result(asked, found)
    shown = sound_sheet(sound_result_of(stored)) if stored is not None else None
    return page(
        SoundPage(
            frame=frame(asked, found.name or "Recording without a name", tab="sounds", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else "Keep the recording below, then work it out.",
            stale=stored is not None and sound_is_stale(asked.desk.book, found.id, stored),
            failed=failed_words(asked, found, spec),
            charts=_charts(asked, found, stored) if stored is not None else (),
            blocks=tuple(blocks_of(shown)) if shown is not None else (),
            json=address("sound_json", document=found.id) if stored is not None else "",
            csv=address("sound_csv", document=found.id) if stored is not None else "",
            form=form_view(asked, found, spec, kept=kept),
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _needed(asked: Asked) -> StoredResult:
    stored = newest_result(asked, document_of(asked, "sound"))
    if stored is None:
        raise HTTPException(404)
    return stored


def _chart(stored: StoredResult, name: str, image: str = "") -> Chart | None:
    from calmday.operations.logbook import sound_picture_of, sound_result_of  # noqa: PLC0415
    from calmday.reports.charts.engine_sound import engine_speed_chart, spectrogram_chart  # noqa: PLC0415

    result = sound_result_of(stored)
    if name == "speed":
        return engine_speed_chart(result)
    picture = sound_picture_of(stored)
    return spectrogram_chart(result, picture, image) if picture is not None else None


def _charts(asked: Asked, found: Subject, stored: StoredResult) -> tuple[ChartView, ...]:
    views = []
    for name in CHARTS:
        chart = _chart(stored, name, address("sound_grey", document=found.id, result=stored.id))
        if chart is not None:
            view = chart_view(chart)
            taken = pictures_to_take(view.title, partial(_picture, found.id, name))
            views.append(msgspec.structs.replace(view, downloads=taken))
    return tuple(views)


def _picture(document: str, chart: str, form: str) -> str:
    return address("sound_chart", document=document, chart=chart, form=form)


def sound_json(asked: Asked) -> Response:
    """The result as `calmday sound --json` prints it."""
    return Response(_needed(asked).content, media_type="application/json")


def sound_csv(asked: Asked) -> Response:
    """Engine speed against time."""
    from calmday.operations.logbook import sound_result_of  # noqa: PLC0415
    from calmday.reports.sound_sheet import speed_csv  # noqa: PLC0415

    text = speed_csv(sound_result_of(_needed(asked)))
    named = {"Content-Disposition": 'attachment; filename="engine-speed.csv"'}
    return Response(text, media_type="text/csv; charset=utf-8", headers=named)


def sound_chart(asked: Asked) -> Response:
    """A picture of a recording to take along."""
    if asked.part("chart") not in CHARTS:
        raise HTTPException(404)
    chart = _chart(_needed(asked), asked.part("chart"))
    if chart is None:
        raise HTTPException(404)
    return picture_of(chart, asked.part("form"))


def sound_grey(asked: Asked) -> Response:
    """The spectrogram alone, as the page puts it behind the lines."""
    from calmday.operations.logbook import sound_picture_of, sound_result_of  # noqa: PLC0415
    from calmday.reports.charts.engine_sound import shown_grey  # noqa: PLC0415
    from calmday.reports.png_writer import grey_png  # noqa: PLC0415

    stored = _needed(asked)
    picture = sound_picture_of(stored)
    if picture is None:
        raise HTTPException(404)
    return Response(grey_png(shown_grey(sound_result_of(stored), picture)), media_type="image/png")
