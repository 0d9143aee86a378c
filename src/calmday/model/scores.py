"""Columns of the draw matrix that are not parameters of the vehicle: what the fuel, distance and price figures
carry."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal

FloatArray = NDArray[np.float64]


class DrawMatrix(msgspec.Struct, frozen=True):
    """Standard-normal scores: `parameters` (m, k) for the model, the rest (m,) each."""

    parameters: FloatArray
    run_to_run: FloatArray
    fuel: FloatArray
    distance: FloatArray
    density: FloatArray
    heating_value: FloatArray
    carbon: FloatArray


def draw_matrix(count: int, parameters: int, seed: int) -> DrawMatrix:
    """All scores of a computation from one seed."""
    scores = standard_normal(count, parameters + 6, seed)
    return DrawMatrix(scores[:, :parameters], *(scores[:, parameters + i] for i in range(6)))
