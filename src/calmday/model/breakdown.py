"""Where the fuel's energy went, sample by sample, for a modest number of draws."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import AS_DRIVEN, Basis, Coefficients, coefficients, high_load_w
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
_CHURNING = slice(4, 20, 5)
_CHUNK_ELEMENTS = 80_000


def energy_by_destination(
    model: VehicleModel, drive: Drive, basis: Basis, values: Values, step_s: FloatArray
) -> FloatArray:
    """Energy per destination and draw, joule, shape (m, len(DESTINATIONS)); rows sum to the fuel energy.

    `values` each (m,). "hills" is the net of climbs and descents and of speed gained; what the brakes took is the rest
    of the wheel energy, so nothing is counted twice.
    """
    c = coefficients(model, basis, values, AS_DRIVEN)
    standing = drive.speed_mps < _STANDSTILL_MPS
    moving_s = np.where(standing, 0.0, step_s)
    weights = np.stack([step_s, step_s * basis.decay, step_s - moving_s], axis=1)
    rows = max(1, _CHUNK_ELEMENTS // max(1, len(drive)))
    starts = range(0, len(c.efficiency), rows)
    flows = [_flows(c, basis, slice(start, start + rows), moving_s, weights) for start in starts]
    shaft, held_back, beyond, work, choked, idle = np.concatenate(flows).T
    pulled = shaft - c.efficiency * held_back

    wheel = c.wheel * (basis.wheel @ moving_s)
    losses = c.loss * (basis.loss @ moving_s)
    churning, helpers = losses[:, _CHURNING].sum(axis=1), losses[:, -1]
    fuel = (work + c.enrichment * choked) / values["indicated_efficiency"]
    still_air = 0.5 * (drive.air_density_kgpm3 * drive.speed_mps**3) @ moving_s
    still = values["drag_area"] * values["air_density"] * still_air
    columns = [
        still,
        wheel[:, _AIR].sum(axis=1) - still,
        wheel[:, _ROLLING].sum(axis=1),
        wheel[:, _CLIMB] + c.efficiency * pulled + held_back - wheel.sum(axis=1),
        np.zeros_like(work),
        (1 - c.efficiency) * (pulled - held_back) + churning,
        losses.sum(axis=1) - churning - helpers + (c.gain - 1) * shaft,
        helpers,
        idle,
        fuel - work + beyond,
    ]
    columns[DESTINATIONS.index("brakes")] = fuel - np.sum(columns, axis=0)
    return np.stack(columns, axis=1)


def _flows(c: Coefficients, basis: Basis, draws: slice, moving_s: FloatArray, weights: FloatArray) -> FloatArray:
    """What is not linear in the coefficients, joule, one row for each of the draws.

    Energy at the flywheel on the move; at the wheels while they drive the engine (negative); what high load takes on
    top; indicated energy by each of the three columns of `weights`.
    """
    efficiency = c.efficiency[draws, None]
    wheel = c.wheel[draws] @ basis.wheel
    held_back = np.minimum(wheel, 0.0)
    asked = np.maximum(wheel / efficiency, wheel * efficiency)
    shaft, extra = high_load_w(asked, c.cap[draws, None] * basis.cap_w)
    beyond = c.gain[draws, None] * extra
    indicated = c.gain[draws, None] * shaft + beyond + c.loss[draws] @ basis.loss
    np.maximum(indicated, c.floor_w[draws, None] * basis.running, out=indicated)
    return np.column_stack([shaft @ moving_s, held_back @ moving_s, beyond @ moving_s, indicated @ weights])
