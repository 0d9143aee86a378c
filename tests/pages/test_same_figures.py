"""The page shows what the command prints, to the digit, and asks the logbook no more often when it holds more."""

from __future__ import annotations

import json
import re
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from conftest import EXAMPLE
from page_client import client_of, parsed
from sqlalchemy import event
from starlette.testclient import TestClient

from calmday import operations
from calmday.reports.json_result import json_result
from calmday.reports.run_sheet import run_sheet
from calmday.reports.sheet import Bars, Table
from calmday.web.memory import Memory


@pytest.fixture(scope="module")
def worked_out(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str, str]]:
    """The example, brought in and worked out on the page."""
    with client_of(tmp_path_factory.mktemp("book") / "b.calmday") as client:
        run = str(client.post("/moving/example").url.path).split("/")[2]
        answer = client.post(f"/runs/{run}/reduce")
        until = time.monotonic() + 60
        while "/jobs/" in str(answer.url) and time.monotonic() < until:
            time.sleep(0.05)
            answer = client.get(str(answer.url))
        assert answer.url.path.endswith("/sheet")
        yield client, run, answer.text


@pytest.fixture(scope="module")
def by_command() -> operations.Reduction:
    return operations.reduce_file(EXAMPLE / "run.toml")


def test_the_json_is_that_of_the_command(
    worked_out: tuple[TestClient, str, str], by_command: operations.Reduction
) -> None:
    client, run, _ = worked_out
    shown = json.loads(client.get(f"/runs/{run}/sheet.json").content)
    printed = json.loads(json_result(by_command.result))
    for key in printed.keys() - {"provenance"}:
        assert shown[key] == printed[key], key


def test_every_number_of_the_printed_sheet_stands_on_the_page(
    worked_out: tuple[TestClient, str, str], by_command: operations.Reduction
) -> None:
    client, run, html = worked_out
    sheet = run_sheet(by_command.result)
    everything = parsed_text(html) + parsed_text(client.get(f"/runs/{run}/figures").text)
    assert sheet.lead in everything
    missing = []
    for block in sheet.blocks:
        cells = [cell for row in block.rows for cell in row[1:]] if isinstance(block, Table) else []
        # Level cruise repeats its litres in gallons; the page draws it in the units that were chosen there.
        cells += [bar.text.split(";")[0] for bar in block.bars] if isinstance(block, Bars) else []
        missing += [cell for cell in cells if cell and re.search(r"\d", cell) and plain(cell) not in everything]
    assert missing == []


def plain(text: str) -> str:
    return " ".join(text.split())


def parsed_text(html: str) -> str:
    from page_client import Parsed  # noqa: PLC0415

    return plain(Parsed(html).text)


def test_every_figure_opens_to_inputs_equation_and_source(worked_out: tuple[TestClient, str, str]) -> None:
    client, run, _ = worked_out
    links = [link for link in parsed(client.get(f"/runs/{run}/figures")).links if "/figures/" in link]
    assert len(links) > 60
    for link in dict.fromkeys(links):
        answer = client.get(link)
        assert answer.status_code == 200, link
        text = parsed(answer).text
        assert "What it is" in text
        assert "After:" in text
        assert "What went in" in text
    text = parsed(client.get(f"/runs/{run}/figures/fuel_mass")).text
    assert "12.880 kg" in text or "12.875 kg" in text
    assert "OIML D 28" in text


def test_every_link_of_the_sheet_leads_somewhere(worked_out: tuple[TestClient, str, str]) -> None:
    client, _, html = worked_out
    from page_client import Parsed  # noqa: PLC0415

    for link in dict.fromkeys(Parsed(html).links):
        if link.startswith("#"):
            assert f'id="{link[1:]}"' in html, link
        else:
            answer = client.get(link)
            assert answer.status_code == 200, link


def test_a_sheet_says_when_it_is_not_the_newest(worked_out: tuple[TestClient, str, str]) -> None:
    client, run, html = worked_out
    assert "Not the newest" not in html
    answer = client.post(f"/save/run/{run}", data={"payload": "40", "payload~unit": "kg"})
    assert answer.status_code == 200
    assert "something was written down or changed" in parsed(client.get(f"/runs/{run}/sheet")).text
    client.post(f"/save/run/{run}", data={"payload": "0", "payload~unit": "kg"})


