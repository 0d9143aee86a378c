"""Full-load torque from speed against time in one gear.

The equation of motion at full load, written at the flywheel and integrated over time, is linear in the torque:
  M (v(t) - v0) + int [R/eta + D + P_acc/v] dt = 2 pi z int T(n) dt,     n = z v, z turns per metre
  M = (m + m_wheels)/eta + J (2 pi z)^2: the engine's own inertia J is before the losses of the driveline
with R the road load, D churning. T(n) is a polynomial of second or third degree, held by its values at a few nodes
(straight pieces would overshoot a hollow curve at their joints). Integrals do not blow up the noise of the receiver as
slopes would, so the nodes come from plain least squares, once per draw of the vehicle, the wind and the grade.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import STANDARD_GRAVITY_MPS2
from calmday.physics.drag import SIDE_SHARE
from calmday.procedures.gears_forces import Conditions, churning_n, efficiency, rolling_coefficient
from calmday.procedures.gears_vehicle import GearVehicle
from calmday.procedures.pull_samples import PullSamples

FloatArray = NDArray[np.float64]

MOST_NODES: Final = 4
CUBIC_SAMPLES: Final = 24
"""From this many samples on a pull carries a third degree."""
STEADY_SPAN: Final = 0.15
"""Relative span of speed below which a pull gives one torque, not a curve."""
LEAST_NOISE_MPS: Final = 0.02
TIMED_SPEED_SD: Final = 0.004
"""Relative doubt of the mean speed of a climb timed by hand: about one second in four minutes. Assumed."""


class Surroundings(msgspec.Struct, frozen=True, kw_only=True):
    """What a pull met, per draw (m,) or (m, n): head wind along the way, cross wind squared, grade, density."""

    head_mps: FloatArray
    cross_square: FloatArray
    grade: FloatArray
    air_density_kgpm3: FloatArray
    temperature_k: float


class Fit(msgspec.Struct, frozen=True, kw_only=True):
    """Torque (N m) at the flywheel at the nodes `engine_rps` (k,), draws (m, k); `wheel_force_n` at steady speed.

    `noise_mps` what the speeds scatter about the fit; `mean_rps` engine speed averaged over the pull's time.
    """

    engine_rps: FloatArray
    torque_nm: FloatArray
    noise_mps: float
    mean_rps: float
    resistance_n: FloatArray

    def torque_at(self, engine_rps: float) -> FloatArray:
        """Torque per draw at one engine speed within the pull, (m,)."""
        low, high = self.engine_rps[0], self.engine_rps[-1]
        weights = _lagrange(np.clip(np.array([engine_rps]), low, high), self.engine_rps)[0]
        return np.asarray(self.torque_nm @ weights)

    def covers(self, engine_rps: float) -> bool:
        """Whether the pull went through this engine speed."""
        low, high = float(self.engine_rps[0]), float(self.engine_rps[-1])
        near = 0.02 * engine_rps if self.engine_rps.size > 1 else 0.05 * engine_rps
        return low - near <= engine_rps <= high + near


def _lagrange(at: FloatArray, nodes: FloatArray) -> FloatArray:
    """Lagrange polynomials of the nodes, (n, k): one at their own node, zero at the others."""
    columns = []
    for own in range(nodes.size):
        others = np.delete(nodes, own)
        columns.append(np.prod((at[:, None] - others) / (nodes[own] - others), axis=1))
    return np.stack(columns, axis=1)


def resistance(vehicle: GearVehicle, met: Surroundings, speed_mps: FloatArray) -> FloatArray:
    """Road load along a pull, (m, n): rolling, slope and drag with the wind of each draw."""
    p = vehicle.values
    speed = np.broadcast_to(speed_mps, met.head_mps.shape)
    cosine = 1 / np.sqrt(1 + met.grade**2)[:, None]
    on = Conditions(temperature_k=met.temperature_k)
    road = rolling_coefficient(vehicle, on, speed) + met.grade[:, None]
    weight = (p["test_mass"] * STANDARD_GRAVITY_MPS2)[:, None] * cosine
    axial = speed + met.head_mps
    side = (SIDE_SHARE + p["yaw_growth"])[:, None] * met.cross_square
    drag = 0.5 * met.air_density_kgpm3 * p["drag_area"][:, None] * (axial * np.abs(axial) + side)
    return np.asarray(weight * road + drag)


def inertia_kg(vehicle: GearVehicle, gear: int, rotating: FloatArray | None) -> tuple[FloatArray, FloatArray]:
    """Mass behind and before the driveline's losses, each (m,): vehicle and wheels; engine and gearbox.

    `rotating` what everything that turns adds, where it is known; the wheels' usual share of it is kept apart.
    """
    mass, wheels = vehicle.values["test_mass"], vehicle.wheels_kg
    if rotating is not None:
        return mass + np.minimum(wheels, rotating), np.maximum(rotating - wheels, 0.0)
    return mass + wheels, vehicle.engine_side_kg(gear)


def fit_pull(
    vehicle: GearVehicle,
    samples: PullSamples,
    met: Surroundings,
    gear: int,
    rotating: FloatArray | None,
    scores: FloatArray,
) -> Fit:
    """Torque of one pull per draw. `scores` (m, MOST_NODES) standard normal, for what the speeds' noise leaves open."""
    time, speed = samples.time_s, samples.speed_mps
    turns = vehicle.model.gearing.turns_per_metre[gear]
    engine = turns * speed
    nodes = _nodes(engine, samples)
    load = resistance(vehicle, met, speed)
    churning = churning_n(vehicle, Conditions(temperature_k=met.temperature_k), np.broadcast_to(speed, load.shape))
    eta = efficiency(vehicle)
    own = vehicle.values["accessory_power"][:, None] / np.maximum(speed, 1.0)
    taken = _integral(time, load / eta + churning + own)
    behind, before = inertia_kg(vehicle, gear, rotating)
    inertia = behind / eta[:, 0] + before
    left = inertia[:, None] * (speed - speed[0]) + taken
    scale = 2 * math.pi * turns
    design = np.concatenate([scale * _integral(time, _lagrange(engine, nodes).T).T, np.ones((time.size, 1))], axis=1)
    if samples.timed:
        torque = left[:, -1:] / design[-1:, :1]
        noise, spread = 0.0, TIMED_SPEED_SD * np.abs(torque)
        torque = torque + spread * scores[:, :1]
    else:
        torque, noise = _solve(design, left, inertia, scores)
    return Fit(
        engine_rps=nodes,
        torque_nm=torque / vehicle.values["gearing_scale"][:, None],
        noise_mps=noise,
        mean_rps=samples.mean_over_time(engine),
        resistance_n=load.mean(axis=1),
    )


