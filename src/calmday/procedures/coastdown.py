"""Drag and rolling from rolls in neutral: the equation of motion fitted to the recorded speeds of all passes together.

The vehicle, the wind of the day and the road are uncertain parameters with the priors of the build sheet and the
weather; gusts, waves of the road and the receiver are covariances (`coastdown_noise`). Posterior draws by Gauss-Newton
and importance weights (`model.posterior`).
"""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.model.drive import Drive
from calmday.model.parameters import ParameterSet, Values
from calmday.model.posterior import Peak, Posterior, drawn, peak, slope_of
from calmday.model.vehicle_model import VehicleModel, build, wind_height_m
from calmday.procedures.coastdown_forward import (
    Rolls,
    Still,
    full_set,
    heights,
    neutral_drag_n,
    own_parameters,
    rolls_of,
    speeds,
    still_of,
)
from calmday.procedures.coastdown_noise import Sizes, best_sizes, doubtful_total, parts_of, reading_matrix
from calmday.procedures.coastdown_samples import PassSamples, samples_of_day
from calmday.records.coastdown import CoastdownDay
from calmday.records.declared import Declared
from calmday.records.track import FIRST_CLOCK_S
from calmday.records.vehicle import Vehicle
from calmday.reduction.vehicle_weather import VehicleWeather
from calmday.reduction.weather import bring_to_vehicle

FloatArray = NDArray[np.float64]

DEFAULT_DRAWS = 2000
DEFAULT_SEED = 20260412
FEWEST_DRAWS = 200
WARM_ENOUGH_S = 1e5

ODD_PASS_Z = 3.0
ODD_FORCE_SHARE = 0.06
"""A pass is called odd where its own force stands out by more than chance and by this share of the force on it."""

_CHUNK = 500


