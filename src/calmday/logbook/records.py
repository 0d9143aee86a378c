"""What the logbook hands out: subjects, values, files, guesses and results, each with who and when."""

from __future__ import annotations

from typing import Any, Literal, get_args

import msgspec

from calmday.logbook import stamps

Kind = Literal[
    "vehicle",
    "instrument",
    "fuel",
    "route",
    "run",
    "pull",
    "coastdown",
    "evidence",
    "sound",
    "setting",
    "comparison",
    "plan",
    "price",
    "published",
    "chart",
    "dials",
    "whatif",
]
KINDS: tuple[str, ...] = get_args(Kind)

NAME_KEYS = dict.fromkeys(KINDS, "label") | {
    "vehicle": "vehicle.name",
    "instrument": "name",
    "fuel": "name",
    "route": "name",
}
"""The key that holds the name of a subject of each kind."""

OF_A_VEHICLE = frozenset({"chart", "coastdown", "dials", "evidence", "plan", "pull", "run", "sound", "whatif"})
"""Kinds whose file names the vehicle it is about, and whose folder holds that vehicle's build sheet too."""

LINKS: dict[str, str] = {
    "vehicle": "vehicle",
    "scale": "instrument",
    "receiver": "instrument",
    "odometer": "instrument",
    "fuel": "fuel",
    "route": "route",
}
"""What a subject may point to, and the kind of subject found there."""


class Subject(msgspec.Struct, frozen=True, kw_only=True):
    """A vehicle, a run or another of the `KINDS`. `parent` the vehicle it belongs to, "" for none.

    `void` the reason why it must not be used, "" where it may. `values` the texts asked for, by key.
    """

    id: str
    kind: Kind
    name: str
    parent: str = ""
    void: str = ""
    values: dict[str, str] = {}

    @property
    def made_at(self) -> str:
        """When it was begun, UTC."""
        return stamps.time_of(self.id)


class Value(msgspec.Struct, frozen=True, kw_only=True):
    """One entry: the text as it was written (None: cleared), who, when, why and on which device."""

    id: str
    text: str | None
    form: str
    at: str
    by: str
    why: str = ""
    device: str = ""


class Entry(Value, frozen=True, kw_only=True):
    """An entry with its key, as histories and folders hold it."""

    key: str


class Saved(msgspec.Struct, frozen=True, kw_only=True):
    """What has been written for good: when, and the entries made (none where nothing differed)."""

    at: str
    ids: tuple[str, ...]


class File(msgspec.Struct, frozen=True, kw_only=True):
    """A file attached to a subject. `name` as it was given, never a path; `sha256` of its bytes, `size` in bytes."""

    id: str
    role: str
    name: str
    sha256: str
    size: int
    at: str = ""
    by: str = ""


class Document(msgspec.Struct, frozen=True, kw_only=True):
    """A subject as its TOML file would have it, with the files it names. `moved` as in `Nested`.

    `vehicle` the document of the vehicle that a run names. `notes` what was left out and why.
    """

    subject: Subject
    tables: dict[str, Any]
    moved: dict[str, str] = {}
    files: dict[str, File] = {}
    vehicle: Document | None = None
    notes: tuple[str, ...] = ()


class Guess(msgspec.Struct, frozen=True, kw_only=True):
    """A sealed guess. `digest` is SHA-256 over salt, name and text, shown when sealed; `opened_at` "" while sealed.

    `text` and `salt` are empty until the guess is opened.
    """

    id: str
    run_id: str
    by: str
    digest: str
    sealed_at: str
    opened_at: str = ""
    text: str = ""
    salt: str = ""


class StoredResult(msgspec.Struct, frozen=True, kw_only=True):
    """A computed result with what produced it. `summary` the figures that lists show; `content` the whole JSON.

    `along` what the page draws along the way, packed by whoever stored it.
    """

    id: str
    run_id: str
    inputs_sha256: str
    version: str
    seed: int
    draws: int
    computed_at: str
    summary: dict[str, Any]
    content: bytes = b""
    along: bytes = b""
