"""Writes to a logbook until it is killed, and says what was acknowledged.

Reads lines `KIND PLACE` on standard input. For each it forks a child that does nothing but write, says `pid N`, then
passes on what the child says, then `dead`.
"""

from __future__ import annotations

import os
import signal
import sys
from itertools import count
from pathlib import Path

from calmday.logbook import Logbook, copies


def say(text: str) -> None:
    """One line, in one write: what is said has happened."""
    os.write(1, f"{text}\n".encode())


def write(place: str) -> None:
    """Entries, files and results, each acknowledged after it was written."""
    with Logbook.open(place) as book:
        run = book.create("run", "Loop")
        say(f"run {run}")
        for number in count():
            both = {"weighing[0].gross[0]": f"{number} g", "weighing[1].gross[0]": f"{number} g"}
            book.write("run", run, both, "child")
            say(f"entry {run} {number}")
            if number % 3 == 0:
                file = book.attach(
                    "run", run, "photograph", "x.jpg", os.urandom(5000 + 997 * number % 60_000), by="child"
                )
                say(f"file {run} {file.sha256}")
            if number % 5 == 0:
                result = book.add_result(
                    run,
                    inputs_sha256="",
                    version="",
                    seed=1,
                    draws=1,
                    summary={},
                    content=os.urandom(9000).hex().encode(),
                )
                say(f"result {run} {result.id}")


def create(place: str) -> None:
    """New logbooks, one after the other."""
    for number in count():
        Logbook.open(f"{place}.{number}").close()
        say(f"made {place}.{number}")


def migrate(place: str) -> None:
    """An old logbook brought to today's form."""
    Logbook.open(place).close()
    say("migrated")


def backup(place: str) -> None:
    """Copies, one after the other, and the last put in the place of another logbook."""
    for number in count():
        copies.copy_file(Path(place), Path(f"{place}.copy{number}"))
        say(f"made {place}.copy{number}")
        copies.restore_file(Path(f"{place}.copy{number}"), Path(f"{place}.back"), replace=True)
        say(f"made {place}.back")


WORK = {"write": write, "create": create, "migrate": migrate, "backup": backup}


def main() -> None:
    """Serve until standard input ends."""
    for line in sys.stdin:
        kind, place = line.rstrip("\n").split(" ", 1)
        child = os.fork()
        if child == 0:
            try:
                WORK[kind](place)
                signal.pause()
            finally:
                os._exit(0)
        say(f"pid {child}")
        os.waitpid(child, 0)
        say("dead")


if __name__ == "__main__":
    main()
