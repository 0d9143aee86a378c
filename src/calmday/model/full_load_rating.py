"""A full-load curve as it was measured, gross or net, at the engine or at the wheels, as power at the flywheel with the
fan and alternator that the road has.

A gross curve is that of a bare engine: fan, alternator, air filter and silencer then take 3 to 10 % (trade). A curve
from rollers is what came to the wheels: the driveline's losses and the accessories are put back,
  P = P_wheels / eta + P_acc + D v (1 + v / v_D),   v = n / z in the gear nearest to direct drive.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from calmday.model.full_load import common_sd, trusted
from calmday.records.vehicle import Engine, FullLoadCurve

GROSS_TO_NET: Final = (0.935, 0.02)
"""Net over gross, and its relative spread: 3 to 10 % less (trade, no document)."""

CHURNING_SPEED_MPS: Final = 25.0
"""As in `basis`."""

ROLLERS_SPREAD: Final = 0.03
"""How well rollers know the power at the wheels: slip, straps, tyres that roll harder there. Assumed."""


class Losses(msgspec.Struct, frozen=True, kw_only=True):
    """What lies between flywheel and wheels: `efficiency`, churning force at no speed (N), accessories (W)."""

    efficiency: float
    churning_n: float
    accessories_w: float


def curve_spread(engine: Engine) -> float:
    """Relative doubt of full load, one standard deviation."""
    curve = common_sd(trusted(engine.full_load))
    if engine.full_load is None:
        return curve
    gross = GROSS_TO_NET[1] if engine.full_load_rating == "gross" else 0.0
    rollers = ROLLERS_SPREAD if engine.full_load_at == "wheels" else 0.0
    return math.hypot(curve, gross, rollers)


def flywheel_curve(engine: Engine, turns_per_metre: tuple[float, ...], losses: Losses) -> FullLoadCurve | None:
    """The declared curve as net torque at the flywheel; None where none is declared.

    `turns_per_metre` of each gear, first gear first; rollers are driven in the gear nearest to direct, taken to be the
    last but one of five and more.
    """
    curve = trusted(engine.full_load)
    if curve is None or (engine.full_load_rating != "gross" and engine.full_load_at != "wheels"):
        return curve
    rps, torque = np.array(curve.speed_rps), np.array(curve.torque_nm)
    if engine.full_load_at == "wheels":
        direct = turns_per_metre[-2] if len(turns_per_metre) > 4 else turns_per_metre[-1]
        speed = rps / direct
        lost = losses.accessories_w + losses.churning_n * speed * (1 + speed / CHURNING_SPEED_MPS)
        torque = torque / losses.efficiency + lost / (2 * math.pi * rps)
    elif engine.full_load_rating == "gross":
        torque = torque * GROSS_TO_NET[0]
    return msgspec.structs.replace(curve, torque_nm=tuple(torque.tolist()), power_w=None)
