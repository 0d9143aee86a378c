"""Closed forms of motion: coastdown, constant force, constant power. The oracles of the simulations."""

from __future__ import annotations

import math


def coastdown_time_s(mass_kg: float, constant_n: float, square_npmps2: float, from_mps: float, to_mps: float) -> float:
    """Time to slow from one speed to another under m dv/dt = -(A + C v^2).

    t = m / sqrt(A C) [atan(v1 sqrt(C/A)) - atan(v2 sqrt(C/A))] (White and Korst, SAE 720099); A > 0 or C > 0.
    """
    if constant_n == 0:
        return mass_kg / square_npmps2 * (1 / to_mps - 1 / from_mps)
    if square_npmps2 == 0:
        return mass_kg * (from_mps - to_mps) / constant_n
    root = math.sqrt(square_npmps2 / constant_n)
    return mass_kg / math.sqrt(constant_n * square_npmps2) * (math.atan(from_mps * root) - math.atan(to_mps * root))


def coastdown_distance_m(
    mass_kg: float, constant_n: float, square_npmps2: float, from_mps: float, to_mps: float
) -> float:
    """Distance covered meanwhile: s = m / (2 C) ln[(A + C v1^2) / (A + C v2^2)]; C > 0."""
    high = constant_n + square_npmps2 * from_mps**2
    low = constant_n + square_npmps2 * to_mps**2
    return mass_kg / (2 * square_npmps2) * math.log(high / low)


def two_speed_coastdown(
    mass_kg: float,
    frontal_area_m2: float,
    high_kmph: tuple[float, float, float],
    low_kmph: tuple[float, float, float],
) -> tuple[float, float]:
    """Drag and rolling coefficient from two timed intervals (from km/h, to km/h, seconds) at standard air density.

    c_w = 6 m (a1 - a2) / [A (v1^2 - v2^2)], f = 0.0282 (a2 v1^2 - a1 v2^2) / (v1^2 - v2^2), a in (km/h)/s, v mean
    speed in km/h. Automotive Handbook, two-speed method (from memory).
    """
    (a1, v1), (a2, v2) = (((x[0] - x[1]) / x[2], (x[0] + x[1]) / 2) for x in (high_kmph, low_kmph))
    span = v1**2 - v2**2
    return 6 * mass_kg * (a1 - a2) / (frontal_area_m2 * span), 0.0282 * (a2 * v1**2 - a1 * v2**2) / span


def constant_power_acceleration(power_w: float, mass_kg: float, to_mps: float) -> tuple[float, float]:
    """Time (s) and distance (m) from rest to a speed at constant power without losses: m v^2 / 2 P, m v^3 / 3 P."""
    return mass_kg * to_mps**2 / (2 * power_w), mass_kg * to_mps**3 / (3 * power_w)


def braking(mass_kg: float, speed_mps: float, force_n: float) -> tuple[float, float, float]:
    """Deceleration (m/s^2), distance (m) and time (s) to rest under a constant force."""
    deceleration = force_n / mass_kg
    return deceleration, speed_mps**2 / (2 * deceleration), speed_mps / deceleration
