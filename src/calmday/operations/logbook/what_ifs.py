"""Changes that are thought of in the logbook: the question as the reader of files gives it, and its answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from calmday.files.named_files import inputs_digest
from calmday.files.what_if_file import what_if_of
from calmday.logbook import Logbook
from calmday.logbook.named_tests import tests_named
from calmday.operations.imagined import WhatIfResult, what_if
from calmday.operations.logbook.reading import for_readers, rendered_of
from calmday.records.what_if import WhatIf

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.logbook.records import Kind, Subject
    from calmday.operations.gears import GearStudy

LIST: Final[Kind] = "whatif"


def what_if_of_logbook(book: Logbook, document_id: str) -> tuple[WhatIf, dict[str, str]]:
    """A list of changes as the reader of files gives it, and the SHA-256 of every input by name.

    Raises InputError with every fault.
    """
    rendered = rendered_of(book, document_id)
    document, seen = for_readers(book, rendered)
    return what_if_of(document, rendered.name, "whatif")[0], seen


def tests_to_learn_from(book: Logbook, document_id: str) -> dict[Kind, tuple[Subject, ...]]:
    """The tests that a list names and the logbook holds, by kind, but void ones; empty where it names none, and what
    the logbook knows of the vehicle counts."""
    named = tests_named(book.tables(LIST, document_id))
    wanted = {kind: ids for kind, ids in named.items() if ids}
    held = {kind: {each.id: each for each in book.subjects(kind) if not each.void} for kind in wanted}
    found = {kind: tuple(held[kind][each] for each in ids if each in held[kind]) for kind, ids in wanted.items()}
    return {kind: subjects for kind, subjects in found.items() if subjects}


def what_if_logged(
    book: Logbook, document_id: str, drawn: Callable[[dict[Kind, tuple[Subject, ...]]], tuple[GearStudy, str]]
) -> WhatIfResult:
    """Answer a list of changes. `drawn` gives the vehicle as it is, and in words which tests it learned from, given
    those that the list names; it is asked once the list can be read. Raises InputError with every fault."""
    question, seen = what_if_of_logbook(book, document_id)
    study, learnt_from = drawn(tests_to_learn_from(book, document_id))
    return what_if(
        question,
        drawn=study.drawn,
        seed=study.seed,
        learnt_from=learnt_from,
        files=tuple(seen),
        inputs_sha256=inputs_digest(seen.items()),
    )
