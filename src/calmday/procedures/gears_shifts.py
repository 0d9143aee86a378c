"""Changes of gear as figures: in road speed by satellite, on a speedometer whose factor is known, in engine speed; and
the card for the dashboard."""

from __future__ import annotations

from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.figure import Figure, from_draws
from calmday.procedures.gears import KMH, RPM, Swept, swept, thinned
from calmday.procedures.gears_forces import Conditions
from calmday.procedures.gears_holding import Held, in_hand
from calmday.procedures.gears_result import (
    CardRow,
    ChangeBasis,
    GearBand,
    ShiftCard,
    ShiftPoint,
    ShiftPoints,
    TachometerMarks,
)
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.procedures.shift_points import (
    LOAD_SHARE,
    Change,
    for_acceleration,
    for_least_fuel,
    fuel_saving,
    labouring_speed_mps,
)

FloatArray = NDArray[np.float64]

CARD_GRADE: Final = 0.05
CARD_HEAD_WIND_MPS: Final = 8.0
"""Hill and head wind of the card where none is asked for."""

BELOW_GOVERNED: Final = 0.97
"""A change "at governed speed" on the card stands this far below it: the governor begins to take fuel away earlier."""

BACK_DOWN: Final = 0.92
"""Change back down at this share of the speed for changing up, so that the card does not send a driver to and fro."""

POINT_DRAWS, CARD_DRAWS = 300, 120
"""Draws for changes of gear, whose mean and interval settle sooner than a tail; the card shows means only."""

CRUISE_SHARES: Final = (0.85, 0.90)
"""Cruise 10 to 15 % below governed speed (trade rule, published)."""

NO_CHANGES: Final = ShiftPoints(best_acceleration=(), least_fuel=())
NO_CARD: Final = ShiftCard(
    rows=(), bands=(), hill_grade=CARD_GRADE, headwind=CARD_HEAD_WIND_MPS, cruise_gear=None, cruise_slow=None,
    cruise_fast=None,
)  # fmt: skip
"""Where nobody asked for changes of gear."""


def shift_points(made: Swept, speedometer_factor: float | None, share: float = LOAD_SHARE) -> ShiftPoints:
    """Every change up in the conditions asked for. `speedometer_factor` true over indicated speed; `share` of full load
    that the next gear may need where fuel is to be saved."""
    vehicle, on = thinned(made.vehicle, POINT_DRAWS), made.on
    few = swept(vehicle, on)
    pairs = list(vehicle.gears)[:-1]
    quick = [for_acceleration(vehicle, on, gear) for gear in pairs]
    thrifty = [for_least_fuel(vehicle, on, gear, share) for gear in pairs]
    return ShiftPoints(
        best_acceleration=tuple(_point(few, change, speedometer_factor, False) for change in quick),
        least_fuel=tuple(_point(few, change, speedometer_factor, True) for change in thrifty),
    )


def _point(made: Swept, change: Change, factor: float | None, thrifty: bool) -> ShiftPoint:
    vehicle, gear = made.vehicle, change.gear
    there = np.isfinite(change.speed_mps)
    usual = bool(there.mean() >= 0.5)
    speed = change.speed_mps[there]
    before = speed * vehicle.turns_per_metre(gear)[there]
    after = speed * vehicle.turns_per_metre(gear + 1)[there]
    saving: Figure | None = None
    if thrifty and usual:
        saving = from_draws(100 * fuel_saving(vehicle, made.on, change)[there], "%")
    return ShiftPoint(
        from_gear=gear + 1,
        to_gear=gear + 2,
        speed=from_draws(KMH * speed, "km/h") if usual else None,
        speedometer=from_draws(KMH * speed / factor, "km/h") if usual and factor else None,
        engine_speed_before=from_draws(RPM * before, "rpm") if usual else None,
        engine_speed_after=from_draws(RPM * after, "rpm") if usual else None,
        basis=_basis(change, usual, thrifty),
        reached=_reached(change, made.held[gear]),
        fuel_saving=saving,
    )


def _basis(change: Change, usual: bool, thrifty: bool) -> ChangeBasis:
    if not usual:
        return "stay"
    if np.mean(change.at_governor) >= 0.5:
        return "governed speed"
    if not thrifty:
        return "equal acceleration"
    return "smooth running" if np.mean(change.at_smooth) >= 0.5 else "load"


def _reached(change: Change, held: Held) -> float:
    """Share of the draws that get to the speed of the change in the lower gear."""
    able = np.nan_to_num(held.speed_mps) >= change.speed_mps * (1 - 1e-6)
    return float(np.mean(able & np.isfinite(change.speed_mps)))


