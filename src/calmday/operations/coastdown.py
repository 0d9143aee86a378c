"""The verbs about coastdowns. The command line, the page and the Python interface call these."""

from __future__ import annotations

from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.coastdown_file import read_coastdown
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.procedures.coastdown import DEFAULT_DRAWS, DEFAULT_SEED, fit_coastdown
from calmday.procedures.coastdown_result import CoastdownResult
from calmday.procedures.coastdown_summary import result_of_coastdown
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.coastdown import CoastdownDay
from calmday.reports.coastdown_sheet import coastdown_headline

__all__ = ["CoastdownResult", "read_coastdown", "reduce_coastdown", "reduce_coastdown_file"]


def reduce_coastdown(
    day: CoastdownDay,
    *,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> CoastdownResult:
    """Drag, rolling and road load of a day in memory. Raises InputError, or ValueError for too few draws."""
    fitted = fit_coastdown(day, draws, seed)
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_coastdown(fitted, made_by)
    return msgspec.structs.replace(plain, sentence=coastdown_headline(plain))


def reduce_coastdown_file(
    path: Path | str, *, wanted: float | None = None, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED
) -> CoastdownResult:
    """Read a coastdown file and reduce it. `wanted` half width of the road load to reach, a fraction. Raises
    InputError."""
    seen = SeenFiles(Path(path).parent)
    day = read_coastdown(Path(path), seen=seen)
    if wanted is not None:
        day = msgspec.structs.replace(day, wanted=wanted)
    digest = inputs_digest(seen.sha256.items())
    return reduce_coastdown(day, draws=draws, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)
