"""Tyre, gearbox and axle: rolling circumference, engine speed, rotating inertia, thrust."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

RADIAL_CIRCUMFERENCE_FACTOR = 3.05
BIAS_CIRCUMFERENCE_FACTOR = 2.99
"""Dynamic rolling circumference = factor x overall diameter (ETRTO; UN R30 Annex 2; from memory, agrees with the
industry's -3.1 % on pi D within 0.2 %)."""


def overall_diameter_m(section_width_m: float, aspect_ratio: float, rim_diameter_m: float) -> float:
    """D = rim + 2 x section width x aspect ratio, m."""
    return rim_diameter_m + 2 * section_width_m * aspect_ratio


def rolling_circumference_m(diameter_m: float, radial: bool = True) -> float:
    """Distance per wheel turn under load, m: 3.05 D for radial, 2.99 D for bias-ply tyres."""
    return (RADIAL_CIRCUMFERENCE_FACTOR if radial else BIAS_CIRCUMFERENCE_FACTOR) * diameter_m


def engine_speed_rps(
    speed_mps: FloatArray | float, overall_ratio: FloatArray | float, circumference_m: float | FloatArray
) -> FloatArray:
    """Engine speed with the clutch shut, rev/s: n = v x overall ratio / circumference."""
    return np.asarray(np.asarray(speed_mps) * overall_ratio / circumference_m)


def thrust_n(
    torque_nm: FloatArray | float,
    overall_ratio: FloatArray | float,
    circumference_m: float,
    efficiency: float | FloatArray,
) -> FloatArray:
    """Force at the tyre, newton: F = T x ratio x efficiency / r with r = circumference / 2 pi (Gillespie, ch. 2)."""
    return np.asarray(np.asarray(torque_nm) * overall_ratio * efficiency * 2 * math.pi / circumference_m)


def engine_side_mass_kg(inertia_kgm2: FloatArray | float, turns_per_metre: FloatArray | float) -> FloatArray:
    """Mass at the tyre that the engine's inertia amounts to in a gear: J (2 pi z)^2 with z engine turns per metre of
    road (Gillespie, eq. 2-9b, written in turns per metre). It stands before the losses of the driveline."""
    return np.asarray(inertia_kgm2 * np.square(2 * math.pi * np.asarray(turns_per_metre)))


def mass_factor(
    turns_per_metre: FloatArray | float, inertia_kgm2: float, wheels_share: float, mass_kg: float, efficiency: float
) -> FloatArray:
    """Equivalent mass at the tyre over mass: 1 + wheels + eta J (2 pi z)^2 / m; z = 0 with the clutch open."""
    engine = efficiency * engine_side_mass_kg(inertia_kgm2, turns_per_metre)
    return np.asarray(1 + wheels_share + engine / mass_kg)


def rotating_mass_kg(
    engine_and_gearbox_kgm2: float,
    driveline_kgm2: float,
    wheels_kgm2: float,
    overall_ratio: float,
    final_drive: float,
    radius_m: float,
) -> float:
    """Equivalent mass of the rotating parts: {(I_e + I_t) N_tf^2 + I_d N_f^2 + I_w} / r^2 (Gillespie, eq. 2-9b).

    `wheels_kgm2` is the sum over all wheels.
    """
    inertia = engine_and_gearbox_kgm2 * overall_ratio**2 + driveline_kgm2 * final_drive**2 + wheels_kgm2
    return inertia / radius_m**2
