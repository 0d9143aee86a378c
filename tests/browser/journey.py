"""What a person does on the page, step by step, with the readings of the example."""

from __future__ import annotations

import csv
import tomllib
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

EXAMPLE = Path(__file__).parents[2] / "examples" / "fen-hauler"
RUN: dict[str, Any] = tomllib.loads((EXAMPLE / "run.toml").read_text(encoding="utf-8"))
SHEET: dict[str, Any] = tomllib.loads((EXAMPLE / "vehicle.toml").read_text(encoding="utf-8"))
CHOICES = {"body", "fuel", "induction", "injection", "strokes", "overrun_fuel_cut"}
GROUPS = {"when", "engine_start", "terrain", "arrangement", "kind"}


def saved(page: Page) -> None:
    """Wait until everything typed has been acknowledged."""
    page.wait_for_function(
        "() => !JSON.parse(localStorage.getItem('calmday.waiting') || '[]').length"
        " && document.getElementById('keeping').textContent.startsWith('Saved')"
    )


def put(page: Page, key: str, text: object) -> None:
    """Fill the box of a key: a choice, or a number with its unit chosen beside it."""
    box = page.locator(f'[name="{key}"]')
    words = str(text)
    if box.evaluate("box => box.tagName") == "SELECT":
        box.select_option(words.lower() if isinstance(text, bool) else words)
        return
    unit = page.locator(f'select[name="{key}~unit"]')
    number, _, rest = words.partition(" ")
    if unit.count() and rest:
        unit.select_option(rest)
        box.fill(number)
    else:
        box.fill(words)


def describe_vehicle(page: Page) -> None:
    """From the empty logbook to a build sheet with its curve."""
    page.goto("/")
    page.get_by_label("What do you call it?").fill(SHEET["vehicle"]["name"])
    page.get_by_label("Which shape is nearest?").select_option(SHEET["vehicle"]["body"])
    page.get_by_role("button", name="Start its build sheet").click()
    for table in ("vehicle", "engine"):
        for key, value in SHEET[table].items():
            if key in ("name", "body", "full_load"):
                continue
            put(page, f"{table}.{key}", ", ".join(map(str, value)) if isinstance(value, list) else value)
    saved(page)
    with (EXAMPLE / "full_load.csv").open(encoding="utf-8") as lines:
        points = list(csv.reader(line for line in lines if not line.startswith("#")))[1:]
    for place, (speed, torque, *_) in enumerate(points):
        page.locator(f'[name="speed-{place}"]').fill(speed)
        page.locator(f'[name="value-{place}"]').fill(torque)
    page.locator("#curve-drawn svg").first.wait_for()
    page.get_by_role("button", name="Save the curve").click()
    page.get_by_text("Saved.").wait_for()


def start_run(page: Page) -> str:
    """A run of that vehicle; its address."""
    page.get_by_role("link", name="Where do I stand?").click()
    page.get_by_role("button", name="Start a run").click()
    page.wait_for_url("**/steps/plan**")
    return page.url.split("/steps/")[0]


def go_on(page: Page, title: str) -> None:
    """Press the one button that leads on, and see where it leads."""
    page.locator("main .actions").last.get_by_text("Next:").click()
    page.get_by_role("heading", name=title, level=1).wait_for()


def before_the_drive(page: Page) -> None:
    """Plan, scale, rig, tyres, guesses, weigh out, weather."""
    put(page, "label", RUN["label"])
    put(page, "date", RUN["date"].isoformat())
    for key in ("timezone", "terrain", "payload"):
        put(page, key, RUN[key])
    go_on(page, "Check the scale")
    for key, value in RUN["scale"].items():
        put(page, f"scale.{key}", value)
    go_on(page, "Fuel and rig")
    for table in ("fuel", "fuel_system"):
        for key, value in RUN[table].items():
            put(page, f"{table}.{key}", value)
    go_on(page, "Cold tyres")
    put(page, "tyre_pressure", RUN["tyre_pressure"])
    put(page, "engine_start", RUN["engine_start"])
    go_on(page, "Guesses")
    for guess in RUN["prediction"]:
        number, unit = guess["value"].split(" ", 1)
        page.get_by_label("Who guesses?").fill(guess["by"])
        page.locator('select[name="value~unit"]').select_option(unit)
        page.get_by_label("How much will it use?", exact=True).fill(number)
        page.get_by_role("button", name="Seal this guess").click()
        page.get_by_role("row", name=guess["by"]).wait_for()
    go_on(page, "Weigh out")
    weigh(page, 0)
    go_on(page, "Weather")
    put(page, "weather.metar", "\n".join(RUN["weather"]["metar"]))
    put(page, "weather.field_elevation", RUN["weather"]["field_elevation"])
    go_on(page, "Drive")


