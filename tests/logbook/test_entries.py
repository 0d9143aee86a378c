"""Writing and reading on a file and on a server: nothing is changed, everything stays."""

from __future__ import annotations

import datetime as dt
import hashlib
import io
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from random_documents import DOCUMENTS

from calmday.errors import InputError
from calmday.logbook import Logbook
from calmday.logbook.document import flatten
from calmday.logbook.guesses import digest_of, verify
from calmday.logbook.render import same_tables
from calmday.logbook.schema import APPEND_ONLY, METADATA


def run_in(book: Logbook) -> str:
    return book.create("run", "Loop", book.create("vehicle", "Fen Hauler", by="Ada"), by="Ada")


def test_a_correction_stands_beside_what_it_corrects(book: Logbook) -> None:
    run = run_in(book)
    first = book.write("run", run, {"weighing[0].gross[0]": "16.605 kg"}, "Ada", "phone")
    second = book.write("run", run, {"weighing[0].gross[0]": "16.650 kg"}, "Bram", why="digits swapped")
    told = book.history("run", run, "weighing[0].gross[0]")
    assert [(e.text, e.by, e.why, e.device) for e in told] == [
        ("16.605 kg", "Ada", "", "phone"),
        ("16.650 kg", "Bram", "digits swapped", ""),
    ]
    assert [e.id for e in told] == [*first.ids, *second.ids]
    assert book.values("run", run)["weighing[0].gross[0]"].text == "16.650 kg"
    assert book.values("run", run, at=first.at)["weighing[0].gross[0]"].text == "16.605 kg"


def test_a_cleared_field_is_gone_from_the_document_and_not_from_the_history(book: Logbook) -> None:
    run = run_in(book)
    book.write("run", run, {"payload": "40 kg", "terrain": "open"}, "Ada")
    book.write("run", run, {"payload": None, "terrain": ""}, "Ada")
    assert book.tables("run", run) == {"label": "Loop"}
    assert [e.text for e in book.history("run", run, "payload")] == ["40 kg", None]


def test_writing_the_same_again_adds_nothing(book: Logbook) -> None:
    run = run_in(book)
    assert len(book.write("run", run, {"payload": "40 kg", "terrain": None}, "Ada").ids) == 1
    assert book.write("run", run, {"payload": "40 kg"}, "Bram").ids == ()


def test_a_value_with_its_doubt_replaces_the_bare_one_and_back(book: Logbook) -> None:
    vehicle = book.create("vehicle", "Fen Hauler")
    book.write("vehicle", vehicle, {"vehicle.test_mass": "1480 kg"}, "Ada")
    book.write("vehicle", vehicle, {"vehicle.test_mass.value": "1480 kg", "vehicle.test_mass.pm": "20 kg"}, "Ada")
    assert book.tables("vehicle", vehicle)["vehicle"]["test_mass"] == {"value": "1480 kg", "pm": "20 kg"}
    book.write("vehicle", vehicle, {"vehicle.test_mass": "1500 kg"}, "Ada")
    assert book.tables("vehicle", vehicle)["vehicle"]["test_mass"] == "1500 kg"


