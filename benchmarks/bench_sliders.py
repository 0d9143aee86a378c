"""How long a moved slider of "Has it the power?" takes: the server's answer and the browser's redraw.

python benchmarks/bench_sliders.py [--times 40] [--browser /usr/bin/chromium]

Serves the example, worked out, in a process of its own; a real browser moves the slider for the head wind and says how
long it took from the move to the new answer in place. On a busy machine that says more about its other users, so the
processor time of the server and the time the browser's own tasks took are shown beside it, and a fetch of the smallest
file of the page, made in turn. The budget is 100 ms. Needs playwright and a browser.
"""

from __future__ import annotations

import argparse
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

from calmday.logbook import Logbook
from calmday.operations import demo_folder
from calmday.operations.logbook import import_folder, reduce_logged

PORT = 18767
BUDGET_MS = 100.0
SERVE = "import sys; from calmday.cli.main import main; sys.exit(main())"
MOVE = """value => { delete document.documentElement.dataset.answered;
  const reach = document.querySelector('[data-control=headwind] .reach');
  reach.value = value; reach.dispatchEvent(new Event('input', { bubbles: true })); }"""
BARE = """async () => { const began = performance.now(); await (await fetch('/app.webmanifest')).text();
  return performance.now() - began; }"""


def main() -> int:
    """Measure and print; 1 where server and browser together are over the budget."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--times", type=int, default=40)
    asked.add_argument("--browser", default=shutil.which("chromium") or "")
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "logbook.calmday"
        with Logbook.open(place) as book:
            import_folder(book, demo_folder())
            reduce_logged(book, book.subjects("run")[0].id)
            vehicle = book.subjects("vehicle")[0].id
        command = [sys.executable, "-c", SERVE, "serve", "--logbook", str(place), "--port", str(PORT), "--no-open"]
        server = subprocess.Popen(command, stdout=subprocess.DEVNULL, env={**os.environ, "OPENBLAS_NUM_THREADS": "1"})
        try:
            wait_for(f"http://localhost:{PORT}/app.webmanifest")
            with sync_playwright() as play:
                browser = play.chromium.launch(executable_path=options.browser or None, args=["--no-sandbox"])
                page = browser.new_page(viewport={"width": 1280, "height": 900})
                page.goto(f"http://localhost:{PORT}/vehicles/{vehicle}/gears")
                return show(measure(page, server.pid, options.times))
        finally:
            server.terminate()
            server.wait()


def wait_for(address: str) -> None:
    """Until the server answers."""
    until = time.monotonic() + 60
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(address, timeout=1).close()
            return
        except OSError:
            time.sleep(0.1)


def measure(page: Page, server: int, times: int) -> dict[str, list[float]]:
    """Milliseconds of every move: whole, server's processor, browser's tasks, and of a bare fetch beside it."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable")
    found: dict[str, list[float]] = {"whole": [], "server": [], "browser": [], "bare": []}
    for turn in range(times + 3):
        ticks, busy = processor_ms(server), task_ms(session)
        page.evaluate(MOVE, str(0.5 * (turn % 30)))
        page.locator("html[data-answered]").wait_for(state="attached")
        took = float(page.evaluate("Number(document.documentElement.dataset.answered)"))
        rows = (took, processor_ms(server) - ticks, task_ms(session) - busy, float(page.evaluate(BARE)))
        if turn >= 3:  # the first moves warm up
            for key, value in zip(found, rows, strict=True):
                found[key].append(value)
    return found


def processor_ms(process: int) -> float:
    """Processor time that a process has taken so far (Linux)."""
    fields = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
    return 1000 * (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def task_ms(session: object) -> float:
    """Time that the page's own thread has worked so far."""
    metrics = session.send("Performance.getMetrics")["metrics"]  # type: ignore[attr-defined]
    return 1000 * next(float(each["value"]) for each in metrics if each["name"] == "TaskDuration")


def show(found: dict[str, list[float]]) -> int:
    """The table for docs/performance.md."""
    print("| | median, ms | 95 %, ms |\n|---|---:|---:|")
    words = {"whole": "from the move to the answer in place", "server": "of this the server's processor",
             "browser": "the browser's tasks", "bare": "a bare fetch, in turn"}  # fmt: skip
    for key, values in found.items():
        worst = statistics.quantiles(values, n=20)[-1] if len(values) > 1 else values[0]
        print(f"| {words[key]} | {statistics.median(values):.0f} | {worst:.0f} |")
    both = statistics.mean(found["server"]) + statistics.median(found["browser"])
    print(f"\nserver (mean) and browser together: {both:.0f} ms of {BUDGET_MS:.0f}")
    return 0 if both < BUDGET_MS else 1


if __name__ == "__main__":
    sys.exit(main())
