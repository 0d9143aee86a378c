"""Files that come in together: a zip or several files, bounded in number and size, laid out in a folder of their own.

A name from outside is never used as a path: each part of it must be a plain name, and nothing may lead out.
"""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from calmday.errors import InputError
from calmday.web.settings import MEGABYTE

MOST_FILES: Final = 5000
MOST_BYTES: Final = 400 * MEGABYTE
MOST_BYTES_OF_ONE: Final = 100 * MEGABYTE
MOST_EXPANSION: Final = 200
"""How many times its own size a file in a zip may have: text packs to a tenth or so."""
DEEPEST: Final = 6
_PLAIN = re.compile(r"[\w@(),+=~'][\w .@(),+=~'-]{0,119}")
_RESERVED = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.IGNORECASE)
_CHUNK: Final = 256 * 1024


def lay_out(parcels: list[tuple[str, bytes]], folder: Path) -> None:
    """Write files, and what zips hold, below an empty folder. Raises InputError."""
    total = 0
    count = 0
    for name, data in parcels:
        found = _members(name, data) if data.startswith(b"PK\x03\x04") else iter([(name, data)])
        for inner, content in found:
            count += 1
            total += len(content)
            if count > MOST_FILES or total > MOST_BYTES:
                raise InputError.one(
                    _shown(name), "file", "holds too much", f"at most {MOST_FILES} files, 400 MB together"
                )
            place = folder.joinpath(*safe_parts(inner))
            place.parent.mkdir(parents=True, exist_ok=True)
            if place.exists():
                raise InputError.one(_shown(inner), "file", "comes twice", "each file once")
            place.write_bytes(content)


def safe_parts(name: str) -> tuple[str, ...]:
    """The parts of a name, each a plain one. Raises InputError for anything that could lead elsewhere."""
    parts = tuple(name.replace("\\", "/").split("/"))
    plain = all(
        _PLAIN.fullmatch(part) and not part.endswith((".", " ")) and not _RESERVED.fullmatch(part) for part in parts
    )
    if not plain or len(parts) > DEEPEST:
        raise InputError.one(
            _shown(name), "file", "has a name that is not taken", "letters, digits, spaces and . - _ ( )"
        )
    return parts


def _members(name: str, data: bytes) -> Iterator[tuple[str, bytes]]:
    """Every file of a zip, unpacked no further than it may."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            infos = [info for info in archive.infolist() if not info.is_dir()]
            if len(infos) > MOST_FILES or sum(info.file_size for info in infos) > MOST_BYTES:
                raise InputError.one(
                    _shown(name), "file", "holds too much", f"at most {MOST_FILES} files, 400 MB together"
                )
            for info in infos:
                yield info.filename, _member(archive, info, name)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError, ValueError) as error:
        raise InputError.one(
            _shown(name), "file", f"is a zip that cannot be opened ({error})"[:120], "a whole one"
        ) from None


def _member(archive: zipfile.ZipFile, info: zipfile.ZipInfo, name: str) -> bytes:
    limit = min(MOST_BYTES_OF_ONE, MOST_EXPANSION * max(info.compress_size, 4096))
    content = bytearray()
    with archive.open(info) as stream:
        while chunk := stream.read(_CHUNK):
            content += chunk
            if len(content) > limit:
                raise InputError.one(
                    _shown(name), _shown(info.filename), "unpacks to far more than it is", "plain files"
                )
    return bytes(content)


def _shown(name: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in name)[:80] or "the file"
