"""What the page is started with."""

from __future__ import annotations

from pathlib import Path

import msgspec

MEGABYTE = 1_000_000

LOOPBACK_NAMES = ("localhost", "127.0.0.1", "[::1]")


class Settings(msgspec.Struct, frozen=True, kw_only=True):
    """`logbook` file or address of the database; `hosts` names this page may be called by, without port.

    `lan` whether other devices may come in, with the one-time key, and
    `lan_hosts` this machine's addresses in the network. `largest_upload` bytes of one request that brings
    files, `largest_form` bytes of any other. `in_process` runs long work in a thread, for tests.
    """

    logbook: Path | str
    port: int = 8765
    hosts: tuple[str, ...] = LOOPBACK_NAMES
    lan: bool = False
    lan_hosts: tuple[str, ...] = ()
    largest_upload: int = 64 * MEGABYTE
    largest_form: int = MEGABYTE // 2
    in_process: bool = False
