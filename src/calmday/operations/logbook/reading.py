"""What the logbook keeps, as the readers of files take it."""

from __future__ import annotations

from calmday.files.coastdown_file import coastdown_of
from calmday.files.named_files import NamedDocument
from calmday.logbook import Logbook
from calmday.logbook.folder_out import rendered_runs
from calmday.logbook.render import Rendered, named_document
from calmday.records.coastdown import CoastdownDay


def rendered_of(book: Logbook, subject_id: str) -> Rendered:
    """A subject as the files of a folder, and the vehicle that it names."""
    with book.reading() as connection:
        return rendered_runs(connection, [subject_id], book.where)[subject_id]


def for_readers(book: Logbook, rendered: Rendered) -> tuple[NamedDocument, dict[str, str]]:
    """A rendered document with the contents of all files it names, and where its reader notes the SHA-256 of every
    input by name."""
    parts = (rendered, rendered.vehicle) if rendered.vehicle is not None else (rendered,)
    contents = book.contents([file.sha256 for part in parts for file in part.files.values()])
    seen: dict[str, str] = {}
    return named_document(rendered, contents, seen), seen


def coastdown_of_logbook(book: Logbook, coastdown_id: str) -> tuple[CoastdownDay, dict[str, str]]:
    """A day of coastdowns as the readers of files give it, and the SHA-256 of every input by name.

    Raises InputError with every fault.
    """
    rendered = rendered_of(book, coastdown_id)
    document, seen = for_readers(book, rendered)
    return coastdown_of(document, rendered.name, "coastdown"), seen
