"""Whether the recordings of a test of one day are of that day."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from calmday.procedures.flag import Flag, flag


def day_flags(date: dt.date | None, days: tuple[dt.date, ...]) -> Iterator[Flag]:
    """Flags of a test dated `date` whose recordings are of `days`, in order; none where no recording has a date."""
    if len(days) > 1:
        told = ", ".join(day.isoformat() for day in days[:-1]) + f" and {days[-1].isoformat()}"
        yield flag(
            "several-days", "caution",
            f"The recordings are of {len(days)} days: {told}.",
            "Load, tyres and build of the vehicle are taken for those of the first; they may have changed since.",
            "Enter each day as a test of its own, with its own weather.",
        )  # fmt: skip
    elif days and date is not None and days[0] != date:
        yield flag(
            "track-of-another-day", "caution",
            f"The test is dated {date.isoformat()}, its recordings start on {days[0].isoformat()}.",
            "A wrong recording, or a clock that was never set, gets the weather of another day.",
            "See that the recordings belong to this test and correct the date or the file.",
        )  # fmt: skip
