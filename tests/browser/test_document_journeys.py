"""From a button to an answer and to what one hands on: a comparison, a day of coastdowns, the report of a run."""

from __future__ import annotations

import io
import json
import math
import re
import zipfile
from pathlib import Path

import pytest
from conftest import Device, Finished, Served
from journey import GRAMS, compare, put, roll_out, saved, weighed_runs
from playwright.sync_api import Page, expect
from pypdf import PdfReader


@pytest.fixture
def vehicle(page: Page) -> str:
    """A vehicle with its mass, made on the page; its id."""
    page.goto("/")
    page.get_by_label("What do you call it?").fill("Minnow")
    page.get_by_role("button", name="Start its build sheet").click()
    page.wait_for_url("**/build**")
    put(page, "vehicle.test_mass", "1480 kg")
    saved(page)
    return page.url.split("/vehicles/")[1].split("/")[0]


def spaced(text: str) -> str:
    """A text of the page as the result has it: hard spaces only keep its figures on one line."""
    return text.replace("\u00a0", " ")


def downloaded(page: Page, link: str) -> bytes:
    """What a link hands over."""
    with page.expect_download() as taken:
        page.get_by_role("link", name=link, exact=True).click()
    return Path(taken.value.path()).read_bytes()


def make_report(page: Page) -> None:
    """From the page of a result to its report."""
    page.get_by_role("link", name="Show it to others").click()
    page.get_by_role("button", name="Make the report").click()
    page.get_by_role("heading", name="The report is ready").wait_for()


def test_a_comparison_from_new_to_the_report_one_hands_on(page: Page, vehicle: str) -> None:
    compare(page, vehicle, weighed_runs(page, vehicle))
    sentence = page.locator(".sentence").first
    found = json.loads(downloaded(page, "The result as JSON"))
    assert spaced(sentence.inner_text()).casefold() == found["sentence"].casefold()
    level = [math.log(grams) for grams in GRAMS]
    change = 100 * math.expm1((level[1] + level[2] - level[0] - level[3]) / 2)
    assert found["change_percent"]["value"] == pytest.approx(change, abs=0.05)
    assert found["change_percent"]["low"] < change < found["change_percent"]["high"] < 0
    expect(page.locator("main figure")).not_to_have_count(0)
    words = spaced(sentence.inner_text())
    make_report(page)
    with zipfile.ZipFile(io.BytesIO(downloaded(page, "Everything, as a zip"))) as whole:
        report = whole.read(next(name for name in whole.namelist() if name.endswith("report.html"))).decode()
    assert words.split(",")[0] in spaced(report)
    page.get_by_role("link", name="Back to the comparison").click()
    expect(page.get_by_role("heading", name="The answer")).to_be_visible()


def test_a_coastdown_from_recordings_to_what_holds_it_back(page: Page, vehicle: str) -> None:
    """190 N and 0.6 N/(m/s)^2 at 1480 kg are 486 N at 80 km/h, in air a little thinner than the calm day's."""
    roll_out(page, vehicle)
    sentence = spaced(page.locator(".sentence").first.inner_text())
    told = re.match(r"At 80 km/h on a calm day, (\d+) N hold this vehicle back, give or take (\d+)", sentence)
    assert told is not None, sentence
    force, doubt = float(told[1]), float(told[2])
    assert abs(force - 486) < doubt < 100
    expect(page.get_by_role("button", name=re.compile("Take away: roll-"))).to_have_count(4)
    page.get_by_role("link", name="All coastdowns of this vehicle").click()
    expect(page.locator(".sentence")).to_contain_text("N hold this vehicle back")


def test_the_report_of_a_run_as_pdf_and_as_html(finished: Finished, device: Device) -> None:
    page = device(finished.served).new_page()
    page.goto(finished.pages["what-did-it-use"])
    figure = re.search(r"Fen Hauler used [\d.]+ L/100 km", spaced(page.locator(".sentence").first.inner_text()))
    assert figure is not None
    make_report(page)
    pdf = PdfReader(io.BytesIO(downloaded(page, "The pages as PDF")))
    first = " ".join(pdf.pages[0].extract_text().split())
    assert figure[0] in first
    assert len(pdf.pages) > 2
    html = downloaded(page, "The pages as HTML").decode()
    assert figure[0] in " ".join(re.sub(r"<[^>]+>", " ", html).split())
    assert "<script" not in html


def test_without_a_run_on_one_side_the_page_says_what_is_missing(served: Served, page: Page, vehicle: str) -> None:
    runs = weighed_runs(page, vehicle)
    page.goto(f"/vehicles/{vehicle}/comparisons")
    page.get_by_role("button", name="Begin a comparison").click()
    page.locator(f'[name="member.{runs[0]}.group"]').select_option("baseline")
    saved(page)
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("alert")).to_contain_text("After the change there is no run that counts")


def test_another_kind_of_measurement_brings_its_boxes_and_loses_nothing_typed(page: Page, vehicle: str) -> None:
    page.goto(f"/vehicles/{vehicle}/knowledge")
    page.get_by_label("Which?").select_option("roll-down")
    page.get_by_role("button", name="Write down a measurement").click()
    page.get_by_label("Time between the two speeds").fill("10.4 s")
    page.get_by_label("Kind").select_option("held speed")
    page.get_by_label("Speed held").wait_for()
    expect(page.get_by_label("From speed")).to_have_count(0)
    page.get_by_role("heading", name="Not of this kind").wait_for()
    assert page.locator('[name="time"]').input_value() == "10.4 s"
