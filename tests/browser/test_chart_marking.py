"""The full-load curve from a picture, by tapping, by the keyboard alone, and with script off."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from conftest import Device, Served
from playwright.sync_api import Page, expect
from test_every_page import TOO_SMALL, complaints

from calmday.synthetic.drawn_chart import ChartLook
from calmday.synthetic.marked_chart import marked_chart


@pytest.fixture
def picture(tmp_path: Path) -> Path:
    """A drawn chart as a file."""
    chart, _, _ = marked_chart(ChartLook(width=600, height=440), hand_px=0.0)
    place = tmp_path / "chart.png"
    place.write_bytes(chart.data)
    return place


def begun(page: Page, served: Served, picture: Path) -> str:
    """A chart with its picture; its address."""
    made = page.request.post(
        f"{served.address}/vehicles/new",
        form={"name": "Fen Hauler", "body": "van"},
        headers={"origin": served.address, "sec-fetch-site": "same-origin"},
    )
    page.goto(f"/vehicles/{made.url.split('/')[4]}/charts")
    page.get_by_role("button", name="Begin with a picture").click()
    page.wait_for_url("**/charts/*")
    where = page.url.split("?")[0]
    page.locator("input[type=file]").set_input_files(str(picture))
    page.get_by_role("button", name="Keep it").click()
    expect(page.locator(".marking-view img")).to_be_visible()
    return where


def test_tapped_typed_traced_and_used(served: Served, device: Device, picture: Path) -> None:
    page = device(served).new_page()
    where = begun(page, served, picture)
    chart, _, _ = marked_chart(ChartLook(width=600, height=440), hand_px=0.0)
    image = page.locator(".marking-view img")
    expect(page.locator(".marking-armed")).to_contain_text("Mark 1")
    box = image.bounding_box()
    assert box is not None
    scale = box["width"] / 600
    for mark in chart.marks:
        image.click(position={"x": (mark.at[0] + 0.5) * scale, "y": (mark.at[1] + 0.5) * scale})
    tapped = [float(page.input_value(f'[name="mark[{i}].at"]').split(",")[0]) for i in range(6)]
    assert tapped == pytest.approx([mark.at[0] for mark in chart.marks], abs=1.0)
    expect(page.locator(".marking-armed")).to_contain_text("A place on the curve")
    page.get_by_role("button", name="Undo").click()
    assert page.input_value('[name="mark[5].at"]') == ""
    image.click(position={"x": (chart.marks[5].at[0] + 0.5) * scale, "y": (chart.marks[5].at[1] + 0.5) * scale})
    before = float(page.input_value('[name="mark[5].at"]').split(",")[0])
    page.get_by_role("button", name="A pixel to the left").click()
    assert float(page.input_value('[name="mark[5].at"]').split(",")[0]) == pytest.approx(before - 1, abs=0.11)
    page.get_by_role("button", name="A pixel to the right").click()
    for i, mark in enumerate(chart.marks):
        for name, value in (
            ("speed", None if mark.speed_rps is None else 60 * mark.speed_rps),
            ("torque", mark.torque_nm),
            ("power", None if mark.power_w is None else mark.power_w / 1000),
        ):
            if value is not None:
                page.fill(f'[name="mark[{i}].{name}"]', f"{value:g}")
    page.select_option('[name="curve[0].of"]', "torque")
    page.fill('[name="curve[0].colour_at"]', _on_the_curve())
    expect(page.locator("#keeping")).to_contain_text("Saved")
    page.get_by_role("button", name="Trace the curve").click()
    page.wait_for_url(re.compile(r".*/charts/\w+(\?.*)?$"), timeout=90_000)
    page.goto(where)
    expect(page.get_by_text("The chart gives 137 N m").first).to_be_visible()
    assert page.locator("polyline.course-torque").count() == 1
    assert complaints(page) == []
    page.get_by_role("button", name="Use this curve").click()
    page.wait_for_url("**/build*")


def _on_the_curve() -> str:
    _, drawn, shape = marked_chart(ChartLook(width=600, height=440), hand_px=0.0)
    x, y = drawn.place(3000, "torque", float(shape.torque(3000.0)))
    return f"{x:.0f}, {y:.0f}"


def test_marked_by_the_keyboard_alone(served: Served, device: Device, picture: Path) -> None:
    page = device(served).new_page()
    begun(page, served, picture)
    page.get_by_role("button", name="Mark it on the picture: Mark 2: Place in the picture").press("Enter")
    expect(page.locator(".marking-view")).to_be_focused()
    for key in ("ArrowLeft", "ArrowUp", "Shift+ArrowUp", "Enter"):
        page.keyboard.press(key)
    assert page.input_value('[name="mark[1].at"]') == "299, 199"


def test_without_script_places_are_typed(served: Served, device: Device, picture: Path) -> None:
    page = device(served, java_script_enabled=False).new_page()
    where = begun(page, served, picture)
    page.fill('[name="mark[0].at"]', "66, 387")
    page.fill('[name="mark[0].speed"]', "500")
    page.get_by_role("button", name="Save", exact=True).click()
    page.goto(where)
    assert page.input_value('[name="mark[0].at"]') == "66, 387"
    assert page.locator(".placed").count() == 1


def test_a_glove_hits_every_button(served: Served, device: Device, picture: Path) -> None:
    page = device(served, viewport={"width": 360, "height": 740}, is_mobile=True, has_touch=True).new_page()
    begun(page, served, picture)
    assert page.evaluate(TOO_SMALL) == []
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 360
