"""Coastdowns and small measurements of the logbook, and what is known of a vehicle from all that it holds."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.evidence_file import evidence_of
from calmday.files.named_files import inputs_digest
from calmday.logbook import Logbook, StoredResult
from calmday.operations.coastdown import reduce_coastdown
from calmday.operations.knowledge import knowledge_result, known_vehicle
from calmday.operations.logbook.gears import vehicle_of_logbook
from calmday.operations.logbook.reading import coastdown_of_logbook, for_readers, rendered_of
from calmday.operations.logbook.reducing import known, run_of_logbook
from calmday.procedures.coastdown import DEFAULT_DRAWS, DEFAULT_SEED
from calmday.procedures.coastdown_result import CoastdownResult
from calmday.procedures.knowledge import DEFAULT_DRAWS as KNOWING_DRAWS
from calmday.procedures.knowledge import DEFAULT_SEED as KNOWING_SEED
from calmday.procedures.knowledge_result import KnowledgeResult
from calmday.records.evidence import SmallEvidence
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.logbook.records import Kind

TESTS: tuple[Kind, ...] = ("run", "coastdown", "evidence")


def evidence_of_logbook(book: Logbook, evidence_id: str) -> tuple[SmallEvidence, dict[str, str]]:
    """A small measurement as the readers of files give it. Raises InputError with every fault."""
    rendered = rendered_of(book, evidence_id)
    document, seen = for_readers(book, rendered)
    return evidence_of(document, rendered.name, "evidence"), seen


def coastdown_mark(book: Logbook, coastdown_id: str) -> str:
    """Changes whenever something is written that the result rests on."""
    subject = book.subject(coastdown_id)
    told = [book.values("coastdown", coastdown_id)]
    if subject.parent:
        told.append(book.values("vehicle", subject.parent))
    return _mark(told)


def _mark(told: list[Any]) -> str:
    plain = [{key: str(value) for key, value in sorted(values.items())} for values in told]
    return hashlib.sha256(json.dumps(plain).encode()).hexdigest()


def reduce_coastdown_logged(book: Logbook, coastdown_id: str) -> StoredResult:
    """Reduce a day of coastdowns and keep the result. Raises InputError."""
    mark = coastdown_mark(book, coastdown_id)
    day, seen = coastdown_of_logbook(book, coastdown_id)
    digest = inputs_digest(seen.items())
    result = reduce_coastdown(day, files=tuple(seen), inputs_sha256=digest)
    return book.add_result(
        coastdown_id,
        inputs_sha256=digest,
        version=__version__,
        seed=DEFAULT_SEED,
        draws=DEFAULT_DRAWS,
        summary={"sentence": result.sentence, "mark": mark},
        content=json_result(result),
    )


def work_out_coastdown(book: Logbook, coastdown_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a day of coastdowns."""
    told(0.2, "Rolling again with two thousand vehicles like yours")
    reduce_coastdown_logged(book, coastdown_id)


def coastdown_is_stale(book: Logbook, coastdown_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the result, or another version of the program is here."""
    return stored.version != __version__ or stored.summary.get("mark") != coastdown_mark(book, coastdown_id)


def coastdown_result_of(stored: StoredResult) -> CoastdownResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), CoastdownResult)


def tests_of_vehicle(book: Logbook, vehicle_id: str) -> dict[Kind, tuple[str, ...]]:
    """Every test of a vehicle that counts, oldest first, by kind."""
    return {
        kind: tuple(one.id for one in book.subjects(kind) if one.parent == vehicle_id and not one.void)
        for kind in TESTS
    }


def knowledge_mark(book: Logbook, vehicle_id: str) -> str:
    """Changes whenever something is written that what is known rests on."""
    told: list[Any] = [book.values("vehicle", vehicle_id)]
    for kind, ids in tests_of_vehicle(book, vehicle_id).items():
        told += [{"@id": each, **book.values(kind, each)} for each in ids]
    return _mark(told)


def know_logged(book: Logbook, vehicle_id: str) -> StoredResult:
    """Pool every test of a vehicle that can be used, and keep what is known. Raises InputError."""
    mark = knowledge_mark(book, vehicle_id)
    vehicle, seen = vehicle_of_logbook(book, vehicle_id)
    readers: dict[str, Callable[[Logbook, str], tuple[Any, dict[str, str]]]] = {
        "run": run_of_logbook, "coastdown": coastdown_of_logbook, "evidence": evidence_of_logbook,
    }  # fmt: skip
    found: dict[str, list[Any]] = {kind: [] for kind in readers}
    unread = []
    for kind, ids in tests_of_vehicle(book, vehicle_id).items():
        for each in ids:
            try:
                test, files = readers[kind](book, each)
            except InputError:
                unread.append(f"{book.subject(each).name or kind}: not complete yet")
                continue
            found[kind].append(test)
            seen |= {name: sha for name, sha in files.items() if name not in seen}
    pooled = known_vehicle(vehicle, runs=found["run"], coastdowns=found["coastdown"], evidence=found["evidence"])
    digest = inputs_digest(seen.items())
    result = knowledge_result(pooled, tuple(seen), digest)
    result = msgspec.structs.replace(result, left_out=(*result.left_out, *unread))
    return book.add_result(
        vehicle_id,
        inputs_sha256=digest,
        version=__version__,
        seed=KNOWING_SEED,
        draws=KNOWING_DRAWS,
        summary={"sentence": result.sentence, "mark": mark, "what": "knowledge"},
        content=json_result(result),
    )


def work_out_knowledge(book: Logbook, vehicle_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on what is known of a vehicle."""
    told(0.2, "Holding every test of this vehicle against a thousand vehicles like it")
    know_logged(book, vehicle_id)


def newest_knowledge(book: Logbook, vehicle_id: str) -> StoredResult | None:
    """What was last known of a vehicle; None where it was never worked out."""
    for each in book.results(vehicle_id):
        if each.summary.get("what") == "knowledge":
            return book.result(each.id)
    return None


def knowledge_is_stale(book: Logbook, vehicle_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change what is known."""
    return stored.version != __version__ or stored.summary.get("mark") != knowledge_mark(book, vehicle_id)


def knowledge_result_of(stored: StoredResult) -> KnowledgeResult:
    """The result behind a stored one."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), KnowledgeResult)
