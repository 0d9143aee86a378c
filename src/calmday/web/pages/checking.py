"""The lay-by check on the page: the same sheet as `calmday check` prints, with ways to the box at fault."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal

import msgspec

from calmday.reports.sheet import Block, Remarks, Sheet, Table
from calmday.web.addresses import address
from calmday.web.forms import box_id
from calmday.web.jobs import wait
from calmday.web.pages.history import words_of
from calmday.web.run_fields import STEPS, WEIGH_IN, WEIGH_OUT

if TYPE_CHECKING:
    from calmday.logbook.records import Subject
    from calmday.web.asked import Asked

PATIENCE_S = 15.0
"""A lay-by may have a slow laptop in it."""

FaultLines = tuple[tuple[str, str], ...]
"""Words, and the address of the box at fault (empty where there is none)."""


class BlockView(msgspec.Struct, frozen=True, kw_only=True):
    """A block of a sheet with its kind, so that a template can choose."""

    kind: Literal["table", "remarks", "prose", "bars"]
    block: Block


class CheckView(msgspec.Struct, frozen=True, kw_only=True):
    """Verdict and what it rests on."""

    lead: str
    blocks: tuple[BlockView, ...]


def check_view(asked: Asked, run: Subject) -> CheckView | FaultLines:
    """The check of a run, or why it cannot be checked yet."""
    from calmday.reports.check_sheet import check_sheet  # noqa: PLC0415

    job = asked.desk.jobs.start(run.id, "check")
    if not wait(job, PATIENCE_S):
        return (("It is still being worked out. Load this page again in a moment.", ""),)
    if job.state != "done":
        return fault_lines(run, job.faults)
    sheet = check_sheet(job.result, run.name)
    return CheckView(lead=sheet.lead, blocks=blocks_of(sheet))


def blocks_of(sheet: Sheet) -> tuple[BlockView, ...]:
    """The blocks of a sheet with their kinds."""
    return tuple(BlockView(kind=_kind(block), block=_filled(block)) for block in sheet.blocks)


def _filled(block: Block) -> Block:
    """A table without the columns in which no row says anything."""
    if not isinstance(block, Table) or not block.rows:
        return block
    said = [i == 0 or any(row[i] for row in block.rows) for i in range(len(block.columns))]
    return msgspec.structs.replace(
        block,
        columns=tuple(itertools.compress(block.columns, said)),
        rows=tuple(tuple(itertools.compress(row, said)) for row in block.rows),
    )


def _kind(block: Block) -> Literal["table", "remarks", "prose", "bars"]:
    if isinstance(block, Table):
        return "table"
    return "remarks" if isinstance(block, Remarks) else "bars" if type(block).__name__ == "Bars" else "prose"


def fault_lines(run: Subject, faults: Iterable[tuple[str, str]]) -> FaultLines:
    """Faults as key and words, each with the way to its box."""
    return tuple((_plainly(key, words), where_of(run, key)) for key, words in faults)


_PLAIN = {
    "weighing": "The weighings are not complete: the can must be weighed before and after the drive.",
    "track": "The distance is not known yet: keep a track, or write down laps with their length, a distance or both "
    "odometer readings.",
}


def _plainly(key: str, words: str) -> str:
    start = f"{key}: "
    said = f"{words_of('run', key)}: {words.removeprefix(start)}" if key and words.startswith(start) else words
    return _PLAIN.get(key, said)


def where_of(run: Subject, key: str) -> str:
    """The step that asks for a key, at its box."""
    if key == "weighing":
        return address("step", run=run.id, step=WEIGH_OUT)
    if key.startswith("weighing["):
        place = key[len("weighing[") :].split("]", maxsplit=1)[0]
        out = place.isdecimal() and int(place) % 2 == 0
        return f"{address('step', run=run.id, step=WEIGH_OUT if out else WEIGH_IN)}#{box_id(key)}"
    if key.startswith("track"):
        return address("step", run=run.id, step="track")
    if key.startswith(("vehicle", "engine", "change")):
        return f"{address('build', vehicle=run.parent)}#{box_id(key)}" if run.parent else ""
    for step in STEPS:
        for field in step.fields:
            if key == field.key or key.startswith((field.key + "[", field.key + ".")):
                return f"{address('step', run=run.id, step=step.name)}#{box_id(field.key)}"
    return ""
