"""Gears of a vehicle in the logbook: its build sheet as it stands, and what its newest weighed run taught."""

from __future__ import annotations

from collections.abc import Sequence

from calmday.errors import InputError
from calmday.files.named_files import inputs_digest
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.logbook import Logbook
from calmday.logbook.folder_out import rendered_runs
from calmday.logbook.render import inputs_of, named_document
from calmday.operations.gears import DEFAULT_GEAR_DRAWS, DEFAULT_GEAR_SEED, GearStudy, study_gears
from calmday.operations.logbook.reducing import run_of_logbook
from calmday.physics.power_correction import Standard
from calmday.procedures.weighed_run import FEWEST_DRAWS, WeighedRun, reduce_weighed_run
from calmday.records.vehicle import Vehicle


def vehicle_of_logbook(book: Logbook, vehicle_id: str) -> tuple[Vehicle, dict[str, str]]:
    """A vehicle's newest state as the readers of files give it, and the SHA-256 of every input by name.

    Raises InputError with every fault.
    """
    with book.reading() as connection:
        rendered = rendered_runs(connection, [vehicle_id], book.where)[vehicle_id]
    contents = book.contents([file.sha256 for file in rendered.files.values()])
    seen: dict[str, str] = {}
    document = named_document(rendered, contents, seen)
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


def study_mark(book: Logbook, vehicle_id: str, run_id: str | None) -> str:
    """Differs when a study of the gears would: the digest of everything it is drawn from, without reading tracks."""
    return mark_of(book, [vehicle_id] if run_id is None else [vehicle_id, run_id])


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
    *,
    draws: int = DEFAULT_GEAR_DRAWS,
    seed: int = DEFAULT_GEAR_SEED,
    standard: Standard | None = None,
    smooth_rps: float | None = None,
) -> GearStudy:
    """Draw a vehicle of the logbook; with a run, from what that run taught: as `calmday gears --run` on its folder.

    Raises InputError where the build sheet or the run cannot be read.
    """
    vehicle, seen = vehicle_of_logbook(book, vehicle_id)
    reduced: WeighedRun | None = None
    if run_id is not None:
        run, inputs = run_of_logbook(book, run_id)
        reduced = reduce_weighed_run(run, max(draws, FEWEST_DRAWS), seed)
        seen |= {name: sha for name, sha in inputs.items() if name not in seen}
    return study_gears(
        vehicle,
        reduced,
        draws=draws,
        seed=seed,
        standard=standard,
        smooth_rps=smooth_rps,
        files=tuple(seen),
        inputs_sha256=inputs_digest(seen.items()),
    )


def study_of_vehicle(book: Logbook, vehicle_id: str, run_id: str | None) -> tuple[GearStudy, str | None]:
    """The study that rests on a run, or on the build sheet alone where that run cannot be used after all; and the run
    it rests on."""
    if run_id is not None:
        try:
            return study_logged(book, vehicle_id, run_id), run_id
        except InputError:
            pass  # the page of the run says what is wrong with it
    return study_logged(book, vehicle_id), None
