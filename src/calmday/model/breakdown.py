"""Where the fuel's energy went, sample by sample, for a modest number of draws."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import AS_DRIVEN, Basis, Coefficients, coefficients
from calmday.model.drive import Drive
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel

FloatArray = NDArray[np.float64]

DESTINATIONS: Final = (
    "air drag, still air",
    "air drag, wind",
    "rolling resistance",
    "hills",
    "brakes",
    "driveline",
    "engine friction",
    "accessories",
    "idling",
    "exhaust and cooling",
)

_ROLLING = slice(0, 5)
_CLIMB = 5
_AIR = slice(6, None)
_STANDSTILL_MPS = 0.5
_CHUNK = 8


def energy_by_destination(
    model: VehicleModel, drive: Drive, basis: Basis, values: Values, step_s: FloatArray
) -> FloatArray:
    """Energy per destination and draw, joule, shape (m, len(DESTINATIONS)); rows sum to the fuel energy.

    `values` each (m,). "hills" is the net of climbs and descents and of speed gained; what the brakes took is the rest
    of the wheel energy, so nothing is counted twice.
    """
    count = len(values["test_mass"])
    parts = []
    for start in range(0, count, _CHUNK):
        rows = {key: value[start : start + _CHUNK] for key, value in values.items()}
        parts.append(_chunk(model, drive, basis, coefficients(model, basis, rows, AS_DRIVEN), rows, step_s))
    return np.concatenate(parts)


def _chunk(
    model: VehicleModel, drive: Drive, basis: Basis, c: Coefficients, p: Values, step_s: FloatArray
) -> FloatArray:
    standing = drive.speed_mps < _STANDSTILL_MPS
    moving_s = np.where(standing, 0.0, step_s)
    efficiency = c.efficiency[:, None]
    wheel = c.wheel @ basis.wheel
    asked = np.maximum(wheel / efficiency, wheel * efficiency)
    shaft = np.minimum(asked, c.cap[:, None] * basis.cap_w)
    driven = np.where(wheel > 0, shaft * efficiency, wheel)
    churning = c.loss[:, 4:20:5] @ basis.loss[4:20:5]
    accessories = c.loss[:, -1:] @ basis.loss[-1:]
    losses = c.loss @ basis.loss
    friction = losses - churning - accessories + (c.gain[:, None] - 1) * shaft
    indicated = np.maximum(c.gain[:, None] * shaft + losses, c.floor_w[:, None] * basis.running)
    rich = 1 + c.enrichment[:, None] * basis.decay

    still_air = np.outer(p["drag_area"] * p["air_density"], 0.5 * drive.air_density_kgpm3 * drive.speed_mps**3)
    air = c.wheel[:, _AIR] @ basis.wheel[_AIR]
    rolling = c.wheel[:, _ROLLING] @ basis.wheel[_ROLLING]
    climb = c.wheel[:, _CLIMB : _CLIMB + 1] @ basis.wheel[_CLIMB : _CLIMB + 1]

    work = indicated @ step_s
    fuel = (indicated * rich) @ step_s / p["indicated_efficiency"]
    idle = indicated @ np.where(standing, step_s, 0.0)
    driveline = (np.where(wheel > 0, shaft * (1 - efficiency), -wheel * (1 - efficiency)) + churning) @ moving_s
    rubbing = friction @ moving_s
    helpers = accessories @ moving_s
    columns = [
        still_air @ moving_s,
        (air - still_air) @ moving_s,
        rolling @ moving_s,
        (climb + driven - wheel) @ moving_s,
        np.zeros(len(work)),
        driveline,
        rubbing,
        helpers,
        idle,
        fuel - work,
    ]
    brakes = fuel - np.sum(columns, axis=0)
    columns[DESTINATIONS.index("brakes")] = brakes
    return np.stack(columns, axis=1)
