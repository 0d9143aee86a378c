"""Strict reading of the TOML files people write: every fault of a file is collected and told at once."""

from __future__ import annotations

import contextlib
import datetime as dt
import math
import re
from collections.abc import Iterable, Mapping

from calmday.errors import Fault, InputError
from calmday.files.text_file import MEGABYTE
from calmday.metrology.units import QuantityError, parse_quantity, shown
from calmday.records.declared import Declared, Origin

Limits = tuple[str, str]
"""Lowest and highest possible value, written as a person would: ("50 kg", "60 t")."""

SIZE_LIMIT = 4 * MEGABYTE
_ORIGINS = ("measured", "declared", "assumed", "published")
_BARE = re.compile(r"[A-Za-z0-9_\-.\[\]]{1,60}")
_LINE = re.compile(r"\(at (?:line (\d+), column \d+|end of document)\)")


class FaultList:
    """The faults of one file, in the order found, each once.

    `moved` maps the start of a dotted key to where it was really written, for tables put together; `kept` maps that
    to where the document is kept, where it is not kept as a file.
    """

    def __init__(self, file: str, kept: Mapping[str, str] | None = None) -> None:
        self.file = file
        self.faults: list[Fault] = []
        self.moved: dict[str, str] = {}
        self.kept = kept or {}

    def add(self, key: str, wrong: str, right: str) -> None:
        """Note a fault of this file."""
        for places in (self.moved, self.kept):
            for start in sorted(places, key=len, reverse=True):
                if key == start or key.startswith((start + ".", start + "[")):
                    key = places[start] + key[len(start) :]
                    break
        self.extend([Fault(self.file, key, wrong, right)])

    def extend(self, faults: Iterable[Fault]) -> None:
        """Note faults of this file or of one it names."""
        self.faults += [fault for fault in faults if fault not in self.faults]

    def raise_any(self) -> None:
        """Raise InputError where there is any fault."""
        if self.faults:
            raise InputError(self.faults)


def parse_toml(text: str, name: str) -> dict[str, object]:
    """The plain values of a document's text. `name` the file as the user named it. Raises InputError."""
    import tomllib  # noqa: PLC0415

    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as e:
        message = str(e)
        where = _LINE.search(message)
        line = where.group(1) if where and where.group(1) else str(text.count("\n") + 1)
        wrong = _LINE.sub("", message).strip()
        raise InputError.one(
            name, f"line {line}", f"is not TOML ({_one_line(wrong)})", _toml_hint(text, int(line))
        ) from None
    except (RecursionError, ValueError) as e:
        raise InputError.one(name, "file", f"is not TOML ({_one_line(str(e))})", "a plain TOML file") from None


