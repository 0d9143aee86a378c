"""The verbs about what all tests of a vehicle say together.

For other questions about a vehicle:

    known = known_vehicle(vehicle, runs=[run, ...], coastdowns=[day, ...], evidence=[small, ...])   # -> Knowledge
    known.known              # (VehicleModel, {parameter: draws (m,)}), as `prior_of(..., known=...)` accepts it
    known.model, known.values, known.scores

All draws of a `Knowledge` are equally weighted rows: row i of every parameter belongs together.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.coastdown_file import read_coastdown
from calmday.files.evidence_file import read_evidence
from calmday.files.named_files import FolderFiles, SeenFiles, inputs_digest
from calmday.files.run_file import read_run
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.procedures.knowledge import DEFAULT_DRAWS, DEFAULT_SEED, Knowledge, know
from calmday.procedures.knowledge_result import KnowledgeResult
from calmday.procedures.knowledge_summary import result_of_knowledge
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.coastdown import CoastdownDay
from calmday.records.evidence import SmallEvidence
from calmday.records.run import Run
from calmday.records.vehicle import Vehicle
from calmday.reports.knowledge_sheet import knowledge_headline

__all__ = [
    "Knowledge",
    "KnowledgeResult",
    "Tests",
    "knowledge_result",
    "known_vehicle",
    "known_vehicle_file",
    "read_evidence",
    "read_tests",
]


def known_vehicle(
    vehicle: Vehicle,
    *,
    runs: Sequence[Run] = (),
    coastdowns: Sequence[CoastdownDay] = (),
    evidence: Sequence[SmallEvidence] = (),
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> Knowledge:
    """The vehicle of a build sheet with what its weighed runs, coastdowns and small evidence taught.

    Each test belongs to the state of the build sheet that it names; what changed since is widened, the rest carries
    over. Without tests: the build sheet and class defaults. Raises InputError for a test at fault, ValueError for too
    few draws.
    """
    return know(vehicle, runs, coastdowns, evidence, draws=draws, seed=seed)


def knowledge_result(known: Knowledge, files: tuple[str, ...] = (), inputs_sha256: str = "") -> KnowledgeResult:
    """Every figure of what is known, as `calmday know --json` prints it."""
    made_by = Provenance(
        program="calmday", version=__version__, seed=known.seed, inputs_sha256=inputs_sha256, files=files
    )
    plain = result_of_knowledge(known, made_by)
    return msgspec.structs.replace(plain, sentence=knowledge_headline(plain))


class Tests(msgspec.Struct, frozen=True, kw_only=True):
    """Tests of a vehicle by kind."""

    runs: tuple[Run, ...] = ()
    coastdowns: tuple[CoastdownDay, ...] = ()
    evidence: tuple[SmallEvidence, ...] = ()


def read_tests(paths: Sequence[Path | str], seen: SeenFiles | None = None) -> Tests:
    """Tests from files of any kind, told apart by what they hold: [[pass]], `kind`, else a run. Raises InputError."""
    found: dict[str, list[Run | CoastdownDay | SmallEvidence]] = {"runs": [], "coastdowns": [], "evidence": []}
    for each in paths:
        path = Path(each)
        tables = FolderFiles(path.parent, seen).document(path.name, str(path)).tables
        if "pass" in tables:
            found["coastdowns"].append(read_coastdown(path, seen=seen))
        elif "kind" in tables and "weighing" not in tables and "fill" not in tables:
            found["evidence"].append(read_evidence(path, seen=seen))
        else:
            found["runs"].append(read_run(path, seen=seen))
    return Tests(**{kind: tuple(tests) for kind, tests in found.items()})  # type: ignore[arg-type]


def known_vehicle_file(
    vehicle: Path | str,
    *,
    runs: Sequence[Path | str] = (),
    coastdowns: Sequence[Path | str] = (),
    evidence: Sequence[Path | str] = (),
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> KnowledgeResult:
    """Read a build sheet and its tests, and pool them. Raises InputError."""
    path = Path(vehicle)
    seen = SeenFiles(path.parent)
    name = str(path)
    sheet = in_force(vehicle_states_of(FolderFiles(path.parent, seen).document(path.name, name), name, path.stem), None)
    known = known_vehicle(
        sheet,
        runs=[read_run(Path(p), seen=seen) for p in runs],
        coastdowns=[read_coastdown(Path(p), seen=seen) for p in coastdowns],
        evidence=[read_evidence(Path(p), seen=seen) for p in evidence],
        draws=draws,
        seed=seed,
    )
    return knowledge_result(known, tuple(seen.sha256), inputs_digest(seen.sha256.items()))
