"""A marked picture of a chart: chart.toml with the picture it names."""

from __future__ import annotations

import math
import re
from pathlib import Path
from typing import cast

from calmday.errors import InputError
from calmday.files.named_files import FolderFiles, NamedDocument, SeenFiles
from calmday.files.picture_file import PICTURE_BYTES
from calmday.files.toml_table import FaultList, Table
from calmday.metrology.units import shown
from calmday.records.chart_picture import (
    AXIS_SCALES,
    CURVES_OF,
    AxisScale,
    ChartPicture,
    CurveAsked,
    CurveOf,
    Mark,
    Pixel,
)

_SPEEDS = ("0 rpm", "30000 rpm")
_TORQUES = ("-1000 N*m", "20000 N*m")
_POWERS = ("-100 kW", "5000 kW")
_COLOUR = re.compile(r"#([0-9a-fA-F]{2})([0-9a-fA-F]{2})([0-9a-fA-F]{2})")
_FURTHEST = 100_000.0
MOST_MARKS = 60
MOST_POINTS = 200


def read_chart(path: Path, *, name: str | None = None, seen: SeenFiles | None = None) -> ChartPicture:
    """The marked picture of a file. `name` the file as the user named it. Raises InputError with every fault."""
    file = name or str(path)
    return chart_of(FolderFiles(path.parent, seen).document(path.name, file), file, path.stem)


def chart_of(named: NamedDocument, file: str, stem: str) -> ChartPicture:
    """The marked picture in a document; else as `read_chart`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    entry, data = _picture(table, named)
    table.file_name("vehicle")  # in the logbook a chart belongs to a vehicle; nothing of it is needed to read the curve
    scales = table.table("scale")
    chart = ChartPicture(
        picture=entry,
        data=data,
        marks=tuple(_mark(t) for t in table.tables("mark")[:MOST_MARKS]),
        curves=tuple(c for t in table.tables("curve")[:8] if (c := _curve(t)) is not None),
        speed_scale=_scale(scales, "speed"),
        torque_scale=_scale(scales, "torque"),
        power_scale=_scale(scales, "power"),
        mark_pm_px=table.number("mark_pm", 0.05, 500.0),
        source=table.text("source") or "",
        page=table.text("page") or "",
        licence=table.text("licence") or "",
        label=table.text("label") or stem,
        file=file,
    )
    scales.finish()
    if "mark" not in table:
        table.fault(
            "mark", "is missing", "[[mark]] tables: at least two places on the engine speed axis, two on another"
        )
    if "curve" not in table:
        table.fault("curve", "is missing", "at least one [[curve]] table with of, and a colour or points")
    table.finish()
    faults.raise_any()
    return chart


def _picture(table: Table, named: NamedDocument) -> tuple[str, bytes]:
    entry = table.file_name("picture")
    if entry is None:
        if "picture" not in table:
            table.fault("picture", "is missing", 'the file of the picture: picture = "chart.png"')
        return "", b""
    try:
        return entry, named.files.data(entry, str(Path(table.faults.file).parent / entry), PICTURE_BYTES)
    except InputError as error:
        table.faults.extend(error.faults)
        return entry, b""


def _scale(table: Table, key: str) -> AxisScale:
    return cast(AxisScale, table.choice(key, AXIS_SCALES) or "linear")


def _mark(table: Table) -> Mark:
    mark = Mark(
        at=_pixel(table, "at") or (0.0, 0.0),
        speed_rps=table.quantity("speed", "engine speed", _SPEEDS),
        torque_nm=table.quantity("torque", "torque", _TORQUES),
        power_w=table.quantity("power", "power", _POWERS),
    )
    if "at" not in table:
        table.fault("at", "is missing", "the place in the picture: at = [120, 640], pixels from the left and the top")
    if not {"speed", "torque", "power"} & {key for key, _ in table.items()}:
        table.fault("speed", "is missing", 'what is known there: speed = "1000 rpm", torque or power')
    table.finish()
    return mark


def _curve(table: Table) -> CurveAsked | None:
    of = table.choice("of", CURVES_OF)
    colour, anywhere = _colour(table)
    curve = CurveAsked(
        of=cast(CurveOf, of or "torque"),
        colour=colour,
        colour_at=_pixel(table, "colour_at"),
        guides=_pixels(table, "guide"),
        points=_pixels(table, "point"),
        leave_out_rps=table.quantities("leave_out", "engine speed", _SPEEDS),
        from_rps=table.quantity("from", "engine speed", _SPEEDS),
        to_rps=table.quantity("to", "engine speed", _SPEEDS),
    )
    if "of" not in table:
        table.fault("of", "is missing", 'of = "torque" or of = "power"')
    if not anywhere and "colour_at" not in table and len(curve.points) < 2 and "point" not in table:
        right = 'colour = "#0072b2", colour = "dark", colour_at = [300, 210], or two points and more put by hand'
        table.fault("colour", "is missing", right)
    low, high = curve.from_rps, curve.to_rps
    if low is not None and high is not None and low >= high:
        table.fault("to", "is not above from", "the engine speed at the end of the curve")
    table.finish()
    return curve if of is not None else None


def _colour(table: Table) -> tuple[tuple[int, int, int] | None, bool]:
    value = table.raw("colour")
    if value is None:
        return None, False
    if value == "dark":
        return (0, 0, 0), True
    match = _COLOUR.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        table.fault("colour", f"{shown(value)} is not a colour", 'red, green, blue as "#0072b2", or "dark"')
        return None, True
    red, green, blue = (int(part, 16) for part in match.groups())
    return (red, green, blue), True


def _pixel(table: Table, key: str) -> Pixel | None:
    value = table.raw(key)
    if value is None:
        return None
    found = place_of(value)
    if found is None:
        table.fault(key, f"{shown(value)} is not a place in the picture", "pixels from left and top: [120, 640]")
    return found


def _pixels(table: Table, key: str) -> tuple[Pixel, ...]:
    value = table.raw(key)
    items = value if isinstance(value, list) and place_of(value) is None else [] if value is None else [value]
    if len(items) > MOST_POINTS:
        table.fault(key, f"has {len(items)} places", f"at most {MOST_POINTS}")
        return ()
    found = []
    for i, item in enumerate(items):
        place = place_of(item)
        if place is None:
            table.fault(key if len(items) == 1 else f"{key}[{i}]", f"{shown(item)} is not a place in the picture",
                        "pixels from left and top: [120, 640]")  # fmt: skip
        else:
            found.append(place)
    return tuple(found)


def place_of(value: object) -> Pixel | None:
    """A place in the picture as `[120, 640]` or "120, 640"; None for anything else."""
    if isinstance(value, str):
        parts = value.replace(";", ",").split(",")
        try:
            value = [float(part) for part in parts]
        except ValueError:
            return None
    if not isinstance(value, list) or len(value) != 2:
        return None
    if any(isinstance(v, bool) or not isinstance(v, (int, float)) for v in value):
        return None
    x, y = (float(v) for v in value)
    return (x, y) if all(math.isfinite(v) and abs(v) <= _FURTHEST for v in (x, y)) else None
