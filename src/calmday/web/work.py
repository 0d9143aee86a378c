"""The long work itself, as another process finds it: reduce or check a run of a logbook, work out a document."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from calmday.errors import InputError

if TYPE_CHECKING:
    from calmday.logbook import Logbook
    from calmday.web.jobs import Told

TASKS: dict[str, str] = {
    "plan": "calmday.operations.logbook.plans:work_out_plan",
    "pull": "calmday.operations.logbook.pulls:work_out_pulls",
}
"""Work on other documents than runs: by the name of the task, the function that does it as `module:name`. It takes the
logbook, the document's identifier and `told`, and stores what it finds."""

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
    if task in TASKS:
        module, _, name = TASKS[task].partition(":")
        return getattr(import_module(module), name)(book, run, told)
    return None


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
