"""The verb about the dials. The command line, the page and the Python interface call it."""

from __future__ import annotations

from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.dials_file import read_dials
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.files.run_file import read_run
from calmday.metrology.draws import FloatArray
from calmday.procedures.dials import study_dials
from calmday.procedures.dials_result import DialsResult
from calmday.procedures.weighed_run import reduce_weighed_run
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.dials import Dials
from calmday.reports.dials_sheet import dials_headline

LITRES_PER_100KM = 1e8
"""In 1 m3/m."""

DEFAULT_DIAL_DRAWS = 2000
DEFAULT_DIAL_SEED = 20260412
FEWEST_DIAL_DRAWS = 100

__all__ = ["DialsResult", "check_dials", "check_dials_file"]


def check_dials(
    dials: Dials,
    consumption: FloatArray | None = None,
    *,
    draws: int = DEFAULT_DIAL_DRAWS,
    seed: int = DEFAULT_DIAL_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> DialsResult:
    """What the dials are worth. `consumption` draws of a weighed run (L/100 km), for the range.

    Raises InputError, or ValueError for too few draws.
    """
    if draws < FEWEST_DIAL_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_DIAL_DRAWS} or more")
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = study_dials(dials, draws, seed, made_by, consumption)
    return msgspec.structs.replace(plain, sentence=dials_headline(plain))


def check_dials_file(
    path: Path | str,
    run: Path | str | None = None,
    *,
    draws: int = DEFAULT_DIAL_DRAWS,
    seed: int = DEFAULT_DIAL_SEED,
) -> DialsResult:
    """Read the dials' file, and a weighed run for the consumption where one is given. Raises InputError."""
    seen = SeenFiles(Path(path).parent)
    dials = read_dials(Path(path), seen=seen)
    used = None
    if run is not None:
        used = reduce_weighed_run(read_run(Path(run), seen=seen), draws=1000).draws.as_driven_m3pm * LITRES_PER_100KM
    digest = inputs_digest(seen.sha256.items())
    return check_dials(dials, used, draws=draws, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)
