"""The verb about money. The command line, the page and the Python interface call this."""

from __future__ import annotations

from pathlib import Path

import msgspec

from calmday import __version__
from calmday.files.cost_file import cost_of, read_cost
from calmday.files.named_files import NamedDocument, SeenFiles, inputs_digest
from calmday.procedures.cost import result_of_cost
from calmday.procedures.cost_draws import draw_cost
from calmday.procedures.cost_result import CostResult
from calmday.procedures.weighed_run import DEFAULT_DRAWS, DEFAULT_SEED, FEWEST_DRAWS, reduce_weighed_run
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.cost import CostSheet
from calmday.reports.cost_sentence import cost_headline

__all__ = ["CostResult", "cost_document", "cost_file", "cost_sheet_of"]


def cost_sheet_of(
    sheet: CostSheet,
    *,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
) -> CostResult:
    """What a cost sheet in memory comes to. Raises InputError, or ValueError for too few draws."""
    if draws < FEWEST_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_DRAWS} or more")
    runs = {
        place: reduce_weighed_run(use.run, draws, seed) for place, use in enumerate(sheet.uses) if use.run is not None
    }
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_cost(draw_cost(sheet, runs, draws, seed), made_by)
    return msgspec.structs.replace(plain, sentence=cost_headline(plain))


def cost_file(path: Path | str, *, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED) -> CostResult:
    """Read a cost file with the runs it names and say what driving costs. Raises InputError."""
    seen = SeenFiles(Path(path).parent)
    sheet = read_cost(Path(path), seen=seen)
    digest = inputs_digest(seen.sha256.items())
    return cost_sheet_of(sheet, draws=draws, seed=seed, files=tuple(seen.sha256), inputs_sha256=digest)


def cost_document(
    named: NamedDocument, name: str, *, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED
) -> CostResult:
    """The same for a document that is not kept as a file: typed on a command line or kept in a logbook."""
    return cost_sheet_of(cost_of(named, name, name), draws=draws, seed=seed)
