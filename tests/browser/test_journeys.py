"""Journeys through the page in a real browser; each waits on what it expects, never on the clock."""

from __future__ import annotations

import contextlib
import json
import re
import time
from pathlib import Path

from conftest import Device, Finished, Served
from journey import (
    EXAMPLE,
    RUN,
    after_the_drive,
    before_the_drive,
    describe_vehicle,
    keep_ledgers,
    put,
    saved,
    start_run,
    weigh,
)
from playwright.sync_api import Page, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from calmday import operations
from calmday.reports.json_result import json_result


def test_a_new_user_comes_from_the_empty_logbook_to_a_finished_sheet(page: Page, tmp_path: Path) -> None:
    describe_vehicle(page)
    where = start_run(page)
    before_the_drive(page)
    after_the_drive(page)
    expect(page.get_by_text("Plausible.").first).to_be_visible()
    page.get_by_role("link", name="What did it use?").last.click()
    page.get_by_role("button", name="Work it out now").click()
    page.wait_for_url("**/sheet")
    expect(page.get_by_text("Fen Hauler used").first).to_be_visible()
    expect(page.get_by_role("heading", name="Guesses, opened")).to_be_visible()
    for guess in RUN["prediction"]:
        printed = guess["value"].replace("L/100km", "L/100 km")
        expect(page.get_by_role("row", name=guess["by"])).to_contain_text(printed)
    with page.expect_download() as taken:
        page.get_by_role("link", name="The result as JSON").click()
    shown = json.loads(Path(taken.value.path()).read_bytes())
    typed = json.loads(json_result(operations.reduce_file(EXAMPLE / "run.toml").result))
    for key in ("as_driven", "calm_day", "penalties", "distance", "fuel_mass", "estimates", "budget", "sentence"):
        assert shown[key] == typed[key], "typed on the page and read from the folder: the same to the digit"
    page.goto(where)
    expect(page.get_by_role("link", name="What did it use?").first).to_be_visible()


def test_the_first_sheet_is_there_soon_after_the_last_file(served: Served, device: Device) -> None:
    page = device(served).new_page()
    page.goto("/")
    page.get_by_role("button", name="Bring in the example").click()
    page.wait_for_url("**/runs/*")
    page.goto(page.url.split("?")[0] + "/sheet")
    begun = time.monotonic()
    page.get_by_role("button", name="Work it out now").click()
    page.wait_for_url("**/sheet")
    expect(page.get_by_text("Fen Hauler used").first).to_be_visible()
    took = time.monotonic() - begun
    print(f"sheet after {took:.2f} s")
    assert took < 20, "a machine that is shared may be slow; benchmarks/bench_page.py measures"


def test_a_run_is_resumed_on_a_second_device(served: Served, device: Device) -> None:
    laptop = device(served).new_page()
    describe_vehicle(laptop)
    where = start_run(laptop)
    laptop.goto(f"{where}/steps/weigh-out")
    weigh(laptop, 0)
    saved(laptop)
    phone = device(served, viewport={"width": 360, "height": 740}, has_touch=True, is_mobile=True).new_page()
    phone.goto(where)
    expect(phone.get_by_role("link", name="Weigh out")).to_contain_text("done")
    expect(phone.get_by_role("link", name="Weigh in")).to_contain_text("open")
    phone.goto(f"{where}/steps/weigh-in")
    weigh(phone, 1)
    saved(phone)
    laptop.goto(where)
    expect(laptop.get_by_role("link", name="Weigh in")).to_contain_text("10.110 kg")


def test_nothing_typed_is_lost_with_the_connection(served: Served, device: Device) -> None:
    context = device(served)
    page = context.new_page()
    describe_vehicle(page)
    where = start_run(page)
    page.goto(f"{where}/steps/weigh-out")
    put(page, "weighing[0].gross[0]", "12.875 kg")
    saved(page)
    context.set_offline(True)
    put(page, "weighing[0].gross[1]", "12.885 kg")
    put(page, "weighing[0].tare", "1.020 kg")
    expect(page.locator("#keeping")).to_contain_text("Waiting: no connection. 2 entries are kept on this device.")
    context.set_offline(False)
    saved(page)
    other = device(served).new_page()
    other.goto(f"{where}/steps/weigh-out")
    expect(other.locator('[name="weighing[0].gross[1]"]')).to_have_value("12.885")
    expect(other.locator('[name="weighing[0].tare"]')).to_have_value("1.020")