class CoastdownFit:
    """A day of coastdowns ready to be judged: residuals of any scores, whitened by the covariance that was found.

    `parameters` the vehicle's and the day's own; `readings` (n,) recorded speeds of all bins, `edges` where each pass
    begins among them; `odd` passes that stand out, with the force (N) that was theirs alone.
    """

    def __init__(self, day: CoastdownDay) -> None:
        self.day = day
        self.passes: list[PassSamples] = samples_of_day(day)
        self.weather, drive = _surroundings(day, self.passes)
        vehicle, ratio = _loads(day, self.passes)
        self.model: VehicleModel = build(
            vehicle,
            drive,
            payload=None if any(one.declared.mass_kg for one in self.passes) else day.payload_kg,
            start="warm" if day.warm_up_s is None else "cold",
            tyre_pressure_pa=day.tyre_pressure_pa.value if day.tyre_pressure_pa else None,
        )
        sizes = [one.time_s.size for one in self.passes]
        self.edges: NDArray[np.int64] = np.cumsum([0, *sizes])
        self.rolls: Rolls = rolls_of(self.passes, self.weather, self.edges[:-1].tolist(), ratio, day.warm_up_s)
        self.parameters: ParameterSet = full_set(self.model, own_parameters(day, self.passes, self.rolls))
        seen = [one.height_m - one.height_m.mean() for one in self.passes if one.has_height]
        self.readings: FloatArray = np.concatenate([*(one.speed_mps for one in self.passes), *seen])
        self._still: Still = still_of(self.rolls)
        self._reads = reading_matrix(self.passes)
        self.sizes = Sizes()
        self.odd: dict[int, float] = {}
        self.covariance, self._root, self._push = self._tuned()

    def predicted(self, values: Values) -> FloatArray:
        """Speeds at the bins, then heights where recorded, for draws `values`, (m, n)."""
        count = len(next(iter(values.values())))
        parts = []
        for start in range(0, count, _CHUNK):
            some = {key: value[start : start + _CHUNK] for key, value in values.items()}
            grid = speeds(self.model, self.rolls, self._still, some)
            at_bins = [grid[:, k] @ read.T for k, read in enumerate(self._reads)]
            parts.append(np.concatenate([*at_bins, *heights(self.rolls, self.passes, self._reads, some)], axis=1))
        return np.concatenate(parts)

    def residuals(self, scores: FloatArray) -> FloatArray:
        """Whitened residuals (m, n) of scores (m, k) of `parameters`."""
        off = self.readings - self.predicted(self.parameters.values(scores))
        return np.asarray(np.linalg.solve(self._root, off.T).T)

    def own_force(self, k: int, off: FloatArray) -> tuple[float, float]:
        """Constant force on pass `k` alone that the rest of the day does not explain, and its standard deviation (N).

        Generalised least squares of the residuals `off` (n,) on how the readings answer to such a force, with the
        covariance of gusts, road and receiver; what an odd pass was allowed is no doubt of its force.
        """
        effect = self._push[k]
        weighted = np.linalg.solve(self.covariance, effect)
        information = float(effect @ weighted)
        allowed = self.odd.get(k, 0.0) ** 2
        return float(weighted @ off) / information, max(1 / information - allowed, 0.0) ** 0.5

    def set_aside(self, top: Peak) -> bool:
        """Allow a force of its own to every pass that stands out, so that it drags nothing along; whether any does."""
        centre = self.parameters.values(top.mode[None])
        off, mass = self.readings - self.predicted(centre)[0], float(centre["test_mass"][0])
        for k, one in enumerate(self.passes):
            force, sd = self.own_force(k, off)
            typical = mass * float(one.speed_mps[0] - one.speed_mps[-1]) / one.duration_s
            if abs(force) > ODD_PASS_Z * sd and abs(force) > ODD_FORCE_SHARE * typical:
                self.odd[k] = force
        if len(self.odd) > len(self.passes) // 2:
            self.odd = {}
        for k, force in self.odd.items():
            self.covariance = self.covariance + force**2 * np.outer(self._push[k], self._push[k])
        if self.odd:
            self._root = np.asarray(np.linalg.cholesky(self.covariance), dtype=np.float64)
        return bool(self.odd)

    def _plain(self, scores: FloatArray) -> FloatArray:
        return self.readings - self.predicted(self.parameters.values(scores))

    def _tuned(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """The covariance about the most probable motion, its sizes chosen by the readings; its root; `Parts.push`."""
        mode = np.zeros(len(self.parameters))
        covariance = push = np.eye(self.readings.size)
        for turn in range(3):
            values = self.parameters.values(mode[None])
            at = {key: float(value[0]) for key, value in values.items()}
            at["churning"] = float(neutral_drag_n(self.rolls, values)[0])
            speed = self.rolls.speed_mps if turn == 0 else self._speed_at(mode)
            parts = parts_of(self.rolls, self.passes, speed, at)
            off, slope = slope_of(self._plain, mode)
            at_zero = off - slope @ mode
            self.sizes = best_sizes(parts, at_zero, slope, self.sizes)
            covariance, push = doubtful_total(parts, at_zero, slope, self.sizes), parts.push
            self._root = np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
            mode = peak(self.residuals, len(self.parameters), mode, passes=3).mode
        return covariance, self._root, push

    def _speed_at(self, mode: FloatArray) -> FloatArray:
        return np.asarray(speeds(self.model, self.rolls, self._still, self.parameters.values(mode[None]))[0])

    def __repr__(self) -> str:
        return f"<CoastdownFit: {len(self.passes)} passes>"


class FittedCoastdown(msgspec.Struct, frozen=True, kw_only=True):
    """Posterior of a day: draws `values` (m,) by parameter."""

    fit: CoastdownFit
    top: Peak
    posterior: Posterior
    values: dict[str, FloatArray]
    seed: int


def fit_coastdown(day: CoastdownDay, draws: int = DEFAULT_DRAWS, seed: int = DEFAULT_SEED) -> FittedCoastdown:
    """Fit a day of coastdowns. Raises InputError for a pass that holds no roll, ValueError for too few draws."""
    if draws < FEWEST_DRAWS:
        raise ValueError(f"draws: {draws} is too few to read 95 % intervals from; give {FEWEST_DRAWS} or more")
    fit = CoastdownFit(day)
    top = peak(fit.residuals, len(fit.parameters))
    if fit.set_aside(top):
        top = peak(fit.residuals, len(fit.parameters), top.mode)
    posterior = drawn(fit.residuals, top, draws, seed)
    return FittedCoastdown(
        fit=fit, top=top, posterior=posterior, values=fit.parameters.values(posterior.scores), seed=seed
    )


def _loads(day: CoastdownDay, passes: list[PassSamples]) -> tuple[Vehicle, FloatArray]:
    """The vehicle with the mass of the passes where they state it, and each pass's mass over that."""
    stated = [one.declared.mass_kg for one in passes]
    known = [mass for mass in stated if mass is not None]
    if not known:
        return day.vehicle, np.ones(len(passes))
    mean = float(np.mean([mass.value for mass in known]))
    halves = [mass.half_width for mass in known if mass.half_width is not None]
    mass = Declared(mean, float(np.mean(halves)) if halves else None, origin=known[0].origin)
    ratio = np.array([1.0 if one is None else one.value / mean for one in stated])
    return msgspec.structs.replace(day.vehicle, test_mass_kg=mass), ratio


def _surroundings(day: CoastdownDay, passes: list[PassSamples]) -> tuple[VehicleWeather, Drive]:
    """Weather along all passes one after the other, and the drive that carries its doubt into the model."""
    clock = np.concatenate([one.clock_s for one in passes])
    if clock[0] < FIRST_CLOCK_S and day.weather.readings:
        clock = clock + day.weather.readings[0].time_s
    speed = np.concatenate([one.speed_mps for one in passes])
    heading = np.nan_to_num(np.concatenate([one.heading_rad for one in passes]))
    height = np.concatenate([one.height_m for one in passes])
    air = bring_to_vehicle(day.weather, day.terrain, clock, height, wind_height_m(day.vehicle))
    zero = np.zeros(clock.size)
    return air, Drive(
        step_s=zero + 1.0, elapsed_s=zero + WARM_ENOUGH_S, speed_mps=speed, acceleration_mps2=zero, grade=zero,
        heading_rad=heading, wind_east_mps=air.wind_east_mps, wind_north_mps=air.wind_north_mps,
        turbulence_along_mps2=air.turbulence_along_mps2, turbulence_across_mps2=air.turbulence_across_mps2,
        air_density_kgpm3=air.air_density_kgpm3, temperature_k=air.temperature_k, pressure_pa=air.pressure_pa,
        running=zero + 1.0,
        wind_factor_log_sd=air.wind_factor_log_sd, wind_offset_sd_mps=air.wind_offset_sd_mps,
        direction_sd_rad=air.direction_sd_rad, density_relative_sd=air.density_relative_sd,
    )  # fmt: skip
