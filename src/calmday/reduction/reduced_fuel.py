"""Fuel burnt, as reduced from weighings or fills, with a budget."""

from __future__ import annotations

from typing import Literal

import msgspec


class Contribution(msgspec.Struct, frozen=True):
    """One source of doubt: `standard_uncertainty` in the unit of the figure it belongs to."""

    source: str
    standard_uncertainty: float


class ReducedFuel(msgspec.Struct, frozen=True, kw_only=True):
    """Fuel that went through the engine.

    `mass_kg` true mass, buoyancy corrected; `mass_contributions` in kg, independent of each other. `density_15_kgpm3`
    density at 15 degC with its standard uncertainty and whether it was measured or assumed. `volume_15_m3`,
    `volume_60f_m3` volume at 15 degC and at 60 degF. `as_read_kg` difference of readings before any correction,
    `buoyancy_factor` the correction (as read, correction, corrected). `null_test_correction_kg` mean of a
    null test, taken off the reading before buoyancy. For fills by volume `measured` is "volume": the
    volume's contributions are then in `volume_contributions` (m3 at 15 degC) and mass follows through density.
    """

    measured: Literal["mass", "volume"]
    mass_kg: float
    mass_sd_kg: float
    mass_contributions: tuple[Contribution, ...]
    volume_15_m3: float
    volume_15_sd_m3: float
    volume_60f_m3: float
    volume_contributions: tuple[Contribution, ...]
    density_15_kgpm3: float
    density_15_sd_kgpm3: float
    density_origin: Literal["measured", "declared", "assumed"]
    as_read_kg: float
    buoyancy_factor: float
    null_test_correction_kg: float = 0.0
    notes: tuple[str, ...] = ()