def test_what_waited_outlives_the_browser_tab(served: Served, device: Device) -> None:
    context = device(served)
    page = context.new_page()
    describe_vehicle(page)
    where = start_run(page)
    page.goto(f"{where}/steps/tyres")
    context.set_offline(True)
    put(page, "tyre_pressure", "2.9 bar")
    expect(page.locator("#keeping")).to_contain_text("1 entry is kept on this device")
    page.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto(f"{where}/steps/scale")
    saved(again)
    again.goto(f"{where}/steps/tyres")
    expect(again.locator('[name="tyre_pressure"]')).to_have_value("2.9")


def test_the_server_going_away_while_typing(device: Device, tmp_path: Path) -> None:
    served = Served(tmp_path)
    listening_again: Served | None = None
    try:
        page = device(served, expected="ERR_CONNECTION_REFUSED").new_page()
        describe_vehicle(page)
        where = start_run(page)
        page.goto(f"{where}/steps/drive")
        served.process.kill()
        served.process.communicate()
        page.get_by_role("button", name="Lap", exact=True).click()
        page.get_by_role("button", name="Lap", exact=True).click()
        expect(page.locator("#pressed")).to_contain_text("Lap 2 at")
        expect(page.locator("#keeping")).to_contain_text("Waiting: no connection.")
        listening_again = object.__new__(Served)
        listening_again.__dict__.update(served.__dict__)
        from subprocess import PIPE, STDOUT, Popen  # noqa: PLC0415

        listening_again.process = Popen(served.process.args, stdout=PIPE, stderr=STDOUT, text=True)
        listening_again._wait()
        saved(page)
        page.reload()
        expect(page.locator('[name="laps"]')).to_have_value("2")
    finally:
        (listening_again or served).stop()


def test_keyboard_only(page: Page) -> None:
    page.goto("/")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the page itself")).to_be_focused()

    def tab_to(name: str) -> None:
        for _ in range(120):
            page.keyboard.press("Tab")
            here = page.evaluate(
                "() => { const e = document.activeElement; return (e.labels?.[0]?.textContent || e.ariaLabel ||"
                " e.textContent || '').trim(); }"
            )
            if name in here:
                outline = page.evaluate("() => getComputedStyle(document.activeElement).outlineWidth")
                assert outline == "4px", f"the focus on {name} cannot be seen"
                return
        raise AssertionError(f"{name} cannot be reached")

    tab_to("What do you call it?")
    page.keyboard.type("Keys only")
    tab_to("Which shape is nearest?")
    page.keyboard.type("Van")
    tab_to("Start its build sheet")
    page.keyboard.press("Enter")
    page.wait_for_url("**/build")
    tab_to("Mass as driven")
    page.keyboard.type("1480")
    saved(page)
    page.keyboard.press("Home")
    page.goto(page.url.replace("/build", ""))
    tab_to("Start a run")
    page.keyboard.press("Enter")
    page.wait_for_url("**/steps/plan**")
    tab_to("Name of the run")
    page.keyboard.type(" by keys")
    saved(page)
    tab_to("Next: Check the scale")
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Check the scale").wait_for()


def test_without_script_everything_can_be_read_and_written(served: Served, device: Device) -> None:
    page = device(served, java_script_enabled=False).new_page()
    page.goto("/")
    page.get_by_label("What do you call it?").fill("No script")
    page.get_by_role("button", name="Start its build sheet").click()
    page.locator('[name="vehicle.tyre_pressure"]').fill("3000")
    page.get_by_role("button", name="Save the build sheet").click()
    expect(page.get_by_role("alert")).to_contain_text("3000 bar")
    page.locator('[name="vehicle.tyre_pressure"]').fill("3")
    page.get_by_role("button", name="Save the build sheet").click()
    expect(page.get_by_text("Saved.")).to_be_visible()
    page.goto("/")
    page.get_by_role("button", name="Bring in the example").click()
    where = page.url.split("?")[0]
    page.goto(f"{where}/steps/drive")
    page.get_by_role("button", name="Lap", exact=True).click()
    expect(page.locator('[name="laps"]')).to_have_value("1")
    page.goto(f"{where}/steps/drive")
    page.locator('[name="laps"]').fill("4")
    page.get_by_role("button", name="Next: Weigh in").click()
    page.goto(f"{where}/sheet")
    page.get_by_role("button", name="Work it out now").click()
    page.wait_for_url("**/sheet")
    expect(page.get_by_text("Fen Hauler used").first).to_be_visible()
    assert page.locator(".chart svg").count() >= 8
    page.get_by_text("The numbers behind it").first.click()
    expect(page.locator(".chart table").first).to_be_visible()


