"""A result of a run that another version of the program kept in another form: its pages say so and stay of use."""

from __future__ import annotations

import json
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from page_client import client_of, parsed
from starlette.testclient import TestClient


def worked(client: TestClient, run: str) -> str:
    """The page that a run worked out leads to."""
    answer = client.post(f"/runs/{run}/reduce")
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    return answer.text


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str, str, bytes]]:
    """The example with the result of a version that knew other fields; client, run, vehicle and that result."""
    with client_of(tmp_path_factory.mktemp("book") / "b.calmday") as client:
        run = str(client.post("/moving/example").url.path).split("/")[2]
        worked(client, run)
        book = client.app.state.desk.book  # type: ignore[attr-defined]
        stored = book.result(book.results(run)[0].id)
        told = json.loads(stored.content)
        told["consumed"] = told.pop("as_driven")
        content = json.dumps(told).encode()
        book.add_result(
            run, inputs_sha256=stored.inputs_sha256, version="0.0.1", seed=stored.seed, draws=stored.draws,
            summary=stored.summary, content=content, along=stored.along,
        )  # fmt: skip
        yield client, run, book.subject(run).parent, content


def test_the_sheet_says_which_version_it_was_and_offers_to_work_it_out_again(
    kept: tuple[TestClient, str, str, bytes],
) -> None:
    client, run, _, content = kept
    answer = client.get(f"/runs/{run}/sheet")
    assert answer.status_code == 200
    found = parsed(answer)
    assert "Version 0.0.1 of the program worked this out" in found.text
    assert "work it out again. Nothing is lost." in found.text
    assert "It said then: " in found.text
    assert f"/runs/{run}/reduce" in found.forms
    assert "Results of this run" in found.text
    assert "(shown)" not in found.text
    assert client.get(f"/runs/{run}/sheet.json").content == content


@pytest.mark.parametrize("page", ["", "/figures", "/show", "/guess-board", "/power", "/void"])
def test_no_page_of_the_run_breaks(kept: tuple[TestClient, str, str, bytes], page: str) -> None:
    client, run, _, _ = kept
    assert client.get(f"/runs/{run}{page}").status_code == 200


def test_nor_any_page_that_takes_from_its_newest_result(kept: tuple[TestClient, str, str, bytes]) -> None:
    client, run, vehicle, _ = kept
    assert client.get("/").status_code == 200
    assert client.get(f"/vehicles/{vehicle}").status_code == 200
    assert client.get(f"/runs/{run}/charts/route/svg").status_code == 404
    assert client.get(f"/runs/{run}/figures/as_driven.L_per_100km").status_code == 404
    begun = client.post(f"/vehicles/{vehicle}/documents/dials").url.path
    client.post(begun, data={"range.tank": "60", "range.tank~unit": "L"})
    assert client.get(begun).status_code == 200
    sheet = str(client.post(f"/vehicles/{vehicle}/documents/price").url.path).split("/")[-1]
    taken = client.post(f"/cost/{sheet}/take")
    assert taken.status_code == 422
    assert "a weighed run that has been worked out" in taken.text


def test_worked_out_again_it_is_a_sheet_with_the_old_one_in_its_list(tmp_path: Path) -> None:
    with client_of(tmp_path / "b.calmday") as client:
        run = str(client.post("/moving/example").url.path).split("/")[2]
        book = client.app.state.desk.book  # type: ignore[attr-defined]
        book.add_result(run, inputs_sha256="0", version="0.0.1", seed=1, draws=1, summary={}, content=b"{}")
        assert "Version 0.0.1" in client.get(f"/runs/{run}/sheet").text
        shown = worked(client, run)
        assert "(shown)" in shown
        assert "0.0.1" in shown
