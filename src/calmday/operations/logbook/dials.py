"""Dials of a vehicle in the logbook: what was read off them, judged; an odometer's factor put to use."""

from __future__ import annotations

import msgspec

from calmday.errors import InputError
from calmday.files.dials_file import dials_of
from calmday.files.named_files import inputs_digest
from calmday.logbook import Logbook
from calmday.operations.dials import check_dials
from calmday.operations.logbook.gears import newest_weighed_run
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.logbook.reducing import result_of
from calmday.procedures.dials_result import DialsResult
from calmday.records.consumption import GivenConsumption
from calmday.records.dials import Dials
from calmday.reports.json_result import readable


def dials_of_logbook(book: Logbook, dials_id: str) -> tuple[Dials, dict[str, str]]:
    """What was read off the dials as the reader of files gives it, and the SHA-256 of every input by name.

    Raises InputError with every fault.
    """
    rendered = rendered_of(book, dials_id)
    document, seen = for_readers(book, rendered)
    return dials_of(document, rendered.name, "dials"), seen


def check_dials_logged(book: Logbook, dials_id: str) -> DialsResult:
    """Judge the dials; the consumption is that of the newest weighed run where nobody states one. Raises InputError."""
    dials, seen = dials_of_logbook(book, dials_id)
    if dials.range is not None and dials.range.consumption is None:
        used = _newest_consumption(book, book.subject(dials_id).parent)
        if used is not None:
            dials = msgspec.structs.replace(dials, range=msgspec.structs.replace(dials.range, consumption=used))
    return check_dials(dials, draws=1000, files=tuple(seen), inputs_sha256=inputs_digest(seen.items()))


def _newest_consumption(book: Logbook, vehicle_id: str) -> GivenConsumption | None:
    run_id = newest_weighed_run(book, vehicle_id) if vehicle_id else None
    results = book.results(run_id) if run_id is not None else ()
    if not results:
        return None
    result = readable(result_of, book.result(results[0].id))
    if result is None:
        return None
    figure = result.as_driven.L_per_100km
    return GivenConsumption(
        value=figure.value, unit="L_per_100km", half_width=figure.half_width, as_entered="newest run"
    )


def keep_factor(book: Logbook, dials_id: str, by: str, device: str = "") -> str:
    """Keep the odometer's factor as an instrument that runs may point to, with the day it belongs to; its name.

    Raises InputError where there is none, or where it has ended.
    """
    dials, _ = dials_of_logbook(book, dials_id)
    result = check_dials_logged(book, dials_id)
    if result.odometer is None:
        raise InputError.one("dials", "odometer", "was not read", "its readings over a known way")
    if result.odometer.ended_by:
        raise InputError.one("dials", "odometer", f"has ended: {result.odometer.ended_by}", "new readings")
    name = f"Odometer of {result.vehicle}"
    found = next((one for one in book.subjects("instrument") if one.name == name), None)
    instrument = found.id if found is not None else book.create("instrument", name, by=by, device=device)
    factor = result.odometer.factor
    said = {"odometer.factor.value": f"{factor.value:.5f}", "odometer.factor.pm": f"{factor.half_width:.5f}"}
    if dials.date is not None:
        said["date"] = dials.date.isoformat()
    book.write("instrument", instrument, said, by, device)
    return name
