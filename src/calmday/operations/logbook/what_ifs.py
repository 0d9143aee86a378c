"""Changes that are thought of in the logbook: the question as the reader of files gives it, and its answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from calmday.files.named_files import inputs_digest
from calmday.files.what_if_file import what_if_of
from calmday.logbook import Logbook
from calmday.logbook.folder_out import rendered_runs
from calmday.logbook.render import named_document
from calmday.operations.imagined import WhatIfResult, what_if
from calmday.records.what_if import WhatIf

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.operations.gears import GearStudy


def what_if_of_logbook(book: Logbook, document_id: str) -> tuple[WhatIf, dict[str, str]]:
    """A list of changes as the reader of files gives it, and the SHA-256 of every input by name.

    Raises InputError with every fault. Tests that its file names are left out: the logbook has its own.
    """
    with book.reading() as connection:
        rendered = rendered_runs(connection, [document_id], book.where)[document_id]
    parts = [rendered, *([rendered.vehicle] if rendered.vehicle is not None else [])]
    contents = book.contents([file.sha256 for part in parts for file in part.files.values()])
    seen: dict[str, str] = {}
    return what_if_of(named_document(rendered, contents, seen), rendered.name, "whatif")[0], seen


def what_if_logged(book: Logbook, document_id: str, drawn: Callable[[], tuple[GearStudy, str]]) -> WhatIfResult:
    """Answer a list of changes. `drawn` gives the vehicle as it is, and in words which tests it learned from; it is
    asked once the list can be read. Raises InputError with every fault."""
    question, seen = what_if_of_logbook(book, document_id)
    study, learnt_from = drawn()
    return what_if(
        question,
        drawn=study.drawn,
        seed=study.seed,
        learnt_from=learnt_from,
        files=tuple(seen),
        inputs_sha256=inputs_digest(seen.items()),
    )
