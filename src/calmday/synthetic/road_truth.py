"""A random road: a closed loop or a way out and back, with hills, bends, limits and hedges."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from calmday.synthetic.scenario import Scenario
from calmday.synthetic.streams import chance, stream, uniform
from calmday.synthetic.truth_types import FloatArray, RoadTruth

STEP_M = 2.0
_TURN_RADIUS_M = 13.0


def _periodic_field(g: np.random.Generator, count: int, length: float, shortest: float, power: float) -> FloatArray:
    """A smooth periodic field of unit variance on `count` points: random phases, amplitude falling with
    wave number.
    """
    highest = max(1, int(length / shortest))
    waves = np.arange(1, highest + 1)
    amplitude = g.standard_normal(highest) * waves**-power
    phase = g.uniform(0, 2 * np.pi, highest)
    place = np.arange(count) / count
    field: FloatArray = (amplitude[:, None] * np.cos(2 * np.pi * waves[:, None] * place + phase[:, None])).sum(axis=0)
    return field / max(float(field.std()), 1e-12)


def _smooth_loop(g: np.random.Generator) -> FloatArray:
    angle = np.linspace(0, 2 * np.pi, 6001)[:-1]
    radius = np.ones_like(angle)
    for wave in range(2, 7):
        radius += uniform(g, -0.3, 0.3) / wave**0.8 * np.cos(wave * angle + uniform(g, 0, 6.28))
    stretch = uniform(g, 0.5, 1.0)
    turn = uniform(g, 0, 2 * np.pi)
    x, y = radius * np.cos(angle), stretch * radius * np.sin(angle)
    return np.column_stack([x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)])


def _polygon_loop(g: np.random.Generator) -> FloatArray:
    corners = int(g.integers(4, 9))
    angle = (np.arange(corners) + g.uniform(-0.3, 0.3, corners)) / corners * 2 * np.pi + uniform(g, 0, 6.28)
    radius = g.uniform(0.55, 1.0, corners)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return np.vstack([points, points[:1]])


def _close(points: FloatArray) -> FloatArray:
    closed: FloatArray = points if np.allclose(points[0], points[-1]) else np.vstack([points, points[:1]])
    return closed


def _resample(points: FloatArray, length_m: float) -> FloatArray:
    """A closed line scaled to a length and sampled evenly, about STEP_M apart; the end point is left out."""
    points = _close(points)
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    count = max(round(length_m / STEP_M), 50)
    place = np.linspace(0, along[-1], count + 1)[:-1]
    even = np.column_stack([np.interp(place, along, points[:, k]) for k in (0, 1)])
    scaled: FloatArray = even * (length_m / along[-1])
    return scaled


def _round_off(points: FloatArray, reach_m: float) -> FloatArray:
    """Periodic Gaussian smoothing of an evenly sampled closed line."""
    frequency = np.fft.fftfreq(points.shape[0], STEP_M)
    window = np.exp(-2 * (np.pi * frequency * reach_m) ** 2)
    smooth: FloatArray = np.fft.ifft(np.fft.fft(points, axis=0) * window[:, None], axis=0).real
    return smooth


def _arc(centre: FloatArray, start: float, sweep: float) -> FloatArray:
    angle = np.linspace(start, start + sweep, 60)
    return np.asarray(centre + _TURN_RADIUS_M * np.column_stack([np.cos(angle), np.sin(angle)]))


def _out_and_back(g: np.random.Generator, length_m: float) -> tuple[FloatArray, int]:
    """There on the right, round a turning circle, back on the other side, and round again at the start."""
    count = int(length_m / 2 / STEP_M)
    bends = _periodic_field(g, count, length_m / 2, 500.0, 1.0) * uniform(g, 0.15, 0.5)
    heading = uniform(g, 0, 2 * np.pi) + bends
    middle = np.cumsum(np.column_stack([np.cos(heading), np.sin(heading)]), axis=0) * STEP_M
    right = np.column_stack([np.sin(heading), -np.cos(heading)]) * 1.75
    out, back = middle + right, (middle - right)[::-1]
    ahead = np.array([math.cos(heading[-1]), math.sin(heading[-1])])
    behind = np.array([math.cos(heading[0]), math.sin(heading[0])])
    far = _arc(middle[-1] + ahead * 16, heading[-1] - 2.2, 4.4)
    near = _arc(middle[0] - behind * 16, heading[0] + np.pi - 2.2, 4.4)
    return np.vstack([out, far, back, near]), count


def _mirror(field: FloatArray, count: int) -> FloatArray:
    """A field met on the way out met again, backwards, on the way back."""
    half = np.interp(np.linspace(0, 1, count // 2), np.linspace(0, 1, field.size), field)
    whole = np.concatenate([half, half[::-1]])
    return whole if whole.size == count else np.append(whole, half[0])


def _speed_limits(
    g: np.random.Generator, curvature: FloatArray, cruise_mps: float, top_mps: float, braking: float
) -> FloatArray:
    """Zones of limits, bends by side acceleration, and braking in time for what lies ahead."""
    count = curvature.size
    zones = np.sort(g.integers(0, count, int(g.integers(1, 6))))
    limit = np.full(count, cruise_mps)
    for begin, end in pairwise(zones.tolist()):
        limit[begin:end] = max(cruise_mps * uniform(g, 0.7, 1.0), min(50 / 3.6, cruise_mps))
    limit = np.minimum(limit, top_mps)
    limit = np.minimum(limit, np.sqrt(uniform(g, 2.0, 3.2) / np.maximum(np.abs(curvature), 1e-6)))
    for index in range(2 * count - 1, -1, -1):
        ahead = limit[(index + 1) % count]
        limit[index % count] = min(limit[index % count], math.sqrt(ahead**2 + 1.6 * braking * STEP_M))
    bounded: FloatArray = limit
    return bounded


def random_road(scenario: Scenario, top_mps: float, braking: float) -> RoadTruth:
    """The road of one lap. Heights start at 0 and close over the lap."""
    g = stream(scenario.seed, "road")
    kind, length_m, steepest = scenario.route_kind, scenario.lap_length_m, scenario.steepest_grade
    if kind == "out and back":
        points, _ = _out_and_back(g, length_m)
        points = _round_off(_resample(points, length_m), 4.0)
    else:
        points = _resample(_smooth_loop(g) if kind == "smooth loop" else _polygon_loop(g), length_m)
        points = _round_off(points, uniform(g, 25, 60))
    if kind != "out and back" and chance(g, 0.5):
        points = points[::-1]
    points = _resample(points, length_m)
    count = points.shape[0]
    step = length_m / count
    forward = np.roll(points, -1, axis=0) - points
    points = points * (length_m / float(np.hypot(*forward.T).sum()))
    heading = np.unwrap(np.arctan2(forward[:, 1], forward[:, 0]))
    turn = np.angle(np.exp(1j * (np.roll(heading, -1) - heading)))
    height = _periodic_field(g, count, length_m, 500.0, 1.3)
    shelter = np.exp(uniform(g, 0.08, 0.25) * _periodic_field(g, count, length_m, 250.0, 0.4))
    if kind == "out and back":
        height, shelter = _mirror(height, count), _mirror(shelter, count)
    grade = (np.roll(height, -1) - height) / step
    height *= steepest / max(float(np.abs(grade).max()), 1e-9)
    height -= height[0]
    return RoadTruth(
        step_m=step,
        east_m=points[:, 0] - points[0, 0],
        north_m=points[:, 1] - points[0, 1],
        heading_east=np.cos(heading),
        heading_north=np.sin(heading),
        grade=(np.roll(height, -1) - height) / step,
        height_m=height,
        shelter=np.clip(uniform(g, 0.92, 1.04) * shelter, 0.3, 1.4),
        limit_mps=_speed_limits(g, turn / step, scenario.cruise_mps, top_mps, braking),
    )
