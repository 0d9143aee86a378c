"""What is known of a fuel by its kind alone: density, heating value, carbon dioxide, limits of its standard.

Every figure names its source. `seen`: read at the source or a faithful copy; `remembered`: handbook figure,
not seen; `assumed`: a choice of ours. A declared or measured figure always replaces these.
"""

from __future__ import annotations

from typing import Final

import msgspec

_LITRE_GROUP = "national fuel table, spbi.se (seen)"
_JEC = "JEC well-to-wheels set (remembered)"


class FuelProperties(msgspec.Struct, frozen=True, kw_only=True):
    """One kind of fuel. `*_sd` one standard deviation over what is sold under that name.

    `density_limits_kgpm3` at 15 degC by `standard`; None where it sets none. `expansion_per_k` where the
    petroleum tables do not fit; None: take the tables. `evaporates` true where vapour is lost from an open
    can.
    """

    kind: str
    density_15_kgpm3: float
    density_15_sd_kgpm3: float
    density_source: str
    net_heating_value_jpkg: float
    net_heating_value_sd_jpkg: float
    heating_value_source: str
    co2_kgpkg: float
    co2_sd_kgpkg: float
    co2_source: str
    density_limits_kgpm3: tuple[float, float] | None
    standard: str
    expansion_per_k: float | None = None
    evaporates: bool = False


FUELS: Final[dict[str, FuelProperties]] = {
    fuel.kind: fuel
    for fuel in (
        FuelProperties(
            kind="diesel",
            density_15_kgpm3=832.0,  # UK 2025 average forecourt 832.4
            density_15_sd_kgpm3=7.2,  # rectangular over 820 to 845
            density_source="UK 2025 factors, 832.4 kg/m^3 (seen); spread: EN 590 limits, rectangular",
            net_heating_value_jpkg=42.8e6,
            net_heating_value_sd_jpkg=0.3e6,
            heating_value_source=f"42.6 to 43.1 MJ/kg: UK 2025 factors 42.84, {_LITRE_GROUP} 42.64",
            co2_kgpkg=3.165,
            co2_sd_kgpkg=0.015,
            co2_source=f"{_LITRE_GROUP}: 2.66 kg/L at 840 kg/m^3",
            density_limits_kgpm3=(820.0, 845.0),
            standard="EN 590, temperate grades (seen)",
        ),
        FuelProperties(
            kind="petrol",
            density_15_kgpm3=745.0,
            density_15_sd_kgpm3=9.7,
            density_source="741 to 750 kg/m^3 in national tables (seen); spread 1.3 % (assumed)",
            net_heating_value_jpkg=43.2e6,
            net_heating_value_sd_jpkg=0.4e6,
            heating_value_source=f"42.98 (40 CFR 600 App. II, seen) to 43.68 MJ/kg ({_LITRE_GROUP})",
            co2_kgpkg=3.15,
            co2_sd_kgpkg=0.02,
            co2_source=f"{_LITRE_GROUP}: 2.36 kg/L at 750 kg/m^3",
            density_limits_kgpm3=(720.0, 775.0),
            standard="EN 228:2012 (seen)",
            evaporates=True,
        ),
        FuelProperties(
            kind="e10",
            density_15_kgpm3=748.0,
            density_15_sd_kgpm3=9.0,
            density_source="petrol with 10 % ethanol by volume at 794 kg/m^3 (computed); spread assumed",
            net_heating_value_jpkg=41.5e6,
            net_heating_value_sd_jpkg=0.4e6,
            heating_value_source="0.894 x 43.2 + 0.106 x 26.8 MJ/kg by mass fractions (computed)",
            co2_kgpkg=3.02,
            co2_sd_kgpkg=0.02,
            co2_source="0.894 x 3.15 + 0.106 x 1.911 kg/kg by mass fractions (computed)",
            density_limits_kgpm3=(720.0, 775.0),
            standard="EN 228:2012 (seen)",
            evaporates=True,
        ),
        FuelProperties(
            kind="biodiesel",
            density_15_kgpm3=884.0,
            density_15_sd_kgpm3=5.0,
            density_source=f"{_LITRE_GROUP} 884, UK 2025 factors 890 kg/m^3; spread assumed",
            net_heating_value_jpkg=37.2e6,
            net_heating_value_sd_jpkg=0.3e6,
            heating_value_source=f"UK 2025 factors 37.2 MJ/kg (seen); {_LITRE_GROUP} 37.3",
            co2_kgpkg=2.83,
            co2_sd_kgpkg=0.03,
            co2_source=f"76.2 g/MJ x 37.2 MJ/kg, {_JEC}",
            density_limits_kgpm3=(860.0, 900.0),
            standard="EN 14214 (seen)",
        ),
        FuelProperties(
            kind="hvo",
            density_15_kgpm3=780.0,
            density_15_sd_kgpm3=5.0,
            density_source=f"{_LITRE_GROUP}; spread assumed",
            net_heating_value_jpkg=43.9e6,
            net_heating_value_sd_jpkg=0.3e6,
            heating_value_source=f"{_LITRE_GROUP} 43.6, {_JEC} 44.0 MJ/kg",
            co2_kgpkg=3.11,
            co2_sd_kgpkg=0.02,
            co2_source=f"70.8 g/MJ x 44.0 MJ/kg, {_JEC}",
            density_limits_kgpm3=(765.0, 800.0),
            standard="EN 15940 class A (remembered)",
        ),
        FuelProperties(
            kind="ethanol",
            density_15_kgpm3=792.0,
            density_15_sd_kgpm3=5.0,
            density_source=f"{_LITRE_GROUP} 790; pure ethanol 794 kg/m^3 (remembered); spread assumed",
            net_heating_value_jpkg=26.8e6,
            net_heating_value_sd_jpkg=0.4e6,
            heating_value_source=f"{_LITRE_GROUP} 26.9; pure ethanol 26.8 MJ/kg (remembered)",
            co2_kgpkg=1.911,
            co2_sd_kgpkg=0.02,
            co2_source="2 x 44.0095 / 46.0684 from C2H5OH (computed)",
            density_limits_kgpm3=None,
            standard="",
            expansion_per_k=1.09e-3,  # OIML R 22 alcoholometric tables near 15 degC (remembered)
            evaporates=True,
        ),
        FuelProperties(
            kind="lpg",
            density_15_kgpm3=540.0,
            density_15_sd_kgpm3=18.0,
            density_source="propane 508, butane 584 kg/m^3 (remembered); mixtures sold (assumed)",
            net_heating_value_jpkg=46.0e6,
            net_heating_value_sd_jpkg=0.3e6,
            heating_value_source=_JEC,
            co2_kgpkg=3.02,
            co2_sd_kgpkg=0.02,
            co2_source=f"65.7 g/MJ x 46.0 MJ/kg, {_JEC}",
            density_limits_kgpm3=None,
            standard="",
            expansion_per_k=2.6e-3,  # liquid propane 2.9e-3, butane 1.9e-3 (remembered)
            evaporates=True,
        ),
    )
}

