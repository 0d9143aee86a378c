"""What a stop costs: the same stretch driven through the forward model with one stop and without."""

from __future__ import annotations

from typing import Final

import numpy as np

from calmday.metrology.draws import FloatArray
from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import CALM_DAY, build_basis, coefficients
from calmday.model.cruise import steady_drive
from calmday.model.drive import Drive
from calmday.model.kernel import indicated_energy_j
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel
from calmday.physics.pacing import Paced, pace
from calmday.procedures.planned_route import BRAKE_MPS2, PULL_MPS2

STRETCH_M: Final = 4000.0
_NODE_M: Final = 4.0
_STEP_S: Final = 1.0


def stop_fuel_kg(model: VehicleModel, values: Values, speed_mps: float) -> FloatArray:
    """Extra fuel (kg) of one stop from a steady speed on the level calm day, warm, without the waiting; (m,).

    Braking with the clutch engaged, then pulling away to the same speed; the same distance is driven without the stop
    for comparison, so that drag saved while slow counts, and friction of the longer time.
    """
    with_stop = _fuel_kg(model, values, _stretch(speed_mps, stop=True))
    return with_stop - _fuel_kg(model, values, _stretch(speed_mps, stop=False))


def kinetic_fuel_kg(model: VehicleModel, values: Values, speed_mps: float) -> FloatArray:
    """Fuel (kg) behind the kinetic energy that one stop throws away, m v^2 / (2 eta e H), (m,): the usual rule."""
    heating = fuel_properties(model.fuel).net_heating_value_jpkg
    energy = 0.5 * values["test_mass"] * speed_mps**2
    return np.asarray(energy / (values["driveline_efficiency"] * values["indicated_efficiency"] * heating))


def idle_fuel_kgps(model: VehicleModel, values: Values) -> FloatArray:
    """Fuel of the warm idling engine, kg/s, (m,)."""
    return _fuel_kg(model, values, steady_drive(np.array([0.0])))


def _stretch(speed_mps: float, *, stop: bool) -> Drive:
    count = round(STRETCH_M / _NODE_M)
    hold = np.zeros(count)
    if stop:
        hold[count // 2] = 1e-6
    paced = pace(
        np.full(count, speed_mps),
        hold,
        _NODE_M,
        acceleration_mps2=PULL_MPS2,
        braking_mps2=BRAKE_MPS2,
        step_s=_STEP_S,
    )
    return _drive(paced)


def _drive(paced: Paced) -> Drive:
    steady = steady_drive(paced.speed_mps)
    return Drive(
        **{name: getattr(steady, name) for name in steady.__struct_fields__}
        | {
            "step_s": np.full(paced.speed_mps.size, paced.step_s),
            "acceleration_mps2": paced.acceleration_mps2,
        }
    )


def _fuel_kg(model: VehicleModel, values: Values, drive: Drive) -> FloatArray:
    basis = build_basis(model, drive)
    work = indicated_energy_j(basis, coefficients(model, basis, values, CALM_DAY), drive.step_s[:, None])[:, 0]
    return np.asarray(work / values["indicated_efficiency"] / fuel_properties(model.fuel).net_heating_value_jpkg)
