"""Long work beside the page: one helper process that reduces runs, one job after the other, each with its progress.

A process, not a thread: the arithmetic would hold up the pages, and a job that is no longer wanted is ended by ending
its process. The logbook stands that: what was acknowledged is on the disk, the rest never happened.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import queue
import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from multiprocessing.connection import Connection
from typing import Any, Literal, Protocol

import msgspec

from calmday.errors import CalmdayError, InputError
from calmday.web.forms import fault_words

State = Literal["waiting", "running", "done", "failed", "cancelled"]
REMEMBERED = 100
LISTEN_S = 0.05


class Job(msgspec.Struct, kw_only=True):
    """One piece of work on a run. `fraction` 0 to 1, `words` what is being done, `result` what it gave.

    `faults` key and words where it failed.
    """

    id: str
    run: str
    task: str = "reduce"
    result: Any = None
    state: State = "waiting"
    fraction: float = 0.0
    words: str = "Waiting for its turn"
    faults: tuple[tuple[str, str], ...] = ()
    wanted: bool = True

    @property
    def over(self) -> bool:
        """Whether nothing more will happen."""
        return self.state in ("done", "failed", "cancelled")


class Told(Protocol):
    """How work reports: the part done and what is being done."""

    def __call__(self, fraction: float, words: str) -> None: ...


Work = Callable[[str, str, str, Told], Any]
"""Logbook, task (empty: only get ready), run, progress; what the task gives."""


class Jobs:
    """The jobs of one logbook. `work` is a function of a module, so that another process can find it."""

    def __init__(self, logbook: str, work: Work, *, in_process: bool = False) -> None:
        self._logbook = logbook
        self._work = work
        self._in_process = in_process
        self._jobs: OrderedDict[str, Job] = OrderedDict()
        self._lock = threading.Lock()
        self._queue: queue.Queue[Job | None] = queue.Queue()
        self._helper: _Helper | None = None
        self._thread: threading.Thread | None = None

    def warm(self) -> None:
        """Start the helper before it is needed, so that the first sheet need not wait for its imports."""
        with self._lock:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="calmday jobs", daemon=True)
                self._thread.start()

    def start(self, run: str, task: str = "reduce") -> Job:
        """Begin a task on a run; the job that is already at it where there is one."""
        self.warm()
        with self._lock:
            for job in self._jobs.values():
                if (job.run, job.task) == (run, task) and not job.over:
                    return job
            job = Job(id=secrets.token_hex(8), run=run, task=task)
            self._jobs[job.id] = job
            while len(self._jobs) > REMEMBERED:
                self._jobs.popitem(last=False)
        self._queue.put(job)
        return job

    def get(self, name: str) -> Job | None:
        """The job of this id; None where it is not known or long over."""
        return self._jobs.get(name)

    def last_of(self, run: str, task: str = "reduce") -> Job | None:
        """The newest job that does a task on a run or document."""
        with self._lock:
            found = (job for job in reversed(self._jobs.values()) if (job.run, job.task) == (run, task))
            return next(found, None)

    def newest(self, run: str, task: str) -> Job | None:
        """The newest job on a run whose task begins with this word."""
        with self._lock:
            found = (job for job in reversed(self._jobs.values()) if job.run == run and job.task.split(" ")[0] == task)
            return next(found, None)

    def let_go(self, task: str, keep: int) -> None:
        """Forget what all but the newest `keep` jobs of a task gave: results may be large."""
        with self._lock:
            done = [job for job in reversed(self._jobs.values()) if job.task.split(" ")[0] == task and job.over]
            for job in done[keep:]:
                job.result = None

    def cancel(self, name: str) -> None:
        """End a job; nothing happens where it is over."""
        job = self._jobs.get(name)
        if job is not None:
            job.wanted = False
            if job.state == "waiting":
                job.state, job.words = "cancelled", "Stopped"

    def close(self) -> None:
        """End the helper and everything it does."""
        for job in list(self._jobs.values()):
            self.cancel(job.id)
        self._queue.put(None)
        if self._thread is not None:
            self._thread.join(10)
        if self._helper is not None:
            self._helper.stop()
            self._helper = None

    def _run(self) -> None:
        if not self._in_process:
            self._helper = _Helper(self._logbook, self._work)
        while (job := self._queue.get()) is not None:
            if job.wanted:
                job.state, job.words = "running", "Reading the run"
                if self._in_process:
                    self._do_here(job)
                else:
                    self._do_there(job)

    def _do_here(self, job: Job) -> None:
        def told(fraction: float, words: str) -> None:
            if not job.wanted:
                raise _UnwantedError
            job.fraction, job.words = fraction, words

        try:
            job.result = self._work(self._logbook, job.task, job.run, told)
        except _UnwantedError:
            job.state, job.words = "cancelled", "Stopped"
        except Exception as error:  # the outermost layer of the job: whatever happened is told on its page
            _fail(job, faults_of(error))
        else:
            job.fraction, job.words, job.state = 1.0, "Done", "done"

    def _do_there(self, job: Job) -> None:
        if self._helper is None or not self._helper.alive:
            self._helper = _Helper(self._logbook, self._work)
        helper = self._helper
        helper.ask(job.task, job.run)
        while True:
            if not job.wanted:
                helper.stop()
                job.state, job.words = "cancelled", "Stopped"
                return
            try:
                said = helper.said()
            except (EOFError, OSError):
                helper.stop()
                _fail(job, (("", "The helper that does the work has gone. Try once more."),))
                return
            if said is None:
                continue
            kind, *rest = said
            if kind == "progress":
                job.fraction, job.words = rest
            elif kind == "done":
                job.result = rest[0]
                job.fraction, job.words, job.state = 1.0, "Done", "done"
                return
            else:
                _fail(job, rest[0])
                return


def _fail(job: Job, faults: tuple[tuple[str, str], ...]) -> None:
    job.faults = faults
    job.words, job.state = "It could not be worked out", "failed"


class _UnwantedError(Exception):
    """Raised in the work of a job that was cancelled."""


class _Helper:
    """The process that does the work, and the line to it."""

    def __init__(self, logbook: str, work: Work) -> None:
        context = multiprocessing.get_context("spawn")
        self._line, theirs = context.Pipe()
        self._process = context.Process(target=serve_jobs, args=(theirs, logbook, work), daemon=True)
        self._process.start()
        theirs.close()

    @property
    def alive(self) -> bool:
        return self._process.is_alive()

    def ask(self, task: str, run: str) -> None:
        """Start on a run."""
        self._line.send((task, run))

    def said(self) -> tuple[Any, ...] | None:
        """What it has to say; None for the moment nothing."""
        if not self._line.poll(LISTEN_S):
            if not self.alive:
                raise EOFError
            return None
        said: tuple[Any, ...] = self._line.recv()
        return said

    def stop(self) -> None:
        """End it."""
        self._process.terminate()
        self._process.join(5)
        self._line.close()


def serve_jobs(line: Connection, logbook: str, work: Work) -> None:
    """The helper's own loop: a run in, progress and an end out."""
    import signal  # noqa: PLC0415

    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the server ends its helper; Ctrl-C is meant for the server
    with contextlib.suppress(Exception):  # whatever is wrong shows when there is work
        work(logbook, "", "", lambda _fraction, _words: None)
    while True:
        try:
            task, run = line.recv()
        except EOFError:
            return
        try:
            given = work(logbook, task, run, lambda fraction, words: line.send(("progress", fraction, words)))
        except Exception as error:  # the outermost layer of the helper: it must live to tell
            line.send(("failed", faults_of(error)))
        else:
            line.send(("done", given))


def faults_of(error: Exception) -> tuple[tuple[str, str], ...]:
    """Key and words of everything that went wrong."""
    if isinstance(error, InputError):
        return tuple((fault.key, f"{fault.key}: {fault_words(fault.wrong, fault.right)}") for fault in error.faults)
    if isinstance(error, CalmdayError):
        return (("", str(error)),)
    return (("", f"A fault of the program, not of your entries ({type(error).__name__}). Please report it."),)


def wait(job: Job, seconds: float) -> bool:
    """Whether the job is over, waiting a little for it: most are done before a person has looked up."""
    until = time.monotonic() + seconds
    while not job.over and time.monotonic() < until:
        time.sleep(0.01)
    return job.over
