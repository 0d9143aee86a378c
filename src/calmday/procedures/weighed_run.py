"""The weighed run: from the records of one drive to consumption as driven and on a calm standard day.

1. Reduce the track (or take the declared distance), bring the weather to the vehicle, reduce the weighings.
2. As driven = fuel / distance: the measurement alone.
3. Model the drive second by second and condition the vehicle on the weighed fuel.
4. Calm day = as driven x (modelled calm / modelled as driven), draw by draw.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from calmday.metrology.draws import FloatArray
from calmday.metrology.fuels import fuel_properties
from calmday.model.conditioning import LEARNING_SD
from calmday.model.scores import DrawMatrix, draw_matrix
from calmday.procedures.consumption import consumption
from calmday.procedures.drive_of_run import DriveOfRun, drive_of_run
from calmday.procedures.simulated_run import SimulatedRun, model_of_run, simulate
from calmday.procedures.weighed_run_result import Consumption
from calmday.records.run import Run
from calmday.reduction.reduced_fuel import ReducedFuel
from calmday.reduction.weighing import reduce_fuel

DEFAULT_DRAWS = 2000
FEWEST_DRAWS = 200
DEFAULT_SEED = 20260412

__all__ = ["DEFAULT_DRAWS", "DEFAULT_SEED", "RunDraws", "WeighedRun", "reduce_weighed_run"]


class RunDraws(msgspec.Struct, frozen=True, kw_only=True):
    """Equally weighted draws behind the figures, each (m,). Calm-day draws are paired with `simulated.values` rows."""

    fuel_mass_kg: FloatArray
    distance_m: FloatArray
    density_15_kgpm3: FloatArray
    as_driven_kgpm: FloatArray
    as_driven_m3pm: FloatArray
    calm_day_kgpm: FloatArray | None
    calm_day_m3pm: FloatArray | None


class WeighedRun(msgspec.Struct, frozen=True, kw_only=True):
    """Everything a reduced run holds; the result sheet is read off it (`result_of_run`).

    `trust` how far what other tests taught was believed, 1 where this run agrees with them; None where nothing was.
    """

    run: Run
    path: DriveOfRun
    fuel: ReducedFuel
    draws: RunDraws
    as_driven: Consumption
    calm_day: Consumption | None
    simulated: SimulatedRun | None
    seed: int
    trust: float | None = None


def reduce_weighed_run(
    run: Run,
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
    compiled: bool = False,
    learnt: FloatArray | None = None,
) -> WeighedRun:
    """Reduce one weighed run. `draws` parameter draws, at least FEWEST_DRAWS; the same `seed` gives the same result.

    `learnt`: posterior draws of the vehicle's shared scores from other tests (`Knowledge.shared`), which then stand in
    place of the build sheet's own doubt. `compiled`: simulate by machine code. Raises MissingExtraError where that is
    not installed.
    """
    if draws < FEWEST_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_DRAWS} or more")
    path = drive_of_run(run)
    fuel = reduce_fuel(run, float(np.mean(path.weather.air_density_kgpm3)))
    model = model_of_run(run, path.drive) if path.drive is not None else None
    matrix = draw_matrix(draws, len(model.parameters) if model is not None else 0, seed)
    mass, density = _fuel_draws(fuel, matrix)
    distance = path.distance.metres + path.distance.sd_m * matrix.distance
    with np.errstate(divide="ignore", invalid="ignore"):
        per_metre = np.where(distance > 0, mass / distance, np.nan)
    heating, carbon = _fuel_constants(run, matrix)
    price, currency = run.fuel.price_per_m3, run.fuel.price_currency
    as_driven = consumption(per_metre, density, heating, carbon, price, currency)
    simulated = None
    calm = None
    calm_mass: FloatArray | None = None
    if model is not None and fuel.mass_kg > 0 and bool(np.all(mass > 0)):
        trust = 1.0
        if learnt is None:
            simulated = simulate(model, path, matrix, np.log(mass), seed, compiled)
        else:
            from calmday.model.evidence import informed, trust_in  # noqa: PLC0415  (only with other tests)

            taught = msgspec.structs.replace(model, parameters=informed(model.parameters, learnt))
            simulated = simulate(taught, path, matrix, np.log(mass), seed, compiled, LEARNING_SD)
            trust = trust_in(_off_the_others(simulated, np.log(mass)))
            if trust < 1.0:
                model = msgspec.structs.replace(model, parameters=informed(model.parameters, learnt, trust))
                simulated = simulate(model, path, matrix, np.log(mass), seed, compiled, LEARNING_SD)
        picked = simulated.conditioned.picked
        calm_mass = per_metre[picked] * np.exp(simulated.log_ratio)
        calm = consumption(calm_mass, density[picked], heating[picked], carbon[picked], price, currency)
    return WeighedRun(
        run=run,
        path=path,
        fuel=fuel,
        draws=RunDraws(
            fuel_mass_kg=mass,
            distance_m=distance,
            density_15_kgpm3=density,
            as_driven_kgpm=per_metre,
            as_driven_m3pm=per_metre / density,
            calm_day_kgpm=calm_mass,
            calm_day_m3pm=None if calm_mass is None or simulated is None else calm_mass / density[picked],
        ),
        as_driven=as_driven,
        calm_day=calm,
        simulated=simulated,
        seed=seed,
        trust=None if learnt is None or simulated is None else trust,
    )


def _off_the_others(simulated: SimulatedRun, log_mass: FloatArray) -> float:
    """How far the weighed fuel lies from what other tests made likely, in standard deviations."""
    found = simulated.conditioned
    spread = math.hypot(found.expected_sd, float(log_mass.std()))
    return (float(log_mass.mean()) - found.expected) / spread


def _fuel_draws(fuel: ReducedFuel, matrix: DrawMatrix) -> tuple[FloatArray, FloatArray]:
    """Mass (kg) and density at 15 degC (kg/m3). Where volume was measured, mass follows density and vice versa."""
    density = fuel.density_15_kgpm3 + fuel.density_15_sd_kgpm3 * matrix.density
    if fuel.measured == "volume":
        own = math.hypot(*(c.standard_uncertainty for c in fuel.volume_contributions))
        return (fuel.volume_15_m3 + own * matrix.fuel) * density, density
    return fuel.mass_kg + fuel.mass_sd_kg * matrix.fuel, density


def _fuel_constants(run: Run, matrix: DrawMatrix) -> tuple[FloatArray, FloatArray]:
    """Net heating value (J/kg) and carbon dioxide per fuel (kg/kg)."""
    properties = fuel_properties(run.fuel.kind or run.vehicle.engine.fuel)
    heating = properties.net_heating_value_jpkg + properties.net_heating_value_sd_jpkg * matrix.heating_value
    return heating, properties.co2_kgpkg + properties.co2_sd_kgpkg * matrix.carbon