def after_the_drive(page: Page) -> None:
    """Weigh in, the track, the check."""
    go_on(page, "Weigh in")
    weigh(page, 1)
    go_on(page, "The track")
    page.get_by_label("Choose the file, or drop it here").set_input_files(EXAMPLE / "out.gpx")
    page.get_by_role("button", name="Keep the track").click()
    page.get_by_text("Kept.").wait_for()
    go_on(page, "Before you leave")


def weigh(page: Page, place: int) -> None:
    """The readings of one weighing."""
    weighing = RUN["weighing"][place]
    for number, reading in enumerate(weighing["gross"]):
        put(page, f"weighing[{place}].gross[{number}]", reading)
    put(page, f"weighing[{place}].tare", weighing["tare"])


LEDGERS: dict[str, tuple[str, str, dict[str, str]]] = {
    "what-does-it-cost": (
        "cost",
        "Begin a cost sheet",
        {
            "label": "Was the swap worth it?",
            "use[0].name": "before", "use[0].fuel": "petrol", "use[0].consumption.value": "11.4 L/100km",
            "use[1].name": "after", "use[1].fuel": "diesel", "use[1].consumption.value": "7.5 L/100km",
            "price[0].price": "1.81 EUR/L", "price[0].fuel": "petrol", "price[0].date": "2026-04-12",
            "price[1].price": "1.62 EUR/L", "price[1].fuel": "diesel", "price[1].date": "2026-04-12",
            "yearly_distance.value": "15000 km",
            "conversion.from": "before", "conversion.to": "after", "conversion.outlay.value": "2400 EUR",
        },
    ),
    "what-do-others-say": (
        "published",
        "Write down a published figure",
        {
            "label": "The donor", "rule": "us 1985", "model_year": "1991", "city": "18 mpg US", "highway": "25 mpg US",
            "about.fuel": "petrol", "source": "label in the glove box",
        },
    ),
    "how-is-it-set": (
        "settings",
        "Begin a settings log",
        {
            "label": "Injection pump", "setting[0].what": "plunger lift", "setting[0].found": "0.88 mm",
            "setting[0].set": "0.95 mm", "setting[0].tightened": "0.93 mm", "setting[0].date": "2026-03-14",
            "lift_curve.point[0].angle": "0 deg", "lift_curve.point[0].lift": "0 mm",
            "lift_curve.point[1].angle": "8 deg", "lift_curve.point[1].lift": "0.4 mm",
            "lift_curve.point[2].angle": "16 deg", "lift_curve.point[2].lift": "1.0 mm",
            "lift_curve.point[3].angle": "24 deg", "lift_curve.point[3].lift": "1.7 mm",
        },
    ),
    "which-change-first": (
        "what-if",
        "Begin a list of changes",
        {
            "label": "Winter plans", "speed": "85 km/h", "price": "1.62 EUR/L", "distance_per_year": "12000 km",
            "change[0].what": "taller axle", "change[0].key": "final_drive", "change[0].to": "3.7",
            "change[0].cost": "350 EUR", "change[0].work": "9 h",
            "change[1].what": "rack off", "change[1].key": "drag_coefficient", "change[1].by": "-7",
            "change[1].cost": "10 EUR", "change[1].work": "30 min",
            "year[0].distance": "12000 km", "year[0].temperature": "5 degC", "year[0].cold_starts": "150",
        },
    ),
}  # fmt: skip
"""Documents beside the runs: the page that lists them, the button that begins one, what is typed."""


def keep_ledgers(page: Page, vehicle: str) -> dict[str, str]:
    """One document for each of `LEDGERS`, typed in; their addresses by the name of the page."""
    found = {}
    for name, (where, words, typed) in LEDGERS.items():
        page.goto(f"/vehicles/{vehicle}/{where}")
        page.get_by_role("button", name=words).click()
        page.get_by_role("heading", name="What was written down").wait_for()
        for key, text in typed.items():
            write = put if page.locator(f'select[name="{key}~unit"]').count() else _plain
            write(page, key, text)
        saved(page)
        page.get_by_role("button", name="Save", exact=True).click()
        page.get_by_text("Saved.").first.wait_for()
        found[name] = "/" + page.url.split("?")[0].split("/", 3)[3]
    return found


def _plain(page: Page, key: str, text: str) -> None:
    """A box whose text is taken as it stands."""
    box = page.locator(f'[name="{key}"]')
    if box.evaluate("box => box.tagName") == "SELECT":
        box.select_option(text)
    else:
        box.fill(text)


