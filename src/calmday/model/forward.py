"""Fuel energy of draws under conditions: the one door from the procedures to either kernel.

The portable kernel serves the one-shot command and needs nothing beyond numpy. `compiled=True` asks for machine code
(extra `fast`) on all processors, which pays in a long-lived process whose processors stand idle; the figures are the
same.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import AS_DRIVEN, Basis, Conditions, coefficients
from calmday.model.drive import Drive
from calmday.model.kernel import fuel_energy_factor, indicated_energy_j
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel

FloatArray = NDArray[np.float64]

__all__ = ["Forward"]


class Forward:
    """One vehicle on one drive. Raises MissingExtraError where `compiled` is asked for without the extra `fast`."""

    def __init__(self, model: VehicleModel, drive: Drive, basis: Basis, compiled: bool = False) -> None:
        self.model, self.drive, self.basis, self.compiled = model, drive, basis, compiled
        if compiled:
            from calmday.model.kernel_compiled import CompiledDrive  # noqa: PLC0415  (brings numba)

            self._machine = CompiledDrive(model, drive, basis)

    def indicated_energy_j(self, values: Values, on: Conditions, weights: FloatArray) -> FloatArray:
        """Indicated energy of m draws summed with each column of `weights` (n, q) in seconds; (m, q), joule."""
        if self.compiled:
            return self._machine.energy_j(values, on, weights)
        return indicated_energy_j(self.basis, coefficients(self.model, self.basis, values, on), weights)

    def fuel_energy_j(self, values: Values, on: Conditions = AS_DRIVEN) -> FloatArray:
        """Energy of the fuel of the whole drive per draw, (m,), joule: indicated energy, richer while cold, over
        indicated efficiency."""
        if self.compiled:
            factor = self._machine.energy_j(values, on, self.drive.step_s[:, None], enriched=True)[:, 0]
        else:
            taken = coefficients(self.model, self.basis, values, on)
            factor = fuel_energy_factor(self.basis, taken, self.drive.step_s)
        return np.asarray(factor / values["indicated_efficiency"])
