"""No call asks the database more often because there is more in it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from full_logbook import fill
from sqlalchemy import event

from calmday.logbook import Logbook
from calmday.operations.logbook import inputs_of_run, standing

CALLS: dict[str, Callable[[Logbook, list[str], str], object]] = {
    "subjects": lambda book, runs, vehicle: book.subjects("run", keys=("date",)),
    "newest_runs": lambda book, runs, vehicle: book.newest_runs(50, vehicle),
    "values": lambda book, runs, vehicle: book.values("run", runs[0]),
    "history": lambda book, runs, vehicle: book.history("run", runs[0]),
    "document": lambda book, runs, vehicle: book.document(runs[0]),
    "documents": lambda book, runs, vehicle: book.documents(runs),
    "files": lambda book, runs, vehicle: book.files("run", runs[0]),
    "results": lambda book, runs, vehicle: book.newest_results(runs),
    "write": lambda book, runs, vehicle: book.write("run", runs[0], {"payload": f"{len(runs)} kg"}, "Ada"),
    "mark": lambda book, runs, vehicle: book.mark(),
    "standing": lambda book, runs, vehicle: standing(book, vehicle),
    "inputs": lambda book, runs, vehicle: inputs_of_run(book, runs[0]),
}


@contextmanager
def counted(book: Logbook) -> Iterator[list[str]]:
    asked: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_: object) -> None:
        asked.append(statement)

    event.listen(book.engine, "before_cursor_execute", note)
    try:
        yield asked
    finally:
        event.remove(book.engine, "before_cursor_execute", note)


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[tuple[Logbook, list[str], str]]]:
    found = []
    for runs in (2, 12):
        book = Logbook.open(tmp_path_factory.mktemp("counted") / "logbook.calmday")
        made = fill(book, runs)
        found.append((book, made, book.subject(made[0]).parent))
    yield found
    for book, _, _ in found:
        book.close()


@pytest.mark.parametrize("name", CALLS)
def test_queries_do_not_grow_with_rows(books: list[tuple[Logbook, list[str], str]], name: str) -> None:
    counts = []
    for book, runs, vehicle in books:
        with counted(book) as asked:
            CALLS[name](book, runs, vehicle)
        counts.append(len(asked))
    assert counts[0] == counts[1]
    assert 0 < counts[0] <= 30
