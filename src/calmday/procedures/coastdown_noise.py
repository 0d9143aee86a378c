"""What disturbs a roll beside the model, as a covariance of what was recorded: receiver, gusts, waves in the road.

A disturbance of force dF(t) changes speed by  dv(t) = -integral of E(t)/E(s) dF(s)/M ds,  E = exp(-integral F_v/M):
linear, so gusts (short memory), slow wander of the wind (minutes, shared by all passes of the day) and the waviness of
the road (shared by passes over the same place, against the direction) become covariances. The unknown start speed is
one more. A valley rolled through from both ends looks like rolling resistance; recorded heights see it: they are
readings too, the integral of grade along the way with the drift of the receiver. Sizes of gusts, wander and waves are
chosen where they make what was recorded most probable.
"""

from __future__ import annotations

import itertools
import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.model.basis import CHURNING_SPEED_MPS
from calmday.physics.drag import SIDE_SHARE
from calmday.procedures.coastdown_forward import STEPS, Rolls
from calmday.procedures.coastdown_samples import PassSamples

FloatArray = NDArray[np.float64]

LEVELLED: Final = 0.8
"""What is left of the growth with yaw at usual angles, for the small effect of side gusts."""
START_SD_MPS: Final = 0.5
SLOW_S: Final = 300.0
WAVE_LENGTHS_M: Final = (60.0, 150.0, 400.0)
SMOOTHED_S: Final = 4.0
GUST_SCALES: Final = (0.35, 0.5, 0.7, 1.0, 1.4, 2.0, 2.8)
GUST_SCALE_LOG_SD: Final = 0.4
GUST_MEMORIES_S: Final = (3.0, 6.0, 12.0)
WAVES: Final = (0.0003, 0.0007, 0.0013, 0.002, 0.003, 0.0045, 0.007)
NOISES: Final = (1.0, 1.6, 2.5)
HEIGHT_DRIFTS_M: Final = (0.7, 1.5, 3.0)
HEIGHT_MEMORY_S: Final = 90.0
HEIGHT_WHITE_M: Final = 0.3
HEIGHT_OFFSET_M: Final = 15.0
LONG_WAVE: Final = (0.0003, 600.0)
"""Long waves that a road taken for even still has: grade, one standard deviation, and length in m. Assumed."""
START_APART_M: Final = 50.0
"""How far apart passes without positions begin that go the same way along one road. Assumed: from a mark beside it."""
SLOWS: Final = (0.12, 0.25)
"""Slow wander of the wind as a share of its mean, one standard deviation; beside 0.3 of the gusts. Assumed."""


class Sizes(msgspec.Struct, frozen=True, kw_only=True):
    """How large each disturbance is: factors on gusts and receiver noise, memory, grade of waves, slow wander."""

    gust: float = 1.0
    memory_s: float = 6.0
    wave: float = 0.0013
    wave_m: float = 150.0
    noise: float = 1.0
    slow: float = 0.12
    drift_m: float = 1.5

    def log_prior(self) -> float:
        """Gusts near what the weather says; the others as they come."""
        return -0.5 * (math.log(self.gust) / GUST_SCALE_LOG_SD) ** 2


class Parts(msgspec.Struct, frozen=True, kw_only=True):
    """Covariances of the readings (n, n), each for a disturbance of unit size, with one gust part for each memory.

    `push` (P, n): how the readings answer to one newton that holds one pass back from its start to its end."""

    fixed: FloatArray
    noise: FloatArray
    gusts: dict[float, FloatArray]
    waves: dict[float, FloatArray]
    slow_share: FloatArray
    slow_gust: FloatArray
    drift: FloatArray
    push: FloatArray

    def total(self, s: Sizes) -> FloatArray:
        """The covariance of the readings for sizes `s`."""
        slow = s.slow**2 * self.slow_share + (0.3 * s.gust) ** 2 * self.slow_gust
        road = s.wave**2 * self.waves[s.wave_m]
        receiver = s.noise**2 * self.noise + s.drift_m**2 * self.drift
        return self.fixed + receiver + s.gust**2 * self.gusts[s.memory_s] + road + slow


def reading_matrix(passes: list[PassSamples]) -> list[FloatArray]:
    """For each pass, the matrix (n, N+1) that reads the grid at the times of its bins."""
    matrices = []
    for one in passes:
        place = np.clip(one.time_s / one.time_s[-1] * STEPS, 0, STEPS - 1e-9)
        index = place.astype(np.int64)
        part = place - index
        matrix = np.zeros((one.time_s.size, STEPS + 1))
        matrix[np.arange(place.size), index] = 1 - part
        matrix[np.arange(place.size), index + 1] = part
        matrices.append(matrix)
    return matrices


