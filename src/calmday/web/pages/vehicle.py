"""What is this vehicle? The build sheet, its full-load curve, and what was changed on it."""

from __future__ import annotations

import datetime as dt
import math
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, Final

import msgspec
from markupsafe import Markup
from starlette.responses import HTMLResponse, Response

from calmday.errors import InputError
from calmday.web.fields import Field, field
from calmday.web.forms import Box, fault_words, pointed
from calmday.web.judging import faults_of_values
from calmday.web.pages.common import frame, go, vehicle_of
from calmday.web.pages.entering import boxes, current_texts, entries_of_form, fault_of, missing_words
from calmday.web.pages.saving import keep_form
from calmday.web.render import Context, page
from calmday.web.telling import doubt_lines
from calmday.web.vehicle_fields import BUILD_SHEET, build_fields
from calmday.web.vehicle_history import ChangeLine, differences, label_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from calmday.logbook.records import Subject, Value
    from calmday.records.vehicle import FullLoadCurve
    from calmday.web.asked import Asked

CURVE_UNITS: Final = (
    ("torque_Nm", "Torque, N·m"),
    ("torque_lbf_ft", "Torque, lbf·ft"),
    ("power_kW", "Power, kW"),
    ("power_hp", "Power, hp"),
    ("power_PS", "Power, PS"),
)
CURVE_POINTS = 10
BAND: Final = "pm_percent"
BY_RULER: Final = "3"
"""Percent: how well a point is read off a chart with a ruler, as the model takes it where nobody says. Assumed."""

Bands = dict[tuple[str, str, str], str]
LARGEST_CURVE = 200_000


class BuildPage(Context, frozen=True, kw_only=True):
    """The build sheet. `doubts` what is worth measuring; `since`, `changes` what differs from the last run."""

    template: ClassVar[str] = "build.html"
    groups: tuple[tuple[str, str, tuple[Box, ...]], ...]
    faults: tuple[tuple[str, str], ...]
    doubts: tuple[tuple[str, str], ...]
    since: str
    changes: tuple[ChangeLine, ...]
    dated: tuple[tuple[str, str, str], ...]
    curve_units: tuple[tuple[str, str], ...] = CURVE_UNITS
    curve_unit: str
    curve_points: tuple[tuple[str, str], ...]
    curve_fault: str
    curve_drawing: Markup


class ChangePage(Context, frozen=True, kw_only=True):
    """The form for something that was changed: when and what, then the figures that differ."""

    template: ClassVar[str] = "change.html"
    about: tuple[Box, ...]
    groups: tuple[tuple[str, tuple[Box, ...]], ...]
    opened: tuple[str, ...]
    faults: tuple[tuple[str, str], ...]


def build(asked: Asked) -> Response:
    """The build sheet: show it, or keep its form."""
    vehicle = vehicle_of(asked)
    if asked.posted:
        kept = keep_form(asked, "vehicle", vehicle.id, build_fields())
        if not kept.faults:
            return go("build", vehicle=vehicle.id, done="saved")
        return _build_page(asked, vehicle, kept.values, kept.faults)
    return _build_page(asked, vehicle, asked.desk.book.values("vehicle", vehicle.id), {})


def _build_page(
    asked: Asked,
    vehicle: Subject,
    values: Mapping[str, Value],
    faults: Mapping[str, tuple[str, str]],
    curve_fault: str = "",
) -> Response:
    texts = current_texts(values)
    told = doubt_lines(asked, vehicle.id)
    runs = asked.desk.runs_of(vehicle.id)
    held = _stored_curve(asked, vehicle.id)
    unit, points = (held.unit, held.points) if not asked.form.get("unit") else _typed_curve(asked)
    shown = BuildPage(
        frame=frame(asked, "What is this vehicle?", tab="build", vehicle=vehicle),
        groups=tuple(
            (group.title, group.lead, boxes(group.fields, texts, asked.habits, faults, told.assumed))
            for group in BUILD_SHEET
        ),
        faults=missing_words(faults, build_fields()),
        doubts=told.ranked,
        since=runs[-1].name if runs else "",
        changes=differences(asked, vehicle.id, runs[-1].made_at) if runs else (),
        dated=_dated(texts),
        curve_unit=unit,
        curve_points=_padded(points),
        curve_fault=curve_fault,
        curve_drawing=_drawing(unit, points, held.bands)[0],
    )
    return page(shown, 422 if faults or curve_fault else 200)


