"""What the page keeps beside vehicles and runs: coastdowns, comparisons, plans and the rest, each described once.

A kind of document says which boxes it has, who judges them, which files belong to it and which page shows one. The page
does the rest for all of them alike (`pages/documents.py`): begin one, keep every box as it is typed, take files in,
mark one void, work it out.

A new kind: describe it (`DocumentKind`) in a module of its own, name it in `STANDS_IN`, give its list and its page an
address and a handler, its question a row in `render.MORE_QUESTIONS`. In the logbook every typed text is a text unless
`logbook/document.py` knows its key as a number, a whole number, a truth value, a date or a time: add the keys there.
Keys that name files other than `track` and `full_load` are told to `logbook/render.py`. Long work: `work.py`, `TASKS`;
the list and the page of such a kind answer by `pages/worked.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

import msgspec

from calmday.errors import Fault, InputError
from calmday.web.fields import Field, Group

if TYPE_CHECKING:
    from calmday.files.named_files import NamedDocument

LARGEST_FILE: Final = 100_000_000


class FileRole(msgspec.Struct, frozen=True, kw_only=True):
    """A kind of file that belongs to a document. `accept` as a browser's file dialog takes it.

    `judge` raises InputError unless the bytes can be used; it gets the name as a hint only. `most` bytes at the most.
    `listed`: each file is one place in a list of boxes under the name of the role.
    """

    role: str
    title: str
    lead: str = ""
    accept: str = ""
    judge: Callable[[str, bytes], None]
    most: int = LARGEST_FILE
    listed: bool = False


class DocumentKind(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of document.

    `kind` as the logbook names it; `words` what one is called ("Coastdown"); `page` the name of the address that shows
    one (its path has `{document}`), `home` the name of the address that lists them for a vehicle (`{vehicle}`).
    `groups` the boxes, given every key that is in use, so that lists can grow; `shown` those that are drawn, given what
    stands in them, where that is not all. `read` judges a document and raises
    InputError with every fault; tracks and other files are left out there. `task` what `work_out` does (see `work.py`).
    """

    kind: str
    words: str
    page: str
    home: str
    groups: Callable[[Collection[str]], tuple[Group, ...]]
    read: Callable[[NamedDocument], Any]
    shown: Callable[[Mapping[str, str]], tuple[Group, ...]] | None = None
    files: tuple[FileRole, ...] = ()
    file_keys: frozenset[str] = frozenset({"track"})
    task: str = ""

    def fields(self, keys: Collection[str]) -> tuple[Field, ...]:
        """Every box, in order."""
        return tuple(field for group in self.groups(keys) for field in group.fields)


STANDS_IN: Final[dict[str, str]] = {
    "comparison": "calmday.web.comparison_fields:COMPARISON",
    "chart": "calmday.web.chart_fields:CHART",
    "dials": "calmday.web.dial_fields:DIALS",
    "coastdown": "calmday.web.coastdown_fields:COASTDOWN",
    "evidence": "calmday.web.evidence_fields:EVIDENCE",
    "plan": "calmday.web.plan_fields:PLAN",
    "price": "calmday.web.cost_fields:PRICE",
    "published": "calmday.web.published_fields:PUBLISHED",
    "pull": "calmday.web.pull_fields:PULL",
    "setting": "calmday.web.settings_fields:SETTING",
    "sound": "calmday.web.sound_fields:SOUND",
    "whatif": "calmday.web.what_if_fields:WHAT_IF",
}
"""Where the description of each kind stands, as `module:name`; it is loaded when it is asked for."""


def judge_track_file(name: str, data: bytes) -> None:
    """The judge of a file that must be a track. Raises InputError."""
    from calmday.web.pages.files import judge_track  # noqa: PLC0415  (the pages are there before any file arrives)

    judge_track(name, data)


def read_ours(read: Callable[[], Any], elsewhere: Callable[[Fault], object]) -> Any:
    """What a reader gives, or None where all that is wrong is mended `elsewhere` than in a box.

    Raises InputError with the other faults.
    """
    try:
        return read()
    except InputError as error:
        ours = [fault for fault in error.faults if not elsewhere(fault)]
        if ours:
            raise InputError(ours) from None
        return None


@cache
def document_kind(kind: str) -> DocumentKind | None:
    """The description of a kind; None where the page keeps no documents of it."""
    if kind not in STANDS_IN:
        return None
    module, _, name = STANDS_IN[kind].partition(":")
    found: DocumentKind = getattr(import_module(module), name)
    return found
