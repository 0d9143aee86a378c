"""What each row of check_values.toml calls. Only calmday computes here; numpy merely holds the numbers."""

from __future__ import annotations

import math

import numpy as np

from calmday.metrology import constants, fuel_volume
from calmday.metrology.air_density import compressibility, moist_air_density, saturation_vapour_pressure
from calmday.metrology.budget import root_sum_of_squares
from calmday.metrology.buoyancy import buoyancy_factor
from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import from_draws, from_normal
from calmday.metrology.fuels import density_within_standard, fuel_properties
from calmday.metrology.gravity import normal_gravity
from calmday.metrology.propagation import (
    correlation_of,
    covariance_matrix,
    expanded_uncertainty,
    propagate,
    rectangular,
    welch_satterthwaite,
)
from calmday.metrology.student import t_quantile, t_upper_tail, two_sided_t
from calmday.records.declared import Declared
from calmday.records.run import FuelBatch, FuelSystem, Run, Scale, Weighing
from calmday.records.vehicle import Vehicle
from calmday.reduction.pressure import pressure_from_qnh, standard_pressure, standard_temperature
from calmday.reduction.weighing import reduce_fuel
from calmday.reduction.wind_profile import power_law_ratio, vehicle_wind_ratio

MMHG_PA = 101_325 / 760


def combined(contributions):
    return [root_sum_of_squares(contributions)]


def effective_freedom(contributions, freedom):
    return [welch_satterthwaite(contributions, freedom)]


def expanded(standard_uncertainty, freedom, coverage):
    return [expanded_uncertainty(standard_uncertainty, freedom, coverage)]


def coverage_factors(freedom, coverage):
    return [two_sided_t(p, nu) for p, nu in zip(coverage, freedom, strict=True)]


# GUM H.2, Table H.2: five simultaneous readings of V (volt), I (ampere), phi (radian)
_VOLT = np.array([5.007, 4.994, 5.005, 4.990, 4.999])
_AMPERE = np.array([19.663, 19.639, 19.640, 19.685, 19.678]) * 1e-3
_RADIAN = np.array([1.0456, 1.0438, 1.0468, 1.0428, 1.0433])


def _h2():
    readings = np.vstack([_VOLT, _AMPERE, _RADIAN])

    def model(x):
        v, i, phi = x
        return np.array([v / i * math.cos(phi), v / i * math.sin(phi), v / i])

    return propagate(model, readings.mean(axis=1), np.cov(readings) / 5)


def resistance_reactance():
    values, covariance = _h2()
    u = np.sqrt(np.diag(covariance))
    return [x for pair in zip(values, u, strict=True) for x in pair]


def resistance_reactance_correlations():
    r = correlation_of(_h2()[1])
    return [r[0, 1], r[0, 2], r[1, 2]]


# GUM H.3, Table H.6: thermometer readings and corrections, degC
_T = np.array([21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]) - 20.0
_B = np.array([-171, -169, -166, -159, -164, -165, -156, -157, -159, -161, -160]) * 1e-3


def _line(observed):
    """Ordinary least squares, GUM eq. H.13."""
    t = _T - _T.mean()
    slope = t @ observed / (t @ t)
    return np.array([observed.mean() - slope * _T.mean(), slope])


def _thermometer(common_uncertainty):
    y = _line(_B)
    residual = _B - y[0] - y[1] * _T
    noise = residual @ residual / (len(_T) - 2)
    covariance = noise * np.eye(len(_T)) + common_uncertainty**2
    return propagate(_line, _B, covariance)


def thermometer_line(common_uncertainty):
    y, covariance = _thermometer(common_uncertainty)
    u = np.sqrt(np.diag(covariance))
    found = [y[0], u[0], y[1], u[1]]
    return found if common_uncertainty else [*found, correlation_of(covariance)[0, 1]]


def thermometer_prediction(temperature_c):
    y, covariance = _thermometer(0.0)
    value, spread = propagate(lambda x: x[0] + x[1] * (temperature_c - 20.0), y, covariance)
    return [value[0], math.sqrt(spread[0, 0])]


def _mass_difference(x):
    """JCGM 101 eq. 35: deviation of a weight from nominal, mg."""
    m_rc, dm_rc, rho_a, rho_w, rho_r = x
    return (m_rc + dm_rc) * (1 + (rho_a - 1.2) * (1 / rho_w - 1 / rho_r)) - 100_000.0


