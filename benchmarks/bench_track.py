"""How long reducing a track takes, and in how much memory. Run: python benchmarks/bench_track.py

Lengths from a lap to a day at 1 Hz, with and without recorded speed, and 45 minutes at 10 Hz; the best of several
rounds, microseconds per fix to show that it is linear, and the most memory the process ever held.
"""

from __future__ import annotations

import resource
import sys
import time
from pathlib import Path

import msgspec
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "reduction"))

import track_simulator as sim

from calmday.records.track import Track
from calmday.reduction.track import reduce_track

CASES = ((300, 1.0, 30), (2700, 1.0, 30), (10_800, 1.0, 8), (86_400, 1.0, 2), (27_000, 0.1, 5))
"""Fixes, interval, rounds."""
_FIELDS = ("latitude_deg", "longitude_deg", "height_m", "speed_mps", "course_deg", "hdop", "segment")


def recorded(fixes: int, interval_s: float, speed: bool) -> Track:
    """So many fixes of laps of a loop."""
    laps = 6
    generator = np.random.default_rng(0)
    truth = sim.drive(sim.loop_road((3000, 2000, 3000, 2000), 25, laps, 22.0), generator, stops_m=(5000.0, 17000.0))
    receiver = sim.Receiver(interval_s=interval_s, doppler_mps=0.1 if speed else None)
    track = sim.record(truth, receiver, generator)
    again = -(-fixes // len(track))
    span = track.time_s[-1] - track.time_s[0] + interval_s
    time_s = (track.time_s[None, :] + span * np.arange(again)[:, None]).ravel()[:fixes]
    return msgspec.structs.replace(
        track, time_s=time_s, **{name: np.tile(getattr(track, name), again)[:fixes] for name in _FIELDS}
    )


def best_s(track: Track, rounds: int) -> float:
    """Shortest time of several rounds."""
    times = []
    for _ in range(rounds):
        begun = time.perf_counter()
        reduce_track(track)
        times.append(time.perf_counter() - begun)
    return min(times)


def main() -> None:
    for fixes, interval_s, rounds in CASES:
        for speed in (False, True):
            track = recorded(fixes, interval_s, speed)
            spent = best_s(track, rounds)
            most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
            name = f"{fixes:6d} fixes at {1 / interval_s:2.0f} Hz, {'with' if speed else 'no'} speed"
            print(f"{name}: {1e3 * spent:7.1f} ms, {1e6 * spent / fixes:5.1f} us a fix, at most {most:.0f} MB so far")


if __name__ == "__main__":
    main()
