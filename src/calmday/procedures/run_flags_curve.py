"""Flags on a full-load curve that gives power beside torque; for weighed runs, gears, pulls and traced charts alike."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from calmday.physics.power_torque import TOLERANCE, Agreement, agreement
from calmday.procedures.flag import Flag, flag
from calmday.records.vehicle import FullLoadCurve


def curve_flags(curve: FullLoadCurve | None) -> Iterator[Flag]:
    """Where a curve gives power beside torque: do the two agree, and if not, is it a unit, an axis, or an end?"""
    if curve is None or curve.power_w is None:
        return
    rps, torque, power = (np.array(part) for part in (curve.speed_rps, curve.torque_nm, curve.power_w))
    tolerance = np.full(rps.size, TOLERANCE) if curve.half_width is None else np.maximum(TOLERANCE, curve.half_width)
    yield from agreement_flags(curve, agreement(rps, torque, power, tolerance))


def agreement_flags(curve: FullLoadCurve, found: Agreement) -> Iterator[Flag]:
    """The flag of a verdict on power against torque x speed, if there is one."""
    match found.verdict:
        case "unit":
            yield flag(
                "curve-unit", "caution",
                f"Every power of the full-load curve is {found.factor:.3g} times torque x speed.",
                f"One factor that mends all points is a unit: {' or '.join(found.units)}.",
                "Name the unit as the chart has it, or give torque alone. Torque is used here.",
            )  # fmt: skip
        case "speed axis":
            side = "higher" if found.shift_rps > 0 else "lower"
            yield flag(
                "curve-breaks-power", "caution",
                f"At {_speeds(curve, found)} rpm power and torque of the full-load curve disagree by up to "
                f"{_most(found):.1f} %.",
                f"All points would fit if the engine speed were {abs(60 * found.shift_rps):.0f} rpm {side}: the engine "
                "speed axis was read off by that much.",
                "Look at the engine speed axis again. Torque is used here.",
            )  # fmt: skip
        case "part":
            yield _part(curve, found)
        case "agree":
            return


def _part(curve: FullLoadCurve, found: Agreement) -> Flag:
    off = np.flatnonzero(found.off)
    top = off[-1] == len(curve.speed_rps) - 1 and np.all(np.diff(off) == 1) and off[0] > 0
    bottom = off[0] == 0 and np.all(np.diff(off) == 1) and off[-1] < len(curve.speed_rps) - 1
    where = "there"
    if top:
        where = f"above {60 * curve.speed_rps[off[0] - 1]:.0f} rpm"
    elif bottom:
        where = f"below {60 * curve.speed_rps[off[-1] + 1]:.0f} rpm"
    return flag(
        "curve-breaks-power", "caution",
        f"At {_speeds(curve, found)} rpm power and torque of the full-load curve disagree by up to "
        f"{_most(found):.1f} %.",
        f"Power is torque times speed; one of the two was misread or made up {where}.",
        "Read these points again. The lower of the two is used there, with a band as wide as they differ: up to "
        f"{_most(found):.0f} % either way.",
    )  # fmt: skip


def _speeds(curve: FullLoadCurve, found: Agreement) -> str:
    return ", ".join(f"{60 * curve.speed_rps[i]:.0f}" for i in np.flatnonzero(found.off))


def _most(found: Agreement) -> float:
    """The largest disagreement, per cent."""
    return 100 * float(np.abs(found.ratio - 1).max())
