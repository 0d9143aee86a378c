"""A logbook with one vehicle and one run, and a client of its page."""

from __future__ import annotations

import sys
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


__all__ = ["HERE"]
