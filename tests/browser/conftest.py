"""A served logbook and a real browser in front of it. Everything either of them says is listened to."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

sys.path.insert(0, str(Path(__file__).parent))

import journey

CHROMIUM = os.environ.get("CALMDAY_CHROMIUM") or shutil.which("chromium") or shutil.which("chromium-browser") or ""
ARGUMENTS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--force-color-profile=srgb",
]
PATIENCE_MS = 30_000
COMMAND = [sys.executable, "-c", "import sys; from calmday.cli.main import main; sys.exit(main())"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test here; skip where there is no browser, unless this machine must have one."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)
            if not CHROMIUM and not os.environ.get("CALMDAY_NEEDS_BROWSER"):
                item.add_marker(pytest.mark.skip(reason="no chromium here; install it or name it in CALMDAY_CHROMIUM"))


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Served:
    """`calmday serve` over a logbook of its own."""

    def __init__(self, folder: Path, *options: str) -> None:
        self.port = free_port()
        self.logbook = folder / "logbook.calmday"
        self.address = f"http://localhost:{self.port}"
        place = ["--logbook", str(self.logbook), "--port", str(self.port), "--no-open"]
        self.process = subprocess.Popen(
            [*COMMAND, "serve", *place, *options], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + 60
        while time.monotonic() < until:
            if self.process.poll() is not None:
                raise RuntimeError(self.process.stdout.read() if self.process.stdout else "it has gone")
            try:
                with urllib.request.urlopen(f"{self.address}/app.webmanifest", timeout=1):
                    return
            except OSError:
                time.sleep(0.05)
        raise RuntimeError("the page did not come up")

    def stop(self) -> str:
        """End it; what it printed."""
        self.process.terminate()
        try:
            said, _ = self.process.communicate(timeout=15)
        except subprocess.TimeoutExpired:
            self.process.kill()
            said, _ = self.process.communicate()
        return said or ""


def serving(folder: Path) -> Iterator[Served]:
    running = Served(folder)
    yield running
    said = running.stop()
    assert "Traceback" not in said, said


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """An empty logbook, served."""
    yield from serving(tmp_path)


class Finished:
    """A served logbook with the example in it, worked out: the places of its vehicle and its run."""

    def __init__(self, served: Served, vehicle: str, run: str, ledgers: dict[str, str]) -> None:
        self.served, self.vehicle, self.run, self.ledgers = served, vehicle, run, ledgers

    @property
    def pages(self) -> dict[str, str]:
        """Every kind of page by name."""
        vehicle, run = f"/vehicles/{self.vehicle}", f"/runs/{self.run}"
        steps = (
            "plan",
            "scale",
            "rig",
            "tyres",
            "guesses",
            "weigh-out",
            "weather",
            "drive",
            "weigh-in",
            "track",
            "check",
        )
        return {
            "vehicles": "/",
            "where-do-i-stand": vehicle,
            "what-is-this-vehicle": f"{vehicle}/build",
            "something-was-changed": f"{vehicle}/changes",
            "what-if": f"{vehicle}/what-if?final_drive=-8&wind=4&axle=yes",
            "has-it-the-power": f"{vehicle}/gears?headwind=7&grade=1",
            "when-to-change-gear": f"{vehicle}/gears/changes?tachometer=yes",
            "shift-card": f"{vehicle}/gears/card?tachometer=yes",
            "what-the-run-says": f"{run}/power",
            "pulls-and-hills": f"{vehicle}/pulls",
            "did-it-make-a-difference": f"{vehicle}/comparisons",
            "air-and-tyres": f"{vehicle}/coastdowns",
            "what-do-we-know": f"{vehicle}/knowledge",
            "curve-from-a-picture": f"{vehicle}/charts",
            "do-the-dials-tell-the-truth": f"{vehicle}/dials",
            "todays-run": run,
            **{f"step-{step}": f"{run}/steps/{step}" for step in steps},
            "what-did-it-use": f"{run}/sheet",
            "engine-speed": f"{vehicle}/sounds",
            "tachometer": f"{vehicle}/tachometer",
            "show-it-to-others": f"{run}/show",
            "who-guessed-best": f"{run}/guess-board",
            "cost-sheets": f"{vehicle}/cost",
            "planned-tests": f"{vehicle}/plans",
            **self.ledgers,
            "how-do-i-know": f"{run}/figures",
            "one-figure": f"{run}/figures/calm_day.L_per_100km",
            "every-entry": f"/history/run/{self.run}",
            "correction": f"/history/run/{self.run}?key=payload",
            "void": f"{run}/void",
            "take-out-and-in": "/moving",
            "units-and-look": "/settings",
            "phone-in-the-cab": "/devices",
            "key": "/key",
            "pieces": "/pieces",
            "no-such-page": "/nowhere",
        }


@pytest.fixture(scope="session")
def finished(tmp_path_factory: pytest.TempPathFactory, browser: Browser) -> Iterator[Finished]:
    """The example, brought in and worked out by clicking."""
    for served in serving(tmp_path_factory.mktemp("finished")):
        context = browser.new_context(base_url=served.address)
        context.set_default_timeout(60_000)
        page = context.new_page()
        page.goto("/")
        page.get_by_role("button", name="Bring in the example").click()
        page.wait_for_url("**/runs/*")
        run = page.url.split("/runs/")[1].split("?")[0]
        vehicle = str(page.locator(".plate a").get_attribute("href")).split("/")[2]
        page.goto(f"/runs/{run}/sheet")
        page.get_by_role("button", name="Work it out now").click()
        page.wait_for_url("**/sheet")
        ledgers = journey.keep_ledgers(page, vehicle)
        ledgers["what-will-a-test-tell"] = journey.plan_a_test(page, vehicle)
        ledgers["a-difference"] = journey.compare(page, vehicle, journey.weighed_runs(page, vehicle))
        ledgers["air-and-tyres-found"] = journey.roll_out(page, vehicle)
        context.close()
        yield Finished(served, vehicle, run, ledgers)


@pytest.fixture(scope="session")
def play() -> Iterator[Playwright]:
    with sync_playwright() as playing:
        yield playing


@pytest.fixture(scope="session")
def browser(play: Playwright) -> Iterator[Browser]:
    found = play.chromium.launch(executable_path=CHROMIUM, args=ARGUMENTS)
    yield found
    found.close()


class Listened:
    """What a browser context asked for and complained about."""

    def __init__(self, context: BrowserContext, port: int) -> None:
        self.elsewhere: list[str] = []
        self.complaints: list[str] = []
        self.expected: tuple[str, ...] = ("net::ERR_INTERNET_DISCONNECTED", "status of 422", "status of 404")
        self.port = port
        context.on("request", lambda request: self._request(request.url))
        context.on("console", lambda said: self._console(said.type, said.text))
        context.on("weberror", lambda error: self.complaints.append(str(error.error)))

    def _request(self, url: str) -> None:
        if not url.startswith((f"http://localhost:{self.port}/", f"http://127.0.0.1:{self.port}/", "data:", "blob:")):
            self.elsewhere.append(url)

    def _console(self, kind: str, text: str) -> None:
        if kind in ("error", "warning") and not any(part in text for part in self.expected):
            self.complaints.append(text)

    def check(self) -> None:
        """Nothing left this machine, and nothing was complained about."""
        assert self.elsewhere == []
        assert self.complaints == []


Device = Callable[..., BrowserContext]


@pytest.fixture
def device(browser: Browser) -> Iterator[Device]:
    """Makes devices: each a browser with its own memory, listened to until the test ends."""
    made: list[tuple[BrowserContext, Listened]] = []

    def make(served: Served, *, expected: str = "nothing more", **options: object) -> BrowserContext:
        wanted: dict[str, object] = {"viewport": {"width": 1280, "height": 900}, "locale": "en-GB"} | options
        context = browser.new_context(base_url=served.address, **wanted)  # type: ignore[arg-type]
        context.set_default_timeout(PATIENCE_MS)
        made.append((context, Listened(context, served.port)))
        made[-1][1].expected += (expected,)
        return context

    yield make
    for context, listened in made:
        context.close()
        listened.check()


@pytest.fixture
def page(served: Served, device: Device) -> Page:
    """A page of a device in front of the empty logbook."""
    return device(served).new_page()