class _Felt(msgspec.Struct, frozen=True, kw_only=True):
    """How readings answer to disturbances on the grid (n, P (N+1)): `force` per unit of dF/M, `climb` heights per unit
    of grade; `fixed`, `noise`, `drift` covariances that do not come from the grid; `per_head`, `per_side` dF/M for
    1 m/s of gust; `ratio` what m/M makes of gravity; `push` as in `Parts`."""

    force: FloatArray
    climb: FloatArray
    fixed: FloatArray
    noise: FloatArray
    drift: FloatArray
    per_head: FloatArray
    per_side: FloatArray
    ratio: FloatArray
    push: FloatArray


def _felt(rolls: Rolls, passes: list[PassSamples], speed: FloatArray, at: dict[str, float]) -> _Felt:
    reads = reading_matrix(passes)
    edges = np.cumsum([0, *(len(one.time_s) for one in passes)])
    heighted = [k for k, one in enumerate(passes) if one.has_height]
    tops = np.cumsum([edges[-1], *(len(passes[k].time_s) for k in heighted)])
    n, points = int(tops[-1]), STEPS + 1
    head, side = rolls.head * at["wind_factor"], rolls.cross * at["wind_factor"]
    area = at["drag_area"] * rolls.density
    mass = at["test_mass"] * rolls.mass_ratio[:, None]
    inertia = mass + at.get("rotating_mass", at.get("rotating_share", 0.0) * mass)
    per_head = area * np.abs(speed + head) / inertia
    softening = (per_head + at["churning"] / CHURNING_SPEED_MPS / inertia) * rolls.step_s[:, None]
    decay = np.exp(-np.cumsum(softening, axis=1))
    force, climb = np.zeros((n, rolls.count * points)), np.zeros((n, rolls.count * points))
    fixed, noise, drift = np.zeros((n, n)), np.zeros((n, n)), np.zeros((n, n))
    for k, (one, read) in enumerate(zip(passes, reads, strict=True)):
        rows, columns = slice(edges[k], edges[k + 1]), slice(k * points, (k + 1) * points)
        force[rows, columns] = -read @ _running(decay[k][:, None] / decay[k][None, :] * rolls.step_s[k])
        start = read @ (decay[k] / decay[k][0])
        fixed[rows, rows] = START_SD_MPS**2 * np.outer(start, start)
        fixed[rows, rows] += _unknown_way(rolls, k, force[rows, columns], per_head[k])
        noise[rows, rows] = np.diag(one.noise_mps**2)
        if not one.doppler:
            noise[rows, rows] += np.outer(one.noise_mps, one.noise_mps) * _memory(one, SMOOTHED_S)
    for index, k in enumerate(heighted):
        one, rows = passes[k], slice(tops[index], tops[index + 1])
        way = np.ones((points, points)) * (speed[k] * rolls.step_s[k])
        climb[rows, k * points : (k + 1) * points] = reads[k] @ _running(way)
        drift[rows, rows] = _memory(one, HEIGHT_MEMORY_S)
        fixed[rows, rows] = HEIGHT_OFFSET_M**2 + np.eye(one.time_s.size) * HEIGHT_WHITE_M**2
    return _Felt(
        force=force, climb=climb, fixed=fixed, noise=noise, drift=drift, per_head=per_head,
        per_side=area * (SIDE_SHARE + LEVELLED * at["yaw_growth"]) * side / inertia,
        ratio=np.broadcast_to(mass / inertia, speed.shape),
        push=force.reshape(n, rolls.count, points).sum(axis=2).T / inertia,
    )  # fmt: skip


def _running(weights: FloatArray) -> FloatArray:
    """Weights of a running integral by trapezia."""
    lower = np.tril(weights)
    lower[:, 0] *= 0.5
    lower[np.diag_indices(len(lower))] *= 0.5
    return lower


def _memory(one: PassSamples, seconds: float) -> FloatArray:
    return np.asarray(np.exp(-np.abs(one.time_s[:, None] - one.time_s[None, :]) / seconds))


def parts_of(rolls: Rolls, passes: list[PassSamples], speed: FloatArray, at: dict[str, float]) -> Parts:
    """Covariance parts about a nominal motion `speed` (P, N+1) with parameter values `at`: speeds, then heights."""
    felt = _felt(rolls, passes, speed, at)
    respond = felt.force
    clock, heading = rolls.clock_s.ravel(), rolls.heading_rad.ravel()
    owner = np.repeat(np.arange(rolls.count), STEPS + 1)
    same = owner[:, None] == owner[None, :]
    apart = np.abs(clock[:, None] - clock[None, :])
    b_head, b_side = felt.per_head.ravel(), felt.per_side.ravel()
    sin, cos = np.sin(heading), np.cos(heading)
    east, north = -b_head * sin + b_side * cos, -b_head * cos - b_side * sin
    both = np.outer(east, east) + np.outer(north, north)
    share = np.divide(rolls.head**2, rolls.wind_mps**2, out=np.full_like(rolls.head, 0.5), where=rolls.wind_mps > 1e-6)
    axial = np.sqrt(rolls.gust_along * share + rolls.gust_across * (1 - share)).ravel()
    lateral = np.sqrt(rolls.gust_across * share + rolls.gust_along * (1 - share)).ravel()
    gust = np.outer(b_head * axial, b_head * axial) + np.outer(b_side * lateral, b_side * lateral)
    gusts = {m: respond @ (np.where(same, gust * np.exp(-apart / m), 0.0)) @ respond.T for m in GUST_MEMORIES_S}
    shared, far = _same_road(rolls, same)
    up = respond * (STANDARD_GRAVITY_MPS2 * felt.ratio.ravel()) + felt.climb
    waves = {m: up @ (shared * np.exp(-far / m)) @ up.T for m in WAVE_LENGTHS_M}
    long = LONG_WAVE[0] ** 2 * (up @ (shared * np.exp(-far / LONG_WAVE[1])) @ up.T)
    slow = np.exp(-apart / SLOW_S)
    wind, spread = rolls.wind_mps.ravel(), np.sqrt(rolls.gust_along).ravel()
    return Parts(
        fixed=felt.fixed + long, noise=felt.noise, drift=felt.drift, gusts=gusts, waves=waves, push=felt.push,
        slow_share=respond @ (both * slow * np.outer(wind, wind)) @ respond.T,
        slow_gust=respond @ (both * slow * np.outer(spread, spread)) @ respond.T,
    )  # fmt: skip


