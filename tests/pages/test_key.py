"""The phone in the cab: a key that works once, compared in constant time, and the session it gets."""

from __future__ import annotations

import hmac
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_client import parsed
from starlette.testclient import TestClient

from calmday.web.app import make_app
from calmday.web.keys import ALPHABET, COOKIE, SESSION_SECONDS, WRONG_TRIES, Keys
from calmday.web.settings import LOOPBACK_NAMES, Settings

PHONE = "192.168.1.23"
THERE = "http://192.168.1.7:8765"
PHONE_BROWSER = {"origin": THERE, "sec-fetch-site": "same-origin", "user-agent": "Mobile"}


@pytest.fixture
def keys() -> Keys:
    return Keys()


@pytest.fixture
def phone(tmp_path: Path, keys: Keys) -> Iterator[TestClient]:
    settings = Settings(
        logbook=tmp_path / "b.calmday",
        lan=True,
        lan_hosts=("192.168.1.7",),
        hosts=(*LOOPBACK_NAMES, "192.168.1.7"),
        in_process=True,
    )
    app = make_app(settings, keys)
    with TestClient(app, base_url=THERE, headers=PHONE_BROWSER, client=(PHONE, 50000), follow_redirects=True) as made:
        yield made


def test_without_the_key_a_phone_sees_nothing_but_the_question(phone: TestClient) -> None:
    for path in ("/", "/moving/logbook.zip", "/devices", "/vehicles/1"):
        answer = phone.get(path)
        assert answer.url.path == "/key"
        assert "The key, please" in parsed(answer).text
    assert phone.post("/vehicles/new", data={"name": "x"}).url.path == "/key"


def test_the_key_lets_it_in_once(phone: TestClient, keys: Keys) -> None:
    key = keys.key
    answer = phone.post("/key", data={"key": key.lower()})
    assert answer.url.path == "/"
    assert "An empty logbook" in parsed(answer).text
    assert phone.post("/vehicles/new", data={"name": "Fen Hauler"}).url.path.endswith("/build")
    assert keys.key != key
    phone.cookies.clear()
    assert phone.post("/key", data={"key": key}).status_code == 422, "a key that was used opens nothing"
    assert phone.get("/").url.path == "/key"


def test_the_session_cookie_is_out_of_reach_of_scripts_and_of_other_sites(phone: TestClient, keys: Keys) -> None:
    answer = phone.post("/key", data={"key": keys.key}, follow_redirects=False)
    cookie = answer.headers["set-cookie"]
    assert cookie.startswith(COOKIE)
    assert "HttpOnly" in cookie
    assert "samesite=strict" in cookie.lower()
    assert f"Max-Age={SESSION_SECONDS}" in cookie


def test_a_made_up_session_is_no_session(phone: TestClient, keys: Keys) -> None:
    real = keys.admit(keys.key)
    assert real is not None
    for forged in ("x", "", real[:-1], real + "A", Keys().admit("") or "", f"{real}.{real}"):
        phone.cookies.set(COOKIE, forged)
        assert phone.get("/").url.path == "/key"


def test_the_key_is_compared_in_constant_time(monkeypatch: pytest.MonkeyPatch, keys: Keys) -> None:
    seen = []
    monkeypatch.setattr(hmac, "compare_digest", lambda a, b: seen.append((a, b)) or False)
    assert keys.admit("whatever") is None
    assert len(seen) == 1


def test_after_a_few_wrong_tries_there_is_another_key(keys: Keys) -> None:
    first = keys.key
    for _ in range(WRONG_TRIES - 1):
        assert keys.admit("AAAA AAAA") is None
    assert keys.key == first
    keys.admit("wrong")
    assert keys.key != first
    assert keys.admit(first) is None


def test_a_key_is_easy_to_read_out(keys: Keys) -> None:
    assert re.fullmatch(rf"[{ALPHABET}]{{4}} [{ALPHABET}]{{4}}", keys.key)
    assert not set("01IO") & set(ALPHABET)


def test_the_machine_itself_needs_no_key_and_shows_it(tmp_path: Path, keys: Keys) -> None:
    settings = Settings(logbook=tmp_path / "b.calmday", lan=True, lan_hosts=("192.168.1.7",), in_process=True)
    app = make_app(settings, keys)
    with TestClient(app, base_url="http://localhost:8765", client=("127.0.0.1", 1)) as here:
        assert keys.key in parsed(here.get("/devices")).text
        assert "http://192.168.1.7:8765/" in here.get("/devices").text


def test_the_key_is_not_shown_to_a_phone(phone: TestClient, keys: Keys) -> None:
    phone.post("/key", data={"key": keys.key})
    answer = phone.get("/devices")
    assert answer.url.path == "/devices"
    assert keys.key not in parsed(answer).text


def test_without_lan_the_page_says_how(client: TestClient) -> None:
    assert "calmday serve --lan" in parsed(client.get("/devices")).text
