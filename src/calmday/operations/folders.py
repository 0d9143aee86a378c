"""Folders that a person asked for: they appear whole, or not at all."""

from __future__ import annotations

import io
import secrets
import shutil
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from calmday.errors import InputError

__all__ = ["Put", "new_folder", "refuse_full", "writer", "zip_of"]

Put = Callable[[str, bytes], None]
"""Writes one file of a folder: its relative path, its bytes."""


@contextmanager
def new_folder(folder: Path | str, verb: str) -> Iterator[Path]:
    """A draft beside the folder asked for, put in its place when all went well. The folder must not exist, or be empty.

    Raises InputError, naming the verb, where it is taken or cannot be written.
    """
    target = Path(folder)
    refuse_full(target, verb)
    draft = target.with_name(f".{target.name[:100]}.{secrets.token_hex(4)}.new")
    try:
        draft.mkdir(parents=True)
        yield draft
        if target.exists():
            target.rmdir()
        draft.replace(target)
    except OSError as e:
        raise InputError.one(verb, str(target), f"cannot be written ({e.strerror})", "another folder") from None
    finally:
        shutil.rmtree(draft, ignore_errors=True)


def refuse_full(target: Path, verb: str) -> None:
    """Raise InputError where a folder holds something already."""
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise InputError.one(verb, str(target), "is there already", "a folder that does not exist yet, or an empty one")


def zip_of(root: Path) -> bytes:
    """A folder as a zip, names in order."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted(path for path in root.rglob("*") if path.is_file()):
            archive.write(path, path.relative_to(root).as_posix())
    return target.getvalue()


def writer(folder: Path) -> Put:
    """What writes the files of a folder, each once."""

    def put(name: str, data: bytes) -> None:
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as stream:
            stream.write(data)

    return put
