"""How well a reduced track gives distance, speed and acceleration: invented drives with known truth, many seeds.

Run: python studies/track_distance.py [seeds]. Prints one line per course, receiver and mode: bias, scatter and rms of
the distance in percent, how its stated doubt covers (rms of error over sd; share inside 95 %), speed and acceleration
rms with their own coverage, laps found. The figures in docs/accuracy.md come from here.
"""

from __future__ import annotations

import dataclasses
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "reduction"))

import track_simulator as sim

from calmday.reduction.track import reduce_track

COURSES = {
    "loop 10.2 km x 4, 2 stops": (lambda: sim.loop_road((3000, 2000, 3000, 2000), 25, 4, 22.0), (5000.0, 17000.0), 4),
    "loop 5.2 km x 6": (lambda: sim.loop_road((1800, 700, 1800, 700), 40, 6, 20.0), (), 6),
    "triangle 9.4 km x 3": (lambda: sim.loop_road((3000, 3000, 3000), 60, 3, 25.0), (), 3),
    "out and back 18 km x 2": (lambda: sim.out_and_back_road(9000, 2, 22.0), (), 2),
    "loop 1.7 km x 14, corners of 12 m": (lambda: sim.loop_road((500, 300, 500, 300), 12, 14, 16.0), (), 14),
}
RECEIVERS = {
    "good: white 0.5 m, wander 1.5 m": sim.Receiver(white_m=0.5, wander_m=1.5),
    "usual: white 1 m, wander 2 m": sim.Receiver(white_m=1.0, wander_m=2.0),
    "quick wander: white 0.5 m, 3 m in 30 s": sim.Receiver(white_m=0.5, wander_m=3.0, wander_s=30.0),
    "slow wander: white 1 m, 4 m in 300 s": sim.Receiver(white_m=1.0, wander_m=4.0, wander_s=300.0),
    "noisy phone: white 3 m, wander 4 m": sim.Receiver(white_m=3.0, wander_m=4.0, outlier_share=0.005),
}
MODES = {
    "no speed": {},
    "speed": {"doppler_mps": 0.1},
    "speed, whole km/h": {"doppler_mps": 0.05, "doppler_quantum_mps": 1 / 3.6},
}


def one(road: sim.Road, stops: tuple[float, ...], receiver: sim.Receiver, seed: int) -> list[float]:
    """Errors of one drive."""
    generator = np.random.default_rng(seed)
    truth = sim.drive(road, generator, stops_m=stops)
    receiver = dataclasses.replace(receiver, position_quantum_deg=(1e-6, 1e-7)[seed % 2])
    track = sim.record(truth, receiver, generator)
    begun = time.perf_counter()
    reduced = reduce_track(track)
    spent = time.perf_counter() - begun
    at = reduced.time_s - 1.76e9
    speed = np.interp(at, truth.time_s, truth.speed_mps)
    acceleration = np.interp(at, truth.time_s, truth.acceleration_mps2)
    driven = speed > 0
    off = reduced.total_distance_m - truth.distance_m
    off_v = (reduced.speed_mps - speed)[driven]
    off_a = (reduced.acceleration_mps2 - acceleration)[driven]
    return [
        100 * off / truth.distance_m, off / reduced.total_distance_sd_m, np.sqrt(np.mean(off_v**2)),
        np.sqrt(np.mean((off_v / np.maximum(reduced.speed_sd_mps[driven], 0.02)) ** 2)), np.sqrt(np.mean(off_a**2)),
        np.sqrt(np.mean((off_a / np.maximum(reduced.acceleration_sd_mps2[driven], 0.02)) ** 2)),
        len(reduced.laps), 1e3 * spent,
    ]  # fmt: skip


def main(seeds: int) -> None:
    print(f"{seeds} seeds per line; distance in % of the way, sd-ratio: rms of error over stated sd")
    total: dict[str, list[np.ndarray]] = {mode: [] for mode in MODES}
    for course, (make, stops, laps) in COURSES.items():
        road = make()
        for name, base in RECEIVERS.items():
            for mode, more in MODES.items():
                receiver = dataclasses.replace(base, **more)
                out = np.array([one(road, stops, receiver, 1000 + seed) for seed in range(seeds)])
                total[mode].append(out)
                bias, scatter = out[:, 0].mean(), out[:, 0].std()
                print(
                    f"{course:34s}| {name:39s}| {mode:18s}| bias {bias:+.4f} sd {scatter:.4f} "
                    f"rms {np.hypot(bias, scatter):.4f} % | sd-ratio {np.sqrt(np.mean(out[:, 1] ** 2)):.2f} in95 "
                    f"{np.mean(np.abs(out[:, 1]) < 1.96):.2f} | v {out[:, 2].mean():.3f} m/s ({out[:, 3].mean():.2f}) "
                    f"a {out[:, 4].mean():.3f} m/s2 ({out[:, 5].mean():.2f}) | laps right "
                    f"{np.mean(out[:, 6] == laps):.2f} | {np.median(out[:, 7]):.0f} ms",
                    flush=True,
                )
    for mode, parts in total.items():
        out = np.concatenate(parts)
        print(
            f"{mode}: {len(out)} drives, bias {out[:, 0].mean():+.4f} %, rms {np.sqrt(np.mean(out[:, 0] ** 2)):.4f} %, "
            f"within 95 % interval {np.mean(np.abs(out[:, 1]) < 1.96):.3f}, "
            f"speed rms {np.sqrt(np.mean(out[:, 2] ** 2)):.3f} m/s, "
            f"acceleration rms {np.sqrt(np.mean(out[:, 4] ** 2)):.3f} m/s2"
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 100)
