"""kill -9 at random moments of writing: what was acknowledged is there, and nothing is half there."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from full_logbook import everything_in, fill

from calmday.logbook import Logbook, migrate
from calmday.logbook.opening import fill as make_tables

ENOUGH = 10
"""Files and results acknowledged, with some entries between each two."""

CHILD = Path(__file__).with_name("writing_child.py")
ROUNDS = {"write": 30, "create": 12, "migrate": 15, "backup": 12}
LONGEST_S = {"write": 0.12, "create": 0.25, "migrate": 0.25, "backup": 0.15}


class Writer:
    """A process that forks children who write, so that a round costs milliseconds."""

    def __init__(self) -> None:
        self.process = subprocess.Popen(
            [sys.executable, str(CHILD)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def kill_while(self, kind: str, place: Path, after_s: float, *, first: bool = False) -> list[list[str]]:
        """Let a child work for a while, from its start or from what it acknowledges `first`, and kill it.

        Returns what it had acknowledged.
        """
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.write(f"{kind} {place}\n")
        self.process.stdin.flush()
        told = iter(self.process.stdout.readline, "")
        child = next(int(line.split()[1]) for line in told if line.startswith("pid"))
        acknowledged = [next(told).split()] if first else []
        time.sleep(after_s)
        os.kill(child, signal.SIGKILL)
        for line in told:
            if line == "dead\n":
                break
            acknowledged.append(line.split())
        return acknowledged

    def close(self) -> None:
        """End of service."""
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.stdout.close()
        self.process.wait()


@pytest.fixture(scope="module")
def writer() -> Iterator[Writer]:
    made = Writer()
    yield made
    made.close()


def moments(kind: str) -> list[float]:
    """When to kill: spread over the work, drawn anew each time the tests run, and shown where one fails."""
    return [random.uniform(0, LONGEST_S[kind]) for _ in range(ROUNDS[kind])]


def test_nothing_acknowledged_is_lost(writer: Writer, tmp_path: Path) -> None:
    place = tmp_path / "logbook.calmday"
    Logbook.open(place).close()
    last: dict[str, int] = {}
    kept: list[tuple[str, str]] = []
    rounds = 0
    while rounds < ROUNDS["write"] or (len(kept) < ENOUGH and rounds < 20 * ROUNDS["write"]):
        moment, rounds = random.uniform(0, LONGEST_S["write"]), rounds + 1
        for kind, *rest in writer.kill_while("write", place, moment, first=rounds % 2 == 0):
            if kind == "run":
                last[rest[0]] = -1
            elif kind == "entry":
                last[rest[0]] = int(rest[1])
            else:
                kept.append((kind, rest[1]))
        with Logbook.open(place, make=False) as book:
            for run, number in last.items():
                values = book.values("run", run)
                one, other = (values.get(f"weighing[{i}].gross[0]") for i in (0, 1))
                assert (one.text if one else None) == (other.text if other else None), f"half a write, {moment}"
                assert number == -1 or (one is not None and int((one.text or "").split()[0]) >= number), moment
    with Logbook.open(place, make=False) as book:
        for kind, identifier in kept:
            assert book.content(identifier) if kind == "file" else book.result(identifier).content
        everything_in(book)
    assert len(kept) >= ENOUGH, "too little was written to prove anything"


def test_a_new_logbook_is_there_whole_or_not_at_all(writer: Writer, tmp_path: Path) -> None:
    for round_, moment in enumerate(moments("create")):
        place = tmp_path / f"{round_}.calmday"
        made = [Path(path) for _, path in writer.kill_while("create", place, moment)]
        found = [path for path in tmp_path.glob(f"{round_}.calmday.*") if not path.name.endswith(("-wal", "-shm"))]
        assert set(made) <= set(found)
        for path in found:
            with Logbook.open(path, make=False) as book:
                assert book.subjects("run") == ()


def test_a_migration_has_happened_or_has_not(writer: Writer, tmp_path: Path) -> None:
    old = tmp_path / "old.calmday"
    old.touch()
    make_tables(old, "0001")
    data = old.read_bytes()
    ends = set()
    for round_, moment in enumerate(moments("migrate")):
        place = tmp_path / f"{round_}.calmday"
        place.write_bytes(data)
        told = writer.kill_while("migrate", place, moment)
        with Logbook.open(place, make=False) as book:
            book.create("vehicle", "Fen Hauler")
            with book.reading() as connection:
                assert migrate.revision_of(connection) == migrate.HEAD
        ends.add(bool(told))
    assert ends, "killed before and after the end"


def test_copies_are_whole_or_not_there(writer: Writer, tmp_path: Path) -> None:
    place = tmp_path / "logbook.calmday"
    with Logbook.open(place) as book:
        fill(book, runs=2)
        held = everything_in(book)
    for moment in moments("backup"):
        made = [Path(path) for _, path in writer.kill_while("backup", place, moment)]
        found = [p for p in tmp_path.glob("logbook.calmday.*") if "replaced" not in p.name and "-" not in p.suffix]
        assert {path for path in made if path.name.endswith("back")} <= set(found)
        for path in found:
            with Logbook.open(path, make=False) as book:
                assert everything_in(book) == held, moment
            if path.name != "logbook.calmday.back":
                path.unlink()
    with Logbook.open(place, make=False) as book:
        assert everything_in(book) == held
