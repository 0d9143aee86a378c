"""What every request passes first: who is called, who calls, how much comes, and the headers of every answer."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from page_client import HERE, client_of, parsed
from starlette.testclient import TestClient

from calmday.web.addresses import PATHS, address
from calmday.web.guard import HEADERS

FOREIGN_HOSTS = ("example.org", "localhost:9999", "attacker.test:8765", "localhost", "127.0.0.1.example.org:8765", "")


@pytest.mark.parametrize("host", FOREIGN_HOSTS)
def test_a_name_that_is_not_ours_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 403
    assert "calmday serve" in parsed(answer).text


@pytest.mark.parametrize("host", ["localhost:8765", "127.0.0.1:8765", "[::1]:8765", "LOCALHOST:8765"])
def test_our_own_names_are_taken(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example", "sec-fetch-site": "cross-site"},
        {"origin": "http://localhost:9999", "sec-fetch-site": "same-site"},
        {"origin": "null", "sec-fetch-site": "cross-site"},
        {"origin": HERE, "sec-fetch-site": "cross-site"},
        {"origin": "https://localhost:8765", "sec-fetch-site": "same-origin"},
        {"origin": "", "sec-fetch-site": "none"},
        {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"},
    ],
)
def test_a_write_from_another_page_is_refused_and_writes_nothing(client: TestClient, headers: dict[str, str]) -> None:
    answer = client.post("/vehicles/new", data={"name": "Trojan"}, headers=headers)
    assert answer.status_code == 403
    assert "Trojan" not in client.get("/").text


def test_a_write_without_any_word_of_its_origin_is_refused(tmp_path: Path) -> None:
    with client_of(tmp_path / "b.calmday") as bare:
        bare.headers.pop("origin")
        bare.headers.pop("sec-fetch-site")
        assert bare.post("/vehicles/new", data={"name": "x"}).status_code == 403
        assert bare.get("/").status_code == 200, "reading needs no origin"


def test_the_older_browser_that_sends_only_its_origin_may_write(tmp_path: Path) -> None:
    with client_of(tmp_path / "b.calmday") as older:
        older.headers.pop("sec-fetch-site")
        assert older.post("/vehicles/new", data={"name": "x"}).status_code == 200


@pytest.mark.parametrize("path", ["/", "/nowhere", "/pieces", "/key", "/static/0/none.js", "/save/run/1"])
def test_every_answer_carries_the_headers(client: TestClient, path: str) -> None:
    answer = client.get(path)
    for name, value in HEADERS.items():
        assert answer.headers[name] == value
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "data:" not in policy
    assert "http" not in policy


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND"])
def test_other_methods_are_not_possible(client: TestClient, method: str) -> None:
    assert client.request(method, "/").status_code == 405


def test_pages_are_not_kept_by_the_browser_but_static_files_are(client: TestClient) -> None:
    assert client.get("/").headers["cache-control"] == "no-store"
    script = next(str(s["src"]) for s in parsed(client.get("/")).scripts)
    answer = client.get(script)
    assert "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-type"].startswith("text/javascript")
    assert client.get(script.replace("keep.js", "../app.py")).status_code == 404


@pytest.mark.parametrize("path", ["/", "/pieces", "/settings", "/moving", "/devices", "/key"])
def test_no_page_has_inline_script_or_style(client: TestClient, path: str) -> None:
    shown = parsed(client.get(path))
    assert shown.inline == []
    assert all(script.get("src") for script in shown.scripts)


def test_a_form_too_large_is_refused_by_its_length_and_by_its_bytes(tmp_path: Path) -> None:
    with client_of(tmp_path / "b.calmday", largest_form=10_000, largest_upload=20_000) as small:
        assert small.post("/vehicles/new", data={"name": "x" * 20_000}).status_code == 413

        def drip() -> object:
            for _ in range(100):
                yield b"name=" + b"x" * 1000

        kind = {"content-type": "application/x-www-form-urlencoded"}
        answer = small.post("/vehicles/new", content=drip(), headers=kind)  # type: ignore[arg-type]
        assert answer.status_code == 413
        assert "too large" in answer.text
        many = {"file": ("a.gpx", b"x" * 30_000)}
        assert small.post("/moving/import", files=many).status_code == 413


def test_more_fields_than_any_form_has_are_refused(client: TestClient) -> None:
    assert client.post("/vehicles/new", data={f"n{i}": "x" for i in range(1000)}).status_code == 400


@pytest.mark.parametrize("kind", ["application/json", "text/plain", "application/xml"])
def test_a_body_that_is_no_form_is_refused(client: TestClient, kind: str) -> None:
    assert client.post("/vehicles/new", content=b"{}", headers={"content-type": kind}).status_code == 415


def test_every_text_is_escaped(client: TestClient) -> None:
    nasty = '"><script>alert(1)</script>'
    answer = client.post("/vehicles/new", data={"name": nasty})
    assert "<script>alert" not in answer.text
    assert nasty in "".join(parsed(answer).texts) or nasty in parsed(answer).boxes.values()
    vehicle = str(answer.url.path).split("/")[2]
    for path in ("/", f"/vehicles/{vehicle}", f"/history/vehicle/{vehicle}"):
        assert "<script>alert" not in client.get(path).text


@pytest.mark.parametrize("name", PATHS)
def test_addresses_are_made_in_one_place_and_quote_their_parts(name: str) -> None:
    slots = {slot for path in PATHS.values() for slot in re.findall(r"\{(\w+)\}", path)}
    made = address(name, **dict.fromkeys(slots, "a/b?c"), extra="x&y")
    assert made.startswith("/")
    assert "{" not in made
    assert "a/b?c" not in made.partition("?")[0]
    assert "x%26y" in made
