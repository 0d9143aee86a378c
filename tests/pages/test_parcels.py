"""Files that come in together: bounded, and never where their names would have them."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from page_client import parsed
from starlette.testclient import TestClient

from calmday.errors import InputError
from calmday.web import parcels
from calmday.web.pages.files import picture_type

NASTY = [
    "../../etc/passwd",
    "/etc/passwd",
    "..",
    ".",
    "a/../b",
    "C:\\Windows\\x",
    "a\\..\\..\\b",
    "con",
    "NUL.txt",
    "a\0b",
    "",
    "a/",
    "-rf",
    ".hidden",
    "name.",
    "trailing ",
    "x" * 200,
    "a/b/c/d/e/f/g/h",
    "line\nbreak",
    "tab\t",
    "pipe|x",
    "a:b",
]


def zipped(members: dict[str, bytes], method: int = zipfile.ZIP_DEFLATED) -> bytes:
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", method) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return target.getvalue()


@pytest.mark.parametrize("name", NASTY)
def test_a_name_that_could_lead_elsewhere_is_refused(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    with pytest.raises(InputError, match="name that is not taken"):
        parcels.lay_out([(name, b"data")], folder)
    assert list(tmp_path.rglob("*")) == [folder]


@pytest.mark.parametrize("name", ["../evil.toml", "/abs.toml", "a/../../b.toml"])
def test_a_zip_cannot_write_outside_its_folder(tmp_path: Path, name: str) -> None:
    folder = tmp_path / "in"
    folder.mkdir()
    with pytest.raises(InputError):
        parcels.lay_out([("x.zip", zipped({name: b"data"}))], folder)
    assert not (tmp_path / "evil.toml").exists()


@given(name=st.text(max_size=40))
def test_whatever_the_name_it_stays_inside_or_is_refused(name: str) -> None:
    try:
        parts = parcels.safe_parts(name)
    except InputError:
        return
    assert Path("/base").joinpath(*parts).resolve().is_relative_to("/base")
    assert all(part not in ("", ".", "..") for part in parts)


@pytest.mark.parametrize("name", ["run.toml", "day 1/Fen Hauler.toml", "out_2026-04-12.gpx", "Straße (1).csv"])
def test_usual_names_are_taken(tmp_path: Path, name: str) -> None:
    parcels.lay_out([(name, b"data")], tmp_path)
    assert (tmp_path / name).read_bytes() == b"data"


def test_a_zip_that_unpacks_to_far_more_than_it_is(tmp_path: Path) -> None:
    bomb = zipped({"run.toml": b"0" * 30_000_000})
    assert len(bomb) < 60_000
    with pytest.raises(InputError, match="unpacks to far more"):
        parcels.lay_out([("bomb.zip", bomb)], tmp_path)


def test_too_many_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parcels, "MOST_FILES", 3)
    with pytest.raises(InputError, match="holds too much"):
        parcels.lay_out([("x.zip", zipped({f"{n}.toml": b"x" for n in range(4)}))], tmp_path)
    with pytest.raises(InputError, match="holds too much"):
        parcels.lay_out([(f"{n}.toml", b"x") for n in range(9, 14)], tmp_path)


def test_too_much_together(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parcels, "MOST_BYTES", 1000)
    with pytest.raises(InputError, match="holds too much"):
        parcels.lay_out([("a.toml", b"x" * 600), ("b.toml", b"x" * 600)], tmp_path)


def test_a_broken_zip_is_said_to_be_broken(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="cannot be opened"):
        parcels.lay_out([("x.zip", zipped({"a": b"x"})[:40])], tmp_path)


def test_a_file_that_comes_twice(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="comes twice"):
        parcels.lay_out([("a.toml", b"1"), ("x.zip", zipped({"a.toml": b"2"}))], tmp_path)


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (b"\xff\xd8\xff\xe0abc", "image/jpeg"),
        (b"\x89PNG\r\n\x1a\nabc", "image/png"),
        (b"RIFF1234WEBPVP8", "image/webp"),
        (b"<svg onload=alert(1)>", None),
        (b"GIF89a", None),
        (b"RIFF1234WAVE", None),
        (b"", None),
        (b"<html>", None),
    ],
)
def test_a_picture_is_known_by_its_bytes(data: bytes, kind: str | None) -> None:
    assert picture_type(data) == kind


def test_a_photograph_is_kept_and_shown_as_what_it_is(client: TestClient, run: str) -> None:
    picture = b"\x89PNG\r\n\x1a\n" + b"x" * 50
    answer = client.post(f"/runs/{run}/photographs", files={"file": ("../../scale.html", picture, "text/html")})
    shown = parsed(answer)
    where = next(link for link in shown.links if "/photographs/" in link)
    got = client.get(where)
    assert got.content == picture
    assert got.headers["content-type"] == "image/png"
    assert got.headers["x-content-type-options"] == "nosniff"
    assert "scale.html" in answer.text
    assert ".." not in shown.text
    refused = client.post(f"/runs/{run}/photographs", files={"file": ("x.svg", b"<svg/>", "image/svg+xml")})
    assert refused.status_code == 422


XXE = b"""<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY x SYSTEM "file:///etc/passwd">]>
<gpx version="1.1"><trk><trkseg><trkpt lat="1" lon="2"><name>&x;</name></trkpt></trkseg></trk></gpx>"""


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (XXE, "document type"),
        (b"not a track", "is not well-formed XML"),
        (b"", "empty"),
        (b"\x1f\x8b\x08rest", "compressed"),
        (zipped({"a.gpx": b"x"}), "zip"),
        (b"<gpx>", ""),
    ],
)
def test_a_track_that_is_none_is_refused_with_the_reason(client: TestClient, run: str, data: bytes, said: str) -> None:
    answer = client.post(f"/runs/{run}/tracks", files={"file": ("../out.gpx", data)})
    assert answer.status_code == 422
    assert said in parsed(answer).text
    assert "This file was not taken" in parsed(answer).text
    assert "root:" not in answer.text
