"""What several pages need: the thing an address names, the frame around a page, going on to another page."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from starlette.exceptions import HTTPException
from starlette.responses import RedirectResponse

from calmday.web.addresses import address
from calmday.web.render import Frame, Ref

if TYPE_CHECKING:
    from collections.abc import Sequence

    from calmday.logbook.records import Kind, Subject
    from calmday.web.asked import Asked

DONE: Final = {
    "begun": "Begun. Leave off wherever you like; everything typed is kept.",
    "kept": "Kept.",
    "saved": "Saved.",
    "started": "A new run. Leave off wherever you like; everything typed is kept.",
    "brought": "Brought in.",
    "nothing-new": "Nothing in it was new.",
    "taken": "Taken away. The file itself stays in the logbook.",
    "sealed": "Sealed. It opens when the can has been weighed again.",
    "corrected": "The correction is written down.",
    "void": "Void. It stays here with its reason.",
    "counts": "It counts again.",
    "stopped": "Stopped. Nothing was lost.",
    "change": "The change is written down.",
    "photo": "The photographs are kept.",
    "welcome": "This device may use the logbook for a day.",
}
"""What a page may say about what was just done: addresses carry the name, never the words."""


def subject(asked: Asked, kind: Kind, subject_id: str, keys: Sequence[str] = ()) -> Subject:
    """A vehicle, run or other thing that an address names. Raises 404 where there is none."""
    from calmday.logbook.stamps import is_id  # noqa: PLC0415  (the database layer is loaded by now)

    if not is_id(subject_id):
        raise HTTPException(404)
    found = asked.desk.book.subjects(kind, ids=[subject_id], keys=keys)
    if not found:
        raise HTTPException(404)
    return found[0]


def vehicle_of(asked: Asked) -> Subject:
    """The vehicle in the address."""
    return subject(asked, "vehicle", asked.part("vehicle"))


def run_of(asked: Asked) -> Subject:
    """The run in the address."""
    return subject(asked, "run", asked.part("run"))


def frame(
    asked: Asked,
    title: str,
    *,
    tab: str = "",
    vehicle: Subject | None = None,
    run: Subject | None = None,
    refresh: int = 0,
    wide: bool = False,
) -> Frame:
    """The frame of a page about a vehicle, a run, or neither."""
    if run is not None and vehicle is None and run.parent:
        vehicle = subject(asked, "vehicle", run.parent)
    return Frame(
        title=title,
        tab=tab,
        vehicle=Ref(id=vehicle.id, name=vehicle.name or "Vehicle without a name") if vehicle else None,
        run=Ref(id=run.id, name=run.name or "Run without a name") if run else None,
        theme=asked.habits.look,
        notice=DONE.get(asked.query("done"), ""),
        refresh=refresh,
        wide=wide,
    )


def go(name: str, /, **parts: object) -> RedirectResponse:
    """On to another page: the browser asks for it with GET, so that reloading does not write twice."""
    return RedirectResponse(address(name, **parts), 303)


def when(stamp: str) -> str:
    """A time of the logbook as a person reads it, by this machine's clock: `12 Apr 2026, 14:05`."""
    try:
        moment = dt.datetime.fromisoformat(stamp)
    except ValueError:
        return stamp
    local = moment.astimezone() if moment.tzinfo else moment
    return f"{local.day} {local:%b %Y, %H:%M}"


def who(by: str, at: str, device: str = "", *, me: str = "me") -> str:
    """Who wrote an entry, when and where."""
    parts = [by or me, when(at)]
    return ", ".join([*parts, device] if device else parts)