def _unknown_way(rolls: Rolls, k: int, respond: FloatArray, per_head: FloatArray) -> FloatArray:
    """A pass whose heading nobody knows meets the wind from any side."""
    if rolls.known[k]:
        return np.zeros((len(respond), len(respond)))
    effect = respond @ (per_head * rolls.wind_mps[k] / math.sqrt(2))
    return np.outer(effect, effect)


def _same_road(rolls: Rolls, same: NDArray[np.bool_]) -> tuple[FloatArray, FloatArray]:
    """Which points of the grid see the same waves of a road, with the signs of their ways; and how far apart along it
    they are.

    Passes without positions that go the same way along one road are taken to begin at about the same mark: their waves
    do not average out with their number. Where passes of the two ways overlap is not known; they share nothing.
    """
    along = rolls.along_m.ravel()
    sign = np.repeat(rolls.way, STEPS + 1)
    road = np.repeat(rolls.road, STEPS + 1)
    placed = np.repeat(rolls.placed, STEPS + 1)
    one_road = road[:, None] == road[None, :]
    marked = one_road & ~placed[:, None] & ~placed[None, :] & (sign[:, None] == sign[None, :])
    shared = same | marked | (one_road & placed[:, None] & placed[None, :])
    far = np.abs(along[:, None] - along[None, :]) + np.where(marked & ~same, START_APART_M, 0.0)
    return np.where(shared, np.outer(sign, sign), 0.0), far


def best_sizes(parts: Parts, off: FloatArray, slope: FloatArray, start: Sizes) -> Sizes:
    """Sizes that make the readings most probable, the parameters integrated out: coordinate by coordinate, twice.

    `off` (n,) readings less a prediction at zero scores; `slope` (n, k) of the prediction.
    """
    explained = slope @ slope.T
    best, score = start, _log_probability(parts, off, explained, start)
    choices = {
        "gust": GUST_SCALES,
        "wave": WAVES,
        "wave_m": WAVE_LENGTHS_M,
        "memory_s": GUST_MEMORIES_S,
        "noise": NOISES,
        "slow": SLOWS,
        "drift_m": HEIGHT_DRIFTS_M,
    }
    for _, (key, values) in itertools.product(range(2), choices.items()):
        for value in values:
            tried = msgspec.structs.replace(best, **{key: value})
            found = _log_probability(parts, off, explained, tried)
            if found > score:
                best, score = tried, found
    return best


def doubtful_total(parts: Parts, off: FloatArray, slope: FloatArray, best: Sizes) -> FloatArray:
    """The covariance of the readings, mean over the sizes and lengths of the road's waves as the readings make each
    probable; the other sizes as in `best`.

    A few rolls over one road say little of how it waves: the most probable size alone would understate the doubt.
    """
    explained = slope @ slope.T
    tried = [msgspec.structs.replace(best, wave=w, wave_m=m) for w, m in itertools.product(WAVES, WAVE_LENGTHS_M)]
    scores = np.array([_log_probability(parts, off, explained, sizes) for sizes in tried])
    weights = np.exp(scores - scores.max())
    weights /= weights.sum()
    covariance = parts.total(msgspec.structs.replace(best, wave=0.0))
    for weight, sizes in zip(weights, tried, strict=True):
        covariance += weight * sizes.wave**2 * parts.waves[sizes.wave_m]
    return covariance


def _log_probability(parts: Parts, off: FloatArray, explained: FloatArray, sizes: Sizes) -> float:
    try:
        root = np.linalg.cholesky(parts.total(sizes) + explained)
    except np.linalg.LinAlgError:
        return -math.inf
    z = np.linalg.solve(root, off)
    return sizes.log_prior() - 0.5 * float(z @ z) - float(np.log(np.diag(root)).sum())
