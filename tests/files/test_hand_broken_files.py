"""Fuzz: whatever a file holds, a reader returns its record or raises InputError with all that it must say."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from file_samples import FULL_LOAD, RUN, VEHICLE, gpx_of, point
from hypothesis import given, settings
from hypothesis import strategies as st

from calmday.errors import InputError
from calmday.files.full_load_file import read_full_load
from calmday.files.run_file import read_run
from calmday.files.track_files import read_track
from calmday.files.vehicle_file import read_vehicle_states

TODAY = dt.date(2026, 5, 1)
NMEA = (
    "$GPRMC,161006.425,A,7855.6020,S,13843.8900,E,154.89,84.62,110715,173.1,W,A*30\r\n"
    "$GPGGA,120558.916,5058.7457,N,00647.0514,E,2,06,1.7,109.0,M,47.6,M,1.5,0000*71\r\n"
)
GEOJSON = (
    '{"type":"Feature","properties":{"times":["2026-04-12T12:00:00Z"]},'
    '"geometry":{"type":"LineString","coordinates":[[4,51]]}}'
)
CSV = "time,lat,lon,speed_kmh,segment\n2026-04-12T12:00:00Z,51,4.5,36,a\n2026-04-12T12:00:01Z,51.1,4.5,36,b\n"

Reader = Callable[[Path], object]
GOOD: dict[str, tuple[Reader, bytes]] = {
    "v.toml": (lambda p: read_vehicle_states(p, name="v.toml"), VEHICLE.encode()),
    "r.toml": (lambda p: read_run(p, name="r.toml", today=TODAY), RUN.encode()),
    "c.csv": (lambda p: read_full_load(p, "c.csv"), FULL_LOAD.encode()),
    "t.gpx": (lambda p: read_track(p, "t.gpx"), gpx_of(point(0) + point(1, "<speed>1</speed>"))),
    "t.nmea": (lambda p: read_track(p, "t.nmea"), NMEA.encode()),
    "t.geojson": (lambda p: read_track(p, "t.geojson"), GEOJSON.encode()),
    "t.csv": (lambda p: read_track(p, "t.csv"), CSV.encode()),
}
FORM = re.compile(r"[^\n]+: [^\n]+: [^\n]+; [^\n]+")
FILES = st.sampled_from(sorted(GOOD))


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("broken")
    (path / "vehicle.toml").write_text(VEHICLE, encoding="utf-8")
    (path / "full_load.csv").write_text(FULL_LOAD, encoding="utf-8")
    (path / "out.gpx").write_bytes(GOOD["t.gpx"][1])
    return path


def check(folder: Path, name: str, data: bytes) -> bool:
    """Read and return whether it was good; any fault must have the form FILE: KEY: wrong; right."""
    path = folder / name
    path.write_bytes(data)
    try:
        GOOD[name][0](path)
    except InputError as e:
        assert e.faults
        for fault in e.faults:
            assert FORM.fullmatch(str(fault)), str(fault)
        return False
    return True


@pytest.mark.parametrize("name", sorted(GOOD))
def test_the_starting_points_are_good(folder: Path, name: str) -> None:
    assert check(folder, name, GOOD[name][1])


@pytest.mark.parametrize("name", sorted(GOOD))
def test_truncated_at_every_byte(folder: Path, name: str) -> None:
    data = GOOD[name][1]
    for end in range(0, len(data), max(1, len(data) // 150)):
        check(folder, name, data[:end])


@pytest.mark.parametrize("name", sorted(GOOD))
@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-32", "utf-8-sig", "cp037"])
def test_other_encodings(folder: Path, name: str, encoding: str) -> None:
    good = check(folder, name, GOOD[name][1].decode().encode(encoding))
    assert good == (encoding == "utf-8-sig") or name.endswith("gpx")


@pytest.mark.parametrize("name", sorted(GOOD))
@pytest.mark.parametrize("data", [b"", b"\n", b"\0" * 100, bytes(range(256)), b"\x89PNG\r\n\x1a\n", b"%PDF-1.7\n"])
def test_binary_and_empty(folder: Path, name: str, data: bytes) -> None:
    assert not check(folder, name, data) or (name == "v.toml" and not data.strip())


@given(name=FILES, data=st.binary(max_size=300))
@settings(max_examples=150, deadline=None)
def test_any_bytes(folder: Path, name: str, data: bytes) -> None:
    check(folder, name, data)


@given(
    name=FILES,
    at=st.floats(0, 1),
    cut=st.integers(0, 30),
    new=st.one_of(st.binary(max_size=12), st.text(max_size=12).map(str.encode)),
)
@settings(max_examples=300, deadline=None)
def test_any_small_damage(folder: Path, name: str, at: float, cut: int, new: bytes) -> None:
    data = GOOD[name][1]
    start = int(at * len(data))
    check(folder, name, data[:start] + new + data[start + cut :])


_VALUES = st.one_of(
    st.sampled_from(
        ["nan", "inf", "-inf", "true", '""', "[]", "{}", "[[]]", "0", "-1", "1e308", "99999999999999999999"]
    ),
    st.sampled_from(
        ["2999-01-01", "1900-01-01", "2026-04-12T13:30:00", "13:30:00", '"nan kg"', '"1e999 kg"', '"5 gal"']
    ),
    st.sampled_from(
        [
            '"1e9 kg"',
            '"-3 degC"',
            '"5 kg/m^3"',
            "{ value = 3 }",
            '{ pm = "1 kg" }',
            '["1 kg", 3, {}]',
            '"\\u0000"',
            '"a\\nb"',
        ]
    ),
    st.text(st.characters(codec="utf-8", min_codepoint=32, exclude_characters='"\\'), max_size=12).map(
        lambda text: f'"{text}"'
    ),
)


@given(name=st.sampled_from(["v.toml", "r.toml"]), data=st.data(), value=_VALUES)
@settings(max_examples=300, deadline=None)
def test_any_value_of_any_key(folder: Path, name: str, data: st.DataObject, value: str) -> None:
    lines = GOOD[name][1].decode().splitlines()
    keys = [i for i, line in enumerate(lines) if "=" in line]
    i = data.draw(st.sampled_from(keys))
    lines[i] = f"{lines[i].split('=')[0]}= {value}"
    check(folder, name, "\n".join(lines).encode())


@given(name=st.sampled_from(["v.toml", "r.toml"]), data=st.data())
@settings(max_examples=60, deadline=None)
def test_any_line_missing_or_doubled(folder: Path, name: str, data: st.DataObject) -> None:
    lines = GOOD[name][1].decode().splitlines()
    i = data.draw(st.integers(0, len(lines) - 1))
    check(
        folder,
        name,
        "\n".join([*lines[:i], *([lines[i]] * data.draw(st.sampled_from([0, 2]))), *lines[i + 1 :]]).encode(),
    )


def test_an_entity_bomb_is_refused_at_once(folder: Path) -> None:
    entities = "".join(f'<!ENTITY l{i} "{f"&l{i - 1};" * 10}">' for i in range(1, 12))
    bomb = f'<!DOCTYPE gpx [<!ENTITY l0 "ha">{entities}]><gpx><trk><name>&l11;</name></trk></gpx>'
    with pytest.raises(InputError, match="declares a document type"):
        GOOD["t.gpx"][0](_written(folder / "bomb.gpx", bomb.encode()))


def test_a_file_that_is_too_large_is_not_read(folder: Path) -> None:
    path = folder / "huge.gpx"
    with path.open("wb") as stream:
        stream.truncate(500_000_000)  # sparse: takes no room
    with pytest.raises(InputError, match="has 500 MB; at most 400 MB"):
        read_track(path, "huge.gpx")
    path.unlink()


def _written(path: Path, data: bytes) -> Path:
    path.write_bytes(data)
    return path
