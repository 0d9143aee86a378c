"""Lift of the air on what is weighed."""

from __future__ import annotations

from typing import Final

CONVENTIONAL_WEIGHT_DENSITY_KGPM3: Final = 8000.0
"""Density of the weights a scale is adjusted with, by convention. OIML D 28:2004; OIML R 111-1:2004."""


def buoyancy_factor(
    air_density_kgpm3: float,
    fuel_density_kgpm3: float,
    weight_density_kgpm3: float = CONVENTIONAL_WEIGHT_DENSITY_KGPM3,
) -> float:
    """True mass over reading for fuel weighed in air [1].

    (1 - rho_a/rho_w) / (1 - rho_a/rho_f). Holds for the difference of two weighings of a vented can as well:
    the fuel that left was replaced by air. OIML D 28; NIST SOP 2 (NISTIR 6969).
    """
    return (1.0 - air_density_kgpm3 / weight_density_kgpm3) / (1.0 - air_density_kgpm3 / fuel_density_kgpm3)


def conventional_mass(mass_kg: float, density_kgpm3: float) -> float:
    """Conventional mass [kg] of a body of `mass_kg`: reference air 1.2 kg/m^3, reference density 8000. OIML D
    28.
    """
    return mass_kg * (1.0 - 1.2 / density_kgpm3) / (1.0 - 1.2 / CONVENTIONAL_WEIGHT_DENSITY_KGPM3)
