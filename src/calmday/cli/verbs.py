"""The verbs of `calmday`: finds the one asked for, runs it, turns whatever goes wrong into words and an exit status."""

from __future__ import annotations

import keyword
import os
import sys
from importlib import import_module

import click

from calmday import __version__
from calmday.cli import exit_status

VERBS = (
    "demo",
    "plan",
    "check",
    "reduce",
    "gears",
    "compare",
    "whatif",
    "sweep",
    "know",
    "coastdown",
    "pull",
    "trace",
    "sound",
    "dials",
    "settings",
    "cost",
    "published",
    "guesses",
    "report",
    "serve",
    "import",
    "export",
    "backup",
    "restore",
    "schema",
)

HELP = """Weighed-fuel road tests, brought to a calm standard day.

Weigh the fuel before and after a drive, keep the track and the weather, and calmday works out what the
vehicle used, what it would have used without the wind and the cold start, and how far either figure can be
trusted.

\b
Examples
  calmday demo                    an invented drive, worked out here and now
  calmday plan my-day             what will a test tell, before anyone drives it?
  calmday check my-day            is this run worth keeping? ask before driving home
  calmday reduce my-day           what did it use? the whole sheet
  calmday reduce my-day --json    the same for other programs
  calmday gears my-day            has it the power, and when to change gear?
  calmday compare my-test         did the change make a difference?
  calmday cost my-day             what does it cost, and when has the swap paid for itself?
  calmday report my-day --folder to-show   pages, pictures and tables for others
  calmday serve                   the logbook as a page in the browser
"""


class Verbs(click.Group):
    """Loads the module of a verb only when that verb is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The verbs in the order of a builder's questions."""
        return list(VERBS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """The verb's command; None where there is no such verb."""
        if cmd_name not in VERBS:
            return None
        module = f"{cmd_name}_" if keyword.iskeyword(cmd_name) else cmd_name
        command: click.Command = import_module(f"calmday.cli.{module}").command
        return command


def _show_version(ctx: click.Context, _parameter: click.Parameter, asked: bool) -> None:
    if asked and not ctx.resilient_parsing:
        click.echo(f"calmday {__version__}")
        ctx.exit()


@click.group(
    name="calmday",
    cls=Verbs,
    help=HELP,
    invoke_without_command=True,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.option(
    "--version",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_show_version,
    help="Print the version and leave.",
)
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Without a verb, show the help."""
    if ctx.invoked_subcommand is None:
        click.echo(ctx.get_help())


def run(arguments: list[str] | None) -> int:
    """Run the verb that the arguments name; the exit status is returned, never raised. None: those of the process."""
    try:
        outcome = cli.main(args=arguments, prog_name="calmday", standalone_mode=False)
        sys.stdout.flush()
    except BrokenPipeError:
        _let_go_of_stdout()
        return exit_status.DONE
    except (KeyboardInterrupt, click.exceptions.Abort):
        click.echo("calmday: stopped", err=True)
        return exit_status.STOPPED
    except Exception as error:  # the outermost layer: everything becomes a sentence here and nowhere else
        return exit_status.say(error)
    return outcome if isinstance(outcome, int) else exit_status.DONE


def _let_go_of_stdout() -> None:
    """The reader of our output has left (`calmday ... | head`): keep Python from complaining at exit."""
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, sys.stdout.fileno())
    os.close(nowhere)
