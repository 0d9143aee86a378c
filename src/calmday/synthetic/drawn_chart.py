"""Charts drawn from curves that are known, then scanned, photographed, blurred, packed and spoilt by noise."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from typing import Any, Final

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

FINE: Final = 4
"""The chart is drawn this many times larger and averaged down, so that lines are anti-aliased."""

COLOURS: Final = {"torque": (213, 94, 0), "power": (0, 114, 178)}


class ChartLook(msgspec.Struct, frozen=True, kw_only=True):
    """How a chart is drawn and what happens to it; sizes in pixels.

    `tilt` how much shorter the far side of a photograph is, as a share; `turn_deg`, `slant` an affine distortion;
    `gaps` shares of the way at which a piece is missing.
    """

    width: int = 1000
    height: int = 720
    line: float = 3.0
    colours: bool = True
    speed_axis: str = "linear"
    value_axis: str = "linear"
    grid: str = "grey"
    labels: bool = True
    dashes: bool = False
    gaps: tuple[tuple[float, float], ...] = ()
    turn_deg: float = 0.0
    slant: float = 0.0
    tilt: float = 0.0
    blur: float = 0.0
    jpeg: int | None = None
    noise: float = 0.0
    shade: float = 0.0
    seed: int = 1


class DrawnChart(msgspec.Struct, frozen=True, kw_only=True):
    """The picture's bytes, and where things truly are: `place` maps (rpm, "torque" or "power", value) to pixels."""

    data: bytes
    place: Callable[[float, str, float], tuple[float, float]]
    rpm: tuple[float, float]
    top: dict[str, float]


def draw_chart(
    curves: dict[str, Callable[[FloatArray], FloatArray]], rpm: tuple[float, float], ends: tuple[float, float],
    top: dict[str, float], look: ChartLook,
) -> DrawnChart:  # fmt: skip
    """A chart with torque on the left and power on the right axis. `rpm` ends of the axis, `ends` of the curves;
    `curves` value over rpm by axis; `top` value at the upper end of each axis. The lower end is zero, or a tenth of the
    top on a logarithmic axis."""
    from PIL import Image, ImageDraw, ImageFilter  # noqa: PLC0415  (an extra)

    w, h = look.width, look.height
    left, right, upper, lower = 0.11 * w, 0.90 * w, 0.08 * h, 0.88 * h

    def flat(speed: FloatArray, axis: str, value: FloatArray) -> FloatArray:
        x = _share(speed, rpm[0], rpm[1], look.speed_axis)
        bottom = 0.0 if look.value_axis == "linear" else top[axis] / 10
        y = _share(value, bottom, top[axis], look.value_axis)
        return np.column_stack([left + x * (right - left), lower - y * (lower - upper)])

    image = Image.new("RGB", (FINE * w, FINE * h), (255, 255, 255))
    draw = ImageDraw.Draw(image)
    _frame(draw, look, (left, right, upper, lower), rpm, top)
    for axis, curve in curves.items():
        speed = np.linspace(*ends, 1500)
        paint = COLOURS[axis] if look.colours else (25, 25, 25)
        _line(draw, flat(speed, axis, curve(speed)), paint, look)
        if look.labels:
            end = flat(np.array([ends[1]]), axis, curve(np.array([ends[1]])))[0]
            draw.text((FINE * (end[0] + 8), FINE * (end[1] - 6)), axis, fill=paint, font=_font(13))
    image = image.resize((w, h), Image.Resampling.BOX)
    matrix = _distortion(look)
    if matrix is not None:
        inverse = np.linalg.inv(matrix)
        inverse = inverse / inverse[2, 2]
        # Pillow counts from the corner of a pixel, places here from its middle
        half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1.0]])
        inner = half @ inverse @ np.linalg.inv(half)
        inner = inner / inner[2, 2]
        image = image.transform(
            (w, h), Image.Transform.PERSPECTIVE, tuple(inner.ravel()[:8]), Image.Resampling.BICUBIC,
            fillcolor=(255, 255, 255),
        )  # fmt: skip
    if look.blur > 0:
        image = image.filter(ImageFilter.GaussianBlur(look.blur))
    data = _packed(image, look)

    def place(speed: float, axis: str, value: float) -> tuple[float, float]:
        # the middle of the first pixel is 0: half a pixel from its corner
        x, y = flat(np.array([speed]), axis, np.array([value]))[0] - 0.5
        if matrix is None:
            return float(x), float(y)
        a, b, c = matrix @ np.array([x, y, 1.0])
        return float(a / c), float(b / c)

    return DrawnChart(data=data, place=place, rpm=rpm, top=top)


