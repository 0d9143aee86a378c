"""`calmday schema`: the JSON Schema of what `--json` prints."""

from __future__ import annotations

import click

from calmday.cli.printing import show_json

HELP = """The JSON Schema of what --json prints.

Without NAME lists the names there are.

\b
Examples
  calmday schema
  calmday schema run > run.schema.json
"""


@click.command(name="schema", help=HELP, short_help="The JSON Schema of what --json prints.")
@click.argument("name", metavar="[NAME]", required=False)
def command(name: str | None) -> int:
    """Print one schema, or the names of all."""
    from calmday.operations import schema, schema_names  # noqa: PLC0415  (the result types only now)

    if name is None:
        for known in schema_names():
            click.echo(known)
    else:
        show_json(schema(name))
    return 0
