"""The strict TOML reading helper: typed getters, faults with their keys, nothing lost."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles
from calmday.files.toml_table import FaultList, Table

LIMITS = ("1 kg", "100 kg")


def load_toml(path: Path, name: str) -> dict[str, object]:
    return FolderFiles(path.parent).document(path.name, name).tables


def table(**values: object) -> Table:
    return Table(values, FaultList("x.toml"))


def only_fault(t: Table) -> tuple[str, str, str]:
    assert len(t.faults.faults) == 1
    fault = t.faults.faults[0]
    return fault.key, fault.wrong, fault.right


def test_good_values_come_through() -> None:
    t = table(a="x", b=True, c=3, d=2.5, e=[1, 2.5], f="5 kg", g=["5 kg", "6 kg"], h=dt.date(2026, 4, 12), i="two")
    assert t.text("a") == "x"
    assert t.boolean("b") is True
    assert t.integer("c", 1, 9) == 3
    assert t.number("d", 0, 9) == 2.5
    assert t.numbers("e", 0, 9) == (1.0, 2.5)
    assert t.quantity("f", "mass", LIMITS) == 5.0
    assert t.quantities("g", "mass", LIMITS) == (5.0, 6.0)
    assert t.quantities("f", "mass", LIMITS) == (5.0,)
    assert t.date("h", dt.date(2026, 4, 13)) == dt.date(2026, 4, 12)
    assert t.choice("i", ("one", "two")) == "two"
    assert t.texts("a") == ("x",)
    t.finish()
    t.faults.raise_any()


def test_absent_keys_are_none_and_no_fault() -> None:
    t = table()
    assert t.text("a") is None
    assert t.declared("b", "mass", LIMITS) is None
    assert t.declared_number("c", 0, 1) is None
    assert t.numbers("d", 0, 1) == ()
    assert t.tables("e") == []
    assert t.boolean("f") is None
    t.finish()
    assert t.faults.faults == []


@pytest.mark.parametrize(
    ("value", "low", "high"),
    [
        (math.nan, 0, 1),
        (math.inf, 0, 1),
        (-math.inf, -9, 1),
        (2, 0, 1),
        (True, 0, 1),
        ("1", 0, 1),
        (10**400, 0, 1),
    ],
)
def test_numbers_out_of_range_or_of_another_kind(value: object, low: float, high: float) -> None:
    t = table(a=value)
    assert t.number("a", low, high) is None
    assert only_fault(t)[0] == "a"


def test_declared_with_half_width() -> None:
    t = table(
        a={"value": "2.31 m^2", "pm": "0.05 m^2"},
        b={"value": "20 degC", "pm": "2 degC", "origin": "measured"},
        c={"value": "2.0 m^2", "pm": "5 %"},
        d={"value": 0.44, "pm": 0.02},
    )
    a = t.declared("a", "area", ("1 m^2", "9 m^2"))
    assert a and (a.value, a.half_width, a.origin) == (2.31, 0.05, "declared")
    assert a.as_entered == "2.31 m^2 ± 0.05 m^2"
    b = t.declared("b", "temperature", ("0 degC", "99 degC"))
    assert b and b.half_width == pytest.approx(2.0) and b.value == pytest.approx(293.15) and b.origin == "measured"
    c = t.declared("c", "area", ("1 m^2", "9 m^2"))
    assert c and c.half_width == pytest.approx(0.1)
    d = t.declared_number("d", 0, 1)
    assert d and (d.value, d.half_width) == (0.44, 0.02)
    assert t.faults.faults == []


@pytest.mark.parametrize("pm", ["0 kg", "-1 kg", "1 m", 1, True, "nan kg", [1], {}])
def test_half_widths_that_are_none(pm: object) -> None:
    t = table(a={"value": "5 kg", "pm": pm})
    assert t.declared("a", "mass", LIMITS) is None
    assert only_fault(t)[0] == "a.pm"


def test_declared_table_without_value() -> None:
    t = table(a={"pm": "1 kg"})
    assert t.declared("a", "mass", LIMITS) is None
    assert ("a.value", "is missing") in [(f.key, f.wrong) for f in t.faults.faults]


def test_unknown_key_names_the_nearest_known_one() -> None:
    t = table(tyre_presure=1)
    t.text("tyre")
    t.text("tyre_pressure")
    t.finish()
    assert only_fault(t) == ("tyre_presure", "is not a known key", "did you mean tyre_pressure?")


def test_unknown_key_of_another_table_says_where_it_belongs() -> None:
    t = table(cylinders=4)
    t.finish({"cylinders": "engine"})
    assert only_fault(t)[2] == "put it under [engine]"


def test_choice_names_what_is_allowed() -> None:
    t = table(body="vann")
    assert t.choice("body", ("saloon", "van")) is None
    assert only_fault(t)[2] == "one of saloon, van; did you mean van?"


def test_keys_are_dotted_and_numbered() -> None:
    t = table(weighing=[{"gross": ["1 kg"]}, {"gross": ["2 kg", "3 lbs 2"]}])
    second = t.tables("weighing")[1]
    second.quantities("gross", "mass", LIMITS)
    assert only_fault(t)[0] == "weighing[1].gross[1]"


def test_a_range_fault_says_the_range_in_the_units_of_people() -> None:
    t = table(mass="1e9 kg")
    assert t.quantity("mass", "mass", LIMITS) is None
    assert only_fault(t)[1:] == ('"1e9 kg" is not possible here', "from 1 kg to 100 kg")


@pytest.mark.parametrize(
    "value", ["soon", 3, dt.datetime(2026, 4, 12, 1, 1), dt.date(1969, 12, 31), dt.date(2026, 4, 14)]
)
def test_dates_refused(value: object) -> None:
    t = table(date=value)
    assert t.date("date", dt.date(2026, 4, 13)) is None
    assert only_fault(t)[0] == "date"


@pytest.mark.parametrize(
    ("data", "key", "wrong"),
    [
        (b"a = 1\nb = = 2\n", "line 2", "is not TOML"),
        (b"a = [1,\n", "line 2", "is not TOML"),
        (b"a = 38 psi\n", "line 1", "is not TOML"),
        (b"a = '\xff'\n", "line 1", "0xff, which is not UTF-8"),
        (b"\xef\xbb\xbfa = 1\nb = '\xff'\n", "line 2", "0xff, which is not UTF-8"),
        (b"a = 1\n\0\n", "line 2", "not text"),
        ("a = 1".encode("utf-16"), "line 1", "UTF-16"),
        (b"a = 1\na = 2\n", "line 2", "is not TOML"),
        (b"\x1f\x8b\x08", "file", "gzip"),
        (b"a = " + b"[" * 5000, "file", "is not TOML"),
        (b"a = " + b"9" * 5000, "file", "is not TOML"),
        (b"# " + b"x" * 4_000_001, "file", "4 MB"),
    ],
)
def test_files_that_are_not_toml(tmp_path: Path, data: bytes, key: str, wrong: str) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(data)
    with pytest.raises(InputError) as caught:
        load_toml(path, "x.toml")
    (fault,) = caught.value.faults
    assert (fault.file, fault.key) == ("x.toml", key)
    assert wrong in fault.wrong
    assert fault.right


def test_hint_for_a_quantity_without_quotes(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_text("tyre_pressure = 38 psi\n", encoding="utf-8")
    with pytest.raises(InputError, match="put a quantity in quotes"):
        load_toml(path, "x.toml")


@pytest.mark.parametrize(
    ("line", "right"),
    [
        ("engine_start = warm", 'put words in quotes: "cold"'),
        ("engine_start = \u201cwarm\u201d", 'straight quotes: "cold"'),
        ("engine_start", "lines such as key = value under [table] headings"),
        ("overrun_fuel_cut = true false", "lines such as key = value under [table] headings"),
    ],
)
def test_hints_for_words(tmp_path: Path, line: str, right: str) -> None:
    path = tmp_path / "x.toml"
    path.write_text(f"a = 1\n{line}\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_toml(path, "x.toml")
    (fault,) = caught.value.faults
    assert (fault.key, fault.right) == ("line 2", right)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"no\.toml: file: is not there; "):
        load_toml(tmp_path / "no.toml", "no.toml")
    with pytest.raises(InputError, match="is a folder"):
        load_toml(tmp_path, "folder")
    with pytest.raises(InputError, match="cannot be read"):
        load_toml(tmp_path / "a\0b", "odd")


def test_byte_order_mark_is_taken(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert load_toml(path, "x.toml") == {"a": 1}
