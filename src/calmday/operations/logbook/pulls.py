"""Pulls and timed hills of the logbook: the power they give, as `calmday pull` finds it on the exported folder."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import inputs_digest
from calmday.files.pull_file import pulls_of
from calmday.logbook import Logbook, StoredResult
from calmday.operations.gears import DEFAULT_GEAR_DRAWS, DEFAULT_GEAR_SEED, reduce_pulls
from calmday.operations.logbook.gears import newest_weighed_run, study_mark
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import known, run_of_logbook
from calmday.procedures.pull_result import PullResult
from calmday.procedures.weighed_run import FEWEST_DRAWS, WeighedRun, reduce_weighed_run
from calmday.records.pull import PullDay
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable


def pulls_of_logbook(book: Logbook, pulls_id: str) -> tuple[PullDay, dict[str, str]]:
    """A day of pulls as the readers of files give it, and the SHA-256 of every input by name.

    Raises InputError with every fault; its keys are those under which the logbook keeps the fields.
    """
    rendered = rendered_of(book, pulls_id)
    document, seen = for_readers(book, rendered)
    return pulls_of(document, rendered.name, "pulls"), seen


def reduce_pulls_logged(
    book: Logbook, pulls_id: str, *, draws: int = DEFAULT_GEAR_DRAWS, seed: int = DEFAULT_GEAR_SEED
) -> StoredResult:
    """Find the power of a day of pulls, with what the newest weighed run taught, and keep the result. Raises
    InputError."""
    vehicle_id = book.subject(pulls_id).parent
    run_id = newest_weighed_run(book, vehicle_id) if vehicle_id else None
    day, seen = pulls_of_logbook(book, pulls_id)
    weighed, learned = _weighed(book, run_id, draws, seed)
    seen |= {name: sha for name, sha in learned.items() if name not in seen}
    digest = inputs_digest(seen.items())
    result = reduce_pulls(day, weighed, draws=draws, seed=seed, files=tuple(seen), inputs_sha256=digest)
    return book.add_result(
        pulls_id,
        inputs_sha256=digest,
        version=__version__,
        seed=seed,
        draws=draws,
        summary={
            "sentence": result.sentence,
            "run": run_id if weighed is not None else "",
            "mark": study_mark(book, pulls_id, run_id),
        },
        content=json_result(result),
    )


def _weighed(book: Logbook, run_id: str | None, draws: int, seed: int) -> tuple[WeighedRun | None, dict[str, str]]:
    """The run to learn from; nothing where it cannot be used after all."""
    if run_id is None:
        return None, {}
    try:
        run, seen = run_of_logbook(book, run_id)
    except InputError:
        return None, {}
    return reduce_weighed_run(run, max(draws, FEWEST_DRAWS), seed), seen


def work_out_pulls(book: Logbook, pulls_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a day of pulls."""
    told(0.2, "Pulling again with a thousand vehicles like yours")
    reduce_pulls_logged(book, pulls_id)


def pulls_are_stale(book: Logbook, pulls_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the result, or another version of the program is here."""
    vehicle_id = book.subject(pulls_id).parent
    run_id = newest_weighed_run(book, vehicle_id) if vehicle_id else None
    return stored.version != __version__ or stored.summary.get("mark") != study_mark(book, pulls_id, run_id)


def pull_result_of(stored: StoredResult) -> PullResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), PullResult)
