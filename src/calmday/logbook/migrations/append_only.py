"""Triggers that refuse to change or delete what has been written, whoever asks."""

from __future__ import annotations

from alembic import op

_REFUSAL = "what the logbook holds is never changed: add a correction instead"


def protect(table: str, key: str) -> None:
    """Refuse every UPDATE and DELETE on a table, and an INSERT that would replace a row with the same `key`."""
    if op.get_bind().dialect.name == "sqlite":
        for action in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{action.lower()} BEFORE {action} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
            )
        op.execute(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} "
            f"WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key}) "
            f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
        )
        return
    op.execute(
        "CREATE OR REPLACE FUNCTION calmday_refuse() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$"
    )
    op.execute(
        f"CREATE TRIGGER {table}_stays BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION calmday_refuse()"
    )
    op.execute(
        f"CREATE TRIGGER {table}_not_emptied BEFORE TRUNCATE ON {table} "
        "FOR EACH STATEMENT EXECUTE FUNCTION calmday_refuse()"
    )


def text_type(length: int | None = None) -> object:
    """A text that sorts by its bytes on every database."""
    import sqlalchemy as sa  # noqa: PLC0415

    kind = sa.String(length) if length else sa.Text()
    plain = sa.String(length, collation="C") if length else sa.Text(collation="C")
    return kind.with_variant(plain, "postgresql")
