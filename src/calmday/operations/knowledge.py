"""The verbs about what all tests of a vehicle say together.

For other questions about a vehicle:

    known = known_vehicle(vehicle, runs=[run, ...], coastdowns=[day, ...])   # -> Knowledge
    known.known              # (VehicleModel, {parameter: draws (m,)}), as `prior_of(..., known=...)` accepts it
    known.model, known.values, known.scores

All draws of a `Knowledge` are equally weighted rows: row i of every parameter belongs together.
"""

from __future__ import annotations

from collections.abc import Sequence

from calmday.procedures.knowledge import DEFAULT_DRAWS, DEFAULT_SEED, Knowledge, know
from calmday.records.coastdown import CoastdownDay
from calmday.records.run import Run
from calmday.records.vehicle import Vehicle

__all__ = ["Knowledge", "known_vehicle"]


def known_vehicle(
    vehicle: Vehicle,
    *,
    runs: Sequence[Run] = (),
    coastdowns: Sequence[CoastdownDay] = (),
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> Knowledge:
    """The vehicle of a build sheet with what its weighed runs and coastdowns taught.

    Each test belongs to the state of the build sheet that it names; what changed since is widened, the rest carries
    over. Without tests: the build sheet and class defaults. Raises InputError for a test at fault, ValueError for too
    few draws.
    """
    return know(vehicle, runs, coastdowns, draws=draws, seed=seed)