class Table:
    """One table of a TOML file with typed getters. A getter that finds a fault notes it and returns None.

    Call `finish` when all keys have been asked for: what is left over is unknown.
    """

    def __init__(self, values: Mapping[str, object], faults: FaultList, key: str = "") -> None:
        self._values = values
        self._asked: list[str] = []
        self.faults = faults
        self.key = key

    def __contains__(self, key: str) -> bool:
        return key in self._values

    def items(self) -> list[tuple[str, object]]:
        """Keys and values as TOML has them."""
        return list(self._values.items())

    def path(self, key: str) -> str:
        """The dotted key from the top of the file."""
        name = key if _BARE.fullmatch(key) else shown(key)
        return f"{self.key}.{name}" if self.key else name

    def fault(self, key: str, wrong: str, right: str) -> None:
        """Note a fault at a key of this table."""
        self.faults.add(self.path(key), wrong, right)

    def raw(self, key: str) -> object:
        """The value as TOML has it, None where absent; marks the key as known."""
        self._asked.append(key)
        return self._values.get(key)

    def text(self, key: str) -> str | None:
        """A string that is not empty."""
        value = self.raw(key)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip():
            self.fault(key, f"{shown(value)} is not a text", 'a text in quotes such as "name"')
            return None
        return value

    def texts(self, key: str) -> tuple[str, ...]:
        """A string or a list of strings."""
        value = self.raw(key)
        items = value if isinstance(value, list) else [] if value is None else [value]
        for i, item in enumerate(items):
            if not isinstance(item, str) or not item.strip():
                where = f"{key}[{i}]" if isinstance(value, list) else key
                self.fault(where, f"{shown(item)} is not a text", "a text in quotes, or a list of them")
        return tuple(item for item in items if isinstance(item, str) and item.strip())

    def file_name(self, key: str) -> str | None:
        """The name of a file."""
        self.text(key)
        return next(iter(self.file_names(key)), None) if isinstance(self.raw(key), str) else None

    def file_names(self, key: str) -> tuple[str, ...]:
        """One file name or a list of them."""
        names = self.texts(key)
        if all(name.isprintable() and len(name) <= 1000 for name in names):
            return names
        self.fault(key, "is not a file name", "a file name without line breaks, relative to this file")
        return ()

    def choice(self, key: str, allowed: tuple[str, ...]) -> str | None:
        """One of the allowed words."""
        value = self.raw(key)
        if value is None or (isinstance(value, str) and value in allowed):
            return value
        self.fault(key, f"{shown(value)} is not known", f"one of {', '.join(allowed)}{_near(value, allowed)}")
        return None

    def boolean(self, key: str) -> bool | None:
        """true or false."""
        value = self.raw(key)
        if value is None or isinstance(value, bool):
            return value
        self.fault(key, f"{shown(value)} is neither true nor false", "true or false, without quotes")
        return None

    def integer(self, key: str, low: int, high: int) -> int | None:
        """A whole number from low to high."""
        value = self.raw(key)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            self.fault(key, f"{shown(value)} is not possible", f"a whole number from {low} to {high}, without quotes")
            return None
        return value

    def number(self, key: str, low: float, high: float) -> float | None:
        """A pure number from low to high."""
        return self._number(key, self.raw(key), low, high)

    def numbers(self, key: str, low: float, high: float) -> tuple[float, ...]:
        """A list of pure numbers from low to high; empty where absent or at fault."""
        value = self.raw(key)
        if value is None:
            return ()
        if not isinstance(value, list):
            self.fault(key, f"{shown(value)} is not a list", "a list of numbers such as [3.6, 2.0, 1.0]")
            return ()
        found = [self._number(f"{key}[{i}]", item, low, high) for i, item in enumerate(value)]
        return tuple(x for x in found if x is not None) if None not in found else ()

    def quantity(self, key: str, dimension: str, limits: Limits) -> float | None:
        """A quantity with its unit, within limits; SI."""
        value = self.raw(key)
        return None if value is None else self._quantity(key, value, dimension, limits)

    def quantities(self, key: str, dimension: str, limits: Limits) -> tuple[float, ...]:
        """A quantity or a list of them; SI. Items at fault are noted and left out."""
        value = self.raw(key)
        items = value if isinstance(value, list) else [] if value is None else [value]
        where = [f"{key}[{i}]" for i in range(len(items))] if isinstance(value, list) else [key]
        found = [self._quantity(k, item, dimension, limits) for k, item in zip(where, items, strict=False)]
        return tuple(x for x in found if x is not None)

    def declared(self, key: str, dimension: str, limits: Limits) -> Declared | None:
        """A quantity, or a table with `value`, `pm` (95 % half width) and `origin`; SI."""
        value = self.raw(key)
        if not isinstance(value, dict):
            si = None if value is None else self._quantity(key, value, dimension, limits)
            return None if si is None else Declared(si, as_entered=str(value).strip())
        table = Table(value, self.faults, self.path(key))
        return table._with_half_width(table.quantity("value", dimension, limits), dimension)

    def declared_number(self, key: str, low: float, high: float) -> Declared | None:
        """A pure number from low to high, or a table with `value`, `pm` (95 % half width) and `origin`."""
        value = self.raw(key)
        if not isinstance(value, dict):
            number = self._number(key, value, low, high)
            return None if number is None else Declared(number, as_entered=str(value))
        table = Table(value, self.faults, self.path(key))
        return table._with_half_width(table.number("value", low, high), None)

    def date(self, key: str, latest: dt.date) -> dt.date | None:
        """A date from 1970 to `latest`."""
        value = self.raw(key)
        if isinstance(value, str):
            with contextlib.suppress(ValueError):
                value = dt.date.fromisoformat(value.strip())
        if value is None:
            return None
        if isinstance(value, dt.datetime) or not isinstance(value, dt.date):
            self.fault(key, f"{shown(str(value))} is not a date", "a date such as 2026-04-12")
            return None
        if not dt.date(1970, 1, 1) <= value <= latest:
            self.fault(key, f"{value} is not possible", f"a date from 1970-01-01 to {latest}")
            return None
        return value

    def table(self, key: str) -> Table:
        """A table within this one; an empty one where absent or at fault."""
        value = self.raw(key)
        if value is not None and not isinstance(value, dict):
            self.fault(key, f"{shown(value)} is not a table", f"a table headed [{self.path(key)}]")
        return Table(value if isinstance(value, dict) else {}, self.faults, self.path(key))

    def tables(self, key: str) -> list[Table]:
        """Tables headed [[key]]; a single table headed [key] counts as one."""
        value = self.raw(key)
        items = value if isinstance(value, list) else [] if value is None else [value]
        found = []
        for i, item in enumerate(items):
            if isinstance(item, dict):
                found.append(Table(item, self.faults, self.path(f"{key}[{i}]")))
            else:
                self.fault(f"{key}[{i}]", f"{shown(item)} is not a table", f"tables headed [[{self.path(key)}]]")
        return found

    def finish(self, elsewhere: Mapping[str, str] | None = None) -> None:
        """Note every key that nobody asked for. `elsewhere`: keys of other tables, key -> table."""
        for key in self._values:
            if key in self._asked:
                continue
            if elsewhere and key in elsewhere:
                self.fault(key, "stands in the wrong place", f"put it under [{elsewhere[key]}]")
            else:
                known = tuple(dict.fromkeys(self._asked))
                self.fault(
                    key,
                    "is not a known key",
                    _near(key, known).strip(" ;") or f"known here: {', '.join(sorted(known))}",
                )

    def _with_half_width(self, value: float | None, dimension: str | None) -> Declared | None:
        """This table's `pm` and `origin` beside its `value`; a `pm` in per cent is of the value."""
        pm = self.raw("pm")
        origin = self.choice("origin", _ORIGINS)
        self.finish()
        if "value" not in self:
            self.fault("value", "is missing", 'a table such as { value = "2.31 m^2", pm = "0.05 m^2" }')
        half: float | None = None
        if pm is not None:
            half = self._half_width(pm, value, dimension)
            if half is None:
                return None
        if value is None:
            return None
        entered = str(self._values["value"]).strip() + (f" ± {pm}" if pm is not None else "")
        return Declared(value, half, entered, _origin(origin))

    def _half_width(self, pm: object, value: float | None, dimension: str | None) -> float | None:
        try:
            if isinstance(pm, str) and pm.strip().endswith("%") and dimension not in ("fraction", "temperature"):
                half = parse_quantity(pm, "fraction") * abs(value or 1.0)
            elif dimension is None:
                number = self._number("pm", pm, 0.0, 1e9)
                if number is None:
                    return None
                half = number
            else:
                half = parse_quantity(pm, "temperature difference" if dimension == "temperature" else dimension)
        except QuantityError as e:
            self.fault("pm", e.wrong, e.right)
            return None
        if not 0.0 < half < math.inf:
            self.fault("pm", f"{shown(pm)} is not a half width", "a half width above zero, or leave pm out")
            return None
        return half

    def _quantity(self, key: str, value: object, dimension: str, limits: Limits) -> float | None:
        if isinstance(value, dict) and "value" in value:
            self.fault(key, "takes no pm", f"the plain quantity, {shown(value['value'])}")
            return None
        try:
            si = parse_quantity(value, dimension)
        except QuantityError as e:
            self.fault(key, e.wrong, e.right)
            return None
        low, high = (parse_quantity(limit, dimension) for limit in limits)
        if not low <= si <= high:
            self.fault(key, f"{shown(value)} is not possible here", f"from {limits[0]} to {limits[1]}")
            return None
        return si

    def _number(self, key: str, value: object, low: float, high: float) -> float | None:
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self.fault(key, f"{shown(value)} is not a number", "a number without quotes and unit")
            return None
        if not low <= value <= high or not math.isfinite(value):
            self.fault(key, f"{value!r:.40} is not possible here", f"a number from {low:g} to {high:g}")
            return None
        return float(value)


