"""A recorded track as raw fixes, whatever file they came from."""

from __future__ import annotations

from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
Clock = Literal["utc", "local", "time of day", "relative"]

FIRST_CLOCK_S: Final = 1e8
"""Times before this, in 1973, count from the start of a recording."""


class Track(msgspec.Struct, frozen=True, kw_only=True):
    """Raw fixes of one or more files, in file order, exactly as recorded.

    All arrays have one entry per fix, shape (n,). NaN: not recorded. `time_s` seconds since 1970-01-01 UTC;
    `latitude_deg`, `longitude_deg` WGS-84; `height_m` as recorded; `speed_mps` the receiver's own (Doppler) speed;
    `course_deg` true course over ground; `hdop` dilution of precision; `segment` counts up where the file marks a
    break (a new trkseg, a new file). `clock` what the times count from: 1970 UTC, 1970 by a clock whose
    zone the file does not say, midnight UTC of a day that no file names, or anything at all. `notes` what the reader
    had to skip, in words.
    """

    time_s: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    height_m: FloatArray
    speed_mps: FloatArray
    course_deg: FloatArray
    hdop: FloatArray
    segment: IntArray
    clock: Clock = "utc"
    files: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def dated(self) -> bool:
        """Whether the times tell a day."""
        return self.clock in ("utc", "local")

    def __len__(self) -> int:
        return int(self.time_s.size)
