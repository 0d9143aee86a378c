"""The one logbook that the pages stand on, open as long as the program runs, and the long work beside it."""

from __future__ import annotations

from functools import cached_property
from typing import TYPE_CHECKING

from calmday.web.jobs import Jobs
from calmday.web.keys import Keys
from calmday.web.memory import Memory
from calmday.web.settings import Settings
from calmday.web.stored import Gallery
from calmday.web.studies import Studies
from calmday.web.work import work_on_run

if TYPE_CHECKING:
    from calmday.logbook import Logbook
    from calmday.logbook.records import Subject


class Desk:
    """What all requests share."""

    def __init__(self, settings: Settings, keys: Keys) -> None:
        self.settings = settings
        self.keys = keys
        self.gallery = Gallery()
        self.memory = Memory()
        self.studies = Studies(self.memory)
        self._book: Logbook | None = None

    @cached_property
    def jobs(self) -> Jobs:
        """Long work."""
        return Jobs(str(self.settings.logbook), work_on_run, in_process=self.settings.in_process)

    @property
    def book(self) -> Logbook:
        """The logbook. It is opened when the program starts; a request before that opens it."""
        if self._book is None:
            self.open()
        assert self._book is not None
        return self._book

    def open(self) -> None:
        """Open the logbook; raises CalmdayError where it cannot be used."""
        from calmday.logbook import Logbook  # noqa: PLC0415  (the database layer only where a logbook is opened)

        if self._book is None:
            self._book = Logbook.open(self.settings.logbook)
            if not self.settings.in_process:
                self.jobs.warm()

    def runs_of(self, vehicle_id: str) -> tuple[Subject, ...]:
        """The runs of a vehicle with their dates, oldest first."""
        every = self.memory.get(self.book, ("runs",), lambda: self.book.subjects("run", keys=["date"]))
        return tuple(run for run in every if run.parent == vehicle_id)

    def close(self) -> None:
        """Let go of everything."""
        self.jobs.close()
        if self._book is not None:
            self._book.close()
            self._book = None
