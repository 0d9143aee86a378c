"""Reducing a run of the logbook: the same readers, the same figures as the command on the exported folder."""

from __future__ import annotations

import math
from typing import Any

import msgspec

from calmday import __version__
from calmday.files.named_files import inputs_digest
from calmday.files.run_file import run_of
from calmday.logbook import Logbook, StoredResult
from calmday.logbook.render import Rendered, inputs_of
from calmday.operations.logbook.along import packed
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.operations.weighed_run import DEFAULT_DRAWS, DEFAULT_SEED, Reduction
from calmday.procedures.lay_by_check import Check, check_of_run
from calmday.procedures.weighed_run import reduce_weighed_run
from calmday.procedures.weighed_run_result import RunResult
from calmday.procedures.what_next import own_share
from calmday.records.run import Run
from calmday.reports.json_result import json_result
from calmday.reports.words import amount_unit

CHECK_DRAWS = 500
_SEVERITIES = ("note", "caution", "stop")
_FIGURE = frozenset({"value", "standard_uncertainty", "low", "high"})


def run_of_logbook(book: Logbook, run_id: str) -> tuple[Run, dict[str, str]]:
    """A run as the readers of files give it, and the SHA-256 of every input by name.

    Raises InputError with every fault; its keys are those under which the logbook keeps the fields.
    """
    return _run_of(book, rendered_of(book, run_id))


def reduce_logged(
    book: Logbook,
    run_id: str,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    *,
    compiled: bool = False,
    again: bool = False,
) -> StoredResult:
    """Reduce a run and keep the result with what produced it; earlier results stay.

    The newest result is returned as it is where inputs, program, seed and draws are the same, unless `again`.
    """
    rendered = rendered_of(book, run_id)
    if not again:
        standing = book.results(run_id)
        wanted = (inputs_digest(inputs_of(rendered).items()), __version__, seed, draws)
        for known in standing[:1]:
            if (known.inputs_sha256, known.version, known.seed, known.draws) == wanted:
                return book.result(known.id)
    run, inputs = _run_of(book, rendered)
    digest = inputs_digest(inputs.items())
    reduction = Reduction(reduce_weighed_run(run, draws, seed, compiled), digest, tuple(inputs))
    result = reduction.result
    return book.add_result(
        run_id,
        inputs_sha256=digest,
        version=__version__,
        seed=seed,
        draws=draws,
        summary=_summary(result),
        content=json_result(result),
        along=packed(reduction.along),
    )


def check_logged(book: Logbook, run_id: str) -> Check:
    """The sixty-second check of a run of the logbook, before leaving the place."""
    run, _ = run_of_logbook(book, run_id)
    return check_of_run(reduce_weighed_run(run, draws=CHECK_DRAWS))


def inputs_of_run(book: Logbook, run_id: str) -> dict[str, str]:
    """SHA-256 of every input of a run by name, without reading the tracks."""
    return inputs_of(rendered_of(book, run_id))


def why_stale(book: Logbook, run_id: str, stored: StoredResult) -> str:
    """Why a result no longer says what would be computed now: "inputs", "program", or "" where it does."""
    if stored.inputs_sha256 != inputs_digest(inputs_of_run(book, run_id).items()):
        return "inputs"
    return "program" if stored.version != __version__ else ""


def check_stored(stored: StoredResult) -> bool:
    """Whether a stored result says itself that it comes from these inputs, this version and this seed."""
    provenance = result_of(stored).provenance
    said = (provenance.inputs_sha256, provenance.version, provenance.seed)
    return said == (stored.inputs_sha256, stored.version, stored.seed)


def result_of(stored: StoredResult) -> RunResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), RunResult)


def _run_of(book: Logbook, rendered: Rendered) -> tuple[Run, dict[str, str]]:
    document, seen = for_readers(book, rendered)
    return run_of(document, rendered.name, "run"), seen


def _summary(result: RunResult) -> dict[str, Any]:
    """What lists and histories show of a result, so that they need not read it whole."""
    worst = max((flag.severity for flag in result.flags), key=_SEVERITIES.index, default="")
    best = result.calm_day or result.as_driven
    return {
        "sentence": result.sentence,
        "vehicle": result.vehicle,
        "worst_flag": worst,
        "flags": [flag.code for flag in result.flags],
        "as_driven": _figure(result.as_driven.L_per_100km),
        "calm_day": _figure(result.calm_day.L_per_100km) if result.calm_day is not None else None,
        "as_driven_words": amount_unit(result.as_driven.L_per_100km),
        "calm_day_words": amount_unit(result.calm_day.L_per_100km) if result.calm_day is not None else "",
        "mpg_us_words": amount_unit(best.mpg_us),
        "mpg_imp_words": amount_unit(best.mpg_imp),
        "distance": _figure(result.distance),
        "fuel_mass": _figure(result.fuel_mass),
        "own_share": own_share(result.budget or result.budget_as_driven),
    }


def _figure(figure: Any) -> dict[str, Any]:
    plain: dict[str, Any] = msgspec.to_builtins(figure)
    return {k: None if isinstance(v, float) and not math.isfinite(v) else v for k, v in plain.items()}


def known(part: Any) -> Any:
    """JSON of a result as read, with the figures that nobody knows as numbers that are none."""
    if isinstance(part, dict):
        is_figure = part.keys() >= _FIGURE
        return {k: math.nan if v is None and is_figure and k in _FIGURE else known(v) for k, v in part.items()}
    return [known(item) for item in part] if isinstance(part, list) else part
