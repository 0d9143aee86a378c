"""NMEA 0183 logs: RMC, GGA and VTG sentences of any talker, merged into one fix per epoch.

Sentences are split here and not by pynmea2, which serves as the reference in the tests: it takes three times
as long, 3 s for a day's log. A sentence counts only if its checksum is right.
"""

from __future__ import annotations

import datetime as dt
import math
from functools import lru_cache, reduce
from operator import xor
from pathlib import Path

import numpy as np

from calmday.errors import InputError
from calmday.files.text_file import MEGABYTE, read_bytes
from calmday.files.track_columns import MAX_POINTS, TrackColumns, too_many, track_from_columns
from calmday.records.track import Track

SIZE_LIMIT = 400 * MEGABYTE
_KNOT_MPS = 1852 / 3600
_DAY_S = 86_400.0
_HALF_DAY_S = 43_200.0
_SAME_EPOCH_S = 0.015
"""Sentences of one epoch may give its time with fewer or more decimals; receivers go up to 25 Hz."""
# Field counts up to the last one used; older receivers leave out later ones.
_LEAST_FIELDS = {"RMC": 10, "GGA": 10, "VTG": 8}
_EPOCH_ORDINAL = dt.date(1970, 1, 1).toordinal()


class _Epoch:
    """What the sentences of one moment say, NaN where none says it."""

    __slots__ = ("course", "day", "fixed", "hdop", "height", "latitude", "longitude", "speed", "time_of_day")

    def __init__(self, time_of_day: float) -> None:
        self.time_of_day = time_of_day
        self.day: int | None = None
        self.fixed = False
        self.latitude = self.longitude = self.height = math.nan
        self.speed = self.course = self.hdop = math.nan


class _Log:
    """Epochs in file order, and counts of what had to be passed over."""

    def __init__(self, *, checksums: bool) -> None:
        self.checksums = checksums
        self.epochs: list[_Epoch] = []
        self._current: _Epoch | None = None
        self.known = self.corrupt = self.broken = self.invalid = 0
        self._handlers = {"RMC": self._rmc, "GGA": self._gga, "VTG": self._vtg}

    def sentence(self, line: bytes) -> None:
        """Take in one line that holds an RMC, GGA or VTG sentence; others are passed over."""
        start = line.find(b"$")
        body, star, checksum = line[start + 1 :].partition(b"*")
        kind = body[2:5].decode("ascii", "replace")
        handler = self._handlers.get(kind)
        if start < 0 or handler is None or body[5:6] != b",":
            return
        self.known += 1
        if self.checksums and not (star and _checksum_is(body, checksum[:2])):
            self.corrupt += 1
            return
        fields = body.decode("ascii", "replace").split(",")
        try:
            if len(fields) < _LEAST_FIELDS[kind]:
                raise ValueError("too few fields")
            handler(fields)
        except ValueError:
            self.broken += 1

    def _rmc(self, f: list[str]) -> None:
        if f[2] != "A" or not f[1]:
            self.invalid += 1
            self._current = None
            return
        epoch = self._epoch(_time_of_day(f[1]))
        latitude, longitude = _degrees(f[3], f[4], 2), _degrees(f[5], f[6], 3)
        speed, course, day = _number(f[7]), _number(f[8]), _day(f[9])
        if math.isnan(epoch.latitude):
            epoch.latitude, epoch.longitude = latitude, longitude
        epoch.speed, epoch.course, epoch.day, epoch.fixed = speed * _KNOT_MPS, course, day, True

    def _gga(self, f: list[str]) -> None:
        if f[6] in ("", "0") or not f[1]:
            self.invalid += 1
            self._current = None
            return
        epoch = self._epoch(_time_of_day(f[1]))
        latitude, longitude = _degrees(f[2], f[3], 2), _degrees(f[4], f[5], 3)
        epoch.hdop, epoch.height = _number(f[8]), _number(f[9])
        epoch.latitude, epoch.longitude, epoch.fixed = latitude, longitude, True

    def _vtg(self, f: list[str]) -> None:
        # VTG carries no time: it belongs to the epoch being written.
        epoch = self._current
        if epoch is None:
            return
        if math.isnan(epoch.course):
            epoch.course = _number(f[1])
        if math.isnan(epoch.speed):
            knots = _number(f[5])
            epoch.speed = _number(f[7]) / 3.6 if math.isnan(knots) else knots * _KNOT_MPS

    def _epoch(self, time_of_day: float) -> _Epoch:
        if self._current is None or abs(self._current.time_of_day - time_of_day) > _SAME_EPOCH_S:
            last = self.epochs[-1] if self.epochs else None
            if last is not None and last.time_of_day == time_of_day:
                self._current = last
                return last
            self._current = _Epoch(time_of_day)
            self.epochs.append(self._current)
            if len(self.epochs) > MAX_POINTS:
                raise OverflowError
        return self._current

    def notes(self) -> list[str]:
        """What was passed over, in words."""
        counts = (
            (self.corrupt, "with a wrong or no checksum left out"),
            (self.broken, "that cannot be read left out"),
            (self.invalid, "without a valid fix left out"),
        )
        told = [f"{count} sentence{'s' if count > 1 else ''} {what}" for count, what in counts if count]
        return told if self.checksums else ["no sentence has a checksum, so none could be verified", *told]


