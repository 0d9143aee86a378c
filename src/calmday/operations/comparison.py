"""The verbs about comparisons. The command line, the page and the Python interface call these."""

from __future__ import annotations

import hashlib
import secrets
from pathlib import Path

import msgspec
import numpy as np

from calmday import __version__
from calmday.errors import InputError
from calmday.files.comparison_file import read_comparison
from calmday.files.named_files import SeenFiles, inputs_digest
from calmday.procedures.comparison import COMPARE_DRAWS, compare
from calmday.procedures.comparison_outcome import result_of_comparison
from calmday.procedures.comparison_result import ComparisonResult
from calmday.procedures.flag import Flag
from calmday.procedures.guard_claims import claim_flags
from calmday.procedures.weighed_run import DEFAULT_SEED
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.comparison import Comparison
from calmday.reports.comparison_sentence import comparison_headline, verdict_words

__all__ = ["SealedOrder", "check_claim", "compare_file", "compare_runs", "sealed_order"]


class SealedOrder(msgspec.Struct, frozen=True, kw_only=True):
    """An order drawn by lot. `order` letters; `sealed_with` the text to keep closed; `digest` of it, to show now."""

    order: str
    sealed_with: str
    digest: str


def compare_runs(
    asked: Comparison,
    *,
    draws: int = COMPARE_DRAWS,
    seed: int = DEFAULT_SEED,
    files: tuple[str, ...] = (),
    inputs_sha256: str = "",
    compiled: bool = False,
) -> ComparisonResult:
    """Work out a comparison in memory. Raises InputError where there is nothing to compare."""
    try:
        found = compare(asked, draws, seed, compiled)
    except ValueError as error:
        raise InputError.one(
            asked.file or asked.label, "comparison", str(error), "runs with fuel and distance in each group"
        ) from error
    made_by = Provenance(program="calmday", version=__version__, seed=seed, inputs_sha256=inputs_sha256, files=files)
    plain = result_of_comparison(found, made_by)
    worded = msgspec.structs.replace(plain, verdict_words=verdict_words(plain))
    return msgspec.structs.replace(worded, sentence=comparison_headline(worded))


def compare_file(
    path: Path | str, *, draws: int = COMPARE_DRAWS, seed: int = DEFAULT_SEED, compiled: bool = False
) -> ComparisonResult:
    """Read a comparison file with all runs it names and work it out. Raises InputError listing every fault found."""
    seen = SeenFiles(Path(path).parent)
    asked = read_comparison(Path(path), seen=seen)
    return compare_runs(
        asked,
        draws=draws,
        seed=seed,
        files=tuple(seen.sha256),
        inputs_sha256=inputs_digest(seen.sha256.items()),
        compiled=compiled,
    )


def check_claim(text: str) -> tuple[Flag, ...]:
    """What can be wrong with a claim about consumption, seen from its words alone."""
    return claim_flags(text)


def sealed_order(runs: int, secret: str | None = None) -> SealedOrder:
    """An order of `runs` runs, half of them changed, drawn by lot in pairs so that a steady drift falls out.

    Every pair holds one baseline and one changed run, which first is drawn. The sealed text carries random characters,
    so that nobody can find the order by trying. `secret`: those characters, to draw the same order again.
    """
    if runs < 2 or runs % 2 or runs > 60:
        raise InputError.one("sealed order", "runs", f"{runs} is not possible", "an even number from 2 to 60")
    hidden = secret or secrets.token_hex(16)
    own = int.from_bytes(hashlib.sha256(hidden.encode()).digest()[:8], "big")
    generator = np.random.Generator(np.random.PCG64(own))
    letters = [letter for _ in range(runs // 2) for letter in ("AB" if generator.random() < 0.5 else "BA")]
    order = "-".join(letters)
    text = f"{order} {hidden}"
    return SealedOrder(order=order, sealed_with=text, digest=hashlib.sha256(text.encode()).hexdigest())