def test_a_track_is_dropped_on_the_page(served: Served, device: Device) -> None:
    page = device(served).new_page()
    describe_vehicle(page)
    where = start_run(page)
    page.goto(f"{where}/steps/track")
    text = (EXAMPLE / "out.gpx").read_text(encoding="utf-8")
    dropped = page.evaluate_handle(
        "text => { const t = new DataTransfer(); t.items.add(new File([text], 'out.gpx')); return t; }", text
    )
    page.dispatch_event("form[data-drop]", "dragover", {"dataTransfer": dropped})
    page.dispatch_event("form[data-drop]", "drop", {"dataTransfer": dropped})
    page.get_by_text("Kept.").wait_for()
    expect(page.get_by_role("button", name="Take it away: out.gpx")).to_be_visible()


def test_pointing_at_the_route_shows_the_place_in_the_curves(device: Device, finished: Finished) -> None:
    page = device(finished.served).new_page()
    page.goto(finished.pages["what-did-it-use"])
    words = page.locator("#pointer-words")
    route = page.locator("#chart-route svg:visible")
    curves = page.locator("#chart-traces svg:visible")
    expect(curves.locator(".chart-cursor")).to_have_attribute("visibility", "hidden")
    route.scroll_into_view_if_needed()
    box = route.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    expect(curves.locator(".chart-cursor")).to_have_attribute("visibility", "visible")
    expect(words).to_contain_text("km/h")
    first = curves.locator(".chart-cursor").get_attribute("x1")
    page.locator("#along").focus()
    page.keyboard.press("End")
    assert curves.locator(".chart-cursor").get_attribute("x1") != first
    expect(route.locator(".chart-cursor")).to_have_attribute("visibility", "visible")


def test_the_route_is_coloured_by_what_one_chooses(device: Device, finished: Finished) -> None:
    page = device(finished.served).new_page()
    page.goto(finished.pages["what-did-it-use"])
    page.get_by_label("Colour of the route").select_option("engine_power")
    page.get_by_role("button", name="Show", exact=True).click()
    expect(page.locator("#chart-route figcaption")).to_contain_text("engine power")


def test_pictures_can_be_taken_along(device: Device, finished: Finished) -> None:
    page = device(finished.served).new_page()
    page.goto(finished.pages["what-did-it-use"])
    with page.expect_download() as taken:
        page.get_by_role("link", name="SVG of: The route").click()
    drawn = Path(taken.value.path()).read_text(encoding="utf-8")
    assert drawn.startswith("<svg")
    assert "var(" not in drawn, "a picture taken along carries its own colours"


def test_long_work_can_be_stopped(served: Served, device: Device) -> None:
    page = device(served).new_page()
    page.goto("/")
    page.get_by_role("button", name="Bring in the example").click()
    page.wait_for_url("**/runs/*")
    where = page.url.split("?")[0]
    page.goto(f"{where}/sheet")
    page.get_by_role("button", name="Work it out now").click()
    stop = page.get_by_role("button", name="Stop this")
    with contextlib.suppress(PlaywrightTimeout):  # a quick machine may be done before anybody can stop it
        stop.click(timeout=3000)
        page.get_by_text("Stopped. Nothing was lost.").wait_for()
    page.goto(f"{where}/sheet")
    if page.get_by_role("button", name="Work it out now").count():
        page.get_by_role("button", name="Work it out now").click()
    page.wait_for_url("**/sheet")
    expect(page.get_by_text("Fen Hauler used").first).to_be_visible()


