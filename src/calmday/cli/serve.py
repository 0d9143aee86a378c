"""`calmday serve`: the logbook as a page in the browser, on this machine alone unless asked otherwise."""

from __future__ import annotations

import click

from calmday.cli.between import Whole

HELP = """The logbook and its page, in the browser of this computer.

Everything that the command does, for people who would rather fill in boxes: the build sheet, today's run step by
step, the sheet of the run, where every number comes from. It works without internet, and only this computer can
see it.

With --lan a phone in the same network can come in too: the address and a key that works once are printed. What
goes over that network is not encrypted, so use your own.

\b
Examples
  calmday serve
  calmday serve --logbook club.calmday
  calmday serve --lan

Leaves with 0 when stopped with Ctrl-C, 2 when the logbook or the port cannot be used, 3 when the program is at
fault.
"""


@click.command(name="serve", help=HELP, short_help="The logbook and its page, in the browser.")
@click.option("--logbook", metavar="PLACE", help="A logbook file, or the address of a PostgreSQL database.")
@click.option("--port", type=Whole(1, 65535), default=8765, show_default=True, help="Where to listen.")
@click.option("--lan", is_flag=True, help="Let other devices of this network in, each with a key that works once.")
@click.option("--open/--no-open", "show", default=True, help="Show it in the browser at once.")
def command(logbook: str | None, port: int, lan: bool, show: bool) -> int:
    """Serve until stopped."""
    from calmday.web.serving import serve  # noqa: PLC0415  (the server only here)

    return serve(logbook, port=port, lan=lan, show=show, say=click.echo)
