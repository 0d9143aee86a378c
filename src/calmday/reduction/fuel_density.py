"""Density of the batch at 15 degC: measured, declared, or assumed by the kind of fuel."""

from __future__ import annotations

import math
from typing import Final, Literal

import msgspec

from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.fuel_volume import BASE_15C_K, density_15c, expansion_15c
from calmday.metrology.fuels import FuelProperties
from calmday.metrology.propagation import from_half_width_95
from calmday.metrology.rounding import format_to
from calmday.records.run import Run

DEFAULT_DECLARED_SD_KGPM3: Final = 1.5
"""A density somebody read off a hydrometer or a litre on the scale, one standard deviation; assumed."""

_SAME_TEMPERATURE_K: Final = 0.01
TEMPERATURE_SD_K: Final = 1.0
"""Doubt of a fuel temperature that was read, one standard deviation; assumed."""


class BatchDensity(msgspec.Struct, frozen=True, kw_only=True):
    """`density_15_kgpm3` at 15 degC with its standard uncertainty and who stands behind it."""

    density_15_kgpm3: float
    sd_kgpm3: float
    origin: Literal["measured", "declared", "assumed"]
    notes: tuple[str, ...] = ()


def batch_density(run: Run, fuel: FuelProperties) -> BatchDensity:
    """Density of a run's fuel at 15 degC [kg/m^3]: declared at its temperature and brought to 15 degC, or
    assumed.

    A declared density without a temperature is taken as at 15 degC, as receipts and data sheets state it.
    Table 53B.
    """
    declared = run.fuel.density_kgpm3
    if declared is None:
        kind = "a fuel whose kind is not said" if fuel.kind == "unknown" else fuel.kind
        note = f"density of {kind}: {fuel.density_15_kgpm3:.0f} kg/m³ at 15 °C assumed, not measured"
        return BatchDensity(
            density_15_kgpm3=fuel.density_15_kgpm3,
            sd_kgpm3=fuel.density_15_sd_kgpm3,
            origin="assumed",
            notes=(note,),
        )
    temperature = run.fuel.density_temperature_k
    rho, sd = declared.value, DEFAULT_DECLARED_SD_KGPM3
    if declared.half_width is not None:
        sd = from_half_width_95(declared.half_width)
    notes: list[str] = []
    if temperature is None:
        notes.append("density taken as at 15 °C: no temperature was given with it")
    elif abs(temperature - BASE_15C_K) > _SAME_TEMPERATURE_K:
        rho = density_15c(declared.value, temperature, fuel.expansion_per_k)
        alpha = expansion_15c(rho) if fuel.expansion_per_k is None else fuel.expansion_per_k
        # A declared half width covers hydrometer and thermometer; the default only the hydrometer.
        if declared.half_width is None:
            sd = math.hypot(sd, rho * alpha * TEMPERATURE_SD_K)
        notes.append(f"density brought from {format_to(temperature - ZERO_CELSIUS_K, 1)} °C to 15 °C")
    origin: Literal["measured", "declared"] = "measured" if declared.origin == "measured" else "declared"
    return BatchDensity(density_15_kgpm3=rho, sd_kgpm3=sd, origin=origin, notes=tuple(notes))
