"""What can go wrong, in one small tree.

CalmdayError
├── InputError        one or more faults in what the user gave: file, key, what is wrong, what would be right
└── MissingExtraError an optional part is not installed: names the extra to install

Commands and pages turn these into words once, at the outermost layer; nothing below catches them broadly.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec


class Fault(msgspec.Struct, frozen=True):
    """One fault of the input, as a person can act on it.

    `file` as the user named it, `key` the dotted key, line or field (`weighing[1].gross[0]`, `line 12`), `wrong` what
    was found, `right` what would be accepted.
    """

    file: str
    key: str
    wrong: str
    right: str

    def __str__(self) -> str:
        return f"{self.file}: {self.key}: {self.wrong}; {self.right}"


class CalmdayError(Exception):
    """Base of every error this package raises on purpose."""


class InputError(CalmdayError):
    """The input is at fault. `faults` holds every fault found, in the order of the file."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))

    @classmethod
    def one(cls, file: str, key: str, wrong: str, right: str) -> InputError:
        """An error with a single fault."""
        return cls([Fault(file, key, wrong, right)])


class MissingExtraError(CalmdayError):
    """An optional part is not installed."""

    def __init__(self, what: str, extra: str) -> None:
        self.extra = extra
        super().__init__(f'{what} needs an extra that is not installed: pip install "calmday[{extra}]"')
