"""Steady speed on the level on the calm standard day."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import REFERENCE_PRESSURE_PA, REFERENCE_TEMPERATURE_K
from calmday.model.basis import CALM_DAY, REFERENCE_DENSITY, build_basis, coefficients
from calmday.model.drive import Drive
from calmday.model.kernel import indicated_energy_j
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel

FloatArray = NDArray[np.float64]

WARM_S = 1e6


class Cruise(msgspec.Struct, frozen=True):
    """At each speed (s,): fuel power per draw (m, s) in watt of fuel, engine speed (s,), share of draws that hold
    it."""

    speed_mps: FloatArray
    fuel_power_w: FloatArray
    engine_rps: FloatArray
    sustainable: FloatArray


def steady_drive(speed_mps: FloatArray, grade: float = 0.0, head_wind_mps: float = 0.0) -> Drive:
    """One second at each speed, northbound, in reference air; the head wind comes from the north."""
    zero = np.zeros_like(speed_mps)
    return Drive(
        step_s=zero + 1.0,
        elapsed_s=zero + WARM_S,
        speed_mps=speed_mps,
        acceleration_mps2=zero,
        grade=zero + grade,
        heading_rad=zero,
        wind_east_mps=zero,
        wind_north_mps=zero - head_wind_mps,
        turbulence_along_mps2=zero,
        turbulence_across_mps2=zero,
        air_density_kgpm3=zero + REFERENCE_DENSITY,
        temperature_k=zero + REFERENCE_TEMPERATURE_K,
        pressure_pa=zero + REFERENCE_PRESSURE_PA,
        running=zero + 1.0,
        wind_factor_log_sd=0.0,
        wind_offset_sd_mps=0.0,
        direction_sd_rad=0.0,
        density_relative_sd=0.0,
    )


def level_cruise(model: VehicleModel, values: Values, speeds_mps: FloatArray) -> Cruise:
    """Fuel power at steady speeds on the level, calm standard day, in the tallest gear that pulls. Every speed
    is held for good: the next one says nothing of its gear."""
    drive = steady_drive(speeds_mps)
    held = msgspec.structs.replace(drive, step_s=np.full_like(speeds_mps, np.inf))
    early = build_basis(model, held).early
    basis = build_basis(model, drive, (early, early))
    taken = coefficients(model, basis, values, CALM_DAY)
    work = indicated_energy_j(basis, taken, np.eye(speeds_mps.size))
    wheel = taken.wheel @ basis.wheel
    holds = wheel / taken.efficiency[:, None] <= taken.cap[:, None] * basis.cap_w
    within = basis.early.engine_rps <= 1.02 * model.governed_rps
    return Cruise(
        speed_mps=speeds_mps,
        fuel_power_w=work / values["indicated_efficiency"][:, None],
        engine_rps=basis.early.engine_rps,
        sustainable=np.where(within, holds.mean(axis=0), 0.0),
    )
