"""Times as people write them, brought to seconds since 1970 UTC; never guessed without an offset."""

from __future__ import annotations

import datetime as dt
import re

from calmday.files.toml_table import Table
from calmday.metrology.units import shown

_OFFSET = re.compile(r"([+-])(\d\d):?(\d\d)")
_RIGHT = '"+02:00", "Z" or a name such as "Europe/Paris"'


class LocalTime:
    """The time zone of one file, and the latest moment that is not the future."""

    def __init__(self, zone: dt.tzinfo | None, date: dt.date | None, latest: dt.date) -> None:
        self.zone = zone
        self.date = date
        self.latest = latest

    def offset_s(self) -> float | None:
        """Seconds by which local time is ahead of UTC on the date of the run, None where unknown."""
        if self.zone is None:
            return None
        noon = dt.datetime.combine(self.date, dt.time(12)) if self.date else None
        offset = self.zone.utcoffset(noon)
        return None if offset is None else offset.total_seconds()

    def seconds(self, table: Table, key: str) -> float | None:
        """The time at a key as seconds since 1970 UTC; a bare time of day is on the date of the run."""
        value = table.raw(key)
        if value is None:
            return None
        when = self._moment(value)
        if when is None:
            right = "ISO 8601 such as 2026-04-12T13:30:00"
            table.fault(key, f"{shown(str(value))} is not a date and time", right)
            return None
        if when.tzinfo is None:
            if self.zone is None:
                wrong = f"{shown(str(value))} has no offset from UTC"
                table.fault(key, wrong, f"{when.isoformat()}+02:00 or such, or timezone = {_RIGHT}")
                return None
            when = when.replace(tzinfo=self.zone)
        try:
            when = when.astimezone(dt.UTC)
        except (OverflowError, ValueError):
            when = dt.datetime.max.replace(tzinfo=dt.UTC)
        if not dt.date(1970, 1, 1) <= when.date() <= self.latest:
            table.fault(key, f"{shown(str(value))} is not possible", f"a time from 1970 to {self.latest}")
            return None
        return when.timestamp()

    def _moment(self, value: object) -> dt.datetime | None:
        if isinstance(value, str):
            try:
                value = dt.datetime.fromisoformat(value.strip()) if ":" in value else None
            except ValueError:
                return None
        if isinstance(value, dt.time) and self.date is not None:
            value = dt.datetime.combine(self.date, value)
        return value if isinstance(value, dt.datetime) else None


def read_zone(table: Table, key: str = "timezone") -> dt.tzinfo | None:
    """The time zone at a key: an offset, Z, or an IANA name; None where absent or at fault."""
    text = table.text(key)
    if text is None:
        return None
    text = text.strip()
    if text in ("Z", "UTC"):
        return dt.UTC
    offset = _OFFSET.fullmatch(text)
    if offset and int(offset.group(2)) <= 14 and int(offset.group(3)) < 60:
        minutes = int(offset.group(2)) * 60 + int(offset.group(3))
        return dt.timezone(dt.timedelta(minutes=minutes if offset.group(1) == "+" else -minutes))
    import zoneinfo  # noqa: PLC0415

    try:
        return zoneinfo.ZoneInfo(text)
    except (zoneinfo.ZoneInfoNotFoundError, OSError, ValueError):
        table.fault(key, f"{shown(text)} is not a time zone", _RIGHT)
        return None
