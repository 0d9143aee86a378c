"""Fuel burnt from fills, full to full: the pump measures well, the brim does not."""

from __future__ import annotations

import math
from typing import Final

from calmday.metrology.budget import root_sum_of_squares
from calmday.metrology.fuel_volume import BASE_15C_K, BASE_60F_K, expansion_15c, volume_correction_15c
from calmday.metrology.fuels import FuelProperties
from calmday.metrology.propagation import from_half_width_95, rectangular
from calmday.records.run import Fill, Run
from calmday.reduction.fuel_density import TEMPERATURE_SD_K, BatchDensity
from calmday.reduction.reduced_fuel import Contribution, ReducedFuel
from calmday.reduction.scale import brim_volume_sd_m3

PUMP_LIMIT: Final = 5e-3
"""Largest error allowed to a fuel dispenser, as a fraction. OIML R 117-1, accuracy class 0.5 (remembered)."""

UNREAD_TEMPERATURE_SD_K: Final = 5.0
"""Doubt of the fuel's temperature where nobody read it, one standard deviation; assumed."""


def reduce_fills(
    run: Run, fuel: FuelProperties, density: BatchDensity, fuel_temperature_k: float | None, notes: list[str]
) -> ReducedFuel:
    """Fuel burnt by volume: fills brought to 15 degC and summed [m^3]; mass follows through the density.

    Fills on the way need not be brim full alike: only the level before the first and after the last counts.
    """
    rho = density.density_15_kgpm3
    assumed = BASE_15C_K if fuel_temperature_k is None else fuel_temperature_k
    at_15 = [
        fill.volume_m3 * volume_correction_15c(rho, _temperature(fill, assumed), fuel.expansion_per_k)
        for fill in run.fills
    ]
    if any(fill.temperature_k is None for fill in run.fills):
        notes.append(f"fuel temperature of a fill: {assumed - 273.15:.0f} °C assumed")
    if run.fuel_system.null_test_kg:
        notes.append("null test left aside: the fuel was measured by volume")
    volume = math.fsum(at_15)
    in_volume = [c for c in _contributions(run, fuel, rho, at_15) if c.standard_uncertainty > 0.0]
    volume_sd = root_sum_of_squares(c.standard_uncertainty for c in in_volume)
    mass = volume * rho
    in_mass = [Contribution(c.source, c.standard_uncertainty * rho) for c in in_volume]
    in_mass.append(Contribution("fuel density", abs(volume) * density.sd_kgpm3))
    return ReducedFuel(
        measured="volume",
        mass_kg=mass,
        mass_sd_kg=root_sum_of_squares(c.standard_uncertainty for c in in_mass),
        mass_contributions=tuple(in_mass),
        volume_15_m3=volume,
        volume_15_sd_m3=volume_sd,
        volume_60f_m3=volume / volume_correction_15c(rho, BASE_60F_K, fuel.expansion_per_k),
        volume_contributions=tuple(in_volume),
        density_15_kgpm3=rho,
        density_15_sd_kgpm3=density.sd_kgpm3,
        density_origin=density.origin,
        as_read_kg=mass,
        buoyancy_factor=1.0,
        notes=tuple(notes),
    )


def _temperature(fill: Fill, assumed_k: float) -> float:
    return assumed_k if fill.temperature_k is None else fill.temperature_k


def _contributions(run: Run, fuel: FuelProperties, rho: float, at_15: list[float]) -> list[Contribution]:
    declared = [f.half_width_m3 for f in run.fills if f.half_width_m3 is not None]
    undeclared = math.fsum(v for f, v in zip(run.fills, at_15, strict=True) if f.half_width_m3 is None)
    alpha = expansion_15c(rho) if fuel.expansion_per_k is None else fuel.expansion_per_k
    read = math.fsum(v for f, v in zip(run.fills, at_15, strict=True) if f.temperature_k is not None)
    unread = math.fsum(at_15) - read
    return [
        Contribution("fill, as declared", root_sum_of_squares(from_half_width_95(h) for h in declared)),
        # One pump, one error: it does not average out over the fills.
        Contribution("pump meter", rectangular(PUMP_LIMIT * abs(undeclared))),
        Contribution("level of the full tank", _brim(run, rho)),
        Contribution("fuel temperature", alpha * math.hypot(read * TEMPERATURE_SD_K, unread * UNREAD_TEMPERATURE_SD_K)),
    ]


def _brim(run: Run, rho: float) -> float:
    """Doubt of the two full levels [m^3]: declared, or the trade's, or inside the declared doubt of every
    fill.

    A figure declared for lines and filter says nothing of a brim, which is no better known for it.
    """
    declared = run.fuel_system.repeatability_kg
    if declared is not None and run.fuel_system.arrangement == "brim to brim":
        return declared / rho
    if all(fill.half_width_m3 is not None for fill in run.fills):
        return 0.0
    return max(brim_volume_sd_m3(), (declared or 0.0) / rho)
