"""What is remembered of the logbook is forgotten with the next write, whoever writes."""

from __future__ import annotations

from pathlib import Path

from calmday.logbook import Logbook
from calmday.operations.logbook import export_folder, import_folder
from calmday.web.memory import MOST_KEPT, Memory, state_of


def test_a_second_reading_is_spared_until_somebody_writes(tmp_path: Path) -> None:
    asked: list[int] = []

    def read() -> int:
        asked.append(1)
        return len(asked)

    with Logbook.open(tmp_path / "b.calmday") as book, Logbook.open(tmp_path / "b.calmday") as other:
        memory = Memory()
        assert [memory.get(book, ("x",), read) for _ in range(3)] == [1, 1, 1]
        vehicle = book.create("vehicle", "Van")
        assert memory.get(book, ("x",), read) == 2
        other.write("vehicle", vehicle, {"vehicle.body": "van"}, "another program")
        assert memory.get(book, ("x",), read) == 3
        run = other.create("run", "Run", vehicle)
        other.seal_prediction(run, "7 L/100km", "Ada")
        assert memory.get(book, ("x",), read) == 4
        assert memory.get(book, ("x",), read) == 4
        assert memory.get(book, ("y",), read) == 5


def test_older_entries_that_come_in_are_noticed(tmp_path: Path) -> None:
    """Entries of another logbook keep their identifiers, which may be older than ours."""
    with Logbook.open(tmp_path / "old.calmday") as old:
        old.create("vehicle", "Old van")
        export_folder(old, None, tmp_path / "out")
    with Logbook.open(tmp_path / "new.calmday") as new:
        new.create("vehicle", "Newer")
        before = state_of(new)
        import_folder(new, tmp_path / "out")
        assert state_of(new) != before


def test_memory_is_bounded(tmp_path: Path) -> None:
    with Logbook.open(tmp_path / "b.calmday") as book:
        memory = Memory()
        for number in range(MOST_KEPT + 20):
            memory.get(book, (str(number),), lambda: 0)
        assert len(memory._kept) == MOST_KEPT
