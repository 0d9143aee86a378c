"""The drive sample by sample, packed to be kept beside a result, and unpacked to be drawn."""

from __future__ import annotations

from typing import Any

import msgspec
import numpy as np

from calmday.logbook.records import StoredResult
from calmday.metrology.figure import Figure, FloatArray
from calmday.procedures.along_the_drive import AlongTheDrive, Band, WindMet
from calmday.reduction.reduced_track import Gap, Span

_FORM = 1
_EXACT = frozenset({"time_s"})
"""Kept to the last digit: seconds since 1970 need more than seven digits."""

_COARSE, _HALF = np.uint32(0xFFFFF800), np.uint32(0x400)
"""Twelve bits of a single's fraction: bands to one part in 8000, which packs to half the size."""


def packed(along: AlongTheDrive | None) -> bytes:
    """The drive as bytes; places to seven digits, bands to four, which is more than a picture shows. Empty for none."""
    if along is None:
        return b""
    fields = {name: _plain(name, getattr(along, name)) for name in along.__struct_fields__}
    return msgspec.msgpack.encode({"form": _FORM, "fields": fields})


def along_of(stored: StoredResult) -> AlongTheDrive | None:
    """The drive behind a stored result; None without a track, or where another version packed it."""
    if not stored.along:
        return None
    found = msgspec.msgpack.decode(stored.along)
    if found["form"] != _FORM or found["fields"].keys() != set(AlongTheDrive.__struct_fields__):
        return None
    return AlongTheDrive(**{name: _value(name, value) for name, value in found["fields"].items()})


def _plain(name: str, value: Any) -> Any:
    if isinstance(value, np.ndarray):
        kind = value.dtype
        if kind == np.float64 and name not in _EXACT:
            kind = np.dtype(np.float32)
        little = np.ascontiguousarray(value, dtype=kind.newbyteorder("<"))
        return {"array": little.dtype.str, "bytes": little.tobytes()}
    if isinstance(value, Band):
        return {"band": [_plain(name, _coarse(part)) for part in (value.mean, value.low, value.high)]}
    return msgspec.to_builtins(value)


def _coarse(values: FloatArray) -> FloatArray:
    bits = values.astype(np.float32).view(np.uint32)
    return ((bits + _HALF) & _COARSE).view(np.float32).astype(np.float64)


def _value(name: str, value: Any) -> Any:
    if isinstance(value, dict) and "array" in value:
        found = np.frombuffer(value["bytes"], dtype=np.dtype(value["array"]))
        return found.astype(np.float64) if found.dtype.kind == "f" else found.astype(found.dtype.newbyteorder("="))
    if isinstance(value, dict) and "band" in value:
        return Band(*(_value(name, part) for part in value["band"]))
    if name in ("laps", "stops"):
        return tuple(Span(**span) for span in value)
    if name == "gaps":
        return tuple(Gap(**gap) for gap in value)
    if name == "wind":
        return WindMet(**{**value, "speed": Figure(**value["speed"])})
    return value