def shift_card(
    made: Swept, cruise_gear: int | None, speedometer_factor: float | None, share: float = LOAD_SHARE
) -> ShiftCard:
    """The card: on the level, on a hill, into a head wind. What is asked for stands in for the usual hill and wind."""
    vehicle, on = thinned(made.vehicle, CARD_DRAWS), made.on
    grade = on.grade if on.grade > 0 else CARD_GRADE
    wind = on.head_wind_mps if on.head_wind_mps > 0 else CARD_HEAD_WIND_MPS
    level = _with(on, 0.0, 0.0)
    hill, windy = _with(on, grade, 0.0), _with(on, 0.0, wind)
    on_hill = swept(vehicle, hill)
    rows = []
    for gear in list(vehicle.gears)[:-1]:
        ups = [
            _usual_speed(for_least_fuel(vehicle, level, gear, share).speed_mps),
            _hill_speed(vehicle, hill, on_hill.held[gear], gear),
            _usual_speed(for_least_fuel(vehicle, windy, gear, share).speed_mps),
        ]
        downs = [None if up is None else round(BACK_DOWN * up, 1) for up in ups]
        per_kmh = RPM / KMH * float(np.mean(vehicle.turns_per_metre(gear)))
        turns = [None if up is None else round(per_kmh * up, 0) for up in ups]
        rows.append(
            CardRow(
                from_gear=gear + 1, to_gear=gear + 2,
                level_up=ups[0], level_down=downs[0],
                hill_up=ups[1], hill_down=downs[1],
                headwind_up=ups[2], headwind_down=downs[2],
                level_rpm=turns[0], hill_rpm=turns[1], headwind_rpm=turns[2],
            )
        )  # fmt: skip
    slow, fast = _cruise(made, cruise_gear)
    return ShiftCard(
        rows=tuple(rows),
        bands=tuple(_band(vehicle, gear) for gear in vehicle.gears),
        hill_grade=grade,
        headwind=wind,
        cruise_gear=cruise_gear,
        cruise_slow=slow,
        cruise_fast=fast,
        speedometer_factor=speedometer_factor,
        reserve=round(1 - share, 4),
        marks=_marks(vehicle),
    )


def _marks(vehicle: GearVehicle) -> TachometerMarks:
    governed = RPM * vehicle.governed_rps
    slow, fast = CRUISE_SHARES
    return TachometerMarks(
        labour=round(RPM * float(np.mean(vehicle.smooth_rps)), 0),
        cruise_slow=round(slow * governed, 0),
        cruise_fast=round(fast * governed, 0),
        change_by=round(BELOW_GOVERNED * governed, 0),
        governed=round(governed, 0),
    )


def _with(on: Conditions, grade: float, wind: float) -> Conditions:
    return msgspec.structs.replace(on, head_wind_mps=wind, grade=grade)


def _usual_speed(speed_mps: FloatArray) -> float | None:
    """Mean speed of a change in km/h where most draws change at all."""
    there = np.isfinite(speed_mps)
    return round(KMH * float(speed_mps[there].mean()), 1) if there.mean() >= 0.5 else None


def _hill_speed(vehicle: GearVehicle, hill: Conditions, held: Held, gear: int) -> float | None:
    """Change up on the hill, km/h: as for best acceleration, if the speed is reached and the next gear pulls there."""
    change = for_acceleration(vehicle, hill, gear)
    governed = vehicle.governed_rps / vehicle.turns_per_metre(gear)
    speed = float(np.mean(np.minimum(change.speed_mps, BELOW_GOVERNED * governed)))
    reached = np.mean(np.nan_to_num(held.speed_mps) >= speed) >= 0.5
    next_pulls = np.mean(in_hand(vehicle, hill, gear + 1, speed).reserve_n >= 0) >= 0.5
    return round(KMH * speed, 1) if reached and next_pulls else None


def _band(vehicle: GearVehicle, gear: int) -> GearBand:
    slow = float(np.mean(labouring_speed_mps(vehicle, gear)))
    fast = float(np.mean(vehicle.governed_rps / vehicle.turns_per_metre(gear)))
    return GearBand(gear=gear + 1, slowest=round(KMH * slow, 1), fastest=round(KMH * fast, 1))


def _cruise(made: Swept, gear: int | None) -> tuple[float | None, float | None]:
    """Cruising band of a gear in km/h; none where the gear does not hold it anyway."""
    if gear is None:
        return None, None
    vehicle = made.vehicle
    governed = float(np.mean(vehicle.governed_rps / vehicle.turns_per_metre(gear - 1)))
    slow, fast = (round(KMH * share * governed, 1) for share in CRUISE_SHARES)
    held = KMH * made.held[gear - 1].speed_mps
    return (slow, fast) if np.mean(np.nan_to_num(held) >= fast) >= 0.5 else (None, None)
