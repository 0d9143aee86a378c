"""What the exit status means, and the words on standard error that go with it."""

from __future__ import annotations

import errno
import os
import traceback
from typing import TYPE_CHECKING

import click

from calmday.errors import CalmdayError, InputError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from calmday.procedures.weighed_run_result import Flag

DONE = 0
MUST_NOT_BE_USED = 1
INPUT_AT_FAULT = 2
_NO_ROOM = (errno.ENOSPC, errno.EDQUOT)
_OF_THE_PLACE = (errno.EACCES, errno.EPERM, errno.EROFS, errno.ENAMETOOLONG, errno.ELOOP)
_LONGEST_NAME = 200
PROGRAM_AT_FAULT = 3
STOPPED = 130


def of_flags(flags: Iterable[Flag]) -> int:
    """0, or 1 where a flag says that the result must not be used."""
    return MUST_NOT_BE_USED if any(flag.severity == "stop" for flag in flags) else DONE


def say(error: Exception) -> int:
    """Say on standard error what went wrong and what to do; returns the exit status."""
    if os.environ.get("CALMDAY_TRACEBACK") == "1":
        traceback.print_exception(error)
    if isinstance(error, InputError):
        for fault in error.faults:
            _to_stderr(str(fault))
        return INPUT_AT_FAULT
    if isinstance(error, click.ClickException):
        _to_stderr(_usage(error))
        return INPUT_AT_FAULT
    if isinstance(error, CalmdayError):
        _to_stderr(f"calmday: {error}")
        return INPUT_AT_FAULT
    if isinstance(error, OSError) and error.errno in _NO_ROOM:
        _to_stderr(f"calmday: the result cannot be written ({error.strerror}); free some room and run it again")
        return INPUT_AT_FAULT
    if isinstance(error, OSError) and error.filename is not None and error.errno in _OF_THE_PLACE:
        _to_stderr(f"{_short(error.filename)}: file: {error.strerror}; a place that you may read and write")
        return INPUT_AT_FAULT
    _to_stderr(
        f"calmday: a fault of the program, not of your files ({type(error).__name__}); "
        "please report it with the command you ran, and with what CALMDAY_TRACEBACK=1 adds"
    )
    return PROGRAM_AT_FAULT


def _short(name: object) -> str:
    """The name of a file as it was given, cut where it is absurdly long."""
    text = str(name)
    return text if len(text) <= _LONGEST_NAME else f"{text[:_LONGEST_NAME]}..."


def _usage(error: click.ClickException) -> str:
    """A mistake in the command itself, in the form of a fault of a file: where, what is wrong, what to do."""
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "calmday"
    wrong = error.format_message().rstrip(".")
    return f"{command}: arguments: {wrong}; see {command} --help"


def _to_stderr(text: str) -> None:
    from calmday.cli.printing import one_line, writable  # noqa: PLC0415  (only when there is something to say)

    click.echo(writable(one_line(text), err=True), err=True)