def mass_calibration_first_order():
    centre = [100_000.0, 1.234, 1.2, 8000.0, 8000.0]
    spread = [0.050, 0.020, rectangular(0.1), rectangular(1000.0), rectangular(50.0)]
    value, variance = propagate(_mass_difference, centre, covariance_matrix(spread))
    figure = from_normal(value[0], math.sqrt(variance[0, 0]), "mg")
    return [figure.value, figure.standard_uncertainty, figure.low, figure.high]


def _even(normal_scores):
    """Normal scores to numbers even on (-1, 1)."""
    erf = np.vectorize(math.erf)
    return erf(normal_scores / math.sqrt(2.0))


def mass_calibration_draws():
    z = standard_normal(60_000, 5, seed=20260412)
    even = _even(z[:, 2:])
    draws = _mass_difference(
        (
            100_000.0 + 0.050 * z[:, 0],
            1.234 + 0.020 * z[:, 1],
            1.2 + 0.1 * even[:, 0],
            8000.0 + 1000.0 * even[:, 1],
            8000.0 + 50.0 * even[:, 2],
        )
    )
    figure = from_draws(draws, "mg")
    return [figure.value, figure.standard_uncertainty]


def sum_of_draws(normal, even):
    z = standard_normal(100_000, len(normal) + len(even), seed=9)
    parts = z * np.array([*normal, *(0.0 for _ in even)])
    for column, sigma in enumerate(even, start=len(normal)):
        parts[:, column] = math.sqrt(3.0) * sigma * _even(z[:, column])
    figure = from_draws(parts.sum(axis=1), "1")
    return [figure.standard_uncertainty, figure.half_width]


def weight_calibration(normal_mg, rectangular_mg):
    u = root_sum_of_squares([*normal_mg, *(rectangular(a) for a in rectangular_mg)])
    return [u, 2.0 * u]


def precision_of_times(times_s):
    n = len(times_s)
    mean = sum(times_s) / n
    s = math.sqrt(sum((x - mean) ** 2 for x in times_s) / (n - 1))
    return [100 * expanded_uncertainty(s / math.sqrt(n), n - 1) / mean]


def welch_test(n, mean, s):
    contributions = [sd / math.sqrt(count) for sd, count in zip(s, n, strict=True)]
    t = (mean[0] - mean[1]) / root_sum_of_squares(contributions)
    return [t, welch_satterthwaite(contributions, [count - 1 for count in n])]


def mean_interval(n, mean, s):
    reach = t_quantile(0.975, n - 1) * s / math.sqrt(n)
    return [mean - reach, mean + reach]


def one_sample_probability(n, mean, s, against):
    t = (mean - against) / (s / math.sqrt(n))
    return [2 * t_upper_tail(abs(t), n - 1)]


def buoyancy(air_density_kgpm3, fuel_density_kgpm3):
    return [buoyancy_factor(air_density_kgpm3, fuel_density_kgpm3)]


def buoyancy_in_moist_air(temperature_c, pressure_pa, relative_humidity, fuel_density_kgpm3):
    air = float(moist_air_density(temperature_c + 273.15, pressure_pa, relative_humidity))
    return [buoyancy_factor(air, fuel_density_kgpm3)]


def gravity_by_latitude(latitude_deg):
    return [normal_gravity(phi) for phi in latitude_deg]


def volume_correction(density_15_kgpm3, temperature_c):
    return [fuel_volume.volume_correction_15c(density_15_kgpm3, temperature_c + 273.15)]


def _kelvin_from_fahrenheit(temperature_f):
    return (temperature_f - 32.0) / 1.8 + 273.15


def volume_correction_api(api_gravity, temperature_f):
    density = fuel_volume.relative_density_from_api(api_gravity) * fuel_volume.WATER_DENSITY_60F_KGPM3
    return [fuel_volume.volume_correction_60f(density, _kelvin_from_fahrenheit(temperature_f))]


def volume_correction_both_bases(density_15_kgpm3, temperature_c):
    to_15 = fuel_volume.volume_correction_15c(density_15_kgpm3, temperature_c + 273.15)
    to_60f = fuel_volume.volume_correction_15c(density_15_kgpm3, fuel_volume.BASE_60F_K)
    return [to_15, to_15 / to_60f]


def relative_density(api_gravity):
    return [fuel_volume.relative_density_from_api(api) for api in api_gravity]


def density_15_from_api(api_gravity):
    return [fuel_volume.density_15c_from_api(api) for api in api_gravity]


