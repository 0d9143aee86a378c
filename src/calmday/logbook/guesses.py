"""Sealed guesses: fixed before the fuel is weighed, opened after, and anyone can check that nobody changed them."""

from __future__ import annotations

import json
import re
import secrets
from collections.abc import Iterable, Mapping

from sqlalchemy import Connection, Row, select

from calmday.errors import InputError
from calmday.logbook import entries, stamps
from calmday.logbook.document import Leaf
from calmday.logbook.errors import DamagedLogbookError
from calmday.logbook.records import Guess, Value
from calmday.logbook.schema import GUESS
from calmday.records.seal import MODEL_NAME, digest_of, seal_holds

OPENED = "@guess."
SCORING = ("guessing.unit", "guessing.rule", "guessing.figure")
"""What must stand before the guesses are opened."""
_PLACE = re.compile(r"prediction\[(\d+)\]")
_MOMENT = re.compile(r"weighing\[\d+\]\.when")


def verify(guess: Guess) -> bool:
    """Whether an opened guess is the one that was sealed."""
    return seal_holds(guess.digest, guess.salt, guess.by, guess.text)


def weighed_in(values: Mapping[str, Value]) -> bool:
    """Whether the fuel left has been weighed, or what was used has been filled up."""
    if any(key.startswith("fill") and "volume" in key and value.text for key, value in values.items()):
        return True
    after = [key.removesuffix(".when") for key, v in values.items() if _MOMENT.fullmatch(key) and v.text == "after"]
    return any(key.startswith(f"{start}.gross") and value.text for start in after for key, value in values.items())


def seal(connection: Connection, run_id: str, text: str, by: str, where: str, *, own: bool = False) -> Guess:
    """Seal a guess of a run whose fuel has not been weighed yet. `own`: by the program itself, once for a run."""
    if not text.strip() or not by.strip():
        missing = "a guess" if by.strip() else "a name"
        raise InputError.one(where, "prediction", f"lacks {missing}", 'who guesses, and such as "34 mpg US"')
    if weighed_in(entries.newest(connection, [run_id], where)[run_id]):
        raise InputError.one(
            where, "prediction", "comes after the fuel was weighed", "a guess made before; this one can stand as a note"
        )
    if not own and by.strip().casefold() == MODEL_NAME.casefold():
        raise InputError.one(where, "by", f"{MODEL_NAME} is the name of the program itself", "another name")
    if own and any(row.by == MODEL_NAME for row in rows(connection, run_id, where)):
        raise InputError.one(where, "prediction", "of the program is sealed already", "the one guess it has")
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
            changes[f"prediction[{place}].salt"] = Leaf(row.salt, "string")
            changes[f"prediction[{place}].digest"] = Leaf(row.digest, "string")
    entries.write(connection, run_id, changes, by, where, why="guesses opened" if changes else "", known=values)
    return of_run(connection, run_id, where)


def refuse_late(connection: Connection, run_id: str, keys: Iterable[str], where: str) -> None:
    """Refuse to declare anew how guesses are scored once they lie open. Raises InputError."""
    late = sorted(key for key in keys if key.startswith(SCORING))
    if not late:
        return
    values = entries.newest(connection, [run_id], where)[run_id]
    if any(key.startswith(OPENED) and value.text is not None for key, value in values.items()):
        raise InputError.one(
            where, late[0], "cannot be declared any more: the guesses lie open", "the rule as it stood before"
        )


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