def _dated(texts: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    """The changes written down: date, what, and the figures that differ."""
    found = []
    for place in range(_changes(texts)):
        start = f"change[{place}]."
        changed = {key[len(start) :]: text for key, text in texts.items() if key.startswith(start)}
        figures = [f"{_label(key)} {text}" for key, text in changed.items() if key not in ("date", "what")]
        if any(key.startswith(start) for key in texts):
            found.append((texts.get(start + "date", ""), texts.get(start + "what", ""), ", ".join(figures)))
    return tuple(found)


def _label(key: str) -> str:
    """A key of a change in words."""
    plain = key.removeprefix("vehicle.")
    return label_of(plain if plain.startswith("engine.") else f"vehicle.{plain}").lower()


def _changes(texts: Mapping[str, str]) -> int:
    """The next free place in the list of changes."""
    places = [int(key[len("change[") :].split("]")[0]) for key in texts if key.startswith("change[")]
    return max(places, default=-1) + 1


# --- something was changed


def change(asked: Asked) -> Response:
    """The form for a change, or the change itself."""
    vehicle = vehicle_of(asked)
    values = asked.desk.book.values("vehicle", vehicle.id)
    texts = current_texts(values)
    place = _changes(texts)
    about, groups = _change_fields(place)
    fields = (*about, *(each for _, members in groups for each in members))
    if not asked.posted:
        today = {about[0].key: dt.date.today().isoformat()}
        return _change_page(asked, vehicle, today, {}, place)
    changes = entries_of_form(asked, fields, {})
    said = {key: text for key, text in changes.items() if text is not None}
    faults = faults_of_values("vehicle", {**values, **_as_values(said)})
    ours = {field.key: fault for field in fields if (fault := fault_of(field, faults))[0]}
    if about[0].key not in said:
        ours[about[0].key] = ("is empty", "the day from which the change holds")
    if not any(key not in (about[0].key, about[1].key) for key in said) and about[1].key not in said:
        ours[about[1].key] = ("is empty", "what was changed, in a few words")
    if ours:
        return _change_page(asked, vehicle, said, ours, place)
    asked.desk.book.write("vehicle", vehicle.id, said, asked.habits.by, asked.device, why=said.get(about[1].key, ""))
    return go("build", vehicle=vehicle.id, done="change")


def _as_values(texts: Mapping[str, str]) -> dict[str, Value]:
    from calmday.logbook.records import Value  # noqa: PLC0415

    return {key: Value(id="z", text=text, form="typed", at="", by="") for key, text in texts.items()}


def _change_fields(place: int) -> tuple[tuple[Field, ...], tuple[tuple[str, tuple[Field, ...]], ...]]:
    start = f"change[{place}]"
    about = (
        field(f"{start}.date", "From which day on?", "", kind="date"),
        field(
            f"{start}.what",
            "What was changed?",
            "In a few words, as it should stand on charts.",
            kind="text",
            room=30,
            example="taller axle",
        ),
    )
    groups = []
    for group in BUILD_SHEET:
        members = tuple(
            field(
                f"{start}.{each.key.removeprefix('vehicle.')}",
                each.label,
                each.purpose,
                each.units,
                kind=each.kind,
                choices=each.choices,
                example=each.example,
                room=each.room,
                listed=each.listed,
            )
            for each in group.fields
            if each.key != "vehicle.name"
        )
        groups.append((group.title, members))
    return about, tuple(groups)


def _change_page(
    asked: Asked, vehicle: Subject, texts: Mapping[str, str], faults: Mapping[str, tuple[str, str]], place: int
) -> Response:
    about, groups = _change_fields(place)
    fields = (*about, *(each for _, members in groups for each in members))
    shown = ChangePage(
        frame=frame(asked, "Something was changed", tab="build", vehicle=vehicle),
        about=boxes(about, texts, asked.habits, faults),
        groups=tuple((title, boxes(members, texts, asked.habits, faults)) for title, members in groups),
        opened=tuple(title for title, members in groups if any(each.key in texts for each in members)),
        faults=missing_words(faults, fields),
    )
    return page(shown, 422 if faults else 200)


# --- the full-load curve


def curve(asked: Asked) -> Response:
    """Draw the curve while it is typed, or keep it."""
    vehicle = vehicle_of(asked)
    unit, points = _typed_curve(asked)
    bands = _stored_curve(asked, vehicle.id).bands
    if asked.form.get("go") == "draw":
        drawing, fault = _drawing(unit, points, bands)
        return HTMLResponse(Markup('<p class="fault">{}</p>').format(fault) if fault and len(points) > 1 else drawing)
    values = asked.desk.book.values("vehicle", vehicle.id)
    try:
        data = _curve_file(asked) or _curve_text(unit, points, bands)
        _judge_curve(data)
    except InputError as error:
        words = " ".join(fault_words(fault.wrong, fault.right) for fault in error.faults[:3])
        return _build_page(asked, vehicle, values, {}, f"The curve was not kept. {words}")
    asked.desk.book.attach(
        "vehicle", vehicle.id, "full_load", "full_load.csv", data, by=asked.habits.by, device=asked.device
    )
    return go("build", vehicle=vehicle.id, done="saved")


class _Held(msgspec.Struct, frozen=True):
    """The curve that the logbook holds, as the boxes show it; `bands` what its file says of how well each point was
    read, in percent as written there, by unit, speed and value."""

    unit: str
    points: list[tuple[str, str]]
    bands: Bands


def _typed_curve(asked: Asked) -> tuple[str, list[tuple[str, str]]]:
    """Unit and points as typed, with decimal points."""
    unit = asked.form.get("unit", "")
    points = []
    for place in range(CURVE_POINTS * 4):
        pair = tuple(
            pointed(asked.form.get(f"{name}-{place}", "")[:20].strip(), asked.habits) for name in ("speed", "value")
        )
        if any(pair):
            points.append((pair[0], pair[1]))
    return unit if unit in dict(CURVE_UNITS) else CURVE_UNITS[0][0], points


def _curve_file(asked: Asked) -> bytes | None:
    for _, upload in asked.files:
        upload.file.seek(0)
        data = upload.file.read(LARGEST_CURVE + 1)
        if len(data) > LARGEST_CURVE:
            raise InputError.one("the file", "file", "is too large for a curve", "a CSV of a few points")
        return data
    return None


def _curve_text(unit: str, points: list[tuple[str, str]], bands: Bands) -> bytes:
    """The points as a file. What was traced keeps its band; a point typed among those gets that of a ruler.

    Raises InputError where a comma may set off thousands.
    """
    for text in (text for point in points for text in point if "," in text):
        raise InputError.one("the curve", text, f'"{text}" has a comma that may set off thousands', "1200, or 1.2")
    own = [bands.get((unit, *point)) for point in points]
    rows = [f"speed_rpm,{unit}{f',{BAND}' if any(own) else ''}"]
    for (speed, value), band in zip(points, own, strict=True):
        rows.append(f"{speed},{value},{band or BY_RULER}" if any(own) else f"{speed},{value}")
    return "".join(f"{row}\n" for row in rows).encode()


def _judge_curve(data: bytes) -> FullLoadCurve:
    """The curve in a file. Raises InputError."""
    from calmday.files.full_load_file import read_full_load  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="calmday-") as folder:
        place = Path(folder) / "full_load.csv"
        place.write_bytes(data)
        return read_full_load(place, "the curve")


