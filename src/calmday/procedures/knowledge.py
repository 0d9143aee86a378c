"""What is known of one vehicle from all its tests together."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.model.cruise import steady_drive
from calmday.model.evidence import SHARED, Piece, Pooled, pool
from calmday.model.vehicle_model import VehicleModel, build
from calmday.procedures.build_changes import kept_of, ordered_states, state_of
from calmday.procedures.pieces import piece_of_coastdown, piece_of_run
from calmday.procedures.small_evidence import density_of_litre, piece_of_evidence
from calmday.records.coastdown import CoastdownDay
from calmday.records.evidence import SmallEvidence
from calmday.records.run import Run
from calmday.records.vehicle import Vehicle

FloatArray = NDArray[np.float64]

DEFAULT_DRAWS = 1000
DEFAULT_SEED = 20260412
FEWEST_DRAWS = 200

__all__ = ["DEFAULT_DRAWS", "DEFAULT_SEED", "FEWEST_DRAWS", "Knowledge", "know"]


class Knowledge(msgspec.Struct, frozen=True, kw_only=True):
    """A vehicle after its tests. `model` of the build sheet asked about; `scores` (m, k) and `values` each (m,) equally
    weighted posterior draws of its parameters; `pooled` how they were got; `pieces` the tests that went in, in order;
    `left_out` tests that say nothing of the vehicle, with the reason; `states` of the build sheet that they touch."""

    vehicle: Vehicle
    model: VehicleModel
    scores: FloatArray
    values: dict[str, FloatArray]
    pooled: Pooled
    pieces: tuple[Piece, ...]
    left_out: tuple[str, ...]
    states: tuple[Vehicle, ...]
    seed: int
    densities: tuple[tuple[float, float], ...] = ()

    @property
    def known(self) -> tuple[VehicleModel, dict[str, FloatArray]]:
        """Model and posterior draws, as `prior_of` and its like accept them."""
        return self.model, self.values

    def shared_of(self, vehicle: Vehicle) -> FloatArray:
        """Posterior draws of the shared scores of a state of the vehicle; the state asked about where it is another."""
        known = any(vehicle == state for state in self.states)
        return self.pooled.shared(state_of(vehicle, self.states)) if known else self.shared

    @property
    def shared(self) -> FloatArray:
        """Posterior draws of the shared scores of this vehicle, (m, len(SHARED))."""
        return self.pooled.shared(state_of(self.vehicle, self.states))


def know(
    vehicle: Vehicle,
    runs: Sequence[Run] = (),
    coastdowns: Sequence[CoastdownDay] = (),
    evidence: Sequence[SmallEvidence] = (),
    draws: int = DEFAULT_DRAWS,
    seed: int = DEFAULT_SEED,
) -> Knowledge:
    """Pool all tests of a vehicle. Raises InputError for a test that cannot be read as one, ValueError for too few
    draws."""
    if draws < FEWEST_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_DRAWS} or more")
    of_tests = [run.vehicle for run in runs] + [day.vehicle for day in coastdowns] + [one.vehicle for one in evidence]
    states = ordered_states([vehicle, *of_tests])
    kept = [kept_of(before, after) for before, after in itertools.pairwise(states)]
    pieces: list[Piece] = []
    left_out: list[str] = []
    for run in runs:
        piece = piece_of_run(run, state_of(run.vehicle, states))
        if piece is None:
            left_out.append(f"{run.label}: neither its drive nor its fuel can be simulated")
        else:
            pieces.append(piece)
    pieces += [piece_of_coastdown(day, state_of(day.vehicle, states)) for day in coastdowns]
    densities = []
    for one in evidence:
        small = piece_of_evidence(one, state_of(one.vehicle, states))
        if small is not None:
            pieces.append(small)
        elif one.kind == "weighed litre" and one.readings:
            densities.append(density_of_litre(one))
            left_out.append(f"{one.label}: it tells of the fuel, not of the vehicle; give its density to the runs")
        else:
            left_out.append(f"{one.label}: nothing was read")
    pooled = pool(pieces, kept, draws, seed)
    model = build(vehicle, steady_drive(np.array([20.0])))
    scores = standard_normal(draws, len(model.parameters), seed + 1)
    shared = pooled.shared(state_of(vehicle, states))
    for column, key in enumerate(SHARED):
        scores[:, model.parameters.column(key)] = shared[:, column]
    return Knowledge(
        vehicle=vehicle, model=model, scores=scores, values=model.parameters.values(scores), pooled=pooled,
        pieces=tuple(pieces), left_out=tuple(left_out), states=tuple(states),
        densities=tuple(densities), seed=seed,
    )  # fmt: skip
