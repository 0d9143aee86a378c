"""Long work: starting it, following it, stopping it."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from starlette.exceptions import HTTPException
from starlette.responses import JSONResponse, RedirectResponse, Response

from calmday.web.addresses import address
from calmday.web.documents import document_kind
from calmday.web.jobs import Job, wait
from calmday.web.pages.common import frame, go, run_of, subject
from calmday.web.render import Context, page
from calmday.web.work import REPORT

if TYPE_CHECKING:
    from calmday.web.asked import Asked

PATIENCE_S = 0.25
"""How long to wait for work that may be done at once, before showing its progress."""


class JobPage(Context, frozen=True, kw_only=True):
    """Progress of one job."""

    template: ClassVar[str] = "job.html"
    job: str
    fraction: float
    words: str


def reduce(asked: Asked) -> Response:
    """Start on a run, and show its sheet where that is quick."""
    run = run_of(asked)
    job = asked.desk.jobs.start(run.id)
    if wait(job, PATIENCE_S):
        return go("sheet", run=run.id)
    return go("job", job=job.id)


def job(asked: Asked) -> Response:
    """The progress of a job; what it was for when it is over."""
    found = _job(asked)
    if found.over:
        return RedirectResponse(_next(asked, found), 303)
    worked_on = asked.desk.book.subject(found.run)
    spec = document_kind(worked_on.kind)
    if worked_on.kind == "vehicle":
        around = frame(asked, "Putting it together", tab="knowledge", vehicle=worked_on, refresh=2)
    elif spec is None:
        around = frame(asked, "Working it out", tab="sheet", run=worked_on, refresh=2)
    else:
        vehicle = subject(asked, "vehicle", worked_on.parent) if worked_on.parent else None
        around = frame(asked, "Working it out", tab=spec.home, vehicle=vehicle, refresh=2)
    return page(
        JobPage(
            frame=around,
            job=found.id,
            fraction=found.fraction,
            words=found.words,
        )
    )


def job_state(asked: Asked) -> Response:
    """The same for the script of that page."""
    found = _job(asked)
    following = _next(asked, found) if found.over else ""
    return JSONResponse({"state": found.state, "fraction": found.fraction, "words": found.words, "next": following})


def job_cancel(asked: Asked) -> Response:
    """Stop a job."""
    found = _job(asked)
    asked.desk.jobs.cancel(found.id)
    spec = document_kind(asked.desk.book.subject(found.run).kind)
    if spec is not None:
        return go(spec.page, document=found.run, done="stopped")
    if asked.desk.book.subject(found.run).kind == "vehicle":
        return go("knowledge", vehicle=found.run, done="stopped")
    return go("day", run=found.run, done="stopped")


def _job(asked: Asked) -> Job:
    found = asked.desk.jobs.get(asked.part("job"))
    if found is None:
        raise HTTPException(404)
    return found


def _next(asked: Asked, found: Job) -> str:
    """Where to go when it is over."""
    kind = asked.desk.book.subject(found.run).kind
    if found.task.startswith(REPORT):
        return address("show", run=found.run) if kind == "run" else address("comparison_show", document=found.run)
    spec = document_kind(kind)
    if spec is not None:
        return address(spec.page, document=found.run)
    if kind == "vehicle":
        return address("knowledge", vehicle=found.run)
    return address("day" if found.state == "cancelled" else "sheet", run=found.run)