def test_a_correction_stands_above_what_it_corrects(served: Served, device: Device) -> None:
    page = device(served).new_page()
    page.goto("/")
    page.get_by_role("button", name="Bring in the example").click()
    page.wait_for_url("**/runs/*")
    page.get_by_role("link", name="Every entry, and corrections").click()
    page.get_by_role("link", name="Extra load today").click()
    page.locator('[name="payload"]').fill("80")
    page.get_by_role("button", name="Write the correction").click()
    expect(page.get_by_role("alert")).to_contain_text("Why")
    page.get_by_label("Why?").fill("Bram came along")
    page.get_by_role("button", name="Write the correction").click()
    expect(page.get_by_text("The correction is written down.")).to_be_visible()
    rows = page.get_by_role("row", name="Extra load today")
    expect(rows.first).to_contain_text("80 kg")
    expect(rows.first).to_contain_text("Bram came along")
    expect(rows.nth(1)).to_contain_text("0 kg")
    expect(rows.nth(1)).to_contain_text("no longer stands")


def test_a_price_keeps_what_it_was_and_the_sheet_follows(device: Device, served: Served) -> None:
    """A cost sheet typed in is worked out at once; a price that changes stands in the history beside the old one."""
    page = device(served).new_page()
    describe_vehicle(page)
    vehicle = str(page.locator(".plate a").get_attribute("href")).split("/")[2]
    place = keep_ledgers(page, vehicle)["what-does-it-cost"]
    page.goto(place)
    expect(page.locator(".sentence")).to_contain_text("has paid for itself after about")
    page.locator('[name="price[1].price"]').fill("2.40 EUR/L")
    saved(page)
    page.get_by_role("button", name="Save", exact=True).click()
    expect(page.get_by_role("table").first).to_contain_text("18")
    page.goto(place.replace("/cost/", "/history/price/"))
    expect(page.locator("main")).to_contain_text("1.62 EUR/L")
    expect(page.locator("main")).to_contain_text("2.40 EUR/L")


def test_a_moved_slider_changes_the_answer_and_the_address(finished: Finished, device: Device) -> None:
    page = device(finished.served).new_page()
    page.goto(f"/vehicles/{finished.vehicle}/gears")
    first = page.locator("#answer-first .sentence")
    before = first.inner_text()
    slider = page.get_by_role("slider", name="Wind from ahead, m/s")
    slider.focus()
    for _ in range(16):
        page.keyboard.press("ArrowRight")
    expect(first).to_contain_text("into 8 m/s of wind")
    assert first.inner_text() != before
    expect(page).to_have_url(re.compile("headwind=8"))
    expect(page.get_by_role("textbox", name="Wind from ahead")).to_have_value("8")
    page.reload()
    expect(first).to_contain_text("into 8 m/s of wind")


def test_the_question_about_power_needs_no_script(finished: Finished, device: Device) -> None:
    page = device(finished.served, java_script_enabled=False).new_page()
    page.goto(f"/vehicles/{finished.vehicle}/gears")
    page.get_by_label("Hill", exact=True).fill("4")
    page.get_by_role("button", name="Show").click()
    expect(page.locator("#answer-first .sentence")).to_contain_text("up 4 %")
    page.goto(f"/vehicles/{finished.vehicle}/gears/changes")
    page.get_by_label("It has a rev counter").check()
    page.get_by_role("button", name="Show").click()
    expect(page.get_by_text("Marks on the rev counter")).to_be_visible()
    page.get_by_role("link", name="Print the card large").click()
    expect(page.get_by_text("Marks on the rev counter")).to_be_visible()


def test_a_planned_test_says_go_or_no_go_and_comes_on_paper(finished: Finished, device: Device) -> None:
    page = device(finished.served).new_page()
    page.goto(finished.pages["what-will-a-test-tell"])
    expect(page.locator(".sentence").first).to_contain_text("give the calm-day figure to within")
    expect(page.get_by_role("heading", name="Go or no go, for this question")).to_be_visible()
    with page.expect_download() as taken:
        page.get_by_role("link", name="The sheets for the day, A5").click()
    assert Path(taken.value.path()).read_bytes().startswith(b"%PDF")
