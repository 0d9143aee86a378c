"""Tests to be driven that the logbook keeps: what they will tell, as `calmday plan` finds it on the exported folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import inputs_digest
from calmday.files.plan_file import plan_of
from calmday.logbook import Logbook, StoredResult
from calmday.logbook.folder_out import rendered_runs
from calmday.logbook.render import Rendered, named_document
from calmday.operations.logbook.gears import newest_weighed_run, study_mark
from calmday.operations.logbook.reducing import known, run_of_logbook
from calmday.operations.plan import DEFAULT_PLAN_DRAWS, DEFAULT_PLAN_SEED, plan_of_test
from calmday.procedures.plan_result import PlanResult
from calmday.records.plan import Plan
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable


def plan_of_logbook(book: Logbook, plan_id: str) -> tuple[Plan, dict[str, str]]:
    """A plan as the readers of files give it, and the SHA-256 of every input by name.

    Raises InputError with every fault; its keys are those under which the logbook keeps the fields.
    """
    with book.reading() as connection:
        rendered = rendered_runs(connection, [plan_id], book.where)[plan_id]
    parts: list[Rendered] = [rendered, *([rendered.vehicle] if rendered.vehicle is not None else [])]
    contents = book.contents([file.sha256 for part in parts for file in part.files.values()])
    seen: dict[str, str] = {}
    return plan_of(named_document(rendered, contents, seen), rendered.name, "plan"), seen


def plan_logged(
    book: Logbook, plan_id: str, *, draws: int = DEFAULT_PLAN_DRAWS, seed: int = DEFAULT_PLAN_SEED
) -> StoredResult:
    """Work a plan out, with what the newest weighed run taught, and keep the result. Raises InputError."""
    vehicle_id = book.subject(plan_id).parent
    run_id = newest_weighed_run(book, vehicle_id) if vehicle_id else None
    plan, seen = plan_of_logbook(book, plan_id)
    if run_id is not None and not plan.runs:
        try:
            run, learned = run_of_logbook(book, run_id)
        except InputError:
            run_id = None
        else:
            plan = msgspec.structs.replace(plan, runs=(run,))
            seen |= {name: sha for name, sha in learned.items() if name not in seen}
    digest = inputs_digest(seen.items())
    result = plan_of_test(plan, draws=draws, seed=seed, files=tuple(seen), inputs_sha256=digest)
    return book.add_result(
        plan_id,
        inputs_sha256=digest,
        version=__version__,
        seed=seed,
        draws=draws,
        summary={"sentence": result.sentence, "run": run_id or "", "mark": study_mark(book, plan_id, run_id)},
        content=json_result(result),
    )


def work_out_plan(book: Logbook, plan_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a plan."""
    told(0.2, "Driving the test on paper a hundred times")
    plan_logged(book, plan_id)


def plan_is_stale(book: Logbook, plan_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the result, or another version of the program is here."""
    vehicle_id = book.subject(plan_id).parent
    run_id = newest_weighed_run(book, vehicle_id) if vehicle_id else None
    return stored.version != __version__ or stored.summary.get("mark") != study_mark(book, plan_id, run_id)


def plan_result_of(stored: StoredResult) -> PlanResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), PlanResult)
