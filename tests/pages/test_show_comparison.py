"""Show it: the report of a comparison made from the page repeats the figures of that page from its own folder."""

from __future__ import annotations

import io
import json
import time
import zipfile
from pathlib import Path

import pytest
from starlette.testclient import TestClient
from test_comparison_page import comparison, runs, worked_out

from calmday.operations import compare_file

__all__ = ["comparison", "runs"]


def shown(client: TestClient, found: str, **form: str) -> zipfile.ZipFile:
    """The report of a comparison, made on its page."""
    answer = client.post(f"/comparisons/{found}/show", data={"tables": "on", **form})
    until = time.monotonic() + 60
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert answer.url.path == f"/comparisons/{found}/show"
    assert "The report is ready" in answer.text
    return zipfile.ZipFile(io.BytesIO(client.get(f"/comparisons/{found}/show/everything.zip").content))


def test_the_report_repeats_the_figures_of_the_page(client: TestClient, comparison: str, tmp_path: Path) -> None:
    page = worked_out(client, comparison)
    assert f"/comparisons/{comparison}/show" in page
    archive = shown(client, comparison)
    archive.extractall(tmp_path)
    there = json.loads(archive.read("repeat/result.json"))
    here = json.loads(client.get(f"/comparisons/{comparison}/comparison.json").content)
    assert there["sentence"] == here["sentence"]
    assert [run["label"] for run in there["runs"]] == ["Loop 1", "Loop 2", "Loop 3", "Loop 4"]
    again = compare_file(tmp_path / "repeat" / "comparison.toml")
    assert again.change_percent is not None
    for key in ("value", "low", "high"):
        assert there["change_percent"][key] == pytest.approx(here["change_percent"][key], rel=1e-12)
        assert getattr(again.change_percent, key) == there["change_percent"][key]
    assert again.provenance.inputs_sha256 == there["provenance"]["inputs_sha256"]


def test_the_words_are_those_of_the_comparison(client: TestClient, comparison: str) -> None:
    archive = shown(client, comparison)
    html = archive.read("report.html").decode().replace("\u00a0", " ")
    assert "Did “deflector” make a difference?" in html
    assert json.loads(archive.read("repeat/result.json"))["sentence"] in html
    assert "pictures/captions.txt" not in archive.namelist()  # not ticked
    assert client.get(f"/comparisons/{comparison}/show/report.pdf").content.startswith(b"%PDF-")


def test_a_comparison_without_runs_says_what_is_missing(client: TestClient, vehicle: str) -> None:
    found = str(client.post(f"/vehicles/{vehicle}/documents/comparison").url.path).split("/")[2]
    answer = client.post(f"/comparisons/{found}/show", data={"tables": "on"})
    until = time.monotonic() + 30
    while "/jobs/" in str(answer.url) and time.monotonic() < until:
        time.sleep(0.05)
        answer = client.get(str(answer.url))
    assert "The report could not be made" in answer.text
