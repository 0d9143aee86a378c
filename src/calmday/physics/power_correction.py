"""Full-load power brought to and from standard conditions, and what thin air takes.

For full-load power and torque only, never for consumption on the road. `dry_pressure_pa` is the pressure of the dry air
at the intake: barometer less vapour. A factor is corrected over measured; dividing by it goes the other way.
"""

from __future__ import annotations

from typing import Final, Literal

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.air_density import saturation_vapour_pressure

FloatArray = NDArray[np.float64]

Standard = Literal["ISO 1585", "SAE J1349", "DIN 70020"]
Aspiration = Literal["natural", "turbocharged", "supercharged"]

STANDARDS: Final[tuple[Standard, ...]] = ("ISO 1585", "SAE J1349", "DIN 70020")

REFERENCE_DRY_PRESSURE_PA: Final = 99_000.0
REFERENCE_TEMPERATURE_K: Final = 298.0
"""SAE J1349 (June 1990), ISO 1585 and UN R85: 99 kPa of dry air, 25 degC written as 298 K."""

DIN_PRESSURE_PA: Final = 101_300.0
DIN_TEMPERATURE_K: Final = 293.0
"""DIN 70020 (withdrawn): 1013 mbar, 20 degC (from memory)."""

WORKING_CYCLE_CONSTANT: Final = {4: 120_000.0, 2: 60_000.0}
"""z in q = z (fuel g/s) / (swept L x rpm): 120 000 for four strokes (seen), 60 000 for two (from memory)."""


class Correction(msgspec.Struct, frozen=True, kw_only=True):
    """A correction factor. `within_limits` whether the standard itself allows it; `limits` in words; `status` how well
    the text of the standard is known here: seen, or from memory."""

    standard: Standard
    factor: float
    within_limits: bool
    limits: str
    status: str


def dry_pressure_pa(pressure_pa: float, temperature_k: float, relative_humidity: float) -> float:
    """Pressure of the dry air, Pa: barometer less humidity (0 to 1) times saturation pressure (CIPM-2007, A1.1)."""
    return pressure_pa - relative_humidity * float(saturation_vapour_pressure(temperature_k))


def spark_sae_j1349(dry_pa: FloatArray | float, temperature_k: FloatArray | float) -> FloatArray:
    """Spark ignition, full load: CF = 1.18 (990 / p_d) sqrt((t + 273) / 298) - 0.18, p_d in mbar, t in degC.

    SAE J1349, June 1990 (formula seen in a copy). The friction of the engine (0.18) does not grow with the air.
    """
    ratio = REFERENCE_DRY_PRESSURE_PA / np.asarray(dry_pa)
    return np.asarray(1.18 * ratio * np.sqrt(np.asarray(temperature_k) / REFERENCE_TEMPERATURE_K) - 0.18)


def spark_iso_1585(dry_pa: FloatArray | float, temperature_k: FloatArray | float) -> FloatArray:
    """Spark ignition, full load: a = (99 kPa / p_s)^1.2 (T / 298)^0.6. ISO 1585, UN R85 (exponents from memory)."""
    ratio = REFERENCE_DRY_PRESSURE_PA / np.asarray(dry_pa)
    return np.asarray(ratio**1.2 * (np.asarray(temperature_k) / REFERENCE_TEMPERATURE_K) ** 0.6)


def diesel_atmospheric_factor(
    dry_pa: FloatArray | float, temperature_k: FloatArray | float, aspiration: Aspiration = "natural"
) -> FloatArray:
    """f_a of a diesel: (99 kPa / p)(T / 298)^0.7, or with an exhaust turbine (99 kPa / p)^0.7 (T / 298)^1.5.

    A mechanical supercharger counts as natural. ISO 1585, UN R85, SAE J1349 (the classes seen, exponents from memory).
    """
    pressure = REFERENCE_DRY_PRESSURE_PA / np.asarray(dry_pa)
    warmth = np.asarray(temperature_k) / REFERENCE_TEMPERATURE_K
    return np.asarray(pressure**0.7 * warmth**1.5 if aspiration == "turbocharged" else pressure * warmth**0.7)


def specific_injection(
    fuel_kgps: float, displacement_m3: float, speed_rps: float, strokes: int = 4, boost_ratio: float = 1.0
) -> float:
    """q_c, milligrams of fuel per cycle and litre swept, over the boost pressure ratio.

    q = z (g/s) / (L x rpm), z = 120 000 for four strokes (industrial diesel service manual, seen).
    """
    swept = displacement_m3 * 1e3 * speed_rps * 60
    return WORKING_CYCLE_CONSTANT[strokes] * fuel_kgps * 1e3 / swept / boost_ratio


def engine_factor(q_c: float, standard: Standard = "ISO 1585") -> float:
    """f_m = 0.036 q_c - 1.14, held outside its range: below 40 at 0.3 (ISO 1585, UN R85, from memory), above 65 at 1.2.

    For SAE J1349 below 37.2 at 0.2 (range seen in a service manual, ends from memory).
    """
    low_q, low = (40.0, 0.3) if standard == "ISO 1585" else (37.2, 0.2)
    if q_c < low_q:
        return low
    return 0.036 * min(q_c, 65.0) - 1.14 if q_c < 65.0 else 1.2


def din_70020(pressure_pa: FloatArray | float, temperature_k: FloatArray | float) -> FloatArray:
    """(1013 mbar / p) sqrt(T / 293), any engine; p is the barometer, vapour included. DIN 70020 (from memory)."""
    warmth = np.asarray(temperature_k) / DIN_TEMPERATURE_K
    return np.asarray(DIN_PRESSURE_PA / np.asarray(pressure_pa) * np.sqrt(warmth))


_SPARK_BAND: Final = (0.93, 1.07)
_DIESEL_BAND: Final = (0.90, 1.10)


def correction(
    standard: Standard,
    *,
    spark: bool,
    aspiration: Aspiration,
    pressure_pa: float,
    temperature_k: float,
    relative_humidity: float = 0.5,
    q_c: float = 50.0,
) -> Correction:
    """Factor from power in the air of the day to power under a standard's conditions, with the standard's own limits.

    `q_c` matters for diesels only (see `specific_injection`). SAE J1349 for diesels has the form f_a^f_m (from memory).
    """
    dry = dry_pressure_pa(pressure_pa, temperature_k, relative_humidity)
    if standard == "DIN 70020":
        factor = float(din_70020(pressure_pa, temperature_k))
        return Correction(
            standard=standard, factor=factor, within_limits=True, limits="none stated", status="from memory"
        )
    if not spark:
        factor = float(diesel_atmospheric_factor(dry, temperature_k, aspiration)) ** engine_factor(q_c, standard)
        low, high = _DIESEL_BAND
        status = "limits and form seen, exponents from memory" if standard == "ISO 1585" else "from memory"
    elif standard == "SAE J1349":
        factor = float(spark_sae_j1349(dry, temperature_k))
        low, high = _SPARK_BAND
        status = "formula seen, limits as ISO 1585 from memory"
    else:
        factor = float(spark_iso_1585(dry, temperature_k))
        low, high = _SPARK_BAND
        status = "from memory"
    return Correction(
        standard=standard,
        factor=factor,
        within_limits=low <= factor <= high,
        limits=f"{low:.2f} to {high:.2f}",
        status=status,
    )


def altitude_rule(height_m: FloatArray | float) -> FloatArray:
    """Trade rule for a naturally aspirated engine: 3 % of power lost per 300 m of height. Good below 3000 m."""
    return np.asarray(1 - 0.03 * np.asarray(height_m) / 300.0)