def test_a_clock_that_goes_back_does_not_hide_what_was_written_later(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    run = run_in(book)
    book.write("run", run, {"payload": "40 kg"}, "Ada")
    yesterday = dt.datetime.now(dt.UTC) - dt.timedelta(days=1)
    monkeypatch.setattr("calmday.logbook.stamps.now", lambda: yesterday)
    book.write("run", run, {"payload": "45 kg"}, "Ada")
    assert book.values("run", run)["payload"].text == "45 kg"
    assert book.history("run", run, "payload")[-1].at < book.history("run", run, "payload")[0].at


@given(document=DOCUMENTS)
@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_document_can_be_kept(book: Logbook, document: dict[str, Any]) -> None:
    run = book.create("run", "")
    book.write("run", run, flatten(document), "Ada")
    assert same_tables(book.tables("run", run), document)


@given(
    text=st.text(st.characters(exclude_categories=("Cs",))), by=st.text(st.characters(exclude_categories=("Cs", "Cc")))
)
@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_text_comes_back_as_typed(book: Logbook, text: str, by: str) -> None:
    run = book.create("run", "Loop")
    book.write("run", run, {"note": text}, by)
    told = book.values("run", run).get("note")
    assert (told.text if told else "") == text.replace("\0", "")


ON_FILES = ("UPDATE {0} SET {1} = {1}", "DELETE FROM {0}", "INSERT OR REPLACE INTO {0} SELECT * FROM {0}")
ON_SERVERS = ("UPDATE {0} SET {1} = {1}", "DELETE FROM {0}", "TRUNCATE {0} CASCADE")


def test_the_database_itself_refuses_to_change_a_row(book: Logbook) -> None:
    fill(book)
    actions = ON_SERVERS if book.engine.dialect.name == "postgresql" else ON_FILES
    for table in APPEND_ONLY:
        column = next(c.name for c in METADATA.tables[table].columns)
        before = rows(book, table)
        assert before
        for action in actions:
            with pytest.raises(sa.exc.DBAPIError, match="never changed"), book.writing() as connection:
                connection.execute(sa.text(action.format(table, column)))
        assert rows(book, table) == before


def rows(book: Logbook, table: str) -> list[Any]:
    with book.reading() as connection:
        return [tuple(row) for row in connection.execute(sa.select(METADATA.tables[table]))]


def fill(book: Logbook) -> str:
    """Something in every table."""
    run = run_in(book)
    book.seal_prediction(run, "34 mpg US", "Cleo")
    book.write("run", run, {"weighing[0].when": "after", "weighing[0].gross[0]": "13.2 kg"}, "Ada")
    book.attach("run", run, "track", "out.gpx", b"<gpx/>", by="Ada")
    book.add_result(run, inputs_sha256="0" * 64, version="0", seed=1, draws=2, summary={"a": 1}, content=b"{}")
    return run


def test_a_void_run_stays_visible_with_its_reason(book: Logbook) -> None:
    run = run_in(book)
    book.void(run, "return hose in the main tank", "Ada")
    assert book.subjects("run")[0].void == "return hose in the main tank"
    book.void(run, None, "Ada")
    assert book.subject(run).void == ""
    assert [e.text for e in book.history("run", run, "@void")] == ["return hose in the main tank", None]
    with pytest.raises(InputError, match="no reason"):
        book.void(run, "  ", "Ada")


def test_notes_add_up(book: Logbook) -> None:
    run = run_in(book)
    for text in ("rain at the bridge", "rain stopped"):
        book.add_note(run, text, "Bram", "phone")
    assert [(n.text, n.by, n.device) for n in book.notes(run)] == [
        ("rain at the bridge", "Bram", "phone"),
        ("rain stopped", "Bram", "phone"),
    ]


def test_files_come_back_byte_for_byte_and_the_document_names_them(book: Logbook) -> None:
    run = run_in(book)
    track, photograph = b"<gpx>" + bytes(range(256)) * 50, b"\xff\xd8" + hashlib.sha256(b"x").digest() * 40
    one = book.attach("run", run, "track", r"C:\tracks\out.gpx", track, by="Ada")
    same = book.attach("run", run, "track", "out.gpx", io.BytesIO(track), by="Ada")
    other = book.attach("run", run, "track", "out.gpx", track[:-1], by="Ada")
    book.attach("run", run, "photograph", "../../etc/passwd", photograph, by="Ada")
    assert one == same
    assert (one.name, other.name) == ("out.gpx", "out-2.gpx")
    assert book.tables("run", run)["track"] == ["out.gpx", "out-2.gpx"]
    assert [f.name for f in book.files("run", run)] == ["out.gpx", "out-2.gpx", "passwd"]
    assert book.content(one.sha256) == track
    assert book.content(book.files("run", run, "photograph")[0].sha256) == photograph
    book.detach("run", run, one.id, by="Ada", why="wrong day")
    assert book.tables("run", run)["track"] == ["out-2.gpx"]
    assert book.content(one.sha256) == track, "taken out of use, not away"


def test_a_track_joins_one_that_stands_alone(book: Logbook) -> None:
    run = run_in(book)
    book.write("run", run, {"track": "morning.gpx"}, "Ada")
    book.attach("run", run, "track", "evening.gpx", b"<gpx/>", by="Ada")
    assert book.tables("run", run)["track"] == ["morning.gpx", "evening.gpx"]


def test_a_guess_is_sealed_before_and_opened_after_and_anyone_can_check_it(book: Logbook) -> None:
    run = run_in(book)
    sealed = book.seal_prediction(run, "34 mpg US", "Ada")
    assert (sealed.text, sealed.salt, len(sealed.digest)) == ("", "", 64)
    assert book.predictions(run)[0].text == ""
    assert "prediction" not in book.document(run).tables
    with pytest.raises(InputError, match="stays sealed"):
        book.open_predictions(run, "Bram")
    book.write("run", run, {"weighing[0].when": "after", "weighing[0].gross[0]": "13.240 kg"}, "Ada")
    with pytest.raises(InputError, match="comes after the fuel was weighed"):
        book.seal_prediction(run, "36 mpg US", "Bram")
    opened = book.open_predictions(run, "Bram")[0]
    assert opened.text == "34 mpg US"
    assert opened.digest == sealed.digest == digest_of(opened.salt, "Ada", "34 mpg US")
    assert verify(opened)
    shown = {"by": "Ada", "value": "34 mpg US", "salt": opened.salt, "digest": opened.digest}
    assert book.document(run).tables["prediction"] == [shown]
    assert book.open_predictions(run, "Bram") == (opened,)


def test_results_stand_beside_each_other(book: Logbook) -> None:
    run = run_in(book)
    for version in ("0.1", "0.2"):
        book.add_result(
            run, inputs_sha256="a" * 64, version=version, seed=7, draws=2000, summary={"v": version},
            content=b'{"x": 1}', along=b"\1\2",
        )  # fmt: skip
    found = book.results(run, whole=True)
    assert [r.version for r in found] == ["0.2", "0.1"]
    assert (found[0].content, found[0].along, found[0].summary) == (b'{"x": 1}', b"\1\2", {"v": "0.2"})
    assert book.newest_results()[run].id == found[0].id
    assert book.result(found[1].id) == found[1]
    assert book.results(run)[0].content == b""


def test_the_newest_runs_of_a_vehicle_page_by_page(book: Logbook) -> None:
    fen, other = book.create("vehicle", "Fen"), book.create("vehicle", "Other")
    runs = [book.create("run", f"{i}", fen if i % 3 else other) for i in range(9)]
    book.link(runs[8], "vehicle", other, "Ada")
    last = book.newest_runs(3, fen)
    assert [run.name for run in last] == ["4", "5", "7"]
    assert [run.name for run in book.newest_runs(3, fen, before=last[0].id)] == ["1", "2"]
    assert [run.name for run in book.newest_runs(2)] == ["7", "8"]


def test_the_mark_moves_with_every_kind_of_writing(book: Logbook) -> None:
    marks = [book.mark()]
    run = run_in(book)
    marks.append(book.mark())
    book.seal_prediction(run, "34 mpg US", "Ada")
    marks.append(book.mark())
    book.add_result(run, inputs_sha256="", version="", seed=1, draws=1, summary={}, content=b"")
    marks.append(book.mark())
    assert len(set(marks)) == 4
    assert book.mark() == marks[-1]


def test_what_is_not_there_or_not_allowed_is_said_in_words(book: Logbook) -> None:
    vehicle = book.create("vehicle", "Fen Hauler")
    nobody = "0" * 26
    for asking, words in (
        (lambda: book.values("run", vehicle), "is a vehicle, not a run"),
        (lambda: book.document(nobody), "is not in this logbook"),
        (lambda: book.write("vehicle", nobody, {"a": "b"}, "Ada"), "is not in this logbook"),
        (lambda: book.write("vehicle", vehicle, {"@void": "b"}, "Ada"), "is not a field"),
        (lambda: book.write("vehicle", vehicle, {"a..b": "b"}, "Ada"), "is not the name of a field"),
        (lambda: book.create("boat", "x"), "is not a kind of thing"),  # type: ignore[arg-type]
        (lambda: book.create("run", "x", nobody), "is not in this logbook"),
        (lambda: book.link(vehicle, "boat", None, "Ada"), "is not something to point to"),
        (lambda: book.link(vehicle, "scale", vehicle, "Ada"), "is a vehicle, not an instrument"),
        (lambda: book.attach("vehicle", vehicle, "full_load", "a.csv", b"", by="Ada"), "is empty"),
        (lambda: book.attach("vehicle", vehicle, "a\n", "a.csv", b"x", by="Ada"), "not what a file is for"),
        (lambda: book.detach("vehicle", vehicle, nobody, by="Ada"), "is not attached"),
        (lambda: book.result(nobody), "is no result"),
        (lambda: book.seal_prediction(book.create("run", "r"), " ", "Ada"), "lacks a guess"),
    ):
        with pytest.raises(InputError, match=words):
            asking()
    assert [s.name for s in book.subjects("run")] == ["r"], "a run whose vehicle is not there was not begun"


def test_how_guesses_are_scored_is_declared_before_they_are_opened(book: Logbook) -> None:
    run = run_in(book)
    book.write("run", run, {"guessing.unit": "mpg US"}, "Ada")
    book.seal_prediction(run, "34 mpg US", "Ada")
    book.write("run", run, {"guessing.unit": "mpg imp"}, "Ada")
    book.write("run", run, {"weighing[0].when": "after", "weighing[0].gross[0]": "13.240 kg"}, "Ada")
    book.open_predictions(run, "Bram")
    with pytest.raises(InputError, match="cannot be declared any more"):
        book.write("run", run, {"guessing.rule": "proportion"}, "Ada")
    book.write("run", run, {"note": "a good day"}, "Ada")
    assert book.document(run).tables["guessing"] == {"unit": "mpg imp"}


def test_nobody_guesses_under_the_name_of_the_program(book: Logbook) -> None:
    run = run_in(book)
    with pytest.raises(InputError, match="is the name of the program itself"):
        book.seal_prediction(run, "34 mpg US", "calmday")
    book.seal_prediction(run, "34 mpg US", "Calmday", own=True)
    with pytest.raises(InputError, match="is sealed already"):
        book.seal_prediction(run, "36 mpg US", "Calmday", own=True)
