"""Long work in parts, on the processors of this machine or on a Dask cluster, with the same results either way.

A part is a stretch of numbers; what it gives is bytes that depend on that stretch and on what all parts share, never on
who worked it out or when. Each finished part is put into a folder before it counts, so that a worker that is killed, a
power cut or a stop loses at most the parts under way; started again with the same question, only what is missing is
worked out.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from concurrent.futures.process import BrokenProcessPool
from functools import cache
from importlib import import_module
from multiprocessing import get_context
from pathlib import Path
from typing import Any, Final

import msgspec

from calmday.errors import CalmdayError, InputError, MissingExtraError

Told = Callable[[int, int], None]
"""How the work reports: parts done, parts in all."""

MOST_DEATHS: Final = 3
_LISTEN_S: Final = 0.2


class StoppedError(CalmdayError):
    """The work was no longer wanted; the parts that were done are kept."""


class Work(msgspec.Struct, frozen=True, kw_only=True):
    """What to do: `function` (`module:name`) takes `shared`, start and stop, and gives bytes. `count` numbers in all,
    `size` of them in a part."""

    function: str
    shared: bytes
    count: int
    size: int

    @property
    def parts(self) -> int:
        """How many parts there are."""
        return -(-self.count // self.size)

    def stretch(self, part: int) -> tuple[int, int]:
        """Start and stop of a part."""
        return part * self.size, min((part + 1) * self.size, self.count)

    @property
    def digest(self) -> str:
        """Another one as soon as anything about the work is."""
        told = f"{self.function} {self.count} {self.size} ".encode()
        return hashlib.sha256(told + self.shared).hexdigest()


class Kept:
    """The folder of finished parts. Raises InputError where it belongs to other work."""

    def __init__(self, folder: Path, work: Work) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        mark = folder / "work"
        if not mark.exists():
            _put(mark, work.digest.encode())
        elif mark.read_bytes() != work.digest.encode():
            raise InputError.one(
                str(folder), "folder", "holds parts of other work", "an empty folder, or its own question"
            )

    def path(self, part: int) -> Path:
        """Where a part is kept."""
        return self.folder / f"part-{part:07d}"

    def missing(self, parts: int) -> list[int]:
        """The parts that are not there yet."""
        there = {path.name for path in self.folder.iterdir()}
        return [part for part in range(parts) if self.path(part).name not in there]

    def put(self, part: int, content: bytes) -> None:
        """Keep a part: whole or not at all."""
        _put(self.path(part), content)

    def contents(self, parts: int) -> Iterator[bytes]:
        """All parts in order, one at a time."""
        return (self.path(part).read_bytes() for part in range(parts))


def _put(path: Path, content: bytes) -> None:
    draft = path.with_name(f".{path.name}.{os.getpid()}")
    with draft.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    draft.replace(path)


def do_part(function: str, shared: bytes, start: int, stop: int) -> bytes:
    """Work a part out, wherever this runs."""
    return _found(function)(shared, start, stop)


@cache
def _found(function: str) -> Callable[[bytes, int, int], bytes]:
    module, _, name = function.partition(":")
    found: Callable[[bytes, int, int], bytes] = getattr(import_module(module), name)
    return found


def work_out(
    work: Work,
    kept: Kept,
    *,
    workers: int = 0,
    dask: str = "",
    told: Told = lambda _done, _all: None,
    wanted: Callable[[], bool] = lambda: True,
) -> None:
    """Work out every part that is missing and keep it.

    `workers` processes on this machine (0: one for each processor, 1: in this process), or `dask` the address of a
    scheduler. Raises StoppedError as soon as `wanted` says no, MissingExtraError for Dask without its extra,
    CalmdayError where the same part has ended its worker three times.
    """
    missing = kept.missing(work.parts)
    done = work.parts - len(missing)
    told(done, work.parts)
    count = workers or os.cpu_count() or 1
    runner = _on_dask(work, dask) if dask else _here(work) if count == 1 else _in_processes(work, count)
    for part, content in runner(missing, wanted):
        kept.put(part, content)
        done += 1
        told(done, work.parts)


Runner = Callable[[list[int], Callable[[], bool]], Iterable[tuple[int, bytes]]]


def _here(work: Work) -> Runner:
    def run(missing: list[int], wanted: Callable[[], bool]) -> Iterator[tuple[int, bytes]]:
        for part in missing:
            if not wanted():
                raise StoppedError("stopped; what was done is kept")
            yield part, do_part(work.function, work.shared, *work.stretch(part))

    return run


def _in_processes(work: Work, workers: int) -> Runner:
    """A pool that is made anew when one of its processes dies, with the parts under way asked for again."""

    def run(missing: list[int], wanted: Callable[[], bool]) -> Iterator[tuple[int, bytes]]:
        waiting, deaths = list(reversed(missing)), dict.fromkeys(missing, 0)
        while waiting:
            under_way: dict[Future[bytes], int] = {}
            pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn"))
            try:
                while waiting or under_way:
                    while waiting and len(under_way) < 2 * workers:
                        part = waiting[-1]
                        asked = pool.submit(do_part, work.function, work.shared, *work.stretch(part))
                        under_way[asked] = waiting.pop()
                    finished, _ = wait(under_way, timeout=_LISTEN_S, return_when=FIRST_COMPLETED)
                    if not wanted():
                        raise StoppedError("stopped; what was done is kept")
                    for future in finished:
                        content = future.result()
                        yield under_way.pop(future), content
            except BrokenProcessPool:
                for part in under_way.values():
                    deaths[part] += 1
                    if deaths[part] >= MOST_DEATHS:
                        raise CalmdayError(f"part {part} has ended its worker {MOST_DEATHS} times") from None
                waiting += under_way.values()
            finally:
                _end(pool)

    return run


def _end(pool: ProcessPoolExecutor) -> None:
    """End a pool at once, with what it is doing."""
    processes = list((pool._processes or {}).values())
    pool.shutdown(wait=False, cancel_futures=True)
    for process in processes:
        process.terminate()


def _on_dask(work: Work, address: str) -> Runner:
    """A cluster by the address of its scheduler; a worker that dies there has its parts done by another."""
    try:
        cluster: Any = import_module("distributed")  # only where one is asked for
    except ImportError:
        raise MissingExtraError("work on a Dask cluster", "dask") from None

    def run(missing: list[int], wanted: Callable[[], bool]) -> Iterator[tuple[int, bytes]]:
        try:
            client = cluster.Client(address, timeout="10s", set_as_default=False)
        except (OSError, ValueError) as error:
            raise InputError.one("--dask", address, "cannot be reached", "the address of a scheduler") from error
        with client:
            shared = client.scatter(work.shared, broadcast=True)
            waiting, parts = list(reversed(missing)), dict[str, int]()
            width = 4 * max(sum(client.nthreads().values()), 1)

            def asked() -> Any:
                part = waiting.pop()
                future = client.submit(
                    do_part, work.function, shared, *work.stretch(part), pure=False, retries=MOST_DEATHS
                )
                parts[future.key] = part
                return future

            flow = cluster.as_completed([asked() for _ in range(min(width, len(waiting)))], loop=client.loop)
            for future in flow:
                if not wanted():
                    raise StoppedError("stopped; what was done is kept")
                content: bytes = future.result()
                yield parts.pop(future.key), content
                if waiting:
                    flow.add(asked())

    return run
