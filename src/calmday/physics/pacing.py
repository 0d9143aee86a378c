"""Speed along a way under limits of speed, pulling away and braking: how a steady driver would drive it."""

from __future__ import annotations

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CREEP_MPS = 0.3
"""Slowest speed between two places, so that a stop takes a time that is not infinite."""


class Paced(msgspec.Struct, frozen=True, kw_only=True):
    """A drive in even steps of time, arrays (n,): mean speed, acceleration, and the node of the way each step is at."""

    step_s: float
    speed_mps: FloatArray
    acceleration_mps2: FloatArray
    node: IntArray
    duration_s: float


def paced_speed(limit_mps: FloatArray, step_m: float, acceleration_mps2: float, braking_mps2: float) -> FloatArray:
    """Highest speed [m/s] at each node that keeps the limits and changes no faster than asked; shape (n,).

    v^2 grows by at most 2 a ds from node to node and falls by at most 2 b ds (constant acceleration). Starts and ends
    at rest where the limit is zero there.
    """
    way = step_m * np.arange(limit_mps.size)
    squared = np.asarray(limit_mps, dtype=np.float64) ** 2
    pulled = np.minimum.accumulate(squared - 2 * acceleration_mps2 * way) + 2 * acceleration_mps2 * way
    back = pulled[::-1]
    braked = np.minimum.accumulate(back - 2 * braking_mps2 * way) + 2 * braking_mps2 * way
    return np.asarray(np.sqrt(np.maximum(braked[::-1], 0.0)))


def pace(
    limit_mps: FloatArray,
    hold_s: FloatArray,
    step_m: float,
    *,
    acceleration_mps2: float,
    braking_mps2: float,
    step_s: float,
) -> Paced:
    """The drive over nodes `step_m` apart: `limit_mps` (n,) at each, `hold_s` (n,) how long it stands there.

    A node with a hold is a stop. Ranges: nodes every few metres to tens of metres; steps of time of a few seconds.
    """
    limit = np.where(hold_s > 0, 0.0, limit_mps)
    speed = paced_speed(limit, step_m, acceleration_mps2, braking_mps2)
    between = np.maximum(0.5 * (speed[:-1] + speed[1:]), CREEP_MPS)
    leave = np.cumsum(hold_s) + np.concatenate([[0.0], np.cumsum(step_m / between)])
    arrive = leave - hold_s
    clock = np.stack([arrive, leave], axis=1).ravel()
    clock += 1e-9 * np.arange(clock.size)
    twice = np.repeat(np.arange(limit.size), 2)
    edges = np.arange(0.0, clock[-1] + step_s, step_s)
    place = np.interp(edges, clock, step_m * twice)
    at_edges = np.interp(edges, clock, speed[twice])
    mean = np.diff(place) / step_s
    node = np.searchsorted(clock, 0.5 * (edges[:-1] + edges[1:]))
    return Paced(
        step_s=step_s,
        speed_mps=mean,
        acceleration_mps2=np.diff(at_edges) / step_s,
        node=twice[np.minimum(node, twice.size - 1)].astype(np.int64),
        duration_s=float(clock[-1]),
    )
