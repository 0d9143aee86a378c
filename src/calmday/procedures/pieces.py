"""Tests as pieces of evidence about one vehicle: weighed runs and coastdown days (small evidence: `small_evidence`)."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import build_basis
from calmday.model.conditioning import LEARNING_SD
from calmday.model.evidence import SHARED, Piece
from calmday.model.forward import Forward
from calmday.model.parameters import ParameterSet
from calmday.model.posterior import peak
from calmday.procedures.coastdown import CoastdownFit
from calmday.procedures.drive_of_run import drive_of_run
from calmday.procedures.simulated_run import model_of_run
from calmday.records.coastdown import CoastdownDay
from calmday.records.run import Run
from calmday.reduction.weighing import reduce_fuel

FloatArray = NDArray[np.float64]


OF_ONE_DAY: Final = ("rolling_temperature",)
"""What a day of coastdowns keeps to itself. It sees one temperature: on a still day it is so sure that rolling did not
change between its passes that a reading half a kelvin off would tell how rolling goes with temperature."""


def own_keys(parameters: ParameterSet, kept: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Parameters of a test that are not shared with the others, `kept` among them: the day's wind and air, the cold
    start."""
    return tuple(key for key in parameters.keys if key not in SHARED or key in kept)


def scores_of(parameters: ParameterSet, shared: FloatArray, own: FloatArray, kept: tuple[str, ...] = ()) -> FloatArray:
    """Scores in the order of a test's parameters from the shared ones and the test's own."""
    at = {key: shared[:, i] for i, key in enumerate(SHARED)}
    at |= {key: own[:, i] for i, key in enumerate(own_keys(parameters, kept))}
    return np.stack([at[key] for key in parameters.keys], axis=1)


def piece_of_run(run: Run, state: int) -> Piece | None:
    """A weighed run: one reading, the logarithm of its fuel. None where nothing can be simulated or was burnt."""
    path = drive_of_run(run)
    if path.drive is None:
        return None
    fuel = reduce_fuel(run, float(np.mean(path.weather.air_density_kgpm3)))
    if not fuel.mass_kg > 0:
        return None
    model = model_of_run(run, path.drive)
    parameters = model.parameters
    forward = Forward(model, path.drive, build_basis(model, path.drive))
    offset = math.log(path.scale) - math.log(fuel_properties(model.fuel).net_heating_value_jpkg)
    weighed = math.log(fuel.mass_kg)
    spread = math.hypot(LEARNING_SD, fuel.mass_sd_kg / fuel.mass_kg)

    def residuals(shared: FloatArray, own: FloatArray) -> FloatArray:
        values = parameters.values(scores_of(parameters, shared, own))
        modelled = np.log(np.maximum(forward.fuel_energy_j(values), 1.0)) + offset
        return np.asarray((weighed - modelled)[:, None] / spread)

    own = tuple(parameters[key] for key in own_keys(parameters))
    return Piece(label=run.label, kind="run", own=own, residuals=residuals, state=state)


def piece_of_coastdown(day: CoastdownDay, state: int) -> Piece:
    """A day of coastdowns: the speeds of all its passes. Raises InputError where a pass holds no roll."""
    fit = CoastdownFit(day)
    fit.set_aside(peak(fit.residuals, len(fit.parameters)))

    def residuals(shared: FloatArray, own: FloatArray) -> FloatArray:
        return fit.residuals(scores_of(fit.parameters, shared, own, OF_ONE_DAY))

    own = tuple(fit.parameters[key] for key in own_keys(fit.parameters, OF_ONE_DAY))
    return Piece(label=day.label, kind="coastdown", own=own, residuals=residuals, state=state)
