"""What holds for every page: accessible, narrow, dark, printed, large enough for gloves; and a picture of each."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest
from conftest import Device, Finished
from playwright.sync_api import Page

HERE = Path(__file__).parent
AXE = (HERE / "vendor" / "axe-core-4.14.1" / "axe.min.js").read_text(encoding="utf-8")
PICTURES = HERE.parents[1] / "docs" / "screenshots"
TAGS = ["wcag2a", "wcag2aa", "wcag2aaa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
RUN = """tags => axe.run(document, {
  runOnly: tags, rules: { 'color-contrast-enhanced': { enabled: true }, 'target-size': { enabled: true } },
})"""
TOO_SMALL = """() => [...document.querySelectorAll('a, button, input, select, textarea, summary')]
  .filter((e) => e.offsetParent !== null && e.type !== 'hidden')
  .filter((e) => !(e.tagName === 'A' && getComputedStyle(e).display === 'inline' && e.closest('p:not(.actions), li')))
  .map((e) => {
    const whole = e.type === 'radio' || e.type === 'checkbox' ? e.closest('label') : e;
    const box = whole.getBoundingClientRect();
    const words = (e.textContent || e.name || '').trim().slice(0, 40);
    return [e.tagName, words, Math.round(box.width), Math.round(box.height)];
  })
  .filter(([, , width, height]) => height < 47.5 || width < 24)"""
OPEN_ALL = "() => document.querySelectorAll('details').forEach((e) => { e.open = true; })"
"""What is folded away is looked at too: the numbers behind each picture among it."""
BOXES = "input:not([type=hidden], [type=radio], [type=file], [type=range]), select"
SMALL_LETTERS = """boxes => [...document.querySelectorAll(boxes)]
  .filter((e) => e.offsetParent !== null)
  .map((e) => [e.name, Number.parseFloat(getComputedStyle(e).fontSize)])
  .filter(([, size]) => size < 24)"""


PRINTED = """() => ({
  colours: [getComputedStyle(document.body).color, getComputedStyle(document.body).backgroundColor],
  screen: [...document.querySelectorAll('nav, .bottom, button, .actions')].filter((e) => e.offsetParent).length,
  letters: Number.parseFloat(getComputedStyle(document.body).fontSize),
})"""


CUT_OFF = """() => [...document.querySelectorAll('.scroll, .chart-table')]
  .filter((e) => e.offsetParent && e.scrollWidth > e.clientWidth + 2)
  .map((e) => [e.getAttribute('aria-label'), e.scrollWidth, e.clientWidth])"""
"""Tables that go on beside a narrow page, where nobody looks for them."""
A4_WITHIN_MARGINS_PX = 703
EMPTY_BOXES = """() => [...document.querySelectorAll('.written input:not([type=hidden]), .written textarea')]
  .filter((e) => e.offsetParent !== null && !e.value).map((e) => e.name)"""


def names(finished: Finished) -> dict[str, str]:
    return finished.pages


def complaints(page: Page) -> list[dict[str, Any]]:
    """What axe finds on the page as it stands."""
    page.evaluate(AXE)  # evaluated by the browser's own tools, which no content policy holds back
    found = page.evaluate(RUN, TAGS)
    return [
        {
            "rule": each["id"],
            "where": [node["target"] for node in each["nodes"]][:4],
            "why": each["help"],
            "more": [node.get("failureSummary", "")[:300] for node in each["nodes"]][:2],
        }
        for each in found["violations"]
    ]


@pytest.mark.parametrize(("scheme", "width"), [("light", 1280), ("dark", 360)])
def test_axe_finds_nothing_on_any_page(device: Device, finished: Finished, scheme: str, width: int) -> None:
    """Light on a desk; dark on a phone, where tables are stacked. What is folded away is looked at too."""
    page = device(finished.served, color_scheme=scheme, viewport={"width": width, "height": 900}).new_page()
    found = {}
    for name, where in names(finished).items():
        page.goto(where)
        page.evaluate(OPEN_ALL)
        wrong = complaints(page)
        if wrong:
            found[name] = wrong
    assert found == {}


def test_no_page_is_wider_than_a_small_phone(device: Device, finished: Finished) -> None:
    page = device(finished.served, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True).new_page()
    wide = {}
    for name, where in names(finished).items():
        page.goto(where)
        page.evaluate(OPEN_ALL)
        width = page.evaluate("() => document.documentElement.scrollWidth")
        if width > 360:
            wide[name] = width
        aside = page.evaluate(CUT_OFF)
        if aside:
            wide[name] = aside
    assert wide == {}


def test_every_target_is_large_enough_for_gloves(device: Device, finished: Finished) -> None:
    page = device(finished.served, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True).new_page()
    small, thin = {}, {}
    for name, where in names(finished).items():
        page.goto(where)
        found = page.evaluate(TOO_SMALL)
        if found:
            small[name] = found
        letters = page.evaluate(SMALL_LETTERS, BOXES)
        if letters:
            thin[name] = letters
    assert small == {}
    assert thin == {}


def test_every_page_prints_black_on_white_without_what_only_a_screen_needs(device: Device, finished: Finished) -> None:
    page = device(finished.served, color_scheme="dark").new_page()
    page.emulate_media(media="print")
    for name, where in names(finished).items():
        page.goto(where)
        shown = page.evaluate(PRINTED)
        assert shown["colours"] == ["rgb(0, 0, 0)", "rgb(255, 255, 255)"], name
        assert shown["screen"] == 0, name
        assert shown["letters"] >= 14 * 96 / 72 - 0.1, f"{name}: 14 points at least"
        assert page.evaluate(EMPTY_BOXES) == [], f"{name}: what nobody filled in is not printed below an answer"
        page.set_viewport_size({"width": A4_WITHIN_MARGINS_PX, "height": 1000})
        width = page.evaluate("() => document.documentElement.scrollWidth")
        assert width <= A4_WITHIN_MARGINS_PX, f"{name}: {width} px on a sheet of {A4_WITHIN_MARGINS_PX}"
    page.goto(finished.pages["what-did-it-use"])
    assert len(page.pdf(format="A4")) > 50_000


def test_every_page_has_one_heading_and_a_title_of_its_own(device: Device, finished: Finished) -> None:
    page = device(finished.served).new_page()
    titles: dict[str, str] = {}
    for name, where in names(finished).items():
        page.goto(where)
        assert page.locator("h1").count() == 1, name
        titles[name] = page.title()
    doubled = {title for title in titles.values() if list(titles.values()).count(title) > 1}
    assert doubled <= {titles["every-entry"]}, "a correction is made on the page of its entries"


def test_pictures_of_every_page(device: Device, finished: Finished, tmp_path: Path) -> None:
    """For docs/screenshots where CALMDAY_SCREENSHOTS is set, else only to see that they can be made."""
    folder = PICTURES if os.environ.get("CALMDAY_SCREENSHOTS") else tmp_path
    folder.mkdir(exist_ok=True)
    wide = device(finished.served, viewport={"width": 1200, "height": 1000}).new_page()
    phone = device(
        finished.served, viewport={"width": 360, "height": 740}, color_scheme="dark", is_mobile=True, has_touch=True
    ).new_page()
    on_phone = {"todays-run", "step-weigh-out", "step-drive", "what-did-it-use", "where-do-i-stand"}
    for name, where in names(finished).items():
        wide.goto(where)
        height = min(wide.evaluate("() => document.documentElement.scrollHeight"), 3600)
        clip = {"x": 0, "y": 0, "width": 1200, "height": height}
        wide.screenshot(path=folder / f"{name}.jpg", full_page=True, clip=clip, quality=40, type="jpeg")
        if name in on_phone:
            phone.goto(where)
            clip = {"x": 0, "y": 0, "width": 360, "height": 1400}
            phone.screenshot(path=folder / f"{name}-phone.jpg", full_page=True, clip=clip, quality=45, type="jpeg")
    made = sorted(folder.glob("*.jpg"))
    assert len(made) >= len(names(finished)) + len(on_phone)
    assert sum(picture.stat().st_size for picture in made) < 9_000_000
