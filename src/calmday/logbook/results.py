"""Results with what produced them: added beside the earlier ones, never instead."""

from __future__ import annotations

import json
import zlib
from collections.abc import Mapping, Sequence
from typing import Any

import msgspec
from sqlalchemy import Connection, Row, func, select

from calmday.errors import InputError
from calmday.logbook import stamps
from calmday.logbook.errors import DamagedLogbookError
from calmday.logbook.records import StoredResult
from calmday.logbook.schema import RESULT

_LIGHT = [column for column in RESULT.c if column.name not in ("content", "along")]
_HASHED = tuple(column.name for column in _LIGHT if column.name != "row_hash")
"""The hash covers what lists read; content and curves carry the check sum of their packing."""


def add(
    connection: Connection,
    run_id: str,
    *,
    inputs_sha256: str,
    version: str,
    seed: int,
    draws: int,
    summary: Mapping[str, Any],
    content: bytes,
    along: bytes = b"",
    identifier: str = "",
) -> StoredResult:
    """Keep a result. `identifier` only for one that comes from another logbook."""
    result = StoredResult(
        id=identifier or stamps.new_id(stamps.now()),
        run_id=run_id,
        inputs_sha256=inputs_sha256,
        version=version,
        seed=seed,
        draws=draws,
        computed_at="",
        summary=dict(summary),
        content=content,
        along=along,
    )
    row = {
        "id": result.id,
        "run_id": run_id,
        "inputs_sha256": inputs_sha256,
        "version": version,
        "seed": str(seed),
        "draws": draws,
        "summary": json.dumps(result.summary, ensure_ascii=False),
        "content": zlib.compress(content),
        "along": zlib.compress(along) if along else None,
    }
    connection.execute(RESULT.insert().values(**row, row_hash=_hash(row)))
    return _stored(row, content, along)


def newest(connection: Connection, where: str, run_ids: Sequence[str] | None = None) -> dict[str, StoredResult]:
    """The newest result of every run, or of those named, without content. One query."""
    last = select(func.max(RESULT.c.id).label("id"))
    if run_ids is not None:
        last = last.where(RESULT.c.run_id.in_(run_ids))
    picked = last.group_by(RESULT.c.run_id).subquery()
    rows = connection.execute(select(*_LIGHT).join(picked, RESULT.c.id == picked.c.id))
    return {row.run_id: _light(row, where) for row in rows}


def of_runs(
    connection: Connection, run_ids: Sequence[str], where: str, *, whole: bool = False
) -> tuple[StoredResult, ...]:
    """All results of runs, newest first."""
    columns = list(RESULT.c) if whole else _LIGHT
    query = select(*columns).where(RESULT.c.run_id.in_(run_ids)).order_by(RESULT.c.id.desc())
    return tuple(_whole(row, where) if whole else _light(row, where) for row in connection.execute(query))


def one(connection: Connection, result_id: str, where: str) -> StoredResult:
    """One result, whole."""
    row = connection.execute(select(RESULT).where(RESULT.c.id == result_id)).first()
    if row is None:
        raise InputError.one(where, result_id[:40], "is no result of this logbook", "one that is listed there")
    return _whole(row, where)


def _light(row: Row[Any], where: str) -> StoredResult:
    if row.row_hash != _hash(row._mapping):
        raise DamagedLogbookError(where, "a result is not what was stored")
    return _stored(row._mapping, b"", b"")


def _whole(row: Row[Any], where: str) -> StoredResult:
    light = _light(row, where)
    try:
        along = zlib.decompress(row.along) if row.along else b""
        return msgspec.structs.replace(light, content=zlib.decompress(row.content), along=along)
    except zlib.error:
        raise DamagedLogbookError(where, "a result is not what was stored") from None


def _hash(row: Mapping[Any, Any]) -> str:
    return stamps.row_hash(*(row[name] for name in _HASHED))


def _stored(row: Mapping[Any, Any], content: bytes, along: bytes) -> StoredResult:
    return StoredResult(
        id=row["id"],
        run_id=row["run_id"],
        inputs_sha256=row["inputs_sha256"],
        version=row["version"],
        seed=int(row["seed"]),
        draws=row["draws"],
        computed_at=stamps.time_of(row["id"]),
        summary=json.loads(row["summary"]),
        content=content,
        along=along,
    )
