"""Tests to be driven that the logbook keeps: what they will tell, as `calmday plan` finds it on the exported folder."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import inputs_digest
from calmday.files.plan_file import plan_of
from calmday.logbook import Logbook, StoredResult
from calmday.logbook.named_tests import TEST_KEYS, tests_named
from calmday.operations.logbook.coastdowns import evidence_of_logbook, tests_of_vehicle
from calmday.operations.logbook.gears import mark_of, weighed_runs
from calmday.operations.logbook.reading import coastdown_of_logbook, for_readers, rendered_of
from calmday.operations.logbook.reducing import known, run_of_logbook
from calmday.operations.plan import DEFAULT_PLAN_DRAWS, DEFAULT_PLAN_SEED, plan_of_test
from calmday.procedures.plan_result import PlanResult
from calmday.records.plan import Plan
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.logbook.records import Kind


MOST_EARLIER: Final = 4
"""How many earlier tests of each kind a plan learns from: the newest."""


def plan_of_logbook(book: Logbook, plan_id: str) -> tuple[Plan, dict[str, str]]:
    """A plan as the readers of files give it, and the SHA-256 of every input by name.

    Earlier tests that it names are left to `earlier_tests`. Raises InputError with every fault; its keys are those
    under which the logbook keeps the fields.
    """
    rendered = rendered_of(book, plan_id)
    named, seen = for_readers(book, rendered)
    alone = {key: value for key, value in named.tables.items() if key not in TEST_KEYS}
    return plan_of(msgspec.structs.replace(named, tables=alone), rendered.name, "plan"), seen


def earlier_tests(book: Logbook, plan_id: str) -> dict[Kind, tuple[str, ...]]:
    """What the plan's vehicle has to learn from: the newest weighed runs, coastdowns and small measurements, and those
    that the plan names."""
    vehicle_id = book.subject(plan_id).parent
    if not vehicle_id:
        return {}
    every = tests_of_vehicle(book, vehicle_id)
    usable = every | {"run": tuple(weighed_runs(book, vehicle_id))}
    named = tests_named(book.tables("plan", plan_id))
    found: dict[Kind, tuple[str, ...]] = {}
    for kind, ids in usable.items():
        newest = ids[-MOST_EARLIER:]
        found[kind] = (*(each for each in named[kind] if each in every[kind] and each not in newest), *newest)
    return found


def _with_earlier(book: Logbook, plan_id: str, plan: Plan, seen: dict[str, str]) -> Plan:
    """The plan with the earlier tests of its vehicle that can be read; what was read is noted in `seen`."""
    readers: dict[Kind, Callable[[Logbook, str], tuple[Any, dict[str, str]]]] = {
        "run": run_of_logbook,
        "coastdown": coastdown_of_logbook,
        "evidence": evidence_of_logbook,
    }
    found: dict[Kind, list[Any]] = {kind: [] for kind in readers}
    for kind, ids in earlier_tests(book, plan_id).items():
        for each in ids:
            with suppress(InputError):
                test, read = readers[kind](book, each)
                found[kind].append(test)
                seen |= {f"{each}/{name}": sha for name, sha in read.items()}
    return msgspec.structs.replace(
        plan,
        runs=(*plan.runs, *found["run"]),
        coastdowns=(*plan.coastdowns, *found["coastdown"]),
        evidence=(*plan.evidence, *found["evidence"]),
    )


def plan_logged(
    book: Logbook, plan_id: str, *, draws: int = DEFAULT_PLAN_DRAWS, seed: int = DEFAULT_PLAN_SEED
) -> StoredResult:
    """Work a plan out, with what the vehicle's earlier tests taught, and keep the result. Raises InputError."""
    plan, seen = plan_of_logbook(book, plan_id)
    plan = _with_earlier(book, plan_id, plan, seen)
    digest = inputs_digest(seen.items())
    result = plan_of_test(plan, draws=draws, seed=seed, files=tuple(seen), inputs_sha256=digest)
    return book.add_result(
        plan_id,
        inputs_sha256=digest,
        version=__version__,
        seed=seed,
        draws=draws,
        summary={"sentence": result.sentence, "mark": _mark(book, plan_id)},
        content=json_result(result),
    )


def _mark(book: Logbook, plan_id: str) -> str:
    return mark_of(book, [plan_id, *(each for ids in earlier_tests(book, plan_id).values() for each in ids)])


def work_out_plan(book: Logbook, plan_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a plan."""
    told(0.2, "Driving the test on paper a hundred times")
    plan_logged(book, plan_id)


def plan_is_stale(book: Logbook, plan_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the result, or another version of the program is here."""
    return stored.version != __version__ or stored.summary.get("mark") != _mark(book, plan_id)


def plan_result_of(stored: StoredResult) -> PlanResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), PlanResult)
