"""A logbook in a file and one on PostgreSQL: what holds for one holds for the other."""

from __future__ import annotations

import os
import secrets
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from calmday.logbook import Logbook

SERVER = os.environ.get("CALMDAY_TEST_POSTGRES", "")
NO_SERVER = "CALMDAY_TEST_POSTGRES does not name a PostgreSQL server to test with"


@pytest.fixture(scope="session")
def made_file(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """An empty logbook as bytes, made once."""
    path = tmp_path_factory.mktemp("made") / "empty.calmday"
    Logbook.open(path).close()
    return path.read_bytes()


@pytest.fixture
def new_file(made_file: bytes, tmp_path: Path) -> Callable[[], Path]:
    """Makes empty logbook files, quickly."""

    def make() -> Path:
        path = tmp_path / f"{secrets.token_hex(4)}.calmday"
        path.write_bytes(made_file)
        return path

    return make


@pytest.fixture(scope="session")
def made_database() -> Iterator[str]:
    """An empty logbook on the server, made once, for others to be copied from."""
    if not SERVER:
        pytest.skip(NO_SERVER)
    with databases() as make:
        url = make("template0")
        Logbook.open(url).close()
        yield url.partition("?")[0].rpartition("/")[2]


@pytest.fixture
def bare_server() -> Iterator[Callable[[], str]]:
    """Makes databases without a table; they are gone after the test."""
    if not SERVER:
        pytest.skip(NO_SERVER)
    with databases() as make:
        yield lambda: make("template0")


@pytest.fixture
def server(made_database: str) -> Iterator[Callable[[], str]]:
    """Makes empty logbooks on the server; they are gone after the test."""
    with databases() as make:
        yield lambda: make(made_database)


@contextmanager
def databases() -> Iterator[Callable[[str], str]]:
    """Makes databases from a template and takes them away at the end."""
    import psycopg  # noqa: PLC0415

    made: list[str] = []
    with psycopg.connect(SERVER, autocommit=True) as control:

        def make(template: str) -> str:
            made.append(f"test_{secrets.token_hex(6)}")
            control.execute(f'CREATE DATABASE "{made[-1]}" TEMPLATE "{template}"')
            return SERVER.replace("/postgres?", f"/{made[-1]}?")

        yield make
        for name in made:
            control.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.fixture(params=["file", "server"])
def new_place(request: pytest.FixtureRequest, new_file: Callable[[], Path]) -> Callable[[], str]:
    """Makes places for logbooks of both kinds."""
    if request.param == "file":
        return lambda: str(new_file())
    make: Callable[[], str] = request.getfixturevalue("server")
    return make


@pytest.fixture
def book(new_place: Callable[[], str]) -> Iterator[Logbook]:
    """An empty logbook of each kind."""
    with Logbook.open(new_place()) as opened:
        yield opened


@pytest.fixture
def file_book(new_file: Callable[[], Path]) -> Iterator[Logbook]:
    """An empty logbook in a file."""
    with Logbook.open(new_file()) as opened:
        yield opened
