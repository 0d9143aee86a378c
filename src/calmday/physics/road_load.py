"""Published default road loads and the correction of a measured one to reference conditions."""

from __future__ import annotations


def default_power_w(frontal_area_m2: float, van: bool) -> float:
    """Default road-load power at 50 mph: 0.58 B hp for light trucks, 0.50 B hp for vans, B in square feet.

    40 CFR 86.129-80. A dynamometer-roll figure: part of the tyre loss is not in it.
    """
    square_feet = frontal_area_m2 / 0.3048**2
    return (0.50 if van else 0.58) * square_feet * 745.6998715822702


def default_road_load(test_mass_kg: float, width_m: float, height_m: float) -> tuple[float, float, float]:
    """f0 (N), f1 (N/(km/h)), f2 (N/(km/h)^2) of UN GTR 15 default road load: 0.140 TM, 0, 2.8e-6 TM w h."""
    return 0.140 * test_mass_kg, 0.0, 2.8e-6 * test_mass_kg * width_m * height_m


def road_load_n(coefficients: tuple[float, float, float], speed_kmph: float) -> float:
    """F = f0 + f1 V + f2 V^2, newton, V in km/h."""
    f0, f1, f2 = coefficients
    return f0 + f1 * speed_kmph + f2 * speed_kmph**2


def to_reference_conditions(
    coefficients: tuple[float, float, float],
    temperature_k: float,
    pressure_pa: float,
    wind_along_mps: float = 0.0,
    mass_correction_n: float = 0.0,
) -> tuple[float, float, float]:
    """Measured f0, f1, f2 carried to 20 degC, 100 kPa and still air.

    F* = ((f0 - w1 - K1) + f1 V)(1 + K0 (T - 20)) + K2 f2 V^2 with K0 = 8.6e-3 / K, K2 = (T / 293)(100 kPa / p),
    w1 = 3.6^2 f2 v_w^2. UN GTR 15, Annex 4 (from memory).
    """
    f0, f1, f2 = coefficients
    warm = 1 + 8.6e-3 * (temperature_k - 293.15)
    air = temperature_k / 293.0 * 100_000.0 / pressure_pa
    wind = 3.6**2 * f2 * wind_along_mps**2
    return (f0 - wind - mass_correction_n) * warm, f1 * warm, f2 * air
