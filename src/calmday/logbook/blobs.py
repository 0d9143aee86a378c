"""Files kept in the logbook by what they hold: the same bytes once, and the same bytes back."""

from __future__ import annotations

import hashlib
import zlib
from collections.abc import Iterable

from sqlalchemy import Connection, select

from calmday.logbook.errors import DamagedLogbookError
from calmday.logbook.schema import BLOB

_LEVEL = 6
_WORTH = 0.9
"""Packed only where that saves a tenth: photographs are packed already."""


def keep(connection: Connection, data: bytes) -> str:
    """Store bytes that are not there yet; their SHA-256."""
    sha256 = hashlib.sha256(data).hexdigest()
    if connection.execute(select(BLOB.c.size).where(BLOB.c.sha256 == sha256)).scalar() is None:
        packed = zlib.compress(data, _LEVEL)
        small = len(packed) < _WORTH * len(data)
        connection.execute(
            BLOB.insert().values(
                sha256=sha256, size=len(data), packing="zlib" if small else "plain", content=packed if small else data
            )
        )
    return sha256


def contents(connection: Connection, hashes: Iterable[str], where: str) -> dict[str, bytes]:
    """The bytes of several files by their SHA-256, each checked. One query."""
    wanted = list(dict.fromkeys(hashes))
    found = {}
    if wanted:
        query = select(BLOB.c.sha256, BLOB.c.packing, BLOB.c.content).where(BLOB.c.sha256.in_(wanted))
        for sha256, packing, content in connection.execute(query):
            found[sha256] = _unpacked(sha256, packing, content, where)
    if len(found) < len(wanted):
        raise DamagedLogbookError(where, "a file that an entry names is missing")
    return found


def _unpacked(sha256: str, packing: str, content: bytes, where: str) -> bytes:
    try:
        data = zlib.decompress(content) if packing == "zlib" else bytes(content)
    except zlib.error:
        data = b""
    if hashlib.sha256(data).hexdigest() != sha256:
        raise DamagedLogbookError(where, "a file in it is not what was stored")
    return data
