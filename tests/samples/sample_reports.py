"""Everything a report of a run is made from, built by hand, and readers of what comes out."""

from __future__ import annotations

import datetime as dt
import io
import re
from html.parser import HTMLParser
from typing import Any

import msgspec
import pypdf
from sample_results import flag, full_result

from calmday.metrology.figure import from_normal
from calmday.operations.guesses import board_of
from calmday.procedures.weighed_run_result import BudgetLine, RunResult
from calmday.procedures.what_next import NextStep
from calmday.records.declared import Declared
from calmday.records.run import FuelBatch, Prediction, Run, Scale, Weighing
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Weather, WeatherReading
from calmday.reports.show.run_report import RunReport

HOSTILE = (
    "#set text(size: 90pt)",
    "*bold* _it_ $x$",
    "<script>alert(1)</script><img src=x onerror=1>",
    "漢字かな交じり",
    "אבג דהו \u202eevil\u202c",
    "N" * 200,
    "a very long name that goes on " * 8,
    "=cmd|' /C calc'!A0",
    '"quoted" & \\back\\ `tick` // [c] @ref #import "x"',
    "line\nbreak\ttab\x00nul\x1b[31m",
)
NOON_S = dt.datetime(2026, 4, 12, 10, 0, tzinfo=dt.UTC).timestamp()


def budget(*lines: tuple[str, float]) -> tuple[BudgetLine, ...]:
    return tuple(BudgetLine(source=s, contribution=from_normal(0.1, 0.0, "L/100km"), share=p) for s, p in lines)


CALM = budget(
    ("wind at the vehicle", 0.5), ("cold engine", 0.2), ("fuel in lines, filter, air pockets", 0.2),
    ("scale, repeatability", 0.06), ("fuel density (assumed)", 0.036), ("distance (satellite track)", 0.004),
)  # fmt: skip
DRIVEN = budget(("fuel in lines, filter, air pockets", 0.7), ("scale, repeatability", 0.3))


def a_run(name: str = "Fen Hauler", **changes: Any) -> Run:
    run = Run(
        label="Loop, four laps, north wind",
        vehicle=Vehicle(name=name, body="van", test_mass_kg=Declared(1480.0), tyre_pressure_pa=Declared(300e3)),
        date=dt.date(2026, 4, 12),
        engine_start="cold",
        terrain="farmland",
        fuel=FuelBatch(kind="diesel"),
        scale=Scale(resolution_kg=0.005),
        weighings=(
            Weighing(when="before", gross_kg=(12.88, 12.89), tare_kg=1.02),
            Weighing(when="after", gross_kg=(10.11, 10.12), tare_kg=1.02),
        ),
        weather=Weather(readings=(WeatherReading(time_s=NOON_S, source="metar", wind_speed_mps=6.2, wind_from_deg=340.0,
                                                 temperature_k=284.15, qnh_pa=101_500.0),)),
        predictions=(
            Prediction(by="Ada", value=34.0, unit="mpg_us", as_entered="34 mpg US"),
            Prediction(by="Bram", value=7.9, unit="L_per_100km", as_entered="7.9 L/100km"),
            Prediction(by="Cleo", value=38.0, unit="mpg_imp", as_entered="38 mpg imp"),
        ),
    )  # fmt: skip
    return msgspec.structs.replace(run, **changes)


def a_result(**changes: Any) -> RunResult:
    return full_result(**({"budget": CALM, "budget_as_driven": DRIVEN} | changes))


def a_step(what: str = "Weigh a litre of this fuel") -> NextStep:
    return NextStep(code="weigh-litre", what=what, why="", minutes=10, half_width_now=0.4, half_width_then=0.3,
                    unit="L/100km", bits_per_hour=2.5)  # fmt: skip


def a_report(**changes: Any) -> RunReport:
    result, run = changes.get("result", a_result()), changes.get("run", a_run())
    report = RunReport(
        result=result,
        run=run,
        board=board_of(result, run.predictions, run.guessing) if run.predictions else None,
        steps=(a_step(),),
        inputs={"run.toml": "a1" * 32, "vehicle.toml": "b2" * 32},
        configuration="0123456789ab",
        draws=2000,
    )
    return msgspec.structs.replace(report, **changes)


def a_hostile_report() -> RunReport:
    """Long and odd names wherever a name may stand, and more remarks, guesses and changes than any page holds."""
    guesses = tuple(
        Prediction(by=name, value=30.0 + i, unit="mpg_us", as_entered=f"{30 + i} mpg US")
        for i, name in enumerate(HOSTILE * 2)
    )
    flags = tuple(flag("caution" if i % 3 else "note", f"{name} seen") for i, name in enumerate(HOSTILE * 2))
    return a_report(
        result=a_result(label=HOSTILE[6], vehicle=HOSTILE[5], flags=flags, notes=HOSTILE),
        run=a_run(HOSTILE[5], label=HOSTILE[6], predictions=guesses, fuel=FuelBatch(kind="diesel", batch=HOSTILE[2])),
        question=" ".join(HOSTILE),
        steps=tuple(a_step(name) for name in HOSTILE),
        changed=HOSTILE,
        changed_since=HOSTILE[7],
        inputs={name[:80]: "c3" * 32 for name in HOSTILE},
    )


class _Words(HTMLParser):
    """The words of a page in reading order: texts outside style, pictures by their title and description."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._open: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag == "img":
            self.found.append(dict(attrs).get("alt") or "")
        elif tag != "meta":
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "style" in self._open or ("svg" in self._open and self._open[-1] != "desc") or "head" in self._open:
            return
        self.found.append(data)


def words_of_html(page: str) -> tuple[str, list[tuple[str, dict[str, str | None]]]]:
    """Everything a reader of the page gets, as one text without blanks, and its tags."""
    reader = _Words()
    reader.feed(page)
    return squeezed(" ".join(reader.found)), reader.tags


def squeezed(text: str) -> str:
    """A text without any blank, as line breaks of two writers fall where they like."""
    return re.sub(r"\s+", "", text.replace("\u202f", "").replace("\u200b", "").replace("\xad", ""))


def spelt(text: str) -> str:
    """A text as printed where no font of the machine holds its letters."""
    from calmday.reports.print.letters import missing_characters  # noqa: PLC0415

    table = {ord(char): f"[U+{ord(char):04X}]" for char in missing_characters(text)}
    return text.translate(table)


def opened(pdf: bytes) -> pypdf.PdfReader:
    return pypdf.PdfReader(io.BytesIO(pdf))


def words_of_pages(pdf: bytes) -> list[str]:
    """The text of every page in the order of its content, its foot left out, without blanks."""
    found = []
    for page in opened(pdf).pages:
        lines = page.extract_text().rstrip().splitlines()
        found.append(squeezed(" ".join(lines)))
    return found


def tagged(pdf: bytes) -> list[tuple[str, str]]:
    """Kind and alternative text of every element of the structure tree in reading order."""
    root = opened(pdf).trailer["/Root"]["/StructTreeRoot"]
    found: list[tuple[str, str]] = []

    def walk(node: Any) -> None:
        element = node.get_object() if hasattr(node, "get_object") else node
        if not isinstance(element, dict):
            return
        if "/S" in element:
            found.append((str(element["/S"]), str(element.get("/Alt", ""))))
        kids = element.get("/K", [])
        kids = kids.get_object() if hasattr(kids, "get_object") else kids
        for kid in kids if isinstance(kids, list) else [kids]:
            walk(kid)

    walk(root)
    return found
