"""A served logbook and a real browser in front of it. Everything either of them says is listened to."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, Playwright, sync_playwright

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
PATIENCE_MS = 20_000


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

    def __init__(self, folder: Path, *options: str, host: str = "localhost") -> None:
        self.port = free_port()
        self.logbook = folder / "logbook.calmday"
        self.address = f"http://{host}:{self.port}"
        command = [sys.executable, "-c", "import sys; from calmday.cli.main import main; sys.exit(main())"]
        place = ["--logbook", str(self.logbook), "--port", str(self.port), "--no-open"]
        self.process = subprocess.Popen(
            [*command, "serve", *place, *options], stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        self._wait()

    def _wait(self) -> None:
        until = time.monotonic() + 30
        while time.monotonic() < until:
            if self.process.poll() is not None:
                raise RuntimeError(self.process.stdout.read() if self.process.stdout else "it has gone")
            try:
                with urllib.request.urlopen(f"http://localhost:{self.port}/app.webmanifest", timeout=1):
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


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """An empty logbook, served."""
    running = Served(tmp_path)
    yield running
    said = running.stop()
    assert "Traceback" not in said, said


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
        self.port = port
        context.on("request", lambda request: self._request(request.url))
        context.on("console", lambda said: self._console(said.type, said.text))
        context.on("weberror", lambda error: self.complaints.append(str(error.error)))

    def _request(self, url: str) -> None:
        if not url.startswith((f"http://localhost:{self.port}/", f"http://127.0.0.1:{self.port}/", "data:", "blob:")):
            self.elsewhere.append(url)

    def _console(self, kind: str, text: str) -> None:
        if kind in ("error", "warning") and "net::ERR_INTERNET_DISCONNECTED" not in text:
            self.complaints.append(text)

    def check(self) -> None:
        """Nothing left this machine, and nothing was complained about."""
        assert self.elsewhere == []
        assert self.complaints == []


@pytest.fixture
def context(browser: Browser, served: Served) -> Iterator[BrowserContext]:
    """A device: one browser with its own memory."""
    made = browser.new_context(viewport={"width": 1280, "height": 900}, base_url=served.address, locale="en-GB")
    made.set_default_timeout(PATIENCE_MS)
    listened = Listened(made, served.port)
    yield made
    made.close()
    listened.check()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    return context.new_page()
