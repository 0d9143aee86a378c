"""Old forms of the logbook: each is copied first, then brought to today's form, or left as it was."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory

from calmday import __version__
from calmday.logbook import Logbook, MigrationError, copies, migrate
from calmday.logbook.connection import server_engine
from calmday.logbook.entries import row_of
from calmday.logbook.opening import fill as make_tables
from calmday.logbook.records import Entry
from calmday.logbook.schema import ENTRY, METADATA, SUBJECT

OLD = Path(__file__).with_name("form-0001.sql")
FAILING = '''
"""A step that fails half way."""
from alembic import op
revision = "0005"
down_revision = "0004"
def upgrade():
    op.execute("CREATE TABLE half_way (id INTEGER)")
    op.execute("INSERT INTO nowhere VALUES (1)")
'''


@pytest.fixture
def old_file(tmp_path: Path) -> Path:
    """A logbook as the first form of the program wrote it."""
    path = tmp_path / "old.calmday"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(OLD.read_text(encoding="utf-8"))
    return path


def test_the_tables_for_queries_are_those_the_steps_make(book: Logbook) -> None:
    with book.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), METADATA) == []
        found = sa.inspect(connection)
        for table in METADATA.sorted_tables:
            made = {c["name"]: c["nullable"] for c in found.get_columns(table.name)}
            assert made == {c.name: bool(c.nullable) for c in table.columns}
            indexes = {i["name"] for i in found.get_indexes(table.name) if not i.get("duplicates_constraint")}
            assert indexes == {str(i.name) for i in table.indexes}
        assert migrate.writer_of(connection) == __version__


def test_the_forms_are_the_steps_in_their_order() -> None:
    config = Config()
    config.set_main_option("script_location", str(migrate.STEPS))
    steps = [step.revision for step in ScriptDirectory.from_config(config).walk_revisions()]
    assert tuple(reversed(steps)) == migrate.FORMS


def test_an_old_file_is_copied_and_brought_to_todays_form(old_file: Path) -> None:
    data = old_file.read_bytes()
    with Logbook.open(old_file) as book:
        run = book.subjects("run")[0]
        assert run.name == "Loop, four laps"
        assert book.values("run", run.id)["weighing[0].gross[0]"].text == "16.605 kg"
        assert book.content(book.files("run", run.id)[0].sha256) == b"<gpx/>" * 100
        book.add_result(run.id, inputs_sha256="", version="", seed=1, draws=1, summary={}, content=b"{}")
    (kept,) = old_file.parent.glob("old.calmday.form-0001.*.backup")
    assert kept.read_bytes()[100:] == data[100:], "the copy is the old file, but for its header"
    with closing(sqlite3.connect(kept)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchone() == ("0001",)


def test_opening_again_migrates_nothing(old_file: Path) -> None:
    Logbook.open(old_file).close()
    data = old_file.read_bytes()
    Logbook.open(old_file).close()
    assert old_file.read_bytes() == data
    assert len(list(old_file.parent.glob("*.backup"))) == 1


def test_a_step_that_fails_leaves_the_file_as_it_was(new_file: Callable[[], Path], tmp_path: Path) -> None:
    path = new_file()
    steps = shutil.copytree(migrate.STEPS, tmp_path / "steps", ignore=shutil.ignore_patterns("__pycache__"))
    (steps / "versions" / "v0005_failing.py").write_text(FAILING, encoding="utf-8")
    with Logbook.open(path) as book:
        book.create("vehicle", "Fen Hauler")
    data = path.read_bytes()
    with pytest.raises(MigrationError, match="left as it is, and there is a copy in"):
        copies.migrate_file(path, steps)
    assert path.read_bytes() == data
    with Logbook.open(path) as book:
        assert [v.name for v in book.subjects("vehicle")] == ["Fen Hauler"]


def test_an_old_server_is_copied_to_a_file_and_brought_to_todays_form(
    bare_server: Callable[[], str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("calmday.logbook.connection.default_folder", lambda: str(tmp_path))
    url = bare_server()
    engine = server_engine(url)
    with engine.connect() as connection:
        migrate.upgrade(connection, "0001")
        subject = "0" * 26
        connection.execute(SUBJECT.insert().values(id=subject, kind="vehicle"))
        entry = Entry(id="1" * 26, key="vehicle.name", text="Fen Hauler", form="typed", at="", by="Ada")
        connection.execute(ENTRY.insert().values(**row_of(subject, entry)))
        connection.commit()
    engine.dispose()
    with Logbook.open(url) as book:
        assert [v.name for v in book.subjects("vehicle")] == ["Fen Hauler"]
        with book.reading() as connection:
            assert migrate.revision_of(connection) == migrate.HEAD
    (kept,) = tmp_path.glob("server.form-0001.*.backup")
    with Logbook.open(kept) as copy:
        assert [v.name for v in copy.subjects("vehicle")] == ["Fen Hauler"]


def test_every_form_can_be_made_and_migrated(tmp_path: Path) -> None:
    for form in migrate.FORMS:
        path = tmp_path / f"{form}.calmday"
        path.touch()
        make_tables(path, form)
        with Logbook.open(path) as book:
            book.create("vehicle", "Fen Hauler")


def test_a_step_cut_short_on_the_disk_is_undone_before_the_form_is_read(old_file: Path, tmp_path: Path) -> None:
    """The file of a process that was killed in the middle of a commit: new pages, and the journal that undoes them."""
    place = tmp_path / "cut.calmday"
    connection = sqlite3.connect(old_file, isolation_level=None)
    connection.execute("PRAGMA journal_mode = DELETE")
    connection.execute("PRAGMA cache_size = 1")  # pages go to the disk before the commit
    connection.execute("PRAGMA cache_spill = 1")
    connection.execute("BEGIN IMMEDIATE")
    connection.execute("UPDATE alembic_version SET version_num = ?", (migrate.HEAD,))
    connection.execute("CREATE TABLE filler (text)")
    connection.executemany("INSERT INTO filler VALUES (?)", [("x" * 4000,)] * 300)
    shutil.copy(f"{old_file}-journal", f"{place}-journal")
    shutil.copy(old_file, place)
    connection.execute("ROLLBACK")
    connection.close()
    with Logbook.open(place) as book:
        assert book.subjects("run")[0].name == "Loop, four laps"
        with book.reading() as reading:
            assert migrate.revision_of(reading) == migrate.HEAD
            assert not sa.inspect(reading).has_table("filler")
