"""From a place in a picture to values on the axes of the chart in it.

A scanned or drawn chart is shifted, turned, stretched or slanted: an affine map. A photograph taken at an angle is
projective; four known crossings of grid lines give that map (the direct linear transformation: Hartley and Zisserman,
Multiple View Geometry, 4.1; from memory). Values on a logarithmic axis enter as their logarithms.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.records.chart_picture import AxisScale, Mark

FloatArray = NDArray[np.float64]
PlaneKind = Literal["affine", "projective"]

CROSSINGS: Final = 4
"""Crossings from which on the map is projective."""

_UPRIGHT: Final = 1e-6
"""Weight of "the picture stands upright" where the marks leave the slant open."""


class PlaneError(ValueError):
    """Marks that give no map: `axis` which, `wrong` and `right` in words."""

    def __init__(self, axis: str, wrong: str, right: str) -> None:
        self.axis, self.wrong, self.right = axis, wrong, right
        super().__init__(f"{axis}: {wrong}; {right}")


class Plane(msgspec.Struct, frozen=True, kw_only=True):
    """The map of one picture. `matrices` by "torque" and "power": (3, 3), homogeneous pixel to homogeneous (u, v).

    u is engine speed (1/s) or its logarithm, v torque (N m) or power (W) or its logarithm. `residual_px` root mean
    square distance of the marks from where the map has them, over the `spare` constraints that were not needed.
    `skew_deg` how far the axes are from standing square on each other.
    """

    matrices: dict[str, FloatArray]
    kind: PlaneKind
    scales: dict[str, AxisScale]
    residual_px: float
    spare: int
    skew_deg: float

    def to_axes(self, of: str, places: FloatArray) -> FloatArray:
        """(n, 2) of pixels as (n, 2) of (u, v)."""
        return _through(self.matrices[of], places)

    def to_pixels(self, of: str, axes: FloatArray) -> FloatArray:
        """(n, 2) of (u, v) as (n, 2) of pixels."""
        return _through(np.asarray(np.linalg.inv(self.matrices[of]), dtype=float), axes)

    def values(self, of: str, axes: FloatArray) -> FloatArray:
        """(n, 2) of (u, v) as engine speed (1/s) and torque (N m) or power (W)."""
        return np.stack([unscaled(axes[:, 0], self.scales["speed"]), unscaled(axes[:, 1], self.scales[of])], axis=1)


def scaled(value: FloatArray | float, scale: AxisScale) -> FloatArray:
    """A value as the axis has it: itself, or its natural logarithm."""
    if scale == "linear":
        return np.asarray(value, dtype=float)
    return np.asarray(np.log(np.asarray(value, dtype=float)))


def unscaled(value: FloatArray, scale: AxisScale) -> FloatArray:
    """The value at a place on the axis."""
    return np.asarray(value if scale == "linear" else np.exp(np.clip(value, -700, 700)))


def solve_plane(marks: Sequence[Mark], scales: dict[str, AxisScale]) -> Plane:
    """The map that fits the marks best. Raises PlaneError where they do not suffice or contradict each other."""
    places = np.array([mark.at for mark in marks], dtype=float).reshape(-1, 2)
    known = {
        "speed": _known([m.speed_rps for m in marks], scales["speed"], "speed"),
        "torque": _known([m.torque_nm for m in marks], scales["torque"], "torque"),
        "power": _known([m.power_w for m in marks], scales["power"], "power"),
    }
    for axis, values in known.items():
        _enough(values, places, axis, needed=axis == "speed")
    uprights = [axis for axis in ("torque", "power") if np.isfinite(known[axis]).sum() >= 2]
    if not uprights:
        raise PlaneError("torque", "has fewer than two marks", "two places on the torque axis or on the power axis")
    crossings = {axis: np.isfinite(known["speed"]) & np.isfinite(known[axis]) for axis in uprights}
    main = max(uprights, key=lambda axis: int(crossings[axis].sum()))
    if crossings[main].sum() >= CROSSINGS and _spread_out(places[crossings[main]]):
        return _projective(places, known, main, uprights, scales)
    return _affine(places, known, uprights, scales)


def _known(values: list[float | None], scale: AxisScale, axis: str) -> FloatArray:
    """Values as the axis has them, NaN where a mark does not say."""
    if scale == "logarithmic" and any(v is not None and v <= 0 for v in values):
        raise PlaneError(axis, "has a mark at zero or below on a logarithmic axis", "values above zero, or linear")
    plain = np.array([math.nan if v is None else v for v in values], dtype=float)
    return scaled(plain, scale)


def _enough(values: FloatArray, places: FloatArray, axis: str, needed: bool) -> None:
    given = np.isfinite(values)
    count = int(given.sum())
    if count == 0 and not needed:
        return
    if count < 2:
        raise PlaneError(axis, "has fewer than two marks", "two places on this axis, far apart")
    if np.ptp(values[given]) <= 0:
        raise PlaneError(axis, "has marks with one value only", "two places with different values")
    low, high = int(np.nanargmin(values)), int(np.nanargmax(values))
    if math.dist(places[low], places[high]) < 10:
        raise PlaneError(axis, "has its marks within ten pixels", "two places far apart")


def _spread_out(places: FloatArray) -> bool:
    """Whether a projective map is determined: the places span an area and do not nearly lie on one line and a point."""
    centred = places - places.mean(axis=0)
    spread = np.linalg.svd(centred, compute_uv=False)
    if spread[-1] < 0.05 * spread[0]:
        return False
    system = _dlt_system(places / np.abs(places).max(), _unit(places))
    values = np.linalg.svd(system, compute_uv=False)
    return bool(values[-2] > 1e-4 * values[0])


def _unit(places: FloatArray) -> FloatArray:
    span = np.ptp(places, axis=0)
    return np.asarray((places - places.min(axis=0)) / np.where(span > 0, span, 1.0))


def _through(matrix: FloatArray, points: FloatArray) -> FloatArray:
    whole = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    return np.asarray(whole[:, :2] / whole[:, 2:3])


def _affine(
    places: FloatArray, known: dict[str, FloatArray], uprights: list[str], scales: dict[str, AxisScale]
) -> Plane:
    level = np.isfinite(known["speed"])
    groups = [np.isfinite(known[axis]) & ~level for axis in uprights]
    u, spare, squares = _affine_row(places, known["speed"], groups, 1)
    matrices = {}
    for axis in uprights:
        ground = level & ~np.any([np.isfinite(known[a]) for a in uprights], axis=0)
        v, more, more_squares = _affine_row(places, known[axis], [ground], 0)
        matrices[axis] = np.array([u, v, [0.0, 0.0, 1.0]])
        spare, squares = spare + more, squares + more_squares
    for axis, matrix in matrices.items():
        if abs(np.linalg.det(matrix[:2, :2])) < 1e-12 * np.abs(matrix[:2, :2]).max() ** 2:
            raise PlaneError(axis, "and engine speed have their marks on one line", "marks on two axes")
    return Plane(
        matrices=matrices, kind="affine", scales=scales, spare=spare, skew_deg=_skew(matrices[uprights[0]]),
        residual_px=math.sqrt(squares / spare) if spare > 0 else 0.0,
    )  # fmt: skip


def _affine_row(
    places: FloatArray, values: FloatArray, alike: list[NDArray[np.bool_]], along: int
) -> tuple[FloatArray, int, float]:
    """One coordinate a x + b y + c: known values, and groups of places at which it is the same.

    Returns the row, the number of constraints to spare, and the sum of squared residuals in pixels. `along` the pixel
    axis that it does not depend on in an upright picture.
    """
    middle, size = places.mean(axis=0), max(float(np.ptp(places, axis=0).max()), 1.0)
    xy = (places - middle) / size
    given = np.isfinite(values)
    centre, span = float(values[given].mean()), float(np.ptp(values[given]))
    rows = [[x, y, 1.0] for x, y in xy[given]]
    right = list((values[given] - centre) / span)
    for group in alike:
        if group.sum() >= 2:
            mean = xy[group].mean(axis=0)
            rows += [[x - mean[0], y - mean[1], 0.0] for x, y in xy[group]]
            right += [0.0] * int(group.sum())
    count = len(rows) - sum(1 for group in alike if group.sum() >= 2)
    determined = np.linalg.matrix_rank(np.array(rows), tol=1e-3) == 3
    if not determined:
        upright = [0.0, 0.0, 0.0]
        upright[along] = _UPRIGHT
        rows, right = [*rows, upright], [*right, 0.0]
    a, b = np.array(rows), np.array(right)
    found = np.linalg.lstsq(a, b, rcond=1e-10)[0]
    gradient = max(float(np.hypot(found[0], found[1])), 1e-9)
    squares = float(np.sum((a @ found - b) ** 2)) * (size / gradient) ** 2
    slope = found[:2] * span / size
    return np.array([*slope, centre + span * found[2] - slope @ middle]), max(count - 3, 0), squares


def _projective(
    places: FloatArray, known: dict[str, FloatArray], main: str, uprights: list[str], scales: dict[str, AxisScale]
) -> Plane:
    both = np.isfinite(known["speed"]) & np.isfinite(known[main])
    here, there = places[both], np.column_stack([known["speed"][both], known[main][both]])
    to_unit, from_unit = _normalise(here), _normalise(there)
    system = _dlt_system(_through(to_unit, here), _through(from_unit, there))
    _, _, rows = np.linalg.svd(system)
    matrix = np.linalg.inv(from_unit) @ rows[-1].reshape(3, 3) @ to_unit
    signs = np.column_stack([here, np.ones(len(here))]) @ matrix[2]
    if np.any(signs * signs[0] <= 0):
        raise PlaneError(main, "has crossings that no photograph of a flat chart can show", "check place and value")
    matrix = matrix / matrix[2, 2] if abs(matrix[2, 2]) > 1e-12 else matrix
    back = _through(np.linalg.inv(matrix), there)
    spare = 2 * len(here) - 8
    squares = float(np.sum((back - here) ** 2))
    matrices = {main: matrix}
    for axis in uprights:
        if axis != main:
            given = np.isfinite(known[axis])
            height = _through(matrix, places[given])[:, 1]
            if np.ptp(height) <= 0:
                raise PlaneError(axis, "has marks at one height only", "two places at different heights")
            slope, start = np.polyfit(height, known[axis][given], 1)
            matrices[axis] = np.array([matrix[0], slope * matrix[1] + start * matrix[2], matrix[2]])
    return Plane(
        matrices=matrices, kind="projective", scales=scales, spare=spare, skew_deg=0.0,
        residual_px=math.sqrt(squares / spare) if spare > 0 else 0.0,
    )  # fmt: skip


def _normalise(points: FloatArray) -> FloatArray:
    """The similarity that brings points about the origin, a unit apart; without it the solution is ill-conditioned."""
    centre = points.mean(axis=0)
    size = np.where(points.std(axis=0) > 0, points.std(axis=0), 1.0)
    return np.array([[1 / size[0], 0, -centre[0] / size[0]], [0, 1 / size[1], -centre[1] / size[1]], [0, 0, 1.0]])


def _dlt_system(here: FloatArray, there: FloatArray) -> FloatArray:
    rows = []
    for (x, y), (u, v) in zip(here, there, strict=True):
        rows += [[-x, -y, -1, 0, 0, 0, u * x, u * y, u], [0, 0, 0, -x, -y, -1, v * x, v * y, v]]
    if len(rows) < 9:
        rows += [[0.0] * 9] * (9 - len(rows))
    return np.array(rows, dtype=float)


def _skew(matrix: FloatArray) -> float:
    """How far the lines of equal u and of equal v are from a right angle, degrees."""
    a, b = matrix[0, :2], matrix[1, :2]
    cosine = abs(float(a @ b)) / max(float(np.hypot(*a) * np.hypot(*b)), 1e-300)
    return math.degrees(math.asin(min(cosine, 1.0)))
