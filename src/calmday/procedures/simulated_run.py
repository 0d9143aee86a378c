"""A weighed run through the model: posterior draws, the calm-day ratio, penalties, and their budget."""

from __future__ import annotations

import math
from collections.abc import Callable

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import FloatArray
from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import AS_DRIVEN, CALM_DAY, Basis, Conditions, build_basis, coefficients
from calmday.model.conditioning import RUN_TO_RUN_SD, Conditioned, condition, slope_at
from calmday.model.drive import Drive
from calmday.model.forward import Forward
from calmday.model.parameters import Values
from calmday.model.scores import DrawMatrix, draw_matrix
from calmday.model.vehicle_model import VehicleModel, build
from calmday.procedures.drive_of_run import DriveOfRun
from calmday.records.run import Run

DrawIndex = NDArray[np.int64]

ENOUGH_SHARE = 0.4
MOST_CANDIDATES = 8
_WEIGHTS_AT_ONCE = 2_000_000
"""When fewer than this share of the draws count after the weighing, up to so many times more are tried."""

STEPS: tuple[tuple[str, Conditions], ...] = (
    ("wind", Conditions(wind=False)),
    ("air_density", Conditions(wind=False, air=False)),
    ("cold_engine", Conditions(wind=False, air=False, cold_engine=False)),
    ("cold_tyres", CALM_DAY),
)
"""Conditions taken away one after the other; each step's saving is that condition's penalty."""


class SimulatedRun(msgspec.Struct, frozen=True, kw_only=True):
    """Draws of a conditioned run, arrays (m,).

    `log_ratio` ln(calm / as driven); `penalties` percent of the calm-day figure by condition; `values` parameters;
    `before` the same parameters before the weighing; `budget` variance of ln(calm day) by group of parameters;
    `run_sd` what the fuel was taken to scatter.
    """

    model: VehicleModel
    basis: Basis
    forward: Forward
    conditioned: Conditioned
    values: dict[str, FloatArray]
    before: dict[str, FloatArray]
    log_ratio: FloatArray
    penalties: dict[str, FloatArray]
    parameter_budget: dict[str, float]
    weighing_response: float
    run_response: float
    run_sd: float
    expected_fuel_kg: float
    shaft_energy_j: float


def simulate(
    model: VehicleModel,
    path: DriveOfRun,
    draws: DrawMatrix,
    log_mass: FloatArray,
    seed: int,
    compiled: bool = False,
    run_sd: float = RUN_TO_RUN_SD,
) -> SimulatedRun:
    """Condition the vehicle on the weighed fuel and carry the drive to the calm standard day.

    `run_sd` what the fuel scatters about a vehicle that is known. `compiled`: by machine code. Raises MissingExtraError
    where that is not installed.
    """
    drive = path.drive
    if drive is None:
        raise ValueError("a run without a drive cannot be simulated")
    basis = build_basis(model, drive)
    forward = Forward(model, drive, basis, compiled)
    heating = fuel_properties(model.fuel).net_heating_value_jpkg
    offset = math.log(path.scale) - math.log(heating)

    def log_fuel_of(values: Values, on: Conditions) -> FloatArray:
        return np.asarray(np.log(np.maximum(forward.fuel_energy_j(values, on), 1.0)) + offset)

    def log_fuel(scores: FloatArray, on: Conditions = AS_DRIVEN) -> FloatArray:
        return log_fuel_of(model.parameters.values(scores), on)

    conditioned = _conditioned(log_fuel, model, draws, log_mass, seed, run_sd)
    values = model.parameters.values(conditioned.scores)

    driven = conditioned.modelled
    levels = [driven, *(log_fuel_of(values, on) for _, on in STEPS)]
    calm = levels[-1]
    penalties = {
        name: 100 * (np.exp(levels[i] - calm) - np.exp(levels[i + 1] - calm)) for i, (name, _) in enumerate(STEPS)
    }

    _, calm_slope = slope_at(lambda scores: log_fuel(scores, CALM_DAY), conditioned.mode)
    slope = calm_slope[:, 0] - conditioned.slope
    response = float(slope @ conditioned.gain)
    own = slope - response * conditioned.slope
    budget: dict[str, float] = {}
    for parameter, share in zip(model.parameters.parameters, own, strict=True):
        budget[parameter.group] = budget.get(parameter.group, 0.0) + float(share) ** 2
    centre = model.parameters.values(np.zeros((1, len(model.parameters))))
    return SimulatedRun(
        model=model,
        basis=basis,
        forward=forward,
        conditioned=conditioned,
        values=values,
        before=model.parameters.values(draws.parameters),
        log_ratio=calm - driven,
        penalties=penalties,
        parameter_budget=budget,
        weighing_response=1 + response,
        run_response=response,
        run_sd=run_sd,
        expected_fuel_kg=math.exp(conditioned.expected),
        shaft_energy_j=float(_shaft_energy_j(basis, model, centre, drive.step_s) * path.scale),
    )


