"""Fixes that jump aside and back: caught; hard braking, corners, noise and true detours: left alone."""

from __future__ import annotations

import numpy as np
import pytest

from calmday.reduction.excursions import LONGEST_EXCURSION_S, excursions


def straight(seconds: int = 120, speed: float = 18.0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    time = np.arange(float(seconds))
    return time, speed * time, 0.3 * time


@pytest.mark.parametrize("length", [1, 2, 3, 6])
@pytest.mark.parametrize("offset", [(0.0, 30.0), (-40.0, 50.0), (65.0, 0.0)])
@pytest.mark.parametrize("speed", [0.0, 18.0])
def test_catches_a_burst_of_fixes_set_aside(length: int, offset: tuple[float, float], speed: float) -> None:
    time, east, north = straight(speed=speed)
    g = np.random.default_rng(length)
    east, north = east + g.normal(0, 0.6, time.size), north + g.normal(0, 0.6, time.size)
    burst = slice(50, 50 + length)
    east[burst] += offset[0]
    north[burst] += offset[1]
    expected = np.zeros(time.size, dtype=bool)
    expected[burst] = True
    assert (excursions(time, east, north) == expected).all()


def test_two_bursts_are_two() -> None:
    time, east, north = straight()
    for start in (30, 60):
        north[start : start + 3] += 45.0
    assert np.flatnonzero(excursions(time, east, north)).tolist() == [30, 31, 32, 60, 61, 62]


def test_leaves_a_step_that_stays() -> None:
    time, east, north = straight()
    north[60:] += 40.0
    assert not excursions(time, east, north).any()


def test_leaves_a_detour_longer_than_a_burst() -> None:
    time, east, north = straight()
    north[40 : 40 + int(LONGEST_EXCURSION_S) + 3] += 40.0
    assert not excursions(time, east, north).any()


def test_leaves_hard_braking_corners_and_noise_alone() -> None:
    time = np.arange(400.0)
    speed = np.clip(25 - 8.0 * np.clip(time - 100, 0, 3) + 3.0 * np.clip(time - 120, 0, 8), 0, None)
    heading = np.cumsum(np.where((time > 200) & (time < 206), np.pi / 12, 0.0))
    east, north = np.cumsum(speed * np.cos(heading)), np.cumsum(speed * np.sin(heading))
    for seed in range(20):
        g = np.random.default_rng(seed)
        noisy = east + g.normal(0, 3.0, time.size), north + g.normal(0, 3.0, time.size)
        assert not excursions(time, *noisy).any()


def test_too_few_fixes_and_slow_recorders() -> None:
    assert not excursions(np.arange(4.0), np.zeros(4), np.zeros(4)).any()
    time = np.arange(0.0, 600.0, 15.0)
    east = np.where(np.arange(time.size) == 20, 300.0, 0.0)
    assert not excursions(time, east, np.zeros(time.size)).any()
