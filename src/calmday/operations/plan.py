"""The verbs about a test that is still to be driven. The command line, the page and the Python interface call these."""

from __future__ import annotations

from pathlib import Path

import msgspec

from calmday import __version__
from calmday.errors import InputError
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.plan_file import read_plan
from calmday.metrology.rounding import listed
from calmday.operations.knowledge import known_vehicle
from calmday.procedures.knowledge import FEWEST_DRAWS
from calmday.procedures.plan import result_of_plan
from calmday.procedures.plan_result import PlanResult
from calmday.procedures.planned_test import DEFAULT_PLAN_DRAWS, DEFAULT_PLAN_SEED, Known, plan_test
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.plan import Plan
from calmday.reports.field_sheet import field_pdf
from calmday.reports.field_sheets import sheets_of_test
from calmday.reports.plan_sentence import plan_headline
from calmday.reports.print import Paper

__all__ = [
    "DEFAULT_PLAN_DRAWS",
    "DEFAULT_PLAN_SEED",
    "PlanResult",
    "field_sheets_pdf",
    "plan_file",
    "plan_of_test",
    "write_test_sheets",
]

NOTHING_LEARNED = "the build sheet and what is usual for its class; no weighed run"


def plan_of_test(
    plan: Plan,
    *,
    draws: int = DEFAULT_PLAN_DRAWS,
    seed: int = DEFAULT_PLAN_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> PlanResult:
    """Plan a test in memory. Raises InputError, or ValueError for too few draws."""
    known, learned = _known(plan, draws, seed)
    made = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_plan(plan_test(plan, draws, seed, known), made, learned)
    return msgspec.structs.replace(plain, sentence=plan_headline(plain))


def plan_file(path: Path | str, *, draws: int = DEFAULT_PLAN_DRAWS, seed: int = DEFAULT_PLAN_SEED) -> PlanResult:
    """Read a plan file with everything it names and plan the test. Raises InputError listing every fault found."""
    seen = SeenFiles(Path(path).parent)
    plan = read_plan(Path(path), seen=seen)
    digest = inputs_digest(seen.sha256.items())
    return plan_of_test(plan, draws=draws, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)


def _known(plan: Plan, draws: int, seed: int) -> tuple[Known | None, str]:
    """What earlier runs and coastdowns taught, pooled; and in words what that rests on."""
    if not plan.runs and not plan.coastdowns and not plan.evidence:
        return None, NOTHING_LEARNED
    found = known_vehicle(
        plan.vehicle,
        runs=plan.runs,
        coastdowns=plan.coastdowns,
        evidence=plan.evidence,
        draws=max(draws, FEWEST_DRAWS),
        seed=seed,
    )
    if not found.pieces:
        return None, f"{NOTHING_LEARNED} that could be used"
    names = [piece.label for piece in found.pieces]
    return found.known, f"the build sheet and these tests: {listed(names)}"


def write_test_sheets(result: PlanResult, folder: Path | str, paper: Paper = "a4") -> tuple[Path, ...]:
    """Write every sheet of a planned test as PDF into a folder, which is made if need be; gives the files.

    Raises InputError where the folder cannot be written to, MissingExtraError without the typesetter.
    """
    into = Path(folder)
    name = result.vehicle or result.label
    sheets = [
        (f"{sheet.name}-{paper}.pdf", field_pdf([sheet], f"{sheet.title}, {name}", paper))
        for sheet in sheets_of_test(result, paper)
    ]
    try:
        into.mkdir(parents=True, exist_ok=True)
        for file, data in sheets:
            (into / file).write_bytes(data)
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError.one(str(folder), "--sheets", reason, "a folder that can be written to") from error
    return tuple(into / file for file, _ in sheets)


def field_sheets_pdf(result: PlanResult, paper: Paper = "a4") -> bytes:
    """Every sheet of a planned test as one PDF, a page each. Raises MissingExtraError without the typesetter."""
    return field_pdf(sheets_of_test(result, paper), f"{result.label}, {result.vehicle}", paper)
