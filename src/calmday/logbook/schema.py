"""The tables, for queries. `migrations/versions` makes them; a test holds the two against each other.

Every table only ever grows: triggers refuse to change or delete a row.
"""

from __future__ import annotations

from sqlalchemy import CheckConstraint, Column, ForeignKey, Index, Integer, LargeBinary, MetaData, String, Table, Text

from calmday.logbook.records import KINDS

METADATA = MetaData()

ID = String(26).with_variant(String(26, collation="C"), "postgresql")
KEY = Text().with_variant(Text(collation="C"), "postgresql")

SUBJECT = Table(
    "subject",
    METADATA,
    Column("id", ID, primary_key=True),
    Column("kind", String(20), nullable=False),
    CheckConstraint(f"kind IN ({', '.join(repr(kind) for kind in KINDS)})", name="subject_kind_known"),
)

ENTRY = Table(
    "entry",
    METADATA,
    Column("id", ID, primary_key=True),
    Column("subject_id", ID, ForeignKey("subject.id", name="entry_subject"), nullable=False),
    Column("key", KEY, nullable=False),
    Column("value", Text),
    Column("form", String(20), nullable=False),
    Column("at", String(32), nullable=False),
    Column("by", Text, nullable=False),
    Column("why", Text, nullable=False),
    Column("device", Text, nullable=False),
    Column("row_hash", String(16), nullable=False),
)
Index("entry_newest", ENTRY.c.subject_id, ENTRY.c.key, ENTRY.c.id)
Index("entry_by_key", ENTRY.c.key, ENTRY.c.subject_id, ENTRY.c.id)

BLOB = Table(
    "blob",
    METADATA,
    Column("sha256", String(64), primary_key=True),
    Column("size", Integer, nullable=False),
    Column("packing", String(8), nullable=False),
    Column("content", LargeBinary, nullable=False),
)

GUESS = Table(
    "guess",
    METADATA,
    Column("id", ID, primary_key=True),
    Column("run_id", ID, ForeignKey("subject.id", name="guess_run"), nullable=False),
    Column("by", Text, nullable=False),
    Column("text", Text, nullable=False),
    Column("salt", String(64), nullable=False),
    Column("digest", String(64), nullable=False),
    Column("row_hash", String(16), nullable=False),
)
Index("guess_of_run", GUESS.c.run_id)

RESULT = Table(
    "result",
    METADATA,
    Column("id", ID, primary_key=True),
    Column("run_id", ID, ForeignKey("subject.id", name="result_run"), nullable=False),
    Column("inputs_sha256", String(64), nullable=False),
    Column("version", String(40), nullable=False),
    Column("seed", String(20), nullable=False),
    Column("draws", Integer, nullable=False),
    Column("summary", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    Column("along", LargeBinary),
    Column("row_hash", String(16), nullable=False),
)
Index("result_of_run", RESULT.c.run_id, RESULT.c.id)

WRITER = Table(
    "writer",
    METADATA,
    Column("revision", String(8), primary_key=True),
    Column("program", String(40), nullable=False),
    Column("at", String(32), nullable=False),
)

APPEND_ONLY = ("subject", "entry", "blob", "guess", "result", "writer")
