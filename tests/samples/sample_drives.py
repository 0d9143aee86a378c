"""Invented drives, sample by sample, for tests of the pictures: every number follows from a formula."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from calmday.metrology.figure import from_normal
from calmday.procedures.along_the_drive import AlongTheDrive, Band, WindMet
from calmday.reduction.reduced_track import Gap, Span

START_S = 1_775_991_600.0


def band(mean: np.ndarray, half: float) -> Band:
    return Band(mean, mean - half, mean + half)


def drive(
    samples: int = 1200, laps: int = 3, *, modelled: bool = True, gap: bool = False, stop: bool = True
) -> AlongTheDrive:
    """Laps of an ellipse 2 km by 1 km, one sample a second, climbing and falling once a lap."""
    turn = 2 * np.pi * laps * np.arange(samples) / max(samples, 1)
    east, north = 1000 * np.cos(turn), 500 * np.sin(turn)
    step = np.hypot(np.diff(east, prepend=east[:1]), np.diff(north, prepend=north[:1]))
    speed = 16 + 5 * np.sin(2 * turn)
    if stop and samples > 200:
        speed[100:130] = 0.0
    time = START_S + np.arange(samples, dtype=float)
    segment = np.zeros(samples, dtype=np.int64)
    gaps: tuple[Gap, ...] = ()
    if gap:
        middle = samples // 2
        time[middle:] += 90.0
        segment[middle:] = 1
        gaps = (Gap(float(time[middle - 1]), float(time[middle]), 0.0, False),)
    power = 12_000 + 20_000 * np.sin(5 * turn)
    edges = np.linspace(0, samples, laps + 1).astype(int).tolist()
    spans = tuple(Span(a, b) for a, b in pairwise(edges)) if laps > 1 and samples > 10 else ()
    return AlongTheDrive(
        time_s=time,
        distance_m=np.cumsum(step),
        east_m=east,
        north_m=north,
        heading_rad=np.arctan2(-1000 * np.sin(turn), 500 * np.cos(turn)),
        segment=segment,
        bridged=np.zeros(samples, dtype=bool),
        speed_mps=band(speed, 0.1),
        height_m=band(40 + 15 * np.cos(turn), 2.0),
        grade=band(-0.01 * np.sin(turn), 0.002),
        air_speed_mps=band(speed + 3 * np.cos(turn), 1.0) if modelled else None,
        engine_power_w=band(power, 1500.0) if modelled else None,
        engine_speed_rps=band(20 + speed, 1.0) if modelled else None,
        load=band(np.clip(power / 36_000, 0, 1), 0.03) if modelled else None,
        fuel_rate_kgps=band(np.clip(power, 0, None) * 6e-8 + 1e-4, 5e-5) if modelled else None,
        laps=spans,
        stops=(Span(100, 130),) if stop and samples > 200 else (),
        gaps=gaps,
        has_height=True,
        wind=WindMet(speed=from_normal(4.2, 0.8, "m/s"), from_deg=250.0, from_half_width_deg=25.0, known=True),
    )