def heating_value(kind):
    return [fuel_properties(kind).net_heating_value_jpkg / 1e6]


def co2_per_litre(kind):
    fuel = fuel_properties(kind)
    return [fuel.co2_kgpkg * fuel.density_15_kgpm3]


def co2_from_carbon(carbon_g):
    return [carbon_g * constants.GRAM_CO2_PER_GRAM_CARBON]


def within_standard(kind, density_15_kgpm3):
    return [float(density_within_standard(k, rho)) for k, rho in zip(kind, density_15_kgpm3, strict=True)]


_GALLONS = {
    "us": constants.CUBIC_METRE_PER_US_GALLON,
    "imperial": constants.CUBIC_METRE_PER_IMPERIAL_GALLON,
}


def economy_product(gallon):
    return [_GALLONS[gallon] * 1e3 * 100 / (constants.METRE_PER_MILE / 1e3)]


def gallon_ratio():
    return [_GALLONS["imperial"] / _GALLONS["us"]]


def air_density_mmhg(temperature_c, pressure_mmhg, relative_humidity):
    return [float(moist_air_density(temperature_c + 273.15, pressure_mmhg * MMHG_PA, relative_humidity))]


def air_density_by_humidity(temperature_c, pressure_pa, relative_humidity):
    return list(moist_air_density(temperature_c + 273.15, pressure_pa, np.array(relative_humidity)))


def vapour_and_compressibility(temperature_c, pressure_pa, relative_humidity):
    t = temperature_c + 273.15
    return [float(saturation_vapour_pressure(t)), float(compressibility(t, pressure_pa, relative_humidity))]


def standard_atmosphere(height_m):
    t, p = float(standard_temperature(height_m)), float(standard_pressure(height_m))
    return [t, p, p / (constants.DRY_AIR_GAS_CONSTANT * t)]


def humidity_from_dew_point(temperature_c, dew_point_c):
    dew, air = saturation_vapour_pressure(np.array([dew_point_c, temperature_c]) + 273.15)
    return [dew / air]


def station_air(temperature_c, dew_point_c, qnh_hpa, height_m):
    humidity = humidity_from_dew_point(temperature_c, dew_point_c)[0]
    pressure = float(pressure_from_qnh(100 * qnh_hpa, height_m))
    return [humidity, pressure / 100, float(moist_air_density(temperature_c + 273.15, pressure, humidity))]


def wind_ratio_by_terrain(terrain, height_m):
    return [vehicle_wind_ratio(kind, 10.0, height_m) for kind in terrain]


def power_law_wind(wind_mps, height_m, exponent):
    return [wind_mps * power_law_ratio(height_m, 10.0, a) for a in exponent]


def _golden():
    run = Run(
        label="golden weighing",
        vehicle=Vehicle(name="any"),
        fuel=FuelBatch(kind="diesel", density_kgpm3=Declared(838.0, half_width=3 * 1.959963984540054)),
        fuel_system=FuelSystem(repeatability_kg=0.003),
        scale=Scale(resolution_kg=0.002, repeatability_kg=0.003, accuracy=0.0005),
        weighings=(Weighing(when="before", gross_kg=(18.432,)), Weighing(when="after", gross_kg=(13.618,))),
    )
    return reduce_fuel(run, 1.17)


def golden_weighing():
    fuel = _golden()
    gallons = fuel.volume_15_m3 / constants.CUBIC_METRE_PER_US_GALLON
    return [fuel.as_read_kg, fuel.mass_kg, 1e3 * fuel.volume_15_m3, gallons]


def golden_consumption(distance_m, price_per_us_gallon):
    fuel = _golden()
    miles = distance_m / constants.METRE_PER_MILE
    mpg_us, mpg_imp = (miles / (fuel.volume_15_m3 / gallon) for gallon in _GALLONS.values())
    litres_per_100km = fuel.volume_15_m3 * 1e3 / (distance_m / 1e5)
    return [litres_per_100km, mpg_us, mpg_imp, fuel.mass_kg * 1e6 / distance_m, price_per_us_gallon / mpg_us]


def golden_uncertainty(distance_half_width_percent):
    fuel = _golden()
    distance = rectangular(distance_half_width_percent)
    by_volume = 100 * fuel.volume_15_sd_m3 / fuel.volume_15_m3
    by_mass = 100 * fuel.mass_sd_kg / fuel.mass_kg
    return [math.hypot(by_volume, distance), math.hypot(by_mass, distance)]