def _drawing(unit: str, points: list[tuple[str, str]], bands: Bands) -> tuple[Markup, str]:
    """The picture of the points that are whole, and what is wrong with them."""
    from calmday.reports.charts.full_load import full_load_chart  # noqa: PLC0415  (drawing needs numpy)

    whole = [pair for pair in points if all(_is_number(text) for text in pair)]
    if not whole:
        return Markup('<p class="sub">The curve shows here as you type it.</p>'), ""
    if len(whole) == 1:
        return Markup('<p class="sub">One more point, and the curve shows here.</p>'), ""
    try:
        found = _judge_curve(_curve_text(unit, whole, bands))
        chart = full_load_chart(found.speed_rps, found.torque_nm, found.power_w, half_width=found.half_width)
    except InputError as error:
        return Markup(""), fault_words(error.faults[0].wrong, error.faults[0].right)
    if chart is None:
        return Markup(""), ""
    return Markup(chart.svg("narrow") + '<p class="note">{}</p>').format(chart.description), ""


def _is_number(text: str) -> bool:
    try:
        return math.isfinite(float(text))
    except ValueError:
        return False


def _stored_curve(asked: Asked, vehicle_id: str) -> _Held:
    """The curve that the logbook holds."""
    none = _Held(CURVE_UNITS[0][0], [], {})
    held = asked.desk.book.files("vehicle", vehicle_id, "full_load")
    if not held:
        return none
    text = asked.desk.book.content(held[-1].sha256).decode("utf-8-sig", "replace")
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    head = [cell.strip() for cell in lines[0].split(",")] if lines else []
    unit = next((cell for cell in head if cell in dict(CURVE_UNITS)), "")
    if not unit or len(head) < 2:
        return none
    speed, value = (next(i for i, cell in enumerate(head) if cell != unit), head.index(unit))
    rows = [[cell.strip() for cell in line.split(",")] for line in lines[1 : CURVE_POINTS * 4]]
    rows = [row for row in rows if len(row) > max(speed, value)]
    band = head.index(BAND) if BAND in head else len(head)
    return _Held(
        unit,
        [(row[speed], row[value]) for row in rows],
        {(unit, row[speed], row[value]): row[band] for row in rows if len(row) > band},
    )


def _padded(points: list[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    return tuple(points + [("", "")] * max(CURVE_POINTS - len(points), 2))