PLANNED = {
    "label": "Fen loop, before the new tyres", "question": "baseline", "wanted": "4 %", "lap_length": "14.2 km",
    "laps": "3", "most_laps": "6", "speed": "80 km/h", "weather.forecast[0].wind_speed": "4 m/s",
    "weather.forecast[0].wind_from": "WSW", "fuel_on_board": "42 L", "scale.capacity": "10 kg", "can.tare": "1.02 kg",
}  # fmt: skip


def plan_a_test(page: Page, vehicle: str) -> str:
    """A test to be driven, typed in and worked out; its address."""
    page.goto(f"/vehicles/{vehicle}/plans")
    page.get_by_role("button", name="Plan a test").click()
    page.get_by_role("heading", name="What was written down").wait_for()
    for key, text in PLANNED.items():
        write = put if page.locator(f'select[name="{key}~unit"]').count() else _plain
        write(page, key, text)
    saved(page)
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("heading", name="What to expect").wait_for()
    return "/" + page.url.split("?")[0].split("/", 3)[3]


GRAMS = (1900, 1810, 1800, 1885)
FITTED = ("baseline", "changed", "changed", "baseline")


def weighed_runs(page: Page, vehicle: str) -> list[str]:
    """Four weighed runs of which grams and laps were noted, kept as the page keeps them; their ids."""
    origin = "/".join(page.url.split("/")[:3])
    ours = {"origin": origin, "sec-fetch-site": "same-origin"}
    found = []
    for number, grams in enumerate(GRAMS, 1):
        made = page.request.post(f"{origin}/vehicles/{vehicle}/runs", headers=ours)
        run = made.url.split("/runs/")[1].split("/")[0]
        said = {
            "label": f"Loop {number}", "date": f"2026-05-{number:02d}", "laps": "3", "lap_length": "10 km",
            "weighing[0].when": "before", "weighing[0].gross[0]": f"{1 + grams / 1000:.3f} kg",
            "weighing[1].when": "after", "weighing[1].gross[0]": "1.000 kg",
        }  # fmt: skip
        for key, text in said.items():
            page.request.post(f"{origin}/save/run/{run}", form={key: text}, headers=ours)
        found.append(run)
    return found


def compare(page: Page, vehicle: str, runs: list[str]) -> str:
    """A comparison of four runs from its button to its answer; its address."""
    page.goto(f"/vehicles/{vehicle}/comparisons")
    page.get_by_role("button", name="Begin a comparison").click()
    page.get_by_role("heading", name="Which runs?").wait_for()
    for key, text in {"label": "Roof", "baseline_name": "bare roof", "changed_name": "deflector"}.items():
        _plain(page, key, text)
    for run, side in zip(runs, FITTED, strict=True):
        _plain(page, f"member.{run}.group", side)
    saved(page)
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("heading", name="The answer").wait_for()
    return "/" + page.url.split("?")[0].split("/", 3)[3]


def roll(number: int, mass: float = 1480, constant: float = 190, square: float = 0.6) -> bytes:
    """A roll in neutral against `constant` N and `square` N/(m/s)^2, every other one up a slope that the rest go down,
    as a receiver writes it each second."""
    slope = 0.001 if number % 2 else -0.001
    speed, rows = 26.0, ["time_s,speed_kmh"]
    for second in range(200):
        wobble = 0.2 * (((second + number) * 37) % 11 - 5) / 5
        rows.append(f"{second},{3.6 * speed + wobble:.2f}")
        speed -= (constant + square * speed**2 + 9.80665 * mass * slope) / (1.035 * mass)
        if speed < 7:
            break
    return ("\n".join(rows) + "\n").encode()


def roll_out(page: Page, vehicle: str) -> str:
    """A day of coastdowns from its button to what was found; its address."""
    page.goto(f"/vehicles/{vehicle}/coastdowns")
    page.get_by_role("button", name="Write down a day of coastdowns").click()
    page.get_by_role("heading", name="What was written down").wait_for()
    page.get_by_label("Choose a file").set_input_files(
        [{"name": f"roll-{i}.csv", "mimeType": "text/csv", "buffer": roll(i)} for i in range(4)]
    )
    page.get_by_role("button", name="Keep it").click()
    page.get_by_text("Kept.").wait_for()
    said = {f"pass[{i}].heading": f"{180 * (i % 2)} deg" for i in range(4)}
    said |= {
        "weather.reading[0].time": "12:30", "weather.reading[0].wind_speed": "1 m/s",
        "weather.reading[0].wind_from": "N", "weather.reading[0].temperature": "18 degC",
    }  # fmt: skip
    for key, text in said.items():
        write = put if page.locator(f'select[name="{key}~unit"]').count() else _plain
        write(page, key, text.removesuffix(" deg"))
    saved(page)
    page.get_by_role("button", name="Work it out").click()
    page.get_by_role("heading", name="What the passes say").wait_for()
    return "/" + page.url.split("?")[0].split("/", 3)[3]
