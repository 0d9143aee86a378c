"""Flags on a full-load curve that gives power beside torque; for weighed runs, gears and pulls alike."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np

from calmday.metrology.middle import median
from calmday.physics.engine import power_w
from calmday.procedures.flag import Flag, flag
from calmday.records.vehicle import FullLoadCurve

_CURVE_TOLERANCE: Final = 0.015
_UNIT_FACTORS: Final = {"metric horsepower (PS)": 1.35962, "horsepower": 1.34102}


def curve_flags(curve: FullLoadCurve | None) -> Iterator[Flag]:
    """Where a curve gives power beside torque: do the two agree, and if not, is it a unit?"""
    if curve is None or curve.power_w is None:
        return
    ratio = np.array(curve.power_w) / np.maximum(power_w(np.array(curve.torque_nm), np.array(curve.speed_rps)), 1e-9)
    off = np.abs(ratio - 1) > _CURVE_TOLERANCE
    if not off.any():
        return
    common = median(ratio)
    nearest_first = sorted(_UNIT_FACTORS.items(), key=lambda item: abs(item[1] - common))
    for unit, factor in nearest_first:
        if np.all(np.abs(ratio / factor - 1) < _CURVE_TOLERANCE):
            yield flag(
                "curve-unit", "caution",
                f"Every power of the full-load curve is {common:.2f} times torque x speed.",
                f"One factor that mends all points is a unit: these powers fit {unit}.",
                "Rename the column's unit, or give torque alone. Torque is used here.",
            )  # fmt: skip
            return
    speeds = ", ".join(f"{60 * curve.speed_rps[i]:.0f}" for i in np.flatnonzero(off))
    yield flag(
        "curve-breaks-power", "caution",
        f"At {speeds} rpm power and torque of the full-load curve disagree by up to "
        f"{100 * np.abs(ratio - 1).max():.1f} %.",
        "Power is torque times speed; one of the two was misread or made up there.",
        "Read these points again. Torque is used here.",
    )  # fmt: skip
