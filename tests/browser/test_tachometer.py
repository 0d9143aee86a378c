"""The tachometer hears an invented engine through the browser's own microphone, and says when it hears none."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from conftest import ARGUMENTS, CHROMIUM, PATIENCE_MS, Listened, Served, serving
from journey import put, saved
from playwright.sync_api import Page, Playwright, expect

from calmday.synthetic.engine_sound import InventedEngine, InventedNoise, engine_sound, write_wav

ENGINE = {"engine.cylinders": "4", "engine.idle_speed": "800 rpm", "engine.governed_speed": "4600 rpm"}
RPM = 2520.0


@pytest.fixture(scope="module")
def cab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    yield from serving(tmp_path_factory.mktemp("cab"))


def microphone(play: Playwright, served: Served, recording: Path) -> Iterator[Page]:
    """A browser whose microphone hears a file over and over."""
    fake = [
        "--use-fake-device-for-media-stream",
        "--use-fake-ui-for-media-stream",
        f"--use-file-for-fake-audio-capture={recording}",
    ]
    browser = play.chromium.launch(executable_path=CHROMIUM, args=[*ARGUMENTS, *fake])
    context = browser.new_context(base_url=served.address, viewport={"width": 1280, "height": 900})
    context.set_default_timeout(PATIENCE_MS)
    listened = Listened(context, served.port)
    yield context.new_page()
    browser.close()
    listened.check()


def written(folder: Path, snr_db: float) -> Path:
    file = folder / f"engine{snr_db:.0f}.wav"
    sound = engine_sound(
        np.array([0.0, 40.0]),
        np.array([RPM, RPM]),
        InventedEngine(cylinders=4),
        InventedNoise(snr_db=snr_db),
        5,
        48_000,
    )
    write_wav(file, sound, 48_000)
    return file


def open_tachometer(page: Page) -> None:
    """A vehicle with an engine, and its tachometer listening."""
    page.goto("/")
    page.get_by_label("What do you call it?").fill("Fen Hauler")
    page.get_by_role("button", name="Start its build sheet").click()
    vehicle = page.url.split("/vehicles/")[1].split("/")[0]
    for key, text in ENGINE.items():
        put(page, key, text)
    saved(page)
    page.goto(f"/vehicles/{vehicle}/tachometer")
    page.get_by_role("button", name="Listen").click()


def test_it_shows_the_speed_of_the_engine_and_keeps_a_recording(play: Playwright, cab: Served, tmp_path: Path) -> None:
    for page in microphone(play, cab, written(tmp_path, 8)):
        open_tachometer(page)
        shown = page.locator("#tacho-rpm")
        expect(shown).to_have_text("2520")
        expect(page.locator("#tacho-sure")).to_contain_text("Confidence")
        page.get_by_label("Who listens beside it?").fill("Ada")
        page.get_by_role("button", name="Record").click()
        page.wait_for_timeout(5000)
        page.get_by_role("button", name="Stop and keep").click()
        page.get_by_role("link", name="Kept: open the recording").click()
        page.wait_for_url("**/sounds/*")
        expect(page.get_by_label("Who listened beside it?")).to_have_value("Ada")
        page.get_by_role("button", name="Work it out").click()
        expect(page.locator(".sentence")).to_contain_text("2520 rpm")


def test_noise_alone_shows_no_number(play: Playwright, cab: Served, tmp_path: Path) -> None:
    for page in microphone(play, cab, written(tmp_path, -60)):
        open_tachometer(page)
        expect(page.locator("#tacho-word")).to_have_text("Does not know")
        page.wait_for_timeout(3000)
        seen = {page.locator("#tacho-rpm").inner_text() for _ in range(10)}
        assert seen == {"?"}