FUEL_WORDS: Final = {kind: {"hvo": "HVO", "lpg": "LPG", "e10": "petrol E10"}.get(kind, kind) for kind in FUELS}
"""What each is called in a sentence."""

UNKNOWN: Final = FuelProperties(
    kind="unknown",
    density_15_kgpm3=795.0,
    density_15_sd_kgpm3=38.0,
    density_source="anywhere between petrol and diesel (assumed)",
    net_heating_value_jpkg=43.0e6,
    net_heating_value_sd_jpkg=0.5e6,
    heating_value_source="petrol or diesel (assumed)",
    co2_kgpkg=3.155,
    co2_sd_kgpkg=0.03,
    co2_source="petrol or diesel (assumed)",
    density_limits_kgpm3=None,
    standard="",
)
"""What to reckon with where the kind of fuel was not given."""


def fuel_properties(kind: str | None) -> FuelProperties:
    """Properties by kind of fuel; `UNKNOWN`, wide, for None. KeyError for a kind that is not in `FUELS`."""
    return UNKNOWN if kind is None else FUELS[kind]


def density_within_standard(kind: str | None, density_15_kgpm3: float) -> bool | None:
    """Whether a density at 15 degC lies within the fuel's standard; None where the standard sets no limit."""
    limits = fuel_properties(kind).density_limits_kgpm3
    return None if limits is None else limits[0] <= density_15_kgpm3 <= limits[1]
