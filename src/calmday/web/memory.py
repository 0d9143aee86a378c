"""What was read from the logbook a moment ago, for as long as nobody has written to it since.

Lists over thousands of runs take a tenth of a second to read; most pages are looked at more often than written to.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

if TYPE_CHECKING:
    from calmday.logbook import Logbook

MOST_KEPT = 200
T = TypeVar("T")


class Memory:
    """Values by name, each with the state of the logbook that it was read in."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[str, ...], tuple[object, Any]] = OrderedDict()

    def get(self, book: Logbook, name: tuple[str, ...], read: Callable[[], T]) -> T:
        """The value of this name: as it was read before where nothing was written since, else read now."""
        state = state_of(book)
        if state is None:
            return read()
        with self._lock:
            held = self._kept.get(name)
            if held is not None and held[0] == state:
                self._kept.move_to_end(name)
                found: T = held[1]
                return found
        made = read()
        with self._lock:
            self._kept[name] = (state, made)
            while len(self._kept) > MOST_KEPT:
                self._kept.popitem(last=False)
        return made


def state_of(book: Logbook) -> object | None:
    """Something that differs after every write, by this program or another; None where that cannot be told.

    New rows have larger identifiers, except those that come in from another logbook: these show in the files. On a
    server there is no such sign, and nothing is remembered.
    """
    from sqlalchemy import func, select  # noqa: PLC0415  (loaded by now, with the logbook)

    from calmday.logbook.schema import ENTRY, GUESS, RESULT, SUBJECT  # noqa: PLC0415

    if book.engine.dialect.name != "sqlite":
        return None
    with book.reading() as connection:
        last = [select(func.max(table.c.id)).scalar_subquery() for table in (ENTRY, RESULT, GUESS, SUBJECT)]
        newest = tuple(connection.execute(select(*last)).one())
    return newest, tuple(_looks(Path(f"{book.where}{end}")) for end in ("", "-wal"))


def _looks(path: Path) -> tuple[int, int]:
    try:
        found = path.stat()
    except OSError:
        return 0, 0
    return found.st_mtime_ns, found.st_size
