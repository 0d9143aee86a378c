"""Constants, each with its unit and the document that defines it. Derived constants are computed, never typed."""

from __future__ import annotations

from typing import Final

STANDARD_GRAVITY_MPS2: Final = 9.80665
"""Standard acceleration of free fall. 3rd CGPM (1901); BIPM SI brochure."""

METRE_PER_MILE: Final = 1609.344
"""International mile, exact. NIST Handbook 44, Appendix C."""

CUBIC_METRE_PER_US_GALLON: Final = 231 * 0.0254**3
"""US liquid gallon = 231 cubic inches, exact. NIST Handbook 44, Appendix C."""

CUBIC_METRE_PER_IMPERIAL_GALLON: Final = 4.54609e-3
"""Imperial gallon, exact. UK Units of Measurement Regulations 1995."""

ZERO_CELSIUS_K: Final = 273.15
"""0 degC in kelvin, exact. BIPM SI brochure."""

STANDARD_ATMOSPHERE_PA: Final = 101_325.0
"""Standard atmosphere. 10th CGPM (1954)."""

MOLAR_GAS_CONSTANT: Final = 8.314472
"""J/(mol K), the CODATA 2006 value that the CIPM-2007 equation of moist air is stated with."""

DRY_AIR_GAS_CONSTANT: Final = 287.05287
"""J/(kg K). ICAO Doc 7488/3, ISO 2533:1975."""

WGS84_SEMI_MAJOR_M: Final = 6_378_137.0
"""WGS-84 equatorial radius. NIMA TR8350.2."""

WGS84_FLATTENING: Final = 1 / 298.257223563
"""WGS-84 flattening. NIMA TR8350.2."""

REFERENCE_TEMPERATURE_K: Final = ZERO_CELSIUS_K + 20.0
REFERENCE_PRESSURE_PA: Final = 100_000.0
REFERENCE_RELATIVE_HUMIDITY: Final = 0.5
"""The calm standard day: still air, 20 degC, 100 kPa, 50 % (temperature and pressure as in UN GTR 15 Annex 4)."""

GRAM_CO2_PER_GRAM_CARBON: Final = 44.0095 / 12.0107
"""Ratio of molar masses, IUPAC 2013 standard atomic weights."""
