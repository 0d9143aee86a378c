"""How long pages take with a full logbook, beside a bare page of the same framework on the same machine.

python benchmarks/bench_page.py [--runs 2000] [--times 60]

Makes a logbook of one vehicle with so many runs, all with results, asks for each page over a real connection and prints
median and 95th percentile, and the ratio of the latter to that of a page that says nothing. Then the time from the last
file of a new run to its first sheet.
"""

from __future__ import annotations

import argparse
import http.client
import statistics
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import uvicorn
from starlette.applications import Starlette
from starlette.responses import HTMLResponse
from starlette.routing import Route

from calmday import operations
from calmday.logbook import Logbook, entries, results, stamps
from calmday.logbook.records import StoredResult
from calmday.logbook.schema import SUBJECT
from calmday.operations.logbook import import_folder, reduce_logged
from calmday.web.app import make_app
from calmday.web.memory import Memory
from calmday.web.serving import listen
from calmday.web.settings import Settings

PORT, BARE_PORT = 18765, 18766
PAGES = {
    "all vehicles": "/",
    "where do I stand": "/vehicles/{vehicle}",
    "what is this vehicle": "/vehicles/{vehicle}/build",
    "today's run": "/runs/{run}",
    "weigh out": "/runs/{run}/steps/weigh-out",
    "what did it use": "/runs/{run}/sheet",
    "how do I know": "/runs/{run}/figures",
    "one figure": "/runs/{run}/figures/calm_day.L_per_100km",
    "every entry": "/history/run/{run}",
}


def main() -> None:
    """Measure and print."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--runs", type=int, default=2000)
    asked.add_argument("--times", type=int, default=60)
    options = asked.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "logbook.calmday"
        print(f"A logbook with {options.runs} runs ...", flush=True)
        vehicle, run = fill(place, options.runs)
        print(f"{place.stat().st_size / 1e6:.0f} MB")
        bare = Starlette(routes=[Route("/", lambda _request: HTMLResponse("<!doctype html><title>bare</title>"))])
        with served(bare, BARE_PORT):
            basis = percentiles(lambda: ask(BARE_PORT, "/"), options.times)
        print(f"{'page':24}{'median':>10}{'95 %':>10}{'ratio':>8}")
        print(f"{'bare':24}{basis[0]:>8.1f} ms{basis[1]:>7.1f} ms{1:>8.1f}")
        app = make_app(Settings(logbook=place, port=PORT))
        with served(app, PORT):
            for name, path in PAGES.items():
                where = path.format(vehicle=vehicle, run=run)
                ask(PORT, where)
                median, most = percentiles(lambda where=where: ask(PORT, where), options.times)
                print(f"{name:24}{median:>8.1f} ms{most:>7.1f} ms{most / basis[1]:>8.1f}", flush=True)
            where = PAGES["where do I stand"].format(vehicle=vehicle)

            def just_written() -> None:
                app.state.desk.memory = Memory()
                ask(PORT, where)

            median, most = percentiles(just_written, max(options.times // 4, 5))
            print(f"{'... just after a write':24}{median:>8.1f} ms{most:>7.1f} ms{most / basis[1]:>8.1f}")
            print(f"first sheet after the last file: {first_sheet(app.state.desk.book, vehicle):.2f} s")


def fill(place: Path, runs: int) -> tuple[str, str]:
    """A logbook of one vehicle with so many copies of the example; the vehicle and the newest run."""
    with Logbook.open(place) as book:
        import_folder(book, operations.demo_folder())
        first, vehicle = book.subjects("run")[0].id, book.subjects("vehicle")[0].id
        stored = reduce_logged(book, first)
        values = {key: value.text for key, value in book.values("run", first).items() if not key.startswith("track")}
        with book.writing() as connection:
            for number in range(runs - 1):
                copy_run(connection, book.where, vehicle, values, stored, number)
        return vehicle, first


def copy_run(
    connection: object, where: str, vehicle: str, values: dict[str, str | None], stored: StoredResult, number: int
) -> None:
    """One more run like it, on another day, with a result of its own."""
    made = stamps.new_id(stamps.now())
    day = f"{2000 + number // 336:04d}-{1 + number // 28 % 12:02d}-{1 + number % 28:02d}"
    connection.execute(SUBJECT.insert().values(id=made, kind="run"))  # type: ignore[attr-defined]
    changes: dict[str, entries.Input] = {**values, "@link.vehicle": vehicle, "label": f"Run {number}", "date": day}
    entries.write(connection, made, changes, "bench", where, known={})  # type: ignore[arg-type]
    results.add(
        connection, made, inputs_sha256=stored.inputs_sha256, version=stored.version, seed=stored.seed,
        draws=stored.draws, summary=stored.summary, content=stored.content, along=b"",
    )  # type: ignore[arg-type]  # fmt: skip


@contextmanager
def served(app: Starlette, port: int) -> Iterator[None]:
    """The application on a port of this machine, in a thread of its own."""
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", access_log=False))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listen("127.0.0.1", port)]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    try:
        yield
    finally:
        server.should_exit = True
        thread.join(20)


def ask(port: int, where: str) -> None:
    """One page over a connection of its own, read to the end."""
    connection = http.client.HTTPConnection("localhost", port, timeout=60)
    connection.request("GET", where)
    answer = connection.getresponse()
    answer.read()
    connection.close()
    if answer.status != 200:
        raise SystemExit(f"{where}: {answer.status}")


def percentiles(once: Callable[[], None], times: int) -> tuple[float, float]:
    """Median and 95th percentile [ms]."""
    taken = []
    for _ in range(times):
        begun = time.perf_counter()
        once()
        taken.append(1000 * (time.perf_counter() - begun))
    return statistics.median(taken), statistics.quantiles(taken, n=20)[-1]


def first_sheet(book: Logbook, vehicle: str) -> float:
    """Seconds from the last file of a new run to its sheet."""
    example = operations.demo_folder()
    run = book.create("run", "Last of all", vehicle)
    first = book.subjects("run")[0].id
    values = {key: value.text for key, value in book.values("run", first).items() if not key.startswith("track")}
    book.write("run", run, values, "bench")
    track = (example / "out.gpx").read_bytes()
    begun = time.perf_counter()
    book.attach("run", run, "track", "out.gpx", track, by="bench")
    connection = http.client.HTTPConnection("localhost", PORT, timeout=60)
    headers = {"Origin": f"http://localhost:{PORT}", "Content-Type": "application/x-www-form-urlencoded"}
    connection.request("POST", f"/runs/{run}/reduce", headers=headers)
    where = connection.getresponse().headers["location"]
    connection.close()
    while not where.endswith("/sheet"):
        time.sleep(0.02)
        connection = http.client.HTTPConnection("localhost", PORT, timeout=60)
        connection.request("GET", where)
        answer = connection.getresponse()
        where = answer.headers.get("location", where)
        connection.close()
    ask(PORT, where)
    return time.perf_counter() - begun


if __name__ == "__main__":
    main()
