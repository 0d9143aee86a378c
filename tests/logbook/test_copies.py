"""Whole copies: made while others write, checked, brought back, from file to server and from server to file."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from full_logbook import everything_in, fill

from calmday.errors import CalmdayError, InputError
from calmday.logbook import Logbook
from calmday.logbook.connection import default_place
from calmday.operations.logbook import backup, restore


def test_a_copy_holds_everything_and_comes_back_anywhere(
    book: Logbook, new_place: Callable[[], str], tmp_path: Path
) -> None:
    fill(book)
    copy = backup(book, tmp_path / "copy.calmday")
    with Logbook.open(copy) as found:
        assert everything_in(found) == everything_in(book)
    before = copy.read_bytes()
    place = new_place()
    aside = restore(copy, place, replace=True)
    with Logbook.open(place) as back:
        assert everything_in(back) == everything_in(book)
        assert (aside is None) == (back.engine.dialect.name == "postgresql")
    assert copy.read_bytes() == before


def test_a_server_that_holds_a_logbook_is_not_overwritten(server: Callable[[], str], tmp_path: Path) -> None:
    url = server()
    with Logbook.open(url) as book:
        fill(book, runs=1)
        held = everything_in(book)
        copy = backup(book, tmp_path / "copy.calmday")
        with pytest.raises(InputError, match="holds a logbook already"):
            restore(copy, url)
        with pytest.raises(InputError, match="is not there"):
            restore(tmp_path / "none", url)
        assert everything_in(book) == held


def test_a_copy_is_whole_while_others_write(file_book: Logbook, tmp_path: Path) -> None:
    run = fill(file_book, runs=1)[0]
    written, stop = threading.Event(), threading.Event()

    def write() -> None:
        number = 0
        while not stop.is_set():
            number += 1
            both = {"weighing[0].tare": f"{number} g", "weighing[1].tare": f"{number} g"}
            file_book.write("run", run, both, "Ada")
            written.set()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert written.wait(60)
        for i in range(5):
            with Logbook.open(backup(file_book, tmp_path / f"{i}.calmday")) as copy:
                values = copy.values("run", run)
                one, other = (values.get(f"weighing[{k}].tare") for k in (0, 1))
                assert one is not None and other is not None and one.text == other.text
    finally:
        stop.set()
        writer.join()


def test_a_copy_never_overwrites(file_book: Logbook, tmp_path: Path) -> None:
    taken = tmp_path / "letter.txt"
    taken.write_text("dear")
    with pytest.raises(InputError, match="is there already"):
        backup(file_book, taken)
    assert taken.read_text() == "dear"
    first = backup(file_book, tmp_path)
    assert first.name.startswith("logbook-20")
    with pytest.raises(InputError, match="is there already"):
        backup(file_book, tmp_path)


def test_a_damaged_copy_is_not_brought_back(file_book: Logbook, tmp_path: Path) -> None:
    fill(file_book, runs=1)
    held = everything_in(file_book)
    copy = backup(file_book, tmp_path / "copy.calmday")
    file_book.close()
    copy.write_bytes(copy.read_bytes()[:-5000])
    with pytest.raises(CalmdayError, match="damaged"):
        restore(copy, file_book.where, replace=True)
    assert everything_in(file_book) == held
    file_book.close()
    with pytest.raises(InputError, match="is the logbook itself"):
        restore(file_book.where, file_book.where, replace=True)


def test_the_logbook_lies_where_the_user_says_or_the_system(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CALMDAY_LOGBOOK", "  /srv/club.calmday ")
    assert default_place() == "/srv/club.calmday"
    monkeypatch.delenv("CALMDAY_LOGBOOK")
    assert default_place().endswith("logbook.calmday")
    assert "calmday" in Path(default_place()).parent.name
