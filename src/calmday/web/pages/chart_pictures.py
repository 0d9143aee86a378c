"""The full-load curve from a picture: mark the axes, point at the curve, look at it, use it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar, Final, cast

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.reports.json_result import readable
from calmday.reports.trace_sheet import trace_sheet
from calmday.reports.words import amount, number
from calmday.web.addresses import address
from calmday.web.pages.checking import BlockView, blocks_of
from calmday.web.pages.common import frame, go, subject, vehicle_of
from calmday.web.pages.documents import (
    FilesView,
    FormView,
    document_of,
    documents_of,
    failed_words,
    form_view,
    keep_document,
    lines,
    newest_result,
    spec_of,
)
from calmday.web.pages.files import PICTURES
from calmday.web.pages.worked import Listing, ListingPage, Way
from calmday.web.render import Context, page

if TYPE_CHECKING:
    from calmday.logbook.records import File, Subject
    from calmday.procedures.chart_trace_result import TraceResult
    from calmday.web.asked import Asked
    from calmday.web.pages.saving import Kept

ORIGINS: Final = {"seen": "seen", "bridged": "bridged", "by hand": "by hand"}
FIRST: Final = "Keep the picture, mark the axes, point at the curve, trace it."


class PictureView(msgspec.Struct, frozen=True, kw_only=True):
    """The picture with its size in pixels, the courses of its curves, and marks as (name, x, y). `dot` size of a point,
    pixels of the picture."""

    where: str
    width: int
    height: int
    dot: float
    courses: tuple[tuple[str, str], ...]
    points: tuple[tuple[str, float, float, bool], ...]
    marks: tuple[tuple[str, float, float], ...]


class PointView(msgspec.Struct, frozen=True, kw_only=True):
    """A traced point as the eye may correct it."""

    curve: int
    place: int
    speed: str
    value: str
    origin: str


class CurveView(msgspec.Struct, frozen=True, kw_only=True):
    """The points of one curve."""

    title: str
    unit: str
    points: tuple[PointView, ...]


class ChartPicturePage(Context, frozen=True, kw_only=True):
    """One picture: what was read off it, and what was marked. `failed` why it could not be traced."""

    template: ClassVar[str] = "chart_picture.html"
    sentence: str
    stale: bool
    failed: tuple[str, ...]
    picture: PictureView | None
    curves: tuple[CurveView, ...]
    blocks: tuple[BlockView, ...]
    json: str
    form: FormView
    files: tuple[FilesView, ...]


def chart_pictures(asked: Asked) -> Response:
    """The pictures of charts of a vehicle."""
    vehicle = vehicle_of(asked)
    listing = Listing(
        question="What is this vehicle?",
        sentence="A scan or photograph of the chart, a few marks, and the curve follows by its colour.",
        kind="chart",
        how="How it is done",
        steps=(
            "Take a scan, or photograph the page flat, in even light, straight from above.",
            "Mark two ticks far apart on each axis. Of a photograph at an angle mark four crossings of grid lines.",
            "Point at each curve once; it is followed by its colour.",
            "Look at the curve drawn over the picture. Move a point, leave one out, put one in. Then use it.",
        ),
        heading="Pictures",
        begin="Begin with a picture",
        found=lines(spec_of("chart"), documents_of(asked, "chart", vehicle.id)),
        more=(Way("Or type a few points that you read with a ruler", f"{address('build', vehicle=vehicle.id)}#curve"),),
    )
    head = frame(asked, "The full-load curve from a picture", tab="build", vehicle=vehicle)
    return page(ListingPage(frame=head, listing=listing))


def chart_picture(asked: Asked) -> Response:
    """One picture, to mark and to read."""
    found, spec = document_of(asked, "chart"), spec_of("chart")
    if asked.posted:
        kept = keep_document(asked, found, spec)
        return _page(asked, found, kept) if kept.faults else go("chart_picture", document=found.id, done="saved")
    return _page(asked, found)


def _page(asked: Asked, found: Subject, kept: Kept | None = None) -> Response:
    from calmday.operations.logbook import trace_is_stale, trace_result_of  # noqa: PLC0415  (with the database layer)

    spec = spec_of("chart")
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    stored = newest_result(asked, found)
    result = readable(trace_result_of, stored)
    shown = trace_sheet(result) if result is not None else None
    form = form_view(asked, found, spec, kept=kept)
    return page(
        ChartPicturePage(
            frame=frame(asked, found.name or "Chart without a name", tab="build", vehicle=vehicle, wide=True),
            sentence=shown.lead if shown is not None else FIRST,
            stale=stored is not None and trace_is_stale(asked.desk.book, found.id, stored),
            failed=failed_words(asked, found, spec),
            picture=_picture(asked, found, result),
            curves=_curves(result) if result is not None else (),
            blocks=tuple(b for b in blocks_of(shown) if not b.block.title.startswith("The ")) if shown else (),
            json=address("chart_picture_json", document=found.id) if stored is not None else "",
            form=msgspec.structs.replace(form, files=()),
            files=form.files,
        ),
        422 if kept is not None and kept.faults else 200,
    )


def _file(asked: Asked, found: Subject) -> File | None:
    held = asked.desk.book.files(found.kind, found.id, "picture")
    return held[-1] if held else None


def _picture(asked: Asked, found: Subject, result: TraceResult | None) -> PictureView | None:
    file = _file(asked, found)
    if file is None:
        return None
    from calmday.operations.trace import picture_size  # noqa: PLC0415  (decoding only where there is a picture)

    width, height = picture_size(asked.desk.book.content(file.sha256), file.name)
    curves = result.curves if result is not None else ()
    return PictureView(
        where=address("chart_picture_image", document=found.id),
        width=width,
        height=height,
        dot=round(max(width, height) / 140, 1),
        courses=tuple((c.of, " ".join(f"{x + 0.5:.1f},{y + 0.5:.1f}" for x, y in c.course)) for c in curves),
        points=tuple((c.of, p.at[0] + 0.5, p.at[1] + 0.5, p.origin == "seen") for c in curves for p in c.points),
        marks=_marks(asked, found),
    )


def _marks(asked: Asked, found: Subject) -> tuple[tuple[str, float, float], ...]:
    """Places of the marks that can be read, with their numbers."""
    from calmday.files.chart_file import place_of  # noqa: PLC0415

    values = asked.desk.book.values(found.kind, found.id)
    marks = []
    for key, value in values.items():
        if key.startswith("mark[") and key.endswith("].at") and value.text:
            place = place_of(value.text)
            if place is not None:
                marks.append((str(int(key[5:-4]) + 1), place[0] + 0.5, place[1] + 0.5))
    return tuple(sorted(marks, key=lambda mark: int(mark[0])))


def _curves(result: TraceResult) -> tuple[CurveView, ...]:
    views = []
    for place, curve in enumerate(result.curves):
        points = tuple(
            PointView(
                curve=place,
                place=i,
                speed=number(point.engine_speed.value, 0),
                value=amount(point.torque if curve.of == "torque" else point.power, most_decimals=1),
                origin=ORIGINS[point.origin] + (", past the marks" if point.beyond_marks else ""),
            )
            for i, point in enumerate(curve.points)
        )
        views.append(
            CurveView(title=f"The {curve.of} curve", unit="N m" if curve.of == "torque" else "kW", points=points)
        )
    return tuple(views)


def chart_picture_json(asked: Asked) -> Response:
    """The result as `calmday trace --json` prints it."""
    stored = newest_result(asked, document_of(asked, "chart"))
    if stored is None:
        raise HTTPException(404)
    return Response(stored.content, media_type="application/json")


def chart_picture_image(asked: Asked) -> Response:
    """The picture as it was kept."""
    file = _file(asked, document_of(asked, "chart"))
    if file is None:
        raise HTTPException(404)
    data = asked.desk.book.content(file.sha256)
    kind = next((kind for start, kind in PICTURES if data.startswith(start)), "")
    if not kind:
        from calmday.operations.trace import picture_as_png  # noqa: PLC0415

        data, kind = picture_as_png(data, file.name), "image/png"
    return Response(data, media_type=kind, headers={"Cache-Control": "private, max-age=3600"})


def chart_picture_point(asked: Asked) -> Response:
    """Leave a point out or move it by hand, and trace anew."""
    from calmday.operations.logbook import correct_point  # noqa: PLC0415

    found = document_of(asked, "chart")
    try:
        curve, point = (int(asked.form.get(key, "")) for key in ("curve", "point"))
    except ValueError:
        raise HTTPException(404) from None
    do = asked.form.get("do", "")
    if do not in ("out", "up", "down"):
        raise HTTPException(404)
    from calmday.operations.logbook.tracing import PointDo  # noqa: PLC0415

    correct_point(asked.desk.book, found.id, curve, point, cast(PointDo, do), asked.habits.by, asked.device)
    from calmday.web.pages.documents import document_work  # noqa: PLC0415

    return document_work(asked)


def chart_picture_use(asked: Asked) -> Response:
    """Take the traced curve over into the build sheet."""
    from calmday.operations.logbook import use_trace  # noqa: PLC0415

    found = document_of(asked, "chart")
    vehicle = use_trace(asked.desk.book, found.id, asked.habits.by, asked.device)
    return go("build", vehicle=vehicle, done="saved")
