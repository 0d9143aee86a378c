"""Gears of a vehicle in the logbook: its build sheet as it stands, and what its newest weighed run taught."""

from __future__ import annotations

import contextlib
from collections.abc import Sequence
from typing import Final

from calmday.errors import InputError
from calmday.files.named_files import inputs_digest
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.logbook import Logbook
from calmday.logbook.folder_out import rendered_runs
from calmday.logbook.render import inputs_of
from calmday.operations.gears import DEFAULT_GEAR_DRAWS, DEFAULT_GEAR_SEED, GearStudy, study_gears
from calmday.operations.knowledge import known_vehicle
from calmday.operations.logbook.reading import coastdown_of_logbook, for_readers, rendered_of
from calmday.operations.logbook.reducing import run_of_logbook
from calmday.procedures.weighed_run import FEWEST_DRAWS, WeighedRun, reduce_weighed_run
from calmday.records.vehicle import Vehicle

MOST_COASTDOWNS: Final = 2
"""Days of coastdowns that a page learns from: each takes a second or two, and the page waits."""


def vehicle_of_logbook(book: Logbook, vehicle_id: str) -> tuple[Vehicle, dict[str, str]]:
    """A vehicle's newest state as the readers of files give it, and the SHA-256 of every input by name.

    Raises InputError with every fault.
    """
    rendered = rendered_of(book, vehicle_id)
    document, seen = for_readers(book, rendered)
    states = vehicle_states_of(document, rendered.name, rendered.document.subject.name or "vehicle")
    return in_force(states, None), seen


def newest_weighed_run(book: Logbook, vehicle_id: str) -> str | None:
    """The run driven last that has a result fit to be used; None where there is none."""
    return next(reversed(weighed_runs(book, vehicle_id)), None)


def weighed_runs(book: Logbook, vehicle_id: str) -> list[str]:
    """The runs that have a result fit to be used, in the order driven."""
    runs = [run for run in book.subjects("run", keys=("date",)) if run.parent == vehicle_id and not run.void]
    results = book.newest_results([run.id for run in runs]) if runs else {}
    usable = [run for run in runs if run.id in results and results[run.id].summary.get("worst_flag") != "stop"]
    return [run.id for run in sorted(usable, key=lambda run: (run.values.get("date", ""), run.id))]


def newest_coastdowns(book: Logbook, vehicle_id: str) -> tuple[str, ...]:
    """The days of coastdowns that may be used, at most `MOST_COASTDOWNS` of the newest, oldest first."""
    found = [day for day in book.subjects("coastdown", keys=("date",)) if day.parent == vehicle_id and not day.void]
    ordered = sorted(found, key=lambda day: (day.values.get("date", ""), day.id))
    return tuple(day.id for day in ordered[-MOST_COASTDOWNS:])


def study_mark(book: Logbook, vehicle_id: str, run_id: str | None, others: Sequence[str] = ()) -> str:
    """Differs when a study of the gears would: the digest of everything it is drawn from, without reading tracks."""
    return mark_of(book, [vehicle_id, *([run_id] if run_id else []), *others])


def mark_of(book: Logbook, ids: Sequence[str]) -> str:
    """The digest of everything that stands about some subjects, without reading tracks."""
    with book.reading() as connection:
        rendered = rendered_runs(connection, list(ids), book.where)
    pairs = [(f"{place}/{name}", sha) for place, part in rendered.items() for name, sha in inputs_of(part).items()]
    return inputs_digest(pairs)


def study_logged(
    book: Logbook,
    vehicle_id: str,
    run_id: str | None = None,
    coastdown_ids: Sequence[str] = (),
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
) -> GearStudy:
    """Draw a vehicle of the logbook; with a run and coastdowns, from what they taught: as `calmday gears` with `--run`
    and `--coastdown` on their folders.

    Raises InputError where the build sheet or a test cannot be read.
    """
    vehicle, seen = vehicle_of_logbook(book, vehicle_id)
    reduced: WeighedRun | None = None
    if run_id is not None:
        run, inputs = run_of_logbook(book, run_id)
        reduced = reduce_weighed_run(run, max(draws, FEWEST_DRAWS), seed)
        seen |= {name: sha for name, sha in inputs.items() if name not in seen}
    days = []
    for place in coastdown_ids:
        day, inputs = coastdown_of_logbook(book, place)
        days.append(day)
        seen |= {name: sha for name, sha in inputs.items() if name not in seen}
    return study_gears(
        vehicle, reduced, days, draws=draws, seed=seed, files=tuple(seen), inputs_sha256=inputs_digest(seen.items())
    )


def study_of_tests(
    book: Logbook,
    vehicle_id: str,
    run_ids: Sequence[str],
    coastdown_ids: Sequence[str],
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
) -> GearStudy:
    """Draw a vehicle of the logbook from what some of its tests taught together, as a what-if file that names them.

    Raises InputError where the build sheet or a test cannot be read.
    """
    vehicle, seen = vehicle_of_logbook(book, vehicle_id)
    runs = []
    for place in run_ids:
        run, inputs = run_of_logbook(book, place)
        runs.append(run)
        seen |= {f"{place}/{name}": sha for name, sha in inputs.items()}
    days = []
    for place in coastdown_ids:
        day, inputs = coastdown_of_logbook(book, place)
        days.append(day)
        seen |= {f"{place}/{name}": sha for name, sha in inputs.items()}
    known = known_vehicle(vehicle, runs=runs, coastdowns=days, draws=max(draws, FEWEST_DRAWS), seed=seed)
    return study_gears(
        vehicle, known=known.known if known.pieces else None, draws=draws, seed=seed, files=tuple(seen),
        inputs_sha256=inputs_digest(seen.items()),
    )  # fmt: skip


def study_of_vehicle(
    book: Logbook, vehicle_id: str, run_id: str | None, coastdown_ids: Sequence[str] = ()
) -> tuple[GearStudy, str | None, int]:
    """The study that rests on a run and coastdowns, leaving out those that cannot be used after all; the run it rests
    on, and on how many coastdowns."""
    usable = []
    for day_id in coastdown_ids:
        with contextlib.suppress(InputError):  # the page of the day says what is wrong with it
            coastdown_of_logbook(book, day_id)
            usable.append(day_id)
    for run, days in ((run_id, usable), (run_id, []), (None, usable)):
        with contextlib.suppress(InputError):
            return study_logged(book, vehicle_id, run, days), run, len(days)
    return study_logged(book, vehicle_id), None, 0
