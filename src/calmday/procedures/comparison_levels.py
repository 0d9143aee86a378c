"""Runs brought to one level: the calm standard day, and one and the same drive, with the doubt that they share.

Level of run i = weighed fuel per distance x (modelled calm day / modelled as driven) / (its way of driving).
Its logarithm is carried with slope and curvature in every standard-normal score of the vehicle and of the day. A score
that the runs share (drag area, engine, the cold start's size) moves all levels together and falls out of their
difference; what belongs to a day or to a run does not. The wind's transfer from the mast is shared in part: the road
and the mast stay, the weather does not.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.basis import AS_DRIVEN, CALM_DAY, Conditions, build_basis
from calmday.model.forward import Forward
from calmday.model.vehicle_model import VehicleModel
from calmday.procedures.simulated_run import SimulatedRun
from calmday.procedures.weighed_run import WeighedRun
from calmday.reduction.reduced_fuel import Contribution

FloatArray = NDArray[np.float64]

SHARED_BY_DAYS = {"wind_factor": 0.5, "turbulence": 0.5, "wind_direction": 0.3}
"""Share of the variance that is the same on every day, because mast and road stay where they are. Assumed."""

OF_THE_DAY = frozenset(
    {"wind_factor", "wind_direction", "wind_offset_east", "wind_offset_north", "turbulence", "air_density"}
)
OF_THE_START = {
    "cold_friction": 0.6, "cold_time": 1.0, "cold_enrichment": 0.6, "tyre_warmup": 0.6, "tyre_time": 1.0,
}  # fmt: skip
"""Share of the cold start's variance that is the vehicle's own, the same in every run. Assumed."""


class WayOfDriving(msgspec.Struct, frozen=True, kw_only=True):
    """How much of the modelled difference between two drives is taken off; the doubt of that, as a share of it, common
    to all runs, and of each run; what of it runs are believed to scatter more."""

    share: float
    doubt: float
    own: float
    unlike: float


WAYS_OF_DRIVING = {
    True: WayOfDriving(share=1.0, doubt=0.12, own=0.30, unlike=0.2),
    False: WayOfDriving(share=0.7, doubt=0.30, own=0.50, unlike=1.2),
}
"""By whether both receivers record speed: then all of the difference is so, else 0.7 of it; from invented drives
(docs/accuracy.md)."""

_SCALE_OWN = ("scale, accuracy", "buoyancy")
_SIGMA = 1.0
"""Distance of the points, in standard deviations, between which slope and curvature are taken."""


class Levels(msgspec.Struct, frozen=True, kw_only=True):
    """Levels of n runs, natural logarithms of kg/m, each (n,).

    `as_driven` as weighed; `calm` on the calm day and each run's own drive; `level` on the calm day and the common
    drive, which is run `common_drive`. `parts` by group of doubt: covariance (n, n) of `level`. `driving_percent` by
    which a run's own way of driving moves it; `unlike` what of that it may scatter by (ln).
    """

    as_driven: FloatArray
    calm: FloatArray
    level: FloatArray
    parts: dict[str, FloatArray]
    driving_percent: FloatArray
    unlike: FloatArray
    common_drive: int | None

    @property
    def modelled(self) -> bool:
        """Whether the day has been taken off."""
        return self.common_drive is not None

    @property
    def shared(self) -> FloatArray:
        """The whole known covariance, (n, n)."""
        return np.asarray(sum(self.parts.values()))


def levels_on_calm_day(runs: Sequence[WeighedRun], days: Sequence[object]) -> Levels:
    """Levels on the calm day over one drive. Every run must have been simulated; `days` one mark per run, alike for
    runs of the same day."""
    simulated = [run.simulated for run in runs if run.simulated is not None]
    if len(simulated) != len(runs):
        raise ValueError("a run that was not simulated has no calm day")
    pairs = list(zip(simulated, runs, strict=True))
    own = np.array([_log_fuel(one, one.forward, AS_DRIVEN) for one in simulated])
    correction = _shape(np.array([_log_fuel(one, one.forward, CALM_DAY) for one in simulated]) - own)
    manner = np.array([_manner(simulated[0].model, one, run) for one, run in pairs])
    middle = _middle(list(manner))
    recorded = [run.path.track is not None and run.path.track.has_doppler for run in runs]
    ways = [WAYS_OF_DRIVING[one and recorded[middle]] for one in recorded]
    driving = _each(ways, "share") * (manner - manner[middle])
    driven = np.array([_log_as_driven(run) for run in runs])
    parts = measured_parts(runs)
    common = _each(ways, "doubt") * driving
    parts["way of driving"] = np.outer(common, common) + np.diag((_each(ways, "own") * driving) ** 2)
    marks = [str(day) for day in days]
    for column, parameter in enumerate(simulated[0].model.parameters.parameters):
        slope, bend = correction.slope[:, column], correction.bend[:, column]
        together = np.outer(slope, slope) + 2 * np.outer(bend, bend)
        parts[parameter.group] = parts.get(parameter.group, 0.0) + together * _likeness(parameter.key, marks)
    calm = driven + correction.mean
    return Levels(
        as_driven=driven,
        calm=calm,
        level=calm - driving,
        parts=parts,
        driving_percent=100 * np.expm1(driving),
        unlike=_each(ways, "unlike") * driving,
        common_drive=middle,
    )


def _each(ways: Sequence[WayOfDriving], name: str) -> FloatArray:
    return np.array([float(getattr(one, name)) for one in ways])


class _Shape(msgspec.Struct, frozen=True):
    """Middle (n,), slopes (n, k) and mean shifts by curvature (n, k) of a quantity over the scores."""

    middle: FloatArray
    slope: FloatArray
    bend: FloatArray

    @property
    def mean(self) -> FloatArray:
        return np.asarray(self.middle + self.bend.sum(axis=1))


def _points(count: int) -> FloatArray:
    """The scores at which a run is modelled: all zero, then each up and down."""
    eye = _SIGMA * np.eye(count)
    return np.concatenate([np.zeros((1, count)), eye, -eye])


def _shape(values: FloatArray) -> _Shape:
    """From values at `_points`, (n, 2k + 1)."""
    size = (values.shape[1] - 1) // 2
    middle, up, down = values[:, :1], values[:, 1 : size + 1], values[:, size + 1 :]
    return _Shape(middle[:, 0], (up - down) / (2 * _SIGMA), (up + down - 2 * middle) / (2 * _SIGMA**2))


def _log_fuel(one: SimulatedRun, forward: Forward, on: Conditions) -> FloatArray:
    """ln of the energy of the fuel at `_points`."""
    scores = _points(len(one.model.parameters))
    return np.asarray(np.log(np.maximum(forward.fuel_energy_j(one.model.parameters.values(scores), on), 1.0)))


def _middle(values: Sequence[float]) -> int:
    """Index of the middle value, the lower of two."""
    return sorted(range(len(values)), key=values.__getitem__)[(len(values) - 1) // 2]


def _likeness(key: str, marks: Sequence[str]) -> FloatArray:
    """How far two runs share one score: 1 the same, 0 each its own, (n, n)."""
    n = len(marks)
    if key in OF_THE_DAY:
        same = np.array([[float(a == b) for b in marks] for a in marks])
        share = SHARED_BY_DAYS.get(key, 0.0)
        return np.asarray(share + (1 - share) * same)
    share = OF_THE_START.get(key, 1.0)
    return np.asarray(share + (1 - share) * np.eye(n))


def _manner(vehicle: VehicleModel, one: SimulatedRun, run: WeighedRun) -> float:
    """ln of the calm-day fuel per metre of a run's drive in the tallest gear throughout, with one and the same vehicle.

    Which gear was engaged is a guess that jumps where the speed wavers about a change; between two drives of one driver
    that guess would make more of a difference than there is.
    """
    gearing = vehicle.gearing
    tallest = msgspec.structs.replace(
        gearing, turns_per_metre=gearing.turns_per_metre[-1:], overall_ratios=gearing.overall_ratios[-1:]
    )
    model = msgspec.structs.replace(vehicle, gearing=tallest)
    drive = one.forward.drive
    forward = Forward(model, drive, build_basis(model, drive))
    values = model.parameters.values(np.zeros((1, len(model.parameters))))
    fuel = float(forward.fuel_energy_j(values, CALM_DAY)[0])
    return math.log(fuel * run.path.scale / run.path.distance.metres)


def _log_as_driven(run: WeighedRun) -> float:
    return math.log(run.fuel.mass_kg / run.path.distance.metres)


def measured_parts(runs: Sequence[WeighedRun]) -> dict[str, FloatArray]:
    """Covariance of ln(fuel / distance) by group of doubt, (n, n) each: what scale, fuel and course share cancels."""
    n = len(runs)
    parts = {name: np.zeros((n, n)) for name in ("weighing", "fuel system", "distance")}
    accuracy = np.array([_relative(run, _SCALE_OWN) for run in runs])
    scales = [run.run.scale for run in runs]
    parts["weighing"] += np.outer(accuracy, accuracy) * _alike(scales)
    for i, run in enumerate(runs):
        for line in run.fuel.mass_contributions:
            if line.source in _SCALE_OWN:
                continue
            group = "weighing" if line.source.startswith("scale") else "fuel system"
            parts[group][i, i] += (line.standard_uncertainty / run.fuel.mass_kg) ** 2
        if run.fuel.measured == "volume":
            parts["weighing"][i, i] += sum(
                (c.standard_uncertainty / run.fuel.volume_15_m3) ** 2 for c in run.fuel.volume_contributions
            )
    if any(run.fuel.measured == "volume" for run in runs):
        density = np.array([_density_doubt(run) for run in runs])
        parts["fuel density"] = np.outer(density, density) * _alike([batch_of(run) for run in runs])
    distance = np.array([run.path.distance.sd_m / run.path.distance.metres for run in runs])
    parts["distance"] += np.outer(distance, distance) * _alike([_way(run, i) for i, run in enumerate(runs)])
    return parts


def _relative(run: WeighedRun, sources: Sequence[str]) -> float:
    lines: list[Contribution] = [c for c in run.fuel.mass_contributions if c.source in sources]
    return math.hypot(*(line.standard_uncertainty for line in lines)) / run.fuel.mass_kg


def _density_doubt(run: WeighedRun) -> float:
    return run.fuel.density_15_sd_kgpm3 / run.fuel.density_15_kgpm3 if run.fuel.measured == "volume" else 0.0


def batch_of(run: WeighedRun) -> str:
    """The batch of a run's fuel as named; without a name all runs are taken to share one."""
    return run.run.fuel.batch or next((w.batch for w in run.run.weighings if w.batch), "")


def _way(run: WeighedRun, number: int) -> tuple[object, ...]:
    """What the doubt of a distance is shared by: the length of a lap or course, the odometer of a configuration."""
    asked = run.run
    if run.path.track is not None:
        return ("track", number)
    if asked.distance_m is not None:
        return ("declared", asked.distance_m.value)
    if asked.laps is not None and asked.lap_length_m is not None:
        return ("lap", asked.lap_length_m.value)
    vehicle = asked.vehicle
    return ("odometer", vehicle.final_drive, vehicle.tyre, vehicle.rolling_circumference_m)


def _alike(marks: Sequence[object]) -> FloatArray:
    """1 where two runs carry the same mark, else 0."""
    return np.array([[float(a == b) for b in marks] for a in marks])