def _origin(word: str | None) -> Origin:
    match word:
        case "measured" | "assumed" | "published":
            return word
        case _:
            return "declared"


def _near(word: object, known: tuple[str, ...]) -> str:
    """ "; did you mean X?" where a known word is near, else nothing."""
    if not isinstance(word, str):
        return ""
    import difflib  # noqa: PLC0415

    near = difflib.get_close_matches(word.lower(), known, n=1, cutoff=0.55)
    return f"; did you mean {near[0]}?" if near else ""


def _one_line(message: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in message[:120])


def _toml_hint(text: str, line: int) -> str:
    """What would be right on a line that TOML cannot read."""
    lines = text.splitlines()
    found = lines[line - 1] if 0 < line <= len(lines) else ""
    if re.search("[\u2018\u2019\u201c\u201d\u00ab\u00bb]", found):
        return 'straight quotes: "cold"'
    if re.match(r"\s*[A-Za-z_]+\s*=\s*[-+.\d]+\s*[A-Za-z%]", found):
        return 'put a quantity in quotes: "38 psi"'
    if re.match(r"\s*[A-Za-z_]+\s*=\s*(?!true\b|false\b|nan\b|inf\b)[A-Za-z]", found):
        return 'put words in quotes: "cold"'
    return "lines such as key = value under [table] headings"
