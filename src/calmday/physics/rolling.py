"""Rolling resistance: temperature, tyre pressure, speed, warm-up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import REFERENCE_TEMPERATURE_K, STANDARD_GRAVITY_MPS2

FloatArray = NDArray[np.float64]

SPEED_SCALE_MPS = 100 / 3.6
"""The speed term is stated at 100 km/h."""


def rolling_force_n(
    mass_kg: FloatArray | float, coefficient: FloatArray | float, grade: FloatArray | float = 0.0
) -> FloatArray:
    """F = C_rr m g cos(theta), newton; `grade` is rise over run (Gillespie, Fundamentals of Vehicle Dynamics, ch.
    4)."""
    return np.asarray(mass_kg * coefficient * STANDARD_GRAVITY_MPS2 / np.sqrt(1 + np.square(grade)))


def temperature_factor(temperature_k: FloatArray | float, per_kelvin: FloatArray | float) -> FloatArray:
    """Rolling resistance at an ambient temperature over that at 20 degC: 1 + K (20 degC - T).

    K about 8.6e-3 per kelvin (UN GTR 15, Annex 4, K0); 6e-3 to 1e-2 by tyre class (ISO 28580). Linear: for -20 to 40
    degC.
    """
    return np.asarray(1 + per_kelvin * (REFERENCE_TEMPERATURE_K - np.asarray(temperature_k)))


def pressure_factor(
    pressure_pa: float | FloatArray, usual_pressure_pa: float | FloatArray, exponent: FloatArray | float
) -> FloatArray:
    """Rolling resistance at a (gauge) pressure over that at the usual one: (p / p0)^-a, a 0.4 to 0.5 (SAE J2452
    form)."""
    return np.asarray(np.power(np.asarray(pressure_pa) / usual_pressure_pa, -np.asarray(exponent)))


def speed_factor(speed_mps: FloatArray | float, growth: FloatArray | float) -> FloatArray:
    """1 + c (v / 100 km/h)^2: growth of rolling resistance with the square of speed."""
    return np.asarray(1 + growth * np.square(np.asarray(speed_mps) / SPEED_SCALE_MPS))


def cold_gauge_pressure_pa(
    gauge_pa: float, temperature_k: float, new_temperature_k: float, ambient_pa: float = 101_325.0
) -> float:
    """Gauge pressure of a closed tyre after a change of temperature at constant volume (ideal gas law)."""
    return (gauge_pa + ambient_pa) * new_temperature_k / temperature_k - ambient_pa
