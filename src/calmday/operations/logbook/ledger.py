"""Cost sheets, published figures and settings logs kept in the logbook: the same readers, the same results."""

from __future__ import annotations

import hashlib
import json

from calmday.files.cost_file import cost_of
from calmday.files.named_files import NamedDocument
from calmday.files.published_file import published_of
from calmday.files.settings_file import settings_of
from calmday.logbook import Logbook
from calmday.logbook.render import inputs_of
from calmday.metrology.figure import Figure
from calmday.operations.cost import CostResult, cost_sheet_of
from calmday.operations.logbook.gears import newest_weighed_run
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import result_of, run_of_logbook
from calmday.operations.published import PublishedResult, published_of_figure
from calmday.operations.settings import SettingsResult, settings_of_log
from calmday.procedures.weighed_run_result import RunResult
from calmday.records.run import Run
from calmday.reports.json_result import readable

__all__ = ["cost_logged", "newest_figure", "published_logged", "settings_logged"]


def cost_logged(book: Logbook, document_id: str) -> CostResult:
    """What a cost sheet of the logbook comes to. Raises InputError with every fault."""
    named, name, digest = _named(book, document_id)
    return cost_sheet_of(cost_of(named, name, "price"), files=(name,), inputs_sha256=digest)


def published_logged(book: Logbook, document_id: str, vehicle_id: str) -> PublishedResult:
    """A published figure beside the vehicle's newest weighed run, where there is one. Raises InputError."""
    named, name, digest = _named(book, document_id)
    figure = published_of(named, name, "published")
    run, result = _newest(book, vehicle_id)
    return published_of_figure(figure, run, result, files=(name,), inputs_sha256=digest)


def settings_logged(book: Logbook, document_id: str) -> SettingsResult:
    """What a settings log says. Raises InputError with every fault."""
    named, name, digest = _named(book, document_id)
    return settings_of_log(settings_of(named, name, "setting"), files=(name,), inputs_sha256=digest)


def newest_figure(book: Logbook, vehicle_id: str) -> tuple[Figure, str, str] | None:
    """The newest calm-day figure of a vehicle (else as driven) in L/100 km, its fuel, and the name of its run."""
    run, result = _newest(book, vehicle_id)
    if run is None or result is None:
        return None
    best = result.calm_day or result.as_driven
    return best.L_per_100km, run.fuel.kind or run.vehicle.engine.fuel or "", result.label


def _newest(book: Logbook, vehicle_id: str) -> tuple[Run | None, RunResult | None]:
    run_id = newest_weighed_run(book, vehicle_id) if vehicle_id else None
    if run_id is None:
        return None, None
    run, _ = run_of_logbook(book, run_id)
    return run, readable(result_of, book.results(run_id, whole=True)[0])


def _named(book: Logbook, document_id: str) -> tuple[NamedDocument, str, str]:
    """A document for the readers of files, its name, and the digest of all it holds."""
    rendered = rendered_of(book, document_id)
    digest = hashlib.sha256(json.dumps(sorted(inputs_of(rendered).items())).encode()).hexdigest()
    return for_readers(book, rendered)[0], rendered.name, digest
