"""Which measurement would tell most per hour, computed from the draws of what is known.

For a measurement that reads m = f(vehicle) with spread s, the variance of a figure y falls by
cov(y, f)' (cov(f) + s^2)^-1 cov(y, f): exact for normal draws. Information in bits per hour as in
`procedures.what_next` (Lindley 1956).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.model.basis import CHURNING_SPEED_MPS
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.engine import friction_mean_pressure_pa, swept_rate_m3ps
from calmday.procedures.knowledge_result import NextMeasurement

FloatArray = NDArray[np.float64]
Values = Mapping[str, FloatArray]
LEAST_SHRINK: Final = 0.03
_AIR: Final = 1.19
WEIGHED_RUN_SD: Final = 0.05
"""What one weighed run leaves open of a vehicle's consumption: its scatter about other days, its wind, cold start and
gears; median of the weighed runs of `studies/pooling.py`."""


class _Measurement(msgspec.Struct, frozen=True):
    code: str
    what: str
    minutes: float
    tells_of: str
    reads: Callable[[VehicleModel, Values], tuple[FloatArray, ...]]
    spread: float


def _log_force(p: Values, speed: float) -> FloatArray:
    rolling = p["test_mass"] * STANDARD_GRAVITY_MPS2 * p["rolling_resistance"]
    drive = 0.5 * p["driveline_drag"] * (1 + speed / CHURNING_SPEED_MPS)
    growth = 1 + p["rolling_growth"] * ((3.6 * speed / 100) ** 2 - 0.49)
    return np.asarray(np.log(rolling * growth + drive + 0.5 * _AIR * p["drag_area"] * speed**2))


def _log_idle(model: VehicleModel, p: Values) -> FloatArray:
    mep = friction_mean_pressure_pa(
        np.array(model.idle_rps), p["friction_mep"], p["friction_slope"], model.friction_reference_rps
    )
    mep = mep + (p["pumping_mep"] if model.engine_class.throttled else 0.0)
    work = swept_rate_m3ps(model.displacement_m3, model.idle_rps, model.strokes) * mep + 0.7 * p["accessory_power"]
    return np.asarray(np.log(work / p["indicated_efficiency"]))


def _tow(_model: VehicleModel, p: Values) -> tuple[FloatArray, ...]:
    return (_log_force(p, 1.2),)


def next_measurements(
    model: VehicleModel, values: Values, log_fuel: FloatArray, figure: tuple[float, str], runs: int
) -> tuple[NextMeasurement, ...]:
    """What to measure next, most bits per hour first. `log_fuel` (m,) draws of ln consumption at 80 km/h; `figure` its
    value and unit; `runs` how many weighed runs there are already."""
    measurements = [
        _Measurement(
            "coastdown", "Make three pairs of coastdowns", 90, "air drag and rolling resistance",
            lambda _m, p: (_log_force(p, 12.0), _log_force(p, 25.0)), 0.03,
        ),
        _Measurement(
            "roll-down", "Time it from 80 down to 60 km/h out of gear with a watch, both ways", 25, "drag and rolling",
            lambda _m, p: (_log_force(p, 19.4),), 0.04,
        ),
        _Measurement(
            "weighbridge", "Weigh the vehicle as driven", 30, "its mass",
            lambda _m, p: (np.log(p["test_mass"]),), 0.005,
        ),
        _Measurement(
            "tow-force", "Tow it at walking pace with a spring scale, both ways", 30, "rolling resistance", _tow, 0.06,
        ),
        _Measurement(
            "idle-burn", "Weigh what it burns idling warm for half an hour", 45, "friction against efficiency",
            lambda m, p: (_log_idle(m, p),), 0.05,
        ),
        _Measurement(
            "roll-out", "Roll it ten turns of the wheel and measure the way", 20, "gearing",
            lambda _m, p: (np.log(p["gearing_scale"]),), 0.004,
        ),
        _Measurement(
            "weighed-run", "Drive another weighed run" if runs else "Drive a weighed run", 85, "all of it, by its fuel",
            lambda _m, _p: (log_fuel,), WEIGHED_RUN_SD,
        ),
    ]  # fmt: skip
    value, unit = figure
    spread = float(log_fuel.std(ddof=1))
    found = []
    for one in measurements:
        reads = np.stack([np.broadcast_to(x, log_fuel.shape) for x in one.reads(model, values)])
        both = np.atleast_2d(np.cov(np.concatenate([reads, log_fuel[None]])))
        aim, own = both[-1, :-1], both[:-1, :-1] + one.spread**2 * np.eye(len(reads))
        left = max(spread**2 - float(aim @ np.linalg.solve(own, aim)), 1e-12)
        ratio = min(math.sqrt(left) / spread, 1.0) if spread > 0 else 1.0
        if ratio > 1 - LEAST_SHRINK:
            continue
        half = HALF_WIDTH_PER_SD * spread * value
        found.append(
            NextMeasurement(
                code=one.code, what=one.what, minutes=one.minutes, half_width_now=half, half_width_then=half * ratio,
                unit=unit, bits_per_hour=-math.log2(ratio) / (one.minutes / 60), tells_of=one.tells_of,
            )
        )  # fmt: skip
    return tuple(sorted(found, key=lambda step: -step.bits_per_hour))
