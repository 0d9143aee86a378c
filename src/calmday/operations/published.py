"""The verb about published figures. The command line, the page and the Python interface call this."""

from __future__ import annotations

from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.published_file import read_published
from calmday.files.run_file import read_run
from calmday.operations.weighed_run import reduce_run
from calmday.procedures.published import result_of_published
from calmday.procedures.published_result import PublishedResult
from calmday.procedures.weighed_run import DEFAULT_DRAWS, DEFAULT_SEED
from calmday.procedures.weighed_run_result import Provenance, RunResult
from calmday.records.published import PublishedFigure
from calmday.records.run import Run
from calmday.reports.published_sheet import published_headline

__all__ = ["PublishedResult", "published_file", "published_of_figure"]


def published_of_figure(
    given: PublishedFigure,
    run: Run | None = None,
    result: RunResult | None = None,
    *,
    seed: int = DEFAULT_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> PublishedResult:
    """A published figure in memory, beside a run and its result where both are given."""
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_published(given, made_by, run, result)
    return msgspec.structs.replace(plain, sentence=published_headline(plain))


def published_file(
    path: Path | str, run: Path | str | None = None, *, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED
) -> PublishedResult:
    """Read a published figure, and a run file to name the differences to. Raises InputError."""
    seen = SeenFiles(Path(path).parent)
    given = read_published(Path(path), seen=seen)
    driven = read_run(Path(run), seen=seen) if run is not None else None
    result = reduce_run(driven, draws, seed).result if driven is not None else None
    digest = inputs_digest(seen.sha256.items())
    return published_of_figure(given, driven, result, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)
