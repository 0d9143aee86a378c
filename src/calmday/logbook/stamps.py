"""Times and identifiers: identifiers sort by time, also across devices, so that "newest" has one meaning."""

from __future__ import annotations

import datetime as dt
import hashlib
import secrets
import time

_TIME_DIGITS = 14
LENGTH = _TIME_DIGITS + 12


def now() -> dt.datetime:
    """The time of this machine, with offset."""
    return dt.datetime.fromtimestamp(time.time_ns() // 1000 / 1e6, dt.UTC)


def written(when: dt.datetime) -> str:
    """A time as the logbook writes it: UTC, microseconds, always the same length."""
    return when.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def new_id(when: dt.datetime, after: str = "") -> str:
    """An identifier that sorts by time and after `after`, even where the clock has gone back since."""
    micros = (when - dt.datetime(1970, 1, 1, tzinfo=dt.UTC)) // dt.timedelta(microseconds=1)
    if after:
        micros = max(micros, int(after[:_TIME_DIGITS], 16) + 1)
    return f"{max(micros, 0):0{_TIME_DIGITS}x}{secrets.token_hex(6)}"


def time_of(identifier: str) -> str:
    """When an identifier was made, as the logbook writes times."""
    micros = int(identifier[:_TIME_DIGITS], 16)
    return written(dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=micros))


def is_id(text: str) -> bool:
    """Whether a text has the form of an identifier."""
    return len(text) == LENGTH and all(c in "0123456789abcdef" for c in text)


def row_hash(*fields: object) -> str:
    """A short hash of a row, written beside it: a byte that the disk has changed is noticed when it is read."""
    digest = hashlib.blake2b(digest_size=8)
    for field in fields:
        data = b"\0" if field is None else field if isinstance(field, bytes) else str(field).encode()
        digest.update(len(data).to_bytes(8, "big") + data)
    return digest.hexdigest()
