"""Show it: a run as a report to hand on, made beside the page and fetched as a whole or in parts."""

from __future__ import annotations

import io
import zipfile
from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse, Response

from calmday.errors import InputError
from calmday.web.addresses import address
from calmday.web.forms import Box, fault_words, pointed
from calmday.web.jobs import wait
from calmday.web.pages.checking import fault_lines
from calmday.web.pages.common import frame, run_of, subject
from calmday.web.pages.documents import document_of
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
    """What to put into the report, and the newest one. `name` what it is about; `question` is kept as it is typed, and
    asked for where the thing itself has no better place for it; `photos` how many there are, None where none could be.
    """

    template: ClassVar[str] = "show.html"
    name: str
    faults: tuple[tuple[str, str], ...]
    question: Box | None
    cut_home: str
    wished: ReportAsked
    photos: int | None
    made: Made | None
    failed: tuple[str, ...]
    busy: str
    here: str
    save: str
    back: str
    back_words: str


class _Thing(msgspec.Struct, frozen=True, kw_only=True):
    """What is shown: a run, or a comparison. `page` and `file` name the addresses, `part` what they call it."""

    subject: Subject
    page: str
    file: str
    part: str
    back: str
    back_words: str

    def where(self, **more: object) -> str:
        """The page, or with a `name` a part of the newest report."""
        return address(self.file if more else self.page, **{self.part: self.subject.id}, **more)


def show(asked: Asked) -> Response:
    """The page about a run; with a form, the report begun."""
    run = run_of(asked)
    if asked.posted:
        keep_form(asked, "run", run.id, [QUESTION])
    return _answer(asked, _run_thing(run))


def _run_thing(run: Subject) -> _Thing:
    back = address("sheet", run=run.id)
    return _Thing(subject=run, page="show", file="show_file", part="run", back=back, back_words="Back to the sheet")


def show_file(asked: Asked) -> Response:
    """One part of the newest report of a run, to be saved."""
    return _file(asked, _run_thing(run_of(asked)))


def comparison_show(asked: Asked) -> Response:
    """The page about a comparison; with a form, the report begun."""
    return _answer(asked, _comparison_thing(asked))


def comparison_show_file(asked: Asked) -> Response:
    """One part of the newest report of a comparison, to be saved."""
    return _file(asked, _comparison_thing(asked))


def _comparison_thing(asked: Asked) -> _Thing:
    found = document_of(asked, "comparison")
    return _Thing(
        subject=found,
        page="comparison_show",
        file="comparison_show_file",
        part="document",
        back=address("comparison", document=found.id),
        back_words="Back to the comparison",
    )


def _answer(asked: Asked, thing: _Thing) -> Response:
    if not asked.posted:
        return _page(asked, thing, _last_wishes(asked, thing.subject), ())
    wished, fault = _wished(asked)
    if fault:
        return _page(asked, thing, wished, (("cut-home", fault),))
    asked.desk.jobs.let_go(REPORT.strip(), KEPT - 1)
    job = asked.desk.jobs.start(thing.subject.id, REPORT + msgspec.json.encode(wished).decode())
    where = thing.where() if wait(job, PATIENCE_S) else address("job", job=job.id)
    return RedirectResponse(where, 303)


def _wished(asked: Asked) -> tuple[ReportAsked, str]:
    """What the form asks for, and what is wrong with it."""
    from calmday.operations.logbook import home_radius_m  # noqa: PLC0415  (with the model, on a page that needs it)

    text = asked.form.get("cut_home", "").strip()[:40]
    radius, fault = 0.0, ""
    if text:
        try:
            radius = home_radius_m(pointed(text, asked.habits))
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


def _last_wishes(asked: Asked, found: Subject) -> ReportAsked:
    """What was asked for last, else the usual."""
    last = asked.desk.jobs.newest(found.id, REPORT.strip())
    if last is None:
        return ReportAsked(decimal_comma=asked.habits.decimal == ",")
    return msgspec.json.decode(last.task.removeprefix(REPORT), type=ReportAsked)


def _page(asked: Asked, thing: _Thing, wished: ReportAsked, faults: tuple[tuple[str, str], ...]) -> Response:
    found = thing.subject
    last = asked.desk.jobs.newest(found.id, REPORT.strip())
    of_run = found.kind == "run"
    vehicle = subject(asked, "vehicle", found.parent) if found.parent else None
    return page(
        ShowPage(
            frame=frame(
                asked,
                "Show it to others",
                tab="sheet" if of_run else "comparisons",
                run=found if of_run else None,
                vehicle=vehicle,
            ),
            name=found.name or ("Run without a name" if of_run else "Comparison without a name"),
            faults=faults,
            question=_question(asked, found) if of_run else None,
            cut_home=wished.cut_home,
            wished=wished,
            photos=len(asked.desk.book.files("run", found.id, PHOTOGRAPH)) if of_run else None,
            made=_made(asked, thing),
            failed=tuple(words for words, _ in fault_lines(found, last.faults))
            if last is not None and last.state == "failed"
            else (),
            busy=address("job", job=last.id) if last is not None and not last.over else "",
            here=thing.where(),
            save=address("save", kind=found.kind, subject=found.id),
            back=thing.back,
            back_words=thing.back_words,
        ),
        422 if faults else 200,
    )


def _question(asked: Asked, run: Subject) -> Box:
    (question,) = boxes([QUESTION], current_texts(asked.desk.book.values("run", run.id)), asked.habits)
    return question


def _newest(asked: Asked, found: Subject) -> ReportMade | None:
    last = asked.desk.jobs.newest(found.id, REPORT.strip())
    return last.result if last is not None and last.state == "done" else None


def _made(asked: Asked, thing: _Thing) -> Made | None:
    found = _newest(asked, thing.subject)
    if found is None:
        return None
    there = {name.split("/")[0] for name in found.files} | {"everything"}
    parts = tuple(
        (thing.where(name=name), words) for name, words in PARTS if name in there or name.removesuffix(".zip") in there
    )
    return Made(
        sentence=found.sentence,
        parts=parts,
        remarks=tuple(f"{line[:1].upper()}{line[1:]}." for line in found.remarks),
        whole=not _last_wishes(asked, thing.subject).cut_home_m,
    )


def _file(asked: Asked, thing: _Thing) -> Response:
    """One part of the newest report, to be saved."""
    name = asked.part("name")
    found = _newest(asked, thing.subject)
    if found is None or name not in dict(PARTS):
        raise HTTPException(404)
    data = found.content if name == "everything.zip" else _part(found.content, name)
    if data is None:
        raise HTTPException(404)
    plain = "".join(c if c.isascii() and c.isalnum() else "-" for c in thing.subject.name).strip("-")[:60]
    return Response(
        data,
        media_type=KINDS[name.rpartition(".")[2]],
        headers={"Content-Disposition": f'attachment; filename="{plain or thing.subject.kind}-{name}"'},
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
