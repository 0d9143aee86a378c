"""Sealed guesses: fixed before the fuel is weighed, opened after, and anyone can check that nobody changed them."""

from __future__ import annotations

import hashlib
import hmac
import json
import re
import secrets
from collections.abc import Mapping

from sqlalchemy import Connection, Row, select

from calmday.errors import InputError
from calmday.logbook import entries, stamps
from calmday.logbook.document import Leaf
from calmday.logbook.errors import DamagedLogbookError
from calmday.logbook.records import Guess, Value
from calmday.logbook.schema import GUESS

OPENED = "@guess."
_PLACE = re.compile(r"prediction\[(\d+)\]")
_MOMENT = re.compile(r"weighing\[\d+\]\.when")


def digest_of(salt: str, by: str, text: str) -> str:
    """SHA-256 over salt, name and guess, each on a line: printf '%s\\n%s\\n%s' SALT NAME GUESS | sha256sum."""
    return hashlib.sha256(f"{salt}\n{by}\n{text}".encode()).hexdigest()


def verify(guess: Guess) -> bool:
    """Whether an opened guess is the one that was sealed."""
    return hmac.compare_digest(digest_of(guess.salt, guess.by, guess.text), guess.digest)


def weighed_in(values: Mapping[str, Value]) -> bool:
    """Whether the fuel left has been weighed, or what was used has been filled up."""
    if any(key.startswith("fill") and "volume" in key and value.text for key, value in values.items()):
        return True
    after = [key.removesuffix(".when") for key, v in values.items() if _MOMENT.fullmatch(key) and v.text == "after"]
    return any(key.startswith(f"{start}.gross") and value.text for start in after for key, value in values.items())


def seal(connection: Connection, run_id: str, text: str, by: str, where: str) -> Guess:
    """Seal a guess of a run whose fuel has not been weighed yet."""
    if not text.strip() or not by.strip():
        missing = "a guess" if by.strip() else "a name"
        raise InputError.one(where, "prediction", f"lacks {missing}", 'who guesses, and such as "34 mpg US"')
    if weighed_in(entries.newest(connection, [run_id], where)[run_id]):
        raise InputError.one(
            where, "prediction", "comes after the fuel was weighed", "a guess made before; this one can stand as a note"
        )
    salt, identifier = secrets.token_hex(16), stamps.new_id(stamps.now())
    digest = digest_of(salt, by, text)
    insert(connection, run_id, {"id": identifier, "by": by, "text": text, "salt": salt, "digest": digest})
    return Guess(id=identifier, run_id=run_id, by=by, digest=digest, sealed_at=stamps.time_of(identifier))


def insert(connection: Connection, run_id: str, row: Mapping[str, str]) -> None:
    """Add a sealed guess as it is."""
    fields = [row[name] for name in ("id", "by", "text", "salt", "digest")]
    connection.execute(GUESS.insert().values(**row, run_id=run_id, row_hash=stamps.row_hash(run_id, *fields)))


def of_run(connection: Connection, run_id: str, where: str) -> tuple[Guess, ...]:
    """The guesses of a run in the order sealed; text and salt only of those opened."""
    values = entries.newest(connection, [run_id], where)[run_id]
    return tuple(_guess(row, values) for row in rows(connection, run_id, where))


def rows(connection: Connection, run_id: str, where: str) -> list[Row[tuple[str, ...]]]:
    """The guesses of a run as stored."""
    query = select(GUESS).where(GUESS.c.run_id == run_id).order_by(GUESS.c.id)
    found = list(connection.execute(query))
    for row in found:
        if row.row_hash != stamps.row_hash(row.run_id, row.id, row.by, row.text, row.salt, row.digest):
            raise DamagedLogbookError(where, "a guess is not what was sealed")
    return found


def open_all(connection: Connection, run_id: str, by: str, where: str) -> tuple[Guess, ...]:
    """Open the guesses of a run: their text joins the run's document as predictions."""
    values = entries.newest(connection, [run_id], where)[run_id]
    if not weighed_in(values):
        raise InputError.one(
            where, "prediction", "stays sealed", "weigh the fuel that is left first, then open the guesses"
        )
    places = [int(found[1]) for key, v in values.items() if (found := _PLACE.match(key)) and v.text is not None]
    place = max(places, default=-1)
    changes: dict[str, entries.Input] = {}
    for row in rows(connection, run_id, where):
        if OPENED + row.id not in values:
            place += 1
            changes[OPENED + row.id] = json.dumps({"place": place})
            changes[f"prediction[{place}].by"] = Leaf(row.by, "string")
            changes[f"prediction[{place}].value"] = Leaf(row.text, "string")
    entries.write(connection, run_id, changes, by, where, why="guesses opened" if changes else "", known=values)
    return of_run(connection, run_id, where)


def _guess(row: Row[tuple[str, ...]], values: Mapping[str, Value]) -> Guess:
    opened = values.get(OPENED + row.id)
    plain = opened is not None
    return Guess(
        id=row.id,
        run_id=row.run_id,
        by=row.by,
        digest=row.digest,
        sealed_at=stamps.time_of(row.id),
        opened_at=opened.at if opened is not None else "",
        text=row.text if plain else "",
        salt=row.salt if plain else "",
    )
