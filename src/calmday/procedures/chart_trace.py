"""The full-load curve from a picture of a chart: marks on the axes give the map, the ink gives the curve.

Doubt has two parts. The places of the marks are uncertain; the whole curve is read again for many draws of them, so
that what they share stays shared. The middle of the line is uncertain by its thickness and by what had to be bridged.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.errors import InputError
from calmday.files.picture_file import Picture, decode_picture
from calmday.metrology.draws import standard_normal
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.records.chart_picture import ChartPicture, CurveAsked, CurveOf, Mark
from calmday.reduction.ink import ink_share, paper_of, picked_ink, sample, true_ink
from calmday.reduction.line_trace import LineTrace, trace_line
from calmday.reduction.picture_plane import Plane, PlaneError, scaled, solve_plane

FloatArray = NDArray[np.float64]

DRAWS: Final = 200
SEED: Final = 20260412

MARK_PM_PX: Final = 1.5
MARK_PM_SHARE: Final = 0.0015
"""95 % half width of a mark's place, pixels, or share of the picture's longer side: a tap on a screen. Assumed."""

PAST_MARKS: Final = 0.15
"""How far past the outermost marks a curve is looked for, as a share of their distance."""

SLOWEST_RPS: Final = 1.0
FASTEST_RPS: Final = 25_000 / 60

FIELD: Final = ((300, 900), (240, 560))
"""Fewest and most columns and rows of the field that stands on the axes."""


class CurveReading(msgspec.Struct, frozen=True, kw_only=True):
    """A curve read off. `places` (n, 2) pixels of the file from left to right; `sd_px` (n,) standard uncertainty of the
    middle of the line, upwards; `seen`, `by_hand` (n,); `line_px` its thickness, 0 where all is by hand. `another` the
    length of another line of the same ink as a share of this one, 0 where nobody looked."""

    asked: CurveAsked
    ink: tuple[int, int, int] | None
    places: FloatArray
    sd_px: FloatArray
    seen: NDArray[np.bool_]
    by_hand: NDArray[np.bool_]
    line_px: float
    another: float


class ChartReading(msgspec.Struct, frozen=True, kw_only=True):
    """A picture with its map, the maps of other draws of its marks, and its curves."""

    chart: ChartPicture
    picture: Picture
    plane: Plane
    others: tuple[Plane, ...]
    marks_pm_px: float
    curves: tuple[CurveReading, ...]
    scores: FloatArray


def scales_of(chart: ChartPicture) -> dict[str, str]:
    """Kind of each axis."""
    return {"speed": chart.speed_scale, "torque": chart.torque_scale, "power": chart.power_scale}


def read_curves(chart: ChartPicture, seed: int = SEED) -> ChartReading:
    """Decode, map and trace. Raises InputError with what is at fault in marks, picture or curves."""
    picture = decode_picture(chart.data, chart.picture)
    plane = _solved(chart, chart.marks)
    for curve in chart.curves:
        if curve.of not in plane.matrices:
            raise InputError.one(chart.file, "mark", f"has no two marks with {curve.of}", f"two places with {curve.of}")
    pm = chart.mark_pm_px or max(MARK_PM_PX, MARK_PM_SHARE * max(picture.width, picture.height))
    sd = max(pm / HALF_WIDTH_PER_SD, plane.residual_px if plane.spare > 0 else 0.0)
    scores = standard_normal(DRAWS, 2 * len(chart.marks) + 2, seed)
    others = _drawn(chart, scores[:, :-2], sd)
    rgb = picture.rgb.astype(np.float32)
    paper = paper_of(rgb) if any(c.colour is not None or c.colour_at is not None for c in chart.curves) else rgb
    readings = tuple(_read(chart, number, picture, plane, rgb, paper) for number in range(len(chart.curves)))
    for number, reading in enumerate(readings):
        _check_possible(chart, number, plane, reading)
    return ChartReading(
        chart=chart, picture=picture, plane=plane, others=others, marks_pm_px=HALF_WIDTH_PER_SD * sd,
        curves=readings, scores=scores[:, -2:],
    )  # fmt: skip


def _check_possible(chart: ChartPicture, number: int, plane: Plane, reading: CurveReading) -> None:
    """Raise InputError where the marks put a curve at engine speeds that no engine has."""
    speed = plane.values(reading.asked.of, plane.to_axes(reading.asked.of, reading.places))[:, 0]
    if not np.isfinite(speed).all() or speed.max() > FASTEST_RPS or speed.max() <= SLOWEST_RPS:
        raise InputError.one(
            chart.file, f"curve[{number}]", "would run at engine speeds that no engine has",
            "the marks on the engine speed axis: place and value",
        )  # fmt: skip


def _check_inside(chart: ChartPicture, number: int, picture: Picture) -> None:
    """Raise InputError where a place lies outside the picture."""
    asked = chart.curves[number]
    for key, places in (("point", asked.points), ("guide", asked.guides)):
        for x, y in places:
            if not (-1 <= x <= picture.width and -1 <= y <= picture.height):
                right = f"from 0, 0 to {picture.width - 1}, {picture.height - 1}"
                wrong = f"has a place outside the picture: {x:g}, {y:g}"
                raise InputError.one(chart.file, f"curve[{number}].{key}", wrong, right)


def _solved(chart: ChartPicture, marks: tuple[Mark, ...]) -> Plane:
    try:
        return solve_plane(marks, scales_of(chart))  # type: ignore[arg-type]
    except PlaneError as error:
        raise InputError.one(chart.file, f"mark ({error.axis})", error.wrong, error.right) from None


def _drawn(chart: ChartPicture, scores: FloatArray, sd: float) -> tuple[Plane, ...]:
    """The maps when the marks stand elsewhere within their doubt."""
    planes = []
    for row in sd * scores:
        moved = tuple(
            msgspec.structs.replace(mark, at=(mark.at[0] + row[2 * i], mark.at[1] + row[2 * i + 1]))
            for i, mark in enumerate(chart.marks)
        )
        try:
            planes.append(solve_plane(moved, scales_of(chart)))  # type: ignore[arg-type]
        except PlaneError:
            continue
    return tuple(planes)


def _read(
    chart: ChartPicture,
    number: int,
    picture: Picture,
    plane: Plane,
    rgb: NDArray[np.float32],
    paper: NDArray[np.float32],
) -> CurveReading:
    asked = chart.curves[number]
    key = f"curve[{number}]"
    _check_inside(chart, number, picture)
    hand = _hand_points(asked)
    if asked.colour is None and asked.colour_at is None:
        if len(hand) < 2:
            raise InputError.one(chart.file, f"{key}.point", "has fewer than two places", "two points and more")
        full = np.ones(len(hand), dtype=bool)
        return CurveReading(
            asked=asked, ink=None, places=hand, sd_px=np.full(len(hand), 0.5 * picture.reduced), seen=~full,
            by_hand=full, line_px=0.0, another=0.0,
        )  # fmt: skip
    ink = _ink(chart, key, asked, picture, rgb, paper)
    share = ink_share(rgb, paper, ink)
    window = _window(chart, asked, picture, plane)
    field, u, v = _field(share, plane, asked.of, window, picture.reduced)
    guides = _in_field(plane, asked.of, (*asked.guides, *asked.points), u, v)
    found = trace_line(field, guides)
    if found is None:
        raise InputError.one(
            chart.file, f"{key}.colour", "no line of this colour was found between the marks",
            "point at the curve itself with colour_at, or put points by hand",
        )  # fmt: skip
    another = 0.0 if guides else _another(field, found)
    return _placed(asked, ink, plane, found, u, v, hand, another)


def _hand_points(asked: CurveAsked) -> FloatArray:
    points = np.array(sorted(asked.points), dtype=float).reshape(-1, 2)
    return points[np.concatenate([[True], np.diff(points[:, 0]) > 0.5])] if len(points) else points


def _ink(
    chart: ChartPicture, key: str, asked: CurveAsked, picture: Picture, rgb: NDArray[np.float32],
    paper: NDArray[np.float32],
) -> NDArray[np.float32]:  # fmt: skip
    if asked.colour_at is None:
        return true_ink(rgb, np.array(asked.colour, dtype=np.float32))
    x, y = (value / picture.reduced for value in asked.colour_at)
    ink = picked_ink(rgb, paper, x, y)
    if ink is None:
        right = "a place on the curve itself, pixels from left and top"
        raise InputError.one(chart.file, f"{key}.colour_at", "there is only paper at this place", right)
    return ink


def _window(
    chart: ChartPicture, asked: CurveAsked, picture: Picture, plane: Plane
) -> tuple[tuple[float, float], tuple[float, float]]:
    """Range of both axes to look in: a little past the marks, or where the asker says."""
    axes = []
    for scale, values in (
        (chart.speed_scale, [m.speed_rps for m in chart.marks]),
        (plane.scales[asked.of], [m.torque_nm if asked.of == "torque" else m.power_w for m in chart.marks]),
    ):
        given = np.concatenate([np.atleast_1d(scaled(value, scale)) for value in values if value is not None])
        past = PAST_MARKS * float(np.ptp(given))
        axes.append((float(given.min()) - past, float(given.max()) + past))
    low, high = axes[0]
    if asked.from_rps is not None and (chart.speed_scale == "linear" or asked.from_rps > 0):
        low = float(scaled(asked.from_rps, chart.speed_scale))
    if asked.to_rps is not None:
        high = float(scaled(max(asked.to_rps, 1e-3), chart.speed_scale))
    return (low, max(high, low + 1e-6)), axes[1]


def _field(
    share: NDArray[np.float32], plane: Plane, of: CurveOf, window: tuple[tuple[float, float], tuple[float, float]],
    reduced: int,
) -> tuple[FloatArray, FloatArray, FloatArray]:  # fmt: skip
    """The ink on the axes of the chart, (rows, columns), and the axis values of columns and rows (downwards)."""
    (u0, u1), (v0, v1) = window
    corners = plane.to_pixels(of, np.array([[u0, v0], [u1, v0], [u1, v1], [u0, v1]])) / reduced
    wide = max(math.dist(corners[0], corners[1]), math.dist(corners[2], corners[3]))
    tall = max(math.dist(corners[1], corners[2]), math.dist(corners[3], corners[0]))
    columns = int(np.clip(round(wide), *FIELD[0]))
    rows = int(np.clip(round(tall), *FIELD[1]))
    u, v = np.linspace(u0, u1, columns), np.linspace(v1, v0, rows)
    grid = np.column_stack([np.tile(u, rows), np.repeat(v, columns)])
    places = plane.to_pixels(of, grid) / reduced
    # the middle of an averaged pixel lies between those it is made of
    places -= (reduced - 1) / (2 * reduced)
    field = sample(share, places[:, 0].reshape(rows, columns), places[:, 1].reshape(rows, columns))
    return field.astype(float), u, v


def _in_field(
    plane: Plane, of: CurveOf, places: tuple[tuple[float, float], ...], u: FloatArray, v: FloatArray
) -> list[tuple[float, float]]:
    """Places as (column, row) of the field."""
    if not places:
        return []
    axes = plane.to_axes(of, np.array(places, dtype=float))
    column = (axes[:, 0] - u[0]) / (u[1] - u[0])
    row = (axes[:, 1] - v[0]) / (v[1] - v[0])
    inside = (column > -1) & (column < u.size) & (row > -1) & (row < v.size)
    return [(float(c), float(r)) for c, r in zip(column[inside], row[inside], strict=True)]


def _another(field: FloatArray, found: LineTrace) -> float:
    """Length of another line of this ink beside the one found, as a share of it."""
    rest = field.copy()
    wide = 1.5 * found.thickness + 3
    rows = np.arange(field.shape[0])[:, None]
    near = np.abs(rows - found.row[None, :]) < wide * np.hypot(1.0, np.gradient(found.row))[None, :]
    part = rest[:, found.columns[0] : found.columns[-1] + 1]
    part[near] = 0.0
    other = trace_line(rest, (), found.strength)
    if other is None or not 0.5 < other.thickness / found.thickness < 2.0:
        return 0.0
    return float(other.seen.sum() / max(found.seen.sum(), 1))


def _placed(
    asked: CurveAsked, ink: NDArray[np.float32], plane: Plane, found: LineTrace, u: FloatArray, v: FloatArray,
    hand: FloatArray, another: float,
) -> CurveReading:  # fmt: skip
    """The trace as places in the file's pixels, with the points put by hand in it."""
    column_u = u[found.columns]
    row_v = np.interp(found.row, np.arange(v.size), v)
    places = plane.to_pixels(asked.of, np.column_stack([column_u, row_v]))
    beside = plane.to_pixels(asked.of, np.column_stack([column_u, row_v + (v[1] - v[0])]))
    px_per_row = np.hypot(*(beside - places).T)
    seen, sd = found.seen, found.sd * px_per_row
    by_hand = np.zeros(len(places), dtype=bool)
    line = found.thickness * float(np.median(px_per_row))
    if len(hand):
        axes = plane.to_axes(asked.of, hand)
        spacing = float(u[1] - u[0])
        far = np.min(np.abs(column_u[:, None] - axes[None, :, 0]), axis=1) > 4 * spacing
        merged_u = np.concatenate([column_u[far], axes[:, 0]])
        order = np.argsort(merged_u)
        places = np.concatenate([places[far], hand])[order]
        sd = np.concatenate([sd[far], np.full(len(hand), max(line / 4, 0.5))])[order]
        seen = np.concatenate([seen[far], np.zeros(len(hand), dtype=bool)])[order]
        by_hand = np.concatenate([by_hand[far], np.ones(len(hand), dtype=bool)])[order]
    red, green, blue = (round(float(value)) for value in ink)
    return CurveReading(
        asked=asked, ink=(red, green, blue), places=places, sd_px=sd, seen=seen, by_hand=by_hand, line_px=line,
        another=another,
    )  # fmt: skip