def test_out_and_in_again_is_the_same_run(worked_out: tuple[TestClient, str, str], tmp_path: Path) -> None:
    client, run, _ = worked_out
    taken = client.get(f"/runs/{run}/folder.zip").content
    with client_of(tmp_path / "other.calmday") as other:
        answer = other.post("/moving/import", files={"file": ("out.zip", taken)})
        assert "Brought in." in parsed(answer).text
        again = str(answer.url.path).split("/")[2]
        assert other.get(f"/runs/{again}/folder.zip").status_code == 200
        assert "Nothing in it was new." in parsed(other.post("/moving/import", files={"file": ("x.zip", taken)})).text


def test_a_backup_is_a_logbook(worked_out: tuple[TestClient, str, str], tmp_path: Path) -> None:
    client, run, _ = worked_out
    copy = tmp_path / "copy.calmday"
    copy.write_bytes(client.post("/moving/backup").content)
    with client_of(copy) as other:
        assert other.get(f"/runs/{run}/sheet").status_code == 200


def test_a_folder_at_fault_brings_in_nothing(client: TestClient) -> None:
    answer = client.post("/moving/import", files={"file": ("run.toml", b"vehicle = \n")})
    assert answer.status_code == 422
    assert "Nothing was brought in" in parsed(answer).text
    assert "An empty logbook" in parsed(client.get("/")).text


PAGES = ("/", "/vehicles/{vehicle}", "/vehicles/{vehicle}/build", "/runs/{run}", "/runs/{run}/steps/weigh-out",
         "/runs/{run}/sheet", "/runs/{run}/figures", "/history/run/{run}")  # fmt: skip


def queries(client: TestClient, where: str) -> int:
    """How many statements a page sends to the logbook that remembers nothing."""
    client.app.state.desk.memory = Memory()  # type: ignore[attr-defined]
    counted: list[str] = []
    engine = client.app.state.desk.book.engine  # type: ignore[attr-defined]

    def count(_c: object, _cursor: object, statement: str, *_rest: object) -> None:
        counted.append(statement)

    event.listen(engine, "before_cursor_execute", count)
    try:
        assert client.get(where).status_code == 200
    finally:
        event.remove(engine, "before_cursor_execute", count)
    return len(counted)


def test_pages_ask_no_more_often_when_the_logbook_holds_more(worked_out: tuple[TestClient, str, str]) -> None:
    client, run, _ = worked_out
    vehicle = next(link for link in parsed(client.get(f"/runs/{run}")).links if link.startswith("/vehicles/")).split(
        "/"
    )[2]
    places = [place.format(vehicle=vehicle, run=run) for place in PAGES]
    for place in places:
        client.get(place)
    before = {place: queries(client, place) for place in places}
    book = client.app.state.desk.book  # type: ignore[attr-defined]
    stored = book.result(book.results(run)[0].id)
    for number in range(12):
        other = book.create("run", f"Run {number}", vehicle)
        book.write("run", other, {"date": "2026-05-01", "note": "x"}, "me")
        book.add_result(other, inputs_sha256=f"{number}", version="0", seed=1, draws=1, summary=stored.summary,
                        content=stored.content)  # fmt: skip
        book.create("vehicle", f"Vehicle {number}")
    after = {place: queries(client, place) for place in places}
    grown = {place: (before[place], after[place]) for place in places if after[place] > before[place] + 2}
    assert grown == {}
    assert max(after.values()) < 40


def test_a_run_without_a_vehicle_asks_for_it(client: TestClient, vehicle: str) -> None:
    answer = client.post("/moving/import", files={"file": ("run.toml", b'label = "Found on a disk"\n')})
    assert "Which vehicle was it?" in parsed(answer).text
    where = str(answer.url.path)
    for page in ("", "/sheet", "/figures", "/steps/track", "/void"):
        assert client.get(where + page).status_code == 200
    assert client.post(f"{where}/vehicle", data={"vehicle": "nothing"}).status_code == 404
    answer = client.post(f"{where}/vehicle", data={"vehicle": vehicle})
    assert "Which vehicle was it?" not in parsed(answer).text
    assert f"/vehicles/{vehicle}/build" in parsed(answer).links