def _nodes(engine: FloatArray, samples: PullSamples) -> FloatArray:
    """Engine speeds that hold the torque: the ends and between them, closer at the ends (Chebyshev, second kind)."""
    low, high = float(engine.min()), float(engine.max())
    if samples.timed or (high - low) < STEADY_SPAN * high:
        return np.array([samples.mean_over_time(engine)])
    count = MOST_NODES if engine.size >= CUBIC_SAMPLES else 3
    return np.asarray((low + high) / 2 - (high - low) / 2 * np.cos(np.pi * np.arange(count) / (count - 1)))


def _integral(time: FloatArray, values: FloatArray) -> FloatArray:
    """Running integral over time of each row by trapezia, starting at zero."""
    steps = np.diff(time) * (values[:, 1:] + values[:, :-1]) / 2
    return np.concatenate([np.zeros((len(values), 1)), np.cumsum(steps, axis=1)], axis=1)


def _solve(design: FloatArray, left: FloatArray, inertia: FloatArray, scores: FloatArray) -> tuple[FloatArray, float]:
    """Least squares for every draw at once, and what the noise of the speeds leaves open.

    Scatter about the fit is the receiver's; neighbouring errors that hang together count for fewer readings.
    """
    unknown = design.shape[1]
    solution, *_ = np.linalg.lstsq(design, left.T, rcond=None)
    residual = left.mean(axis=0) - design @ solution.mean(axis=1)
    free = max(residual.size - unknown, 1)
    variance = float(residual @ residual) / free
    least = (LEAST_NOISE_MPS * float(inertia.mean())) ** 2
    tied = float(residual[1:] @ residual[:-1]) / max(float(residual @ residual), 1e-12)
    inflation = float(np.clip((1 + tied) / (1 - min(tied, 0.9)), 1.0, 5.0))
    covariance = max(variance, least) * inflation * np.linalg.inv(design.T @ design)
    root = np.linalg.cholesky(covariance[:-1, :-1] + 1e-12 * np.eye(unknown - 1))
    torque = solution[:-1].T + scores[:, : unknown - 1] @ root.T
    return torque, math.sqrt(variance) / float(inertia.mean())
