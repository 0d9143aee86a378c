"""The long work itself, as another process finds it: reduce or check a run of a logbook, work out a document."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import msgspec

from calmday.errors import InputError

if TYPE_CHECKING:
    from calmday.logbook import Logbook
    from calmday.web.jobs import Told


class ReportAsked(msgspec.Struct, frozen=True, kw_only=True):
    """What a report from the page should be like: kept away from home, in whose units, with what."""

    cut_home: str = ""
    cut_home_m: float = 0.0
    decimal_comma: bool = False
    units: str = "metric"
    photos: bool = True
    pictures: bool = True
    tables: bool = True


class ReportMade(msgspec.Struct, frozen=True, kw_only=True):
    """A report as the page hands it out: one zip, and what there is to say about it."""

    content: bytes
    sentence: str
    files: tuple[str, ...]
    remarks: tuple[str, ...]


TASKS: dict[str, str] = {
    "coastdown": "calmday.operations.logbook.coastdowns:work_out_coastdown",
    "know": "calmday.operations.logbook.coastdowns:work_out_knowledge",
    "comparison": "calmday.operations.logbook.comparison:work_out_comparison",
    "plan": "calmday.operations.logbook.plans:work_out_plan",
    "pull": "calmday.operations.logbook.pulls:work_out_pulls",
    "sound": "calmday.operations.logbook.sounds:work_out_sound",
    "trace": "calmday.operations.logbook.tracing:work_out_trace",
}
"""Work on other documents than runs: by the name of the task, the function that does it as `module:name`. It takes the
logbook, the document's identifier and `told`, and stores what it finds."""

REPORT = "report "
"""Starts the task that makes a report; what follows is what the report should be like, as JSON."""

_open: dict[str, Logbook] = {}


def work_on_run(place: str, task: str, run: str, told: Told) -> Any:
    """Reduce a run and store its result, or check it and give the check. Without a task: only load what it needs."""
    from calmday.operations.logbook import check_logged, reduce_logged  # noqa: PLC0415  (the model only here)

    book = _opened(place)
    if task == "check":
        told(0.1, "Driving the route again with five hundred vehicles like yours")
        return check_logged(book, run)
    if task == "reduce":
        told(0.05, "Opening the guesses")
        _open_guesses(book, run)
        told(0.1, "Driving the route again with two thousand vehicles like yours")
        reduce_logged(book, run)
    if task.startswith(REPORT):
        return _report(book, run, task.removeprefix(REPORT), told)
    if task in TASKS:
        module, _, name = TASKS[task].partition(":")
        return getattr(import_module(module), name)(book, run, told)
    return None


def _report(book: Logbook, run: str, asked: str, told: Told) -> ReportMade:
    from calmday.operations.logbook.reporting import ReportWishes, report_zip  # noqa: PLC0415
    from calmday.operations.logbook.reporting_comparison import report_comparison_zip  # noqa: PLC0415
    from calmday.web.stored import units_of  # noqa: PLC0415

    wished = msgspec.json.decode(asked, type=ReportAsked)
    compared = book.subject(run).kind == "comparison"
    if not compared:
        _open_guesses(book, run)
    wishes = ReportWishes(
        cut_home_m=wished.cut_home_m,
        decimal_comma=wished.decimal_comma,
        units=units_of(wished.units),
        logged_photos=wished.photos,
        pictures=wished.pictures,
        tables=wished.tables,
    )
    made, content = (report_comparison_zip if compared else report_zip)(book, run, wishes, told)
    return ReportMade(content=content, sentence=made.sentence, files=made.files, remarks=made.remarks)


def _opened(place: str) -> Logbook:
    from calmday.logbook import Logbook  # noqa: PLC0415

    if place not in _open:
        _open[place] = Logbook.open(place)
    return _open[place]


def _open_guesses(book: Logbook, run: str) -> None:
    """Open what was sealed, if the can has been weighed again."""
    if any(not guess.opened_at for guess in book.predictions(run)):
        try:
            book.open_predictions(run, "the weigh-in")
        except InputError:
            return  # not weighed in yet: then nothing is reduced either, and that is said