def read_nmea(path: Path, name: str | None = None) -> Track:
    """The track of one NMEA log. `name` the file as the user named it. Raises InputError."""
    name = name or str(path)
    return parse_nmea(read_bytes(path, name, SIZE_LIMIT), name)


def parse_nmea(data: bytes, name: str) -> Track:
    """The track in the bytes of an NMEA log, other lines passed over. Raises InputError."""
    # Some loggers strip every checksum; a sentence without one among others that have it is a damaged one.
    log = _Log(checksums=b"*" in data)
    try:
        for line in data.splitlines():
            log.sentence(line)
    except OverflowError:
        raise too_many(name) from None
    epochs = [epoch for epoch in log.epochs if epoch.fixed]
    notes = log.notes()
    if not epochs:
        found = f": {', '.join(notes)}" if notes else ""
        right = "a log with RMC or GGA sentences of a receiver that had a fix"
        raise InputError.one(name, "file", f"has no usable fix in {log.known} sentences{found}", right)
    columns = TrackColumns(
        time_s=np.array(_times(epochs, notes)),
        latitude_deg=np.array([e.latitude for e in epochs]),
        longitude_deg=np.array([e.longitude for e in epochs]),
        height_m=np.array([e.height for e in epochs]),
        speed_mps=np.array([e.speed for e in epochs]),
        course_deg=np.array([e.course for e in epochs]),
        hdop=np.array([e.hdop for e in epochs]),
    )
    undated = all(epoch.day is None for epoch in epochs)
    return track_from_columns(columns, name, notes, clock="time of day" if undated else "utc")


def _times(epochs: list[_Epoch], notes: list[str]) -> list[float]:
    """Seconds since 1970: the date of the RMC sentence before, or the first after, moved on at midnight."""
    first = next((i for i, e in enumerate(epochs) if e.day is not None), None)
    if first is None:
        notes.append("no sentence gives a date, only times of day")
        day = 0
    else:
        day = epochs[first].day or 0
        for later, sooner in zip(reversed(epochs[1 : first + 1]), reversed(epochs[:first]), strict=True):
            day -= sooner.time_of_day - later.time_of_day > _HALF_DAY_S
    found: list[float] = []
    before = epochs[0].time_of_day
    for epoch in epochs:
        if epoch.day is not None:
            day = epoch.day
        elif before - epoch.time_of_day > _HALF_DAY_S:
            day += 1
        before = epoch.time_of_day
        found.append(day * _DAY_S + epoch.time_of_day)
    return found


def _checksum_is(body: bytes, hexadecimal: bytes) -> bool:
    """Whether the exclusive or of all characters between $ and * is the number after it (NMEA 0183)."""
    try:
        return reduce(xor, body, 0) == int(hexadecimal, 16)
    except ValueError:
        return False


def _time_of_day(text: str) -> float:
    """hhmmss.sss as seconds since midnight."""
    hour, minute, second = int(text[:2]), int(text[2:4]), float(text[4:])
    if not (hour < 24 and minute < 60 and 0.0 <= second < 61.0):
        raise ValueError("no time of day")
    return hour * 3600.0 + minute * 60.0 + second


@lru_cache(maxsize=64)
def _day(text: str) -> int | None:
    """ddmmyy as days since 1970, the century by the pivot of 1980, when satellite receivers began."""
    if len(text) != 6:
        return None
    year = int(text[4:])
    date = dt.date(year + (1900 if year >= 80 else 2000), int(text[2:4]), int(text[:2]))
    return date.toordinal() - _EPOCH_ORDINAL


def _degrees(text: str, side: str, width: int) -> float:
    """ddmm.mmm and a side of the compass as degrees, south and west negative."""
    minutes = float(text[width:])
    if not 0.0 <= minutes < 60.0 or side not in ("N", "S", "E", "W"):
        raise ValueError("no position")
    degrees = int(text[:width]) + minutes / 60.0
    return -degrees if side in ("S", "W") else degrees


def _number(text: str) -> float:
    return float(text) if text else math.nan
