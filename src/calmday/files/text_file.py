"""Bytes and text from a file, with every way that can fail turned into a fault that names the file."""

from __future__ import annotations

import codecs
from pathlib import Path

from calmday.errors import InputError

MEGABYTE = 1_000_000


def read_bytes(path: Path, name: str, limit: int) -> bytes:
    """The whole file, at most `limit` bytes. `name` the file as the user named it. Raises InputError."""
    try:
        if path.is_dir():
            raise InputError.one(name, "file", "is a folder", "the name of a file in it")
        size = path.stat().st_size
        if not path.is_file():
            raise InputError.one(name, "file", "is a device, not a file", "the name of a file")
        if size > limit:
            raise _too_large(name, size, limit)
        with path.open("rb") as stream:
            data = stream.read(limit + 1)
    except FileNotFoundError:
        raise InputError.one(
            name, "file", "is not there", "check the name; paths start at the file that names them"
        ) from None
    except (OSError, ValueError) as e:
        reason = e.strerror if isinstance(e, OSError) and e.strerror else str(e)
        raise InputError.one(name, "file", f"cannot be read ({reason})", "a readable file") from None
    if len(data) > limit:
        raise _too_large(name, len(data), limit)
    if data[:2] == b"\x1f\x8b":
        raise InputError.one(name, "file", "is compressed with gzip", "unpack it first")
    if data[:4] == b"PK\x03\x04":
        raise InputError.one(name, "file", "is a zip archive", "unpack it first")
    return data


def read_text(path: Path, name: str, limit: int) -> str:
    """The whole file as text without byte order mark, UTF-8 only. Raises InputError."""
    return decoded(read_bytes(path, name, limit), name)


def decoded(data: bytes, name: str) -> str:
    """UTF-8 bytes as text without byte order mark. Raises InputError with the line at fault."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        raise InputError.one(name, "line 1", "is UTF-16 text", "save it as UTF-8")
    if b"\0" in data:
        line = data.count(b"\n", 0, data.index(b"\0")) + 1
        raise InputError.one(name, f"line {line}", "has bytes that are not text", "a text file in UTF-8")
    text = data.removeprefix(codecs.BOM_UTF8)
    try:
        return text.decode()
    except UnicodeDecodeError as e:
        line = text.count(b"\n", 0, e.start) + 1
        wrong = f"has the byte 0x{text[e.start]:02x}, which is not UTF-8"
        raise InputError.one(name, f"line {line}", wrong, "save the file as UTF-8") from None


def _too_large(name: str, size: int, limit: int) -> InputError:
    wrong = f"has {size / MEGABYTE:.0f} MB"
    return InputError.one(name, "file", wrong, f"at most {limit / MEGABYTE:.0f} MB")