def _share(value: FloatArray, low: float, high: float, scale: str) -> FloatArray:
    value = np.asarray(value, dtype=float)
    if scale == "linear":
        return np.asarray((value - low) / (high - low))
    return np.asarray(np.log(np.maximum(value, 1e-9) / low) / math.log(high / low))


def _font(size: int) -> Any:
    from PIL import ImageFont  # noqa: PLC0415

    return ImageFont.load_default(FINE * size)


def _frame(
    draw: Any, look: ChartLook, box: tuple[float, float, float, float], rpm: tuple[float, float], top: dict[str, float]
) -> None:
    left, right, upper, lower = box
    shade = {"grey": (205, 205, 205), "dark": (90, 90, 90), "none": (255, 255, 255)}[look.grid]
    for i in range(1, 10):
        x, y = left + i * (right - left) / 10, lower - i * (lower - upper) / 10
        draw.line([(FINE * x, FINE * upper), (FINE * x, FINE * lower)], fill=shade, width=FINE)
        draw.line([(FINE * left, FINE * y), (FINE * right, FINE * y)], fill=shade, width=FINE)
    draw.rectangle([FINE * left, FINE * upper, FINE * right, FINE * lower], outline=(40, 40, 40), width=int(1.5 * FINE))
    if not look.labels:
        return

    def write(x: float, y: float, text: str) -> None:
        draw.text((FINE * x, FINE * y), text, fill=(30, 30, 30), font=_font(12))

    for i in range(0, 11, 2):
        x, y = left + i * (right - left) / 10, lower - i * (lower - upper) / 10
        write(x - 14, lower + 8, f"{rpm[0] + i * (rpm[1] - rpm[0]) / 10:.0f}")
        for axis, side in (("torque", left - 42), ("power", right + 10)):
            if axis in top:
                write(side, y - 7, f"{i * top[axis] / 10:.0f}")
    write(left + 20, upper + 10, "Full load, invented engine")


def _line(draw: Any, places: FloatArray, paint: tuple[int, int, int], look: ChartLook) -> None:
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(places, axis=0).T))])
    kept = np.ones(len(places), dtype=bool)
    if look.dashes:
        kept &= along % 22 < 13
    for start, end in look.gaps:
        kept &= ~((along >= start * along[-1]) & (along <= end * along[-1]))
    width = max(round(FINE * look.line), 1)
    part: list[tuple[float, float]] = []
    for place, keep in zip(FINE * places, kept, strict=True):
        if keep:
            part.append((float(place[0]), float(place[1])))
        elif part:
            draw.line(part, fill=paint, width=width, joint="curve")
            part = []
    if len(part) > 1:
        draw.line(part, fill=paint, width=width, joint="curve")


def _distortion(look: ChartLook) -> FloatArray | None:
    """What the scanner or the camera does to flat pixel places, (3, 3); None for nothing."""
    if look.turn_deg == 0 and look.slant == 0 and look.tilt == 0:
        return None
    w, h = look.width, look.height
    to_middle = np.array([[1, 0, -w / 2], [0, 1, -h / 2], [0, 0, 1.0]])
    angle = math.radians(look.turn_deg)
    turned = np.array([[math.cos(angle), -math.sin(angle), 0], [math.sin(angle), math.cos(angle), 0], [0, 0, 1.0]])
    slanted = np.array([[1, look.slant, 0], [0, 1, 0], [0, 0, 1.0]])
    tilted = np.array([[1, 0, 0], [0, 1, 0], [0.6 * look.tilt / w, look.tilt / h, 1.0]])
    smaller = np.diag([0.88, 0.88, 1.0])
    return np.asarray(np.linalg.inv(to_middle) @ tilted @ slanted @ turned @ smaller @ to_middle)


def _packed(image: Any, look: ChartLook) -> bytes:
    from PIL import Image  # noqa: PLC0415

    samples = np.asarray(image, dtype=float)
    generator = np.random.Generator(np.random.PCG64(look.seed))
    if look.shade > 0:
        down, across = np.mgrid[0 : 1 : complex(0, samples.shape[0]), 0 : 1 : complex(0, samples.shape[1])]
        samples = samples * (1 - look.shade * (0.6 * across + 0.4 * down))[:, :, None]
    if look.noise > 0:
        samples = samples + look.noise * generator.standard_normal(samples.shape)
    final = Image.fromarray(np.clip(np.rint(samples), 0, 255).astype(np.uint8))
    if not look.colours:
        final = final.convert("L")
    out = io.BytesIO()
    if look.jpeg is not None:
        final.save(out, format="JPEG", quality=look.jpeg)
    else:
        final.save(out, format="PNG")
    return out.getvalue()
