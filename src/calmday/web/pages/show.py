"""Show it: a run as a report to hand on, made beside the page and fetched as a whole or in parts."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import Response

from calmday.errors import InputError
from calmday.web.addresses import address
from calmday.web.forms import Box, fault_words
from calmday.web.jobs import wait
from calmday.web.pages.common import frame, go, run_of
from calmday.web.pages.entering import boxes, current_texts
from calmday.web.pages.files import PHOTOGRAPH
from calmday.web.pages.long_work import PATIENCE_S
from calmday.web.pages.saving import keep_form
from calmday.web.render import Context, page
from calmday.web.run_fields import QUESTION
from calmday.web.work import REPORT, ReportAsked, ReportMade

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.web.asked import Asked

KEPT: Final = 3
"""Reports kept in memory until the program ends."""

PARTS: Final = (
    ("everything.zip", "Everything, as a zip"),
    ("report.pdf", "The pages as PDF"),
    ("report.html", "The pages as HTML"),
    ("pictures.zip", "Pictures and captions"),
    ("tables.zip", "Tables for a spreadsheet"),
)
KINDS: Final = {"zip": "application/zip", "pdf": "application/pdf", "html": "text/html; charset=utf-8"}


class Made(msgspec.Struct, frozen=True, kw_only=True):
    """A report that can be fetched. `parts` address and words of each."""

    sentence: str
    parts: tuple[tuple[str, str], ...]
    remarks: tuple[str, ...]
    whole: bool


class ShowPage(Context, frozen=True, kw_only=True):
    """What to put into the report, and the newest one. `question` is kept as it is typed."""

    template: ClassVar[str] = "show.html"
    faults: tuple[tuple[str, str], ...]
    question: Box
    cut_home: str
    wished: ReportAsked
    photos: int
    made: Made | None
    failed: tuple[str, ...]
    busy: str


def show(asked: Asked) -> Response:
    """The page; with a form, the report begun."""
    run = run_of(asked)
    if not asked.posted:
        return _page(asked, run, _last_wishes(asked, run), ())
    keep_form(asked, "run", run.id, [QUESTION])
    wished, fault = _wished(asked)
    if fault:
        return _page(asked, run, wished, (("cut-home", fault),))
    asked.desk.jobs.let_go(REPORT.strip(), KEPT - 1)
    job = asked.desk.jobs.start(run.id, REPORT + msgspec.json.encode(wished).decode())
    return go("show", run=run.id) if wait(job, PATIENCE_S) else go("job", job=job.id)


def _wished(asked: Asked) -> tuple[ReportAsked, str]:
    """What the form asks for, and what is wrong with it."""
    from calmday.operations.logbook import home_radius_m  # noqa: PLC0415  (with the model, on a page that needs it)

    text = asked.form.get("cut_home", "").strip()[:40]
    radius, fault = 0.0, ""
    if text:
        try:
            radius = home_radius_m(text.replace(",", "."))
        except InputError as error:
            fault = fault_words(error.faults[0].wrong, error.faults[0].right)
    wished = ReportAsked(
        cut_home=text,
        cut_home_m=radius,
        decimal_comma="decimal_comma" in asked.form,
        units=asked.habits.units,
        photos="photos" in asked.form,
        pictures="pictures" in asked.form,
        tables="tables" in asked.form,
    )
    return wished, fault


def _last_wishes(asked: Asked, run: Subject) -> ReportAsked:
    """What was asked for last, else the usual."""
    last = asked.desk.jobs.newest(run.id, REPORT.strip())
    if last is None:
        return ReportAsked(decimal_comma=asked.habits.decimal == ",")
    return msgspec.json.decode(last.task.removeprefix(REPORT), type=ReportAsked)


def _page(asked: Asked, run: Subject, wished: ReportAsked, faults: tuple[tuple[str, str], ...]) -> Response:
    last = asked.desk.jobs.newest(run.id, REPORT.strip())
    texts = current_texts(asked.desk.book.values("run", run.id))
    (question,) = boxes([QUESTION], texts, asked.habits)
    return page(
        ShowPage(
            frame=frame(asked, "Show it to others", tab="sheet", run=run),
            faults=faults,
            question=question,
            cut_home=wished.cut_home,
            wished=wished,
            photos=len(asked.desk.book.files("run", run.id, PHOTOGRAPH)),
            made=_made(asked, run),
            failed=tuple(words for _, words in last.faults) if last is not None and last.state == "failed" else (),
            busy=address("job", job=last.id) if last is not None and not last.over else "",
        ),
        422 if faults else 200,
    )


def _newest(asked: Asked, run: Subject) -> ReportMade | None:
    last = asked.desk.jobs.newest(run.id, REPORT.strip())
    return last.result if last is not None and last.state == "done" else None


def _made(asked: Asked, run: Subject) -> Made | None:
    found = _newest(asked, run)
    if found is None:
        return None
    there = {name.split("/")[0] for name in found.files} | {"everything"}
    parts = tuple(
        (address("show_file", run=run.id, name=name), words)
        for name, words in PARTS
        if name in there or name.removesuffix(".zip") in there
    )
    return Made(
        sentence=found.sentence,
        parts=parts,
        remarks=tuple(f"{line[:1].upper()}{line[1:]}." for line in found.remarks),
        whole=not _last_wishes(asked, run).cut_home_m,
    )


def show_file(asked: Asked) -> Response:
    """One part of the newest report, to be saved."""
    run, name = run_of(asked), asked.part("name")
    found = _newest(asked, run)
    if found is None or name not in dict(PARTS):
        raise HTTPException(404)
    data = found.content if name == "everything.zip" else _part(found.content, name)
    if data is None:
        raise HTTPException(404)
    stem = "".join(c if c.isascii() and c.isalnum() else "-" for c in run.name).strip("-")[:60] or "run"
    return Response(
        data,
        media_type=KINDS[name.rpartition(".")[2]],
        headers={"Content-Disposition": f'attachment; filename="{stem}-{name}"'},
    )


def _part(content: bytes, name: str) -> bytes | None:
    """A file of the report, or a folder of it as a zip of its own; None where there is none."""
    with zipfile.ZipFile(io.BytesIO(content)) as whole:
        if name in whole.namelist():
            return whole.read(name)
        inside = [each for each in whole.namelist() if each.startswith(f"{name.removesuffix('.zip')}/")]
        if not inside or not name.endswith(".zip"):
            return None
        target = io.BytesIO()
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
            for each in inside:
                archive.writestr(zipfile.ZipInfo(each), whole.read(each), zipfile.ZIP_DEFLATED)
        return target.getvalue()
