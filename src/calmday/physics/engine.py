"""Engine: torque and power, mean pressures, friction, the Willans line."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def power_w(torque_nm: FloatArray | float, speed_rps: FloatArray | float) -> FloatArray:
    """P = 2 pi n T, watt, n in rev/s."""
    return np.asarray(2 * math.pi * np.asarray(torque_nm) * speed_rps)


def swept_rate_m3ps(displacement_m3: float | FloatArray, speed_rps: FloatArray | float, strokes: int = 4) -> FloatArray:
    """Volume swept on working strokes per second: V_d n / 2 for four strokes, V_d n for two."""
    return np.asarray(displacement_m3 * np.asarray(speed_rps) * 2 / strokes)


def mean_pressure_pa(torque_nm: FloatArray | float, displacement_m3: float, strokes: int = 4) -> FloatArray:
    """Brake mean effective pressure: strokes x pi x T / V_d (4 pi T / V_d for four strokes; Heywood, eq. 2.20)."""
    return np.asarray(strokes * math.pi * np.asarray(torque_nm) / displacement_m3)


def friction_mean_pressure_pa(
    speed_rps: FloatArray, at_reference_pa: FloatArray | float, slope: FloatArray | float, reference_rps: float
) -> FloatArray:
    """Friction mean effective pressure, linear in engine speed: f_ref [1 + s (n / n_ref - 1)]."""
    return np.asarray(at_reference_pa * (1 + slope * (np.asarray(speed_rps) / reference_rps - 1)))


def friction_barnes_moss_pa(speed_rps: FloatArray | float) -> FloatArray:
    """Total motored friction of spark-ignition engines: 0.97 + 0.15 N + 0.05 N^2 bar, N in 1000 rpm.

    Heywood, Internal Combustion Engine Fundamentals, ch. 13 (from memory; arithmetic checked).
    """
    thousand_rpm = np.asarray(speed_rps) * 60 / 1000
    return np.asarray((0.97 + 0.15 * thousand_rpm + 0.05 * thousand_rpm**2) * 1e5)


def friction_millington_hartles_pa(
    speed_rps: FloatArray | float, stroke_m: float, direct_injection: bool
) -> FloatArray:
    """Motored friction of diesel engines: C1 + 48 N + 0.4 S^2 kPa, N in 1000 rpm, S mean piston speed in m/s.

    C1 = 75 (direct injection) or 110 (large-chamber indirect). Millington and Hartles, SAE 680590 (1968; from memory).
    """
    rps = np.asarray(speed_rps)
    piston_speed = 2 * stroke_m * rps
    return np.asarray(((75 if direct_injection else 110) + 48 * rps * 60 / 1000 + 0.4 * piston_speed**2) * 1e3)


def willans_fuel_rate_kgps(
    shaft_power_w: FloatArray | float,
    friction_power_w: FloatArray | float,
    indicated_efficiency: FloatArray | float,
    heating_value_jpkg: float | FloatArray,
) -> FloatArray:
    """Fuel rate on the Willans line, kg/s: (P_shaft + P_friction) / (e H), never below zero."""
    power = np.maximum(np.asarray(shaft_power_w) + friction_power_w, 0.0)
    return np.asarray(power / (np.asarray(indicated_efficiency) * heating_value_jpkg))


def specific_consumption_gpkwh(
    mean_pressure_pa_: FloatArray | float,
    friction_pa: FloatArray | float,
    indicated_efficiency: float,
    heating_value_jpkg: float,
) -> FloatArray:
    """Brake specific consumption, g/kWh: 3.6e9 / (e H) x (1 + fmep / bmep)."""
    return np.asarray(
        3.6e9 / (indicated_efficiency * heating_value_jpkg) * (1 + friction_pa / np.asarray(mean_pressure_pa_))
    )
