"""How well a curve is read off a picture: drawn charts whose curve is known, marked by a hand that is off, many seeds.

Run: python studies/charts.py [--seeds 0:6]. The charts are drawn by `calmday.synthetic.drawn_chart` with an imaging
library and know nothing of tracing. Errors are shares of the axis (full scale); rms over all points, worst over all
pictures, how often the truth lies inside the 95 % band, and its mean half width. The figures in docs/accuracy.md come
from here.
"""

from __future__ import annotations

import argparse
from typing import Any

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.operations.trace import trace_chart
from calmday.synthetic.drawn_chart import ChartLook
from calmday.synthetic.marked_chart import TOP, EngineShape, marked_chart

LOOKS: dict[str, dict[str, Any]] = {
    "drawn, colours, exact marks": {"look": ChartLook(), "hand_px": 0.0},
    "drawn, colours": {"look": ChartLook()},
    "drawn, thin lines (1 pixel)": {"look": ChartLook(line=1.0)},
    "drawn, thick lines (9 pixels)": {"look": ChartLook(line=9.0)},
    "small, 420 x 300": {"look": ChartLook(width=420, height=300, line=2.0)},
    "logarithmic axes": {"look": ChartLook(speed_axis="log", value_axis="log")},
    "dashes": {"look": ChartLook(dashes=True)},
    "gaps of 8 % and 4 %": {"look": ChartLook(gaps=((0.3, 0.38), (0.7, 0.74)))},
    "greyscale, guides": {"look": ChartLook(colours=False), "guided": True},
    "greyscale, dark grid, guides": {"look": ChartLook(colours=False, grid="dark"), "guided": True},
    "JPEG, quality 40": {"look": ChartLook(jpeg=40)},
    "noise of 18 in 255": {"look": ChartLook(noise=18)},
    "blur of 2.5 pixels": {"look": ChartLook(blur=2.5)},
    "scan, turned 4 degrees, slanted": {"look": ChartLook(turn_deg=4, slant=0.08)},
    "photograph, four crossings": {
        "look": ChartLook(tilt=0.12, turn_deg=-2, blur=1.2, jpeg=60, noise=6, shade=0.35), "crossings": True,
    },
    "photograph, greyscale, guides": {
        "look": ChartLook(colours=False, tilt=0.12, turn_deg=-2, blur=1.2, jpeg=60, noise=6, shade=0.35),
        "crossings": True, "guided": True,
    },
    "photograph, axes only": {"look": ChartLook(tilt=0.12, turn_deg=-2, blur=1.2, jpeg=60, noise=6, shade=0.35)},
}  # fmt: skip


def shape_of(seed: int) -> EngineShape:
    """Another engine for every seed."""
    u = np.random.Generator(np.random.PCG64(7000 + seed)).uniform(size=4)
    return EngineShape(110 + 35 * u[0], 1900 + 900 * u[1], 20 + 35 * u[2], 15 * u[3])


def one(name: str, seed: int) -> tuple[list[float], list[float], int]:
    """Errors and half widths of all points of a picture as shares of the axis, and whether it failed."""
    options = dict(LOOKS[name])
    options["look"] = msgspec.structs.replace(options["look"], seed=seed)
    chart, _, shape = marked_chart(**options, shape=shape_of(seed), seed=seed)
    try:
        result = trace_chart(chart, seed=seed)
    except InputError:
        return [], [], 1
    off, band = [], []
    for curve in result.curves:
        for point in curve.points:
            figure = point.torque if curve.of == "torque" else point.power
            true = float(shape.of(curve.of)(np.array(point.engine_speed.value)))
            off.append((figure.value - true) / TOP[curve.of])
            band.append(figure.half_width / TOP[curve.of])
    return off, band, 0


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", default="0:6")
    first, last = (int(part) for part in parser.parse_args().seeds.split(":"))
    print("| picture | rms | worst of 95 in 100 | worst | inside 95 % | mean half width | failed |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    for name in LOOKS:
        off: list[float] = []
        band: list[float] = []
        failed = 0
        for seed in range(first, last):
            e, b, f = one(name, seed)
            off, band, failed = off + e, band + b, failed + f
        e, b = np.abs(np.array(off)), np.array(band)
        print(
            f"| {name} | {100 * np.sqrt(np.mean(e**2)):.2f} | {100 * np.quantile(e, 0.95):.2f} | {100 * e.max():.2f} "
            f"| {100 * np.mean(e <= b):.1f} % | {100 * b.mean():.2f} | {failed} of {last - first} |",
            flush=True,
        )


if __name__ == "__main__":
    main()
