"""What a page gets: the request with its form already read, the logbook, and the person's habits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request

from calmday.web.habits import Habits, habits_of

if TYPE_CHECKING:
    from calmday.web.desk import Desk

MOST_FIELDS, MOST_FILES = 400, 40
LOCAL = frozenset({"127.0.0.1", "::1"})


class Asked:
    """One request as a page needs it: plain texts and files, nothing to await."""

    def __init__(self, request: Request, form: FormData | None, desk: Desk) -> None:
        self.request = request
        self.desk = desk
        self.habits: Habits = habits_of(request)
        items = form.multi_items() if form is not None else []
        self.form: Mapping[str, str] = {key: value for key, value in items if isinstance(value, str)}
        self.files: list[tuple[str, UploadFile]] = [
            (key, value) for key, value in items if isinstance(value, UploadFile) and value.filename
        ]
        self.posted = form is not None

    def part(self, name: str) -> str:
        """A part of the address."""
        return str(self.request.path_params[name])

    def query(self, name: str) -> str:
        """A part of the query; empty where it is not there."""
        return self.request.query_params.get(name, "")

    @property
    def wants_json(self) -> bool:
        """Whether the caller is one of our scripts."""
        return "application/json" in self.request.headers.get("accept", "")

    @property
    def device(self) -> str:
        """Where an entry comes from, as the history shows it."""
        client = self.request.client
        if client is None or client.host in LOCAL:
            return "this computer"
        agent = self.request.headers.get("user-agent", "")
        kind = "phone" if "Mobi" in agent else "tablet" if "Android" in agent or "iPad" in agent else "device"
        return f"{kind} at {client.host}"


async def read_form(request: Request) -> FormData | None:
    """The form of a POST; None for any other request. A body that is no form is the caller's fault."""
    if request.method != "POST":
        return None
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if not kind and not await request.body():
        return FormData()
    if kind not in ("application/x-www-form-urlencoded", "multipart/form-data"):
        raise HTTPException(415, "This address takes what a form sends, and nothing else.")
    return await request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=1_000_000)
