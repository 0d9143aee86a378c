"""Comparisons of the logbook: the same readers, the same figures as the command on the exported folder."""

from __future__ import annotations

from pathlib import PurePath
from typing import TYPE_CHECKING, Any

import msgspec

from calmday import __version__
from calmday.errors import Fault, InputError
from calmday.files.comparison_file import comparison_of
from calmday.files.named_files import NamedDocument, inputs_digest
from calmday.logbook import Logbook, StoredResult
from calmday.logbook.folder_out import rendered_runs
from calmday.logbook.render import Rendered, inputs_of
from calmday.operations.comparison import compare_runs
from calmday.operations.logbook.reading import for_readers
from calmday.operations.logbook.reducing import known
from calmday.procedures.comparison import COMPARE_DRAWS
from calmday.procedures.comparison_result import ComparisonResult
from calmday.procedures.weighed_run import DEFAULT_SEED
from calmday.records.comparison import Comparison
from calmday.reports.json_result import json_result

if TYPE_CHECKING:
    from collections.abc import Callable


class _LoggedRuns:
    """The runs that a comparison names, by their identifiers in the logbook."""

    def __init__(self, book: Logbook, rendered: dict[str, Rendered]) -> None:
        self._book = book
        self._rendered = rendered

    def data(self, entry: str, name: str, limit: int) -> bytes:
        """A comparison names runs only."""
        raise InputError.one(name, "file", f"is not there ({entry})", f"a run, not a file of at most {limit} bytes")

    def document(self, entry: str, name: str) -> NamedDocument:
        """The document of a run."""
        found = self._rendered.get(entry)
        if found is None:
            raise InputError.one(name, "file", "is not a run of the logbook", "a run of this vehicle")
        return for_readers(self._book, found)[0]


def _rendered(book: Logbook, comparison_id: str) -> tuple[Rendered, dict[str, Rendered]]:
    """The comparison, and every run that it names."""
    with book.reading() as connection:
        own = rendered_runs(connection, [comparison_id], book.where)[comparison_id]
        members = own.tables.get("member", {})
        named = [name for name, said in members.items() if isinstance(said, dict) and said.get("group")]
        runs = {subject.id for subject in book.subjects("run") if subject.id in named}
        return own, rendered_runs(connection, sorted(runs), book.where) if runs else {}


def comparison_of_logbook(book: Logbook, comparison_id: str) -> tuple[Comparison, dict[str, str]]:
    """A comparison as the readers of files give it, and the SHA-256 of every input by name. Raises InputError."""
    own, runs = _rendered(book, comparison_id)
    document = NamedDocument(_in_use(own), _LoggedRuns(book, runs), own.document.moved)
    try:
        return comparison_of(document, own.name, "comparison"), _inputs(own, runs)
    except InputError as error:
        raise InputError([_named(fault, runs) for fault in error.faults]) from None


def _named(fault: Fault, runs: dict[str, Rendered]) -> Fault:
    """A fault of a run under the name that people know it by."""
    found = runs.get(PurePath(fault.file).name)
    if found is None:
        return fault
    name = found.document.subject.name or f"run {found.document.subject.id[-4:]}"
    return Fault(fault.file, f"{name}, {fault.key}", fault.wrong, fault.right)


def comparison_tables_of(book: Logbook, comparison_id: str) -> dict[str, Any]:
    """A comparison as its file would have it, with the runs that are on a side, named by their identifiers."""
    own, _ = _rendered(book, comparison_id)
    return _in_use(own)


def _in_use(own: Rendered) -> dict[str, Any]:
    """The tables of a comparison, without runs that nobody put on a side."""
    tables = dict(own.tables)
    members = tables.get("member", {})
    tables["member"] = {name: said for name, said in members.items() if isinstance(said, dict) and said.get("group")}
    return tables


def _inputs(own: Rendered, runs: dict[str, Rendered]) -> dict[str, str]:
    found = inputs_of(own)
    for run_id, rendered in runs.items():
        found |= {f"{run_id}/{name}": sha256 for name, sha256 in inputs_of(rendered).items()}
    return found


def compare_logged(
    book: Logbook, comparison_id: str, *, draws: int = COMPARE_DRAWS, seed: int = DEFAULT_SEED
) -> StoredResult:
    """Work a comparison of the logbook out and keep the result with what produced it. Raises InputError."""
    asked, inputs = comparison_of_logbook(book, comparison_id)
    digest = inputs_digest(inputs.items())
    result = compare_runs(asked, draws=draws, seed=seed, files=tuple(inputs), inputs_sha256=digest)
    return book.add_result(
        comparison_id,
        inputs_sha256=digest,
        version=__version__,
        seed=seed,
        draws=draws,
        summary={"sentence": result.sentence, "verdict": result.verdict},
        content=json_result(result),
    )


def work_out_comparison(book: Logbook, comparison_id: str, told: Callable[[float, str], Any]) -> None:
    """The long work on a comparison."""
    told(0.2, "Driving every run again with five hundred vehicles like yours")
    compare_logged(book, comparison_id)


def comparison_is_stale(book: Logbook, comparison_id: str, stored: StoredResult) -> bool:
    """Whether something was written since that would change the result, or another version of the program is here."""
    own, runs = _rendered(book, comparison_id)
    return stored.version != __version__ or stored.inputs_sha256 != inputs_digest(_inputs(own, runs).items())


def comparison_result_of(stored: StoredResult) -> ComparisonResult:
    """The result behind a stored one; what its JSON calls null is not a number here."""
    return msgspec.convert(known(msgspec.json.decode(stored.content)), ComparisonResult)
