"""Show it: the report of a run made from the page, fetched as a whole and in parts."""

from __future__ import annotations

import io
import json
import time
import zipfile
from collections.abc import Iterator

import pytest
from page_client import client_of, parsed
from starlette.testclient import TestClient

from calmday.operations import demo_folder, reduce_file
from calmday.reports.json_result import json_result
from calmday.web.jobs import Jobs

USUAL = {"question": "Is it thirsty?", "pictures": "on", "tables": "on", "photos": "on"}


def made(client: TestClient, run: str, **form: str) -> str:
    """Ask for a report and wait until it is there; the page then."""
    answer = client.post(f"/runs/{run}/show", data={**USUAL, **form})
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.url.path == f"/runs/{run}/show"
    return answer.text


@pytest.fixture(scope="module")
def shown(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[TestClient, str, str]]:
    """The example with its report; client, run and page."""
    with client_of(tmp_path_factory.mktemp("book") / "b.calmday") as client:
        run = str(client.post("/moving/example").url.path).split("/")[2]
        yield client, run, made(client, run)


def whole(client: TestClient, run: str) -> zipfile.ZipFile:
    answer = client.get(f"/runs/{run}/show/everything.zip")
    assert answer.headers["content-type"] == "application/zip"
    return zipfile.ZipFile(io.BytesIO(answer.content))


def test_before_it_is_made_the_page_says_what_it_will_be(client: TestClient, run: str) -> None:
    page = client.get(f"/runs/{run}/show")
    assert "Make the report" in page.text
    assert "The report is ready" not in page.text
    assert client.get(f"/runs/{run}/show/everything.zip").status_code == 404


def test_the_page_offers_every_part(shown: tuple[TestClient, str, str]) -> None:
    client, run, page = shown
    assert "The report is ready" in page
    for name, start in (("report.pdf", b"%PDF-"), ("report.html", b"<!doctype html>"), ("pictures.zip", b"PK"),
                        ("tables.zip", b"PK"), ("everything.zip", b"PK")):  # fmt: skip
        assert f"/runs/{run}/show/{name}" in page
        answer = client.get(f"/runs/{run}/show/{name}")
        assert answer.content.startswith(start)
        assert "attachment" in answer.headers["content-disposition"]


def test_parts_are_those_of_the_whole(shown: tuple[TestClient, str, str]) -> None:
    client, run, _ = shown
    archive = whole(client, run)
    assert archive.read("report.pdf") == client.get(f"/runs/{run}/show/report.pdf").content
    tables = zipfile.ZipFile(io.BytesIO(client.get(f"/runs/{run}/show/tables.zip").content))
    assert set(tables.namelist()) == {name for name in archive.namelist() if name.startswith("tables/")}
    assert tables.read("tables/runs.csv") == archive.read("tables/runs.csv")


def test_the_result_in_it_is_that_of_the_command(shown: tuple[TestClient, str, str]) -> None:
    """But for the question, which belongs to the run file and so to its digest."""
    client, run, _ = shown
    found = json.loads(whole(client, run).read("repeat/result.json"))
    printed = json.loads(json_result(reduce_file(demo_folder() / "run.toml").result))
    assert {k: v for k, v in found.items() if k != "provenance"} == {
        k: v for k, v in printed.items() if k != "provenance"
    }


def test_the_question_is_kept_with_the_run_and_stands_on_top(shown: tuple[TestClient, str, str]) -> None:
    client, run, _ = shown
    assert "<h1>Is it thirsty?</h1>" in client.get(f"/runs/{run}/show/report.html").text
    assert 'question = "Is it thirsty?"' in whole(client, run).read("repeat/run.toml").decode()
    assert 'value="Is it thirsty?"' in client.get(f"/runs/{run}/show").text


def test_what_was_not_ticked_is_left_out_and_home_is_kept(tmp_path: object) -> None:
    with client_of(tmp_path / "b.calmday") as client:  # type: ignore[operator]
        run = str(client.post("/moving/example").url.path).split("/")[2]
        client.post(f"/runs/{run}/show", data={"question": "", "cut_home": "600 m", "tables": "on"})
        page = made(client, run, cut_home="600 m", decimal_comma="on", pictures="")
        names = whole(client, run).namelist()
        assert "repeat/run.toml" in names
        assert b"tracks are cut" in whole(client, run).read("repeat/how-to-repeat.txt")
        assert "shows where you drove" not in page
        assert 'value="600 m"' in page


@pytest.mark.parametrize("text", ["near", "5", "1 kg", "900 km", "<b>"])
def test_a_distance_that_cannot_be_used_is_said_to_be(client: TestClient, run: str, text: str) -> None:
    answer = client.post(f"/runs/{run}/show", data={"question": "", "cut_home": text})
    assert answer.status_code == 422
    assert 'href="#cut-home"' in answer.text
    assert parsed(answer).boxes["cut_home"] == text


def test_a_run_that_cannot_be_worked_out_says_why(client: TestClient, run: str) -> None:
    page = made(client, run)
    assert "The report could not be made" in page
    assert "weighing" in page


@pytest.mark.parametrize("name", ["repeat", "../report.pdf", "README.txt", "everything", "report.pdf.zip"])
def test_only_the_parts_named_can_be_fetched(shown: tuple[TestClient, str, str], name: str) -> None:
    client, run, _ = shown
    assert client.get(f"/runs/{run}/show/{name}").status_code in (404, 405)


def test_large_results_are_not_kept_for_ever() -> None:
    jobs = Jobs("", lambda _book, task, run, _told: f"{task} of {run}" if task else None, in_process=True)
    done = [jobs.start(f"r{i}", "report {}") for i in range(4)]
    other = jobs.start("r1", "reduce")
    until = time.monotonic() + 10
    while not all(job.over for job in (*done, other)) and time.monotonic() < until:
        time.sleep(0.01)
    jobs.let_go("report", 2)
    assert [job.result for job in done] == [None, None, "report {} of r2", "report {} of r3"]
    assert other.result == "reduce of r1"
    assert jobs.newest("r3", "report") is done[3]
    assert jobs.newest("r9", "report") is None
    jobs.close()
