"""The logbook: every reading as it was written, every correction beside it, in one file or one database."""

from calmday.logbook.book import Logbook
from calmday.logbook.errors import (
    BusyLogbookError,
    DamagedLogbookError,
    FullDiskError,
    LogbookError,
    MigrationError,
    NewerLogbookError,
    NotALogbookError,
    ReadOnlyLogbookError,
    UnreachableError,
)
from calmday.logbook.records import (
    KINDS,
    LINKS,
    Document,
    Entry,
    File,
    Guess,
    Kind,
    Saved,
    StoredResult,
    Subject,
    Value,
)

__all__ = [
    "KINDS",
    "LINKS",
    "BusyLogbookError",
    "DamagedLogbookError",
    "Document",
    "Entry",
    "File",
    "FullDiskError",
    "Guess",
    "Kind",
    "Logbook",
    "LogbookError",
    "MigrationError",
    "NewerLogbookError",
    "NotALogbookError",
    "ReadOnlyLogbookError",
    "Saved",
    "StoredResult",
    "Subject",
    "UnreachableError",
    "Value",
]
