"""Vehicles drawn for questions about their gears, held in memory: a moved slider must not draw them anew."""

from __future__ import annotations

import contextlib
import threading
from collections import OrderedDict
from typing import TYPE_CHECKING

import msgspec

from calmday.errors import CalmdayError
from calmday.web.memory import Memory

if TYPE_CHECKING:
    from collections.abc import Callable

    from calmday.logbook import Logbook
    from calmday.operations import GearStudy

MOST_HELD = 24


class Held(msgspec.Struct, frozen=True):
    """A drawn vehicle and the run that it rests on, None for none; `coastdowns` how many it learned from as well,
    `waiting` whether some are still being worked in."""

    study: GearStudy
    run: str | None
    coastdowns: int = 0
    waiting: bool = False


class Studies:
    """One per vehicle and run, for as long as nothing that it was drawn from has changed.

    What it was drawn from is looked up again only after a write (`Memory`), so that a slider costs no query but one.
    """

    def __init__(self, memory: Memory) -> None:
        self._memory = memory
        self._lock = threading.Lock()
        self._held: OrderedDict[tuple[str, str], Held] = OrderedDict()
        self._working: set[tuple[str, str]] = set()

    def of_vehicle(self, book: Logbook, vehicle_id: str) -> Held:
        """With what the newest weighed run taught. Raises InputError where the build sheet cannot be read."""
        from calmday.operations.logbook import newest_coastdowns, newest_weighed_run, study_mark  # noqa: PLC0415

        def look() -> tuple[str | None, tuple[str, ...], str]:
            run, days = newest_weighed_run(book, vehicle_id), newest_coastdowns(book, vehicle_id)
            return run, days, study_mark(book, vehicle_id, run, days)

        run, days, mark = self._memory.get(book, ("gears", vehicle_id), look)
        return self._get(book, vehicle_id, run, days, mark)

    def of_tests(self, book: Logbook, vehicle_id: str, runs: tuple[str, ...], days: tuple[str, ...]) -> Held:
        """With what some tests taught together. Raises InputError where the build sheet or a test cannot be read."""
        from calmday.operations.logbook import study_mark, study_of_tests  # noqa: PLC0415

        def make() -> Held:
            return Held(study_of_tests(book, vehicle_id, runs, days), None, len(days))

        tests = (*runs, *days)
        mark = self._memory.get(book, ("named", vehicle_id, *tests), lambda: study_mark(book, vehicle_id, None, tests))
        key = (f"{vehicle_id}/{len(runs)} and {len(days)} named", mark)
        return self._made(key, make, lambda: self.of_vehicle(book, vehicle_id), long=bool(days))

    def of_run(self, book: Logbook, vehicle_id: str, run_id: str) -> Held:
        """With what one run taught, whichever it is. `run` None: that run cannot be used."""
        from calmday.operations.logbook import study_mark  # noqa: PLC0415

        mark = self._memory.get(book, ("gears", vehicle_id, run_id), lambda: study_mark(book, vehicle_id, run_id))
        return self._get(book, vehicle_id, run_id, (), mark)

    def _get(self, book: Logbook, vehicle_id: str, run: str | None, days: tuple[str, ...], mark: str) -> Held:
        def make() -> Held:
            from calmday.operations.logbook import study_of_vehicle  # noqa: PLC0415

            return Held(*study_of_vehicle(book, vehicle_id, run, days))

        key = (f"{vehicle_id}/{run or ''}/{len(days)}", mark)
        return self._made(key, make, lambda: self._get(book, vehicle_id, run, (), mark), long=bool(days))

    def _made(
        self, key: tuple[str, str], make: Callable[[], Held], meanwhile: Callable[[], Held], *, long: bool
    ) -> Held:
        """What is held under a key, else made now; what takes `long` is made beside the pages, `meanwhile` shown."""
        with self._lock:
            found = self._held.get(key)
            if found is not None:
                self._held.move_to_end(key)
                return found
            begin = long and key not in self._working
            if begin:
                self._working.add(key)
        if not long:
            return self._keep(key, make)
        if begin:  # coastdowns take half a minute: the page does not wait for them
            threading.Thread(target=self._try, args=(key, make), daemon=True).start()
        return msgspec.structs.replace(meanwhile(), waiting=True)

    def _try(self, key: tuple[str, str], make: Callable[[], Held]) -> None:
        """Make it beside the pages; whatever is wrong with the build sheet, the page that asked says itself."""
        with contextlib.suppress(CalmdayError):
            self._keep(key, make)

    def _keep(self, key: tuple[str, str], make: Callable[[], Held]) -> Held:
        try:
            made = make()
        finally:
            with self._lock:
                self._working.discard(key)
        with self._lock:
            self._held[key] = made
            while len(self._held) > MOST_HELD:
                self._held.popitem(last=False)
        return made
