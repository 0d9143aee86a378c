"""A logbook with one vehicle and one run, and a client of its page."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from page_client import HERE, client_of, parsed
from starlette.testclient import TestClient

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The page over an empty logbook."""
    with client_of(tmp_path / "logbook.calmday") as made:
        yield made


@pytest.fixture
def vehicle(client: TestClient) -> str:
    """A vehicle made on the page; its id."""
    answer = client.post("/vehicles/new", data={"name": "Fen Hauler", "body": "van"})
    assert answer.status_code == 200
    return str(answer.url.path).split("/")[2]


@pytest.fixture
def run(client: TestClient, vehicle: str) -> str:
    """A run made on the page; its id."""
    answer = client.post(f"/vehicles/{vehicle}/runs")
    assert "A new run" in parsed(answer).text
    return str(answer.url.path).split("/")[2]


@pytest.fixture(scope="module")
def sheet_only(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str]]:
    """The example's build sheet without a run that was worked out; its client and vehicle."""
    with client_of(tmp_path_factory.mktemp("book") / "b.calmday") as client:
        client.post("/moving/example")
        until = time.monotonic() + 20
        link = ""
        while not link and time.monotonic() < until:
            found = [link for link in parsed(client.get("/")).links if link.startswith("/vehicles/")]
            link = next((one for one in found if one != "/vehicles/new"), "")
        yield client, link.split("/")[2]


__all__ = ["HERE"]
