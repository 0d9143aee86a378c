"""A sound recording and what was noted about it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.records.declared import Declared
from calmday.records.track import Track
from calmday.records.vehicle import Vehicle

SingleArray = NDArray[np.float32]


class Recording(msgspec.Struct, frozen=True, kw_only=True):
    """Sound as it was recorded: `blocks` gives it from the start, mono, a piece at a time, each time it is called.

    `rate_hz` samples a second; `seconds` how long; `channels` in the file, averaged; `coding` in words.
    """

    rate_hz: float
    seconds: float
    blocks: Callable[[], Iterator[SingleArray]]
    channels: int = 1
    coding: str = ""
    file: str = ""


class Sound(msgspec.Struct, frozen=True, kw_only=True):
    """A recording of an engine with what is known beside it.

    `started_s` when it began, seconds since 1970, None where nobody noted it; `speed_mps` a steady road speed that was
    typed; `gear` 1 for first; `uneven` where the engine is known to fire unevenly; `listened_by` who heard the engine
    beside the microphone; `place` where the microphone was.
    """

    label: str
    recording: Recording
    vehicle: Vehicle
    cylinders: int
    strokes: int
    uneven: bool = False
    date: dt.date | None = None
    track: Track | None = None
    started_s: float | None = None
    speed_mps: Declared | None = None
    gear: int | None = None
    listened_by: str = ""
    place: str = ""
    heard: str = ""
    file: str = ""