def _conditioned(
    log_fuel: Callable[[FloatArray], FloatArray],
    model: VehicleModel,
    draws: DrawMatrix,
    log_mass: FloatArray,
    seed: int,
    run_sd: float,
) -> Conditioned:
    """Condition on the weighing; where few draws fit it, choose among more of them, up to `MOST_CANDIDATES` times as
    many.

    The rows of `picked` refer to the rows of `draws` and `log_mass`.
    """
    linear = model.parameters.column("indicated_efficiency")
    count = len(log_mass)
    prior, run_to_run, masses = draws.parameters, draws.run_to_run, log_mass
    found = condition(log_fuel, prior, run_to_run, masses, seed, linear, run_sd)
    while found.effective_draws < ENOUGH_SHARE * count and len(masses) < MOST_CANDIDATES * count:
        extra = draw_matrix(len(masses), len(model.parameters), seed + len(masses))
        prior, run_to_run = np.concatenate([prior, extra.parameters]), np.concatenate([run_to_run, extra.run_to_run])
        masses = np.concatenate([masses, masses])
        found = condition(log_fuel, prior, run_to_run, masses, seed, linear, run_sd, keep=count)
    return msgspec.structs.replace(found, picked=found.picked % count)


def model_of_run(run: Run, drive: Drive) -> VehicleModel:
    """The vehicle of a run on its drive, before any weighing: build sheet, fuel, load, tyres and start of that day."""
    return build(
        run.vehicle,
        drive,
        run_fuel=run.fuel.kind,
        payload=run.payload_kg,
        start=run.engine_start,
        tyre_pressure_pa=run.tyre_pressure_pa.value if run.tyre_pressure_pa else None,
    )


def _shaft_energy_j(basis: Basis, model: VehicleModel, values: dict[str, FloatArray], step_s: FloatArray) -> float:
    """Work at the flywheel with every parameter at its centre, accessories included, before any weighing."""
    c = coefficients(model, basis, values, AS_DRIVEN)
    wheel = (c.wheel @ basis.wheel)[0]
    shaft = np.minimum(wheel / c.efficiency[0], basis.cap_w)
    return float(np.maximum(shaft + values["accessory_power"][0], 0.0) @ step_s)


def thinned(simulated: SimulatedRun, count: int) -> DrawIndex:
    """Indices of `count` draws spread evenly over all: for detail that needs fewer draws than the headline."""
    total = len(simulated.log_ratio)
    return np.linspace(0, total - 1, min(count, total)).astype(np.int64)


def shares_of_fuel(simulated: SimulatedRun, weights: FloatArray, rows: DrawIndex) -> FloatArray:
    """Share of the drive's fuel in each column of `weights` (n, q) in seconds, for the draws `rows`: (len(rows), q)."""
    values = {key: value[rows] for key, value in simulated.values.items()}
    # In pieces: a day of many laps has more weights than are good to hold at once.
    pieces = range(0, weights.shape[1], max(1, _WEIGHTS_AT_ONCE // len(weights)))
    width = pieces.step
    energy = [
        simulated.forward.indicated_energy_j(values, AS_DRIVEN, weights[:, first : first + width]) for first in pieces
    ]
    joined = np.concatenate(energy, axis=1)
    return np.asarray(joined[:, 1:] / joined[:, :1])
