"""What engine speed from sound costs, in memory and beside a plain spectrogram of the same sound.

python benchmarks/bench_sound.py [--minutes 2]

Processor time of tracking an invented recording, over that of the short-time transforms alone (same windows, no
bending, no comb), run in turn in one process; medians of five. Then the most memory a process takes for a short and for
a long recording: it must not grow with the length.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import numpy as np

from calmday.reduction.engine_comb import EngineOrders
from calmday.reduction.engine_speed import analysis_for, engine_speed
from calmday.synthetic.engine_sound import SAMPLE_RATE_HZ, InventedEngine, InventedNoise, engine_sound

ORDERS = EngineOrders(cylinders=4, strokes=4, lowest_rps=10.0, highest_rps=86.0)
MEMORY = """
import resource, sys, numpy as np
from calmday.reduction.engine_comb import EngineOrders
from calmday.reduction.engine_speed import engine_speed
piece = np.random.default_rng(1).standard_normal(160_000).astype(np.float32)
orders = EngineOrders(cylinders=4, strokes=4, lowest_rps=10.0, highest_rps=86.0)
engine_speed((piece for _ in range(int(sys.argv[1]))), 16_000.0, orders, 10.0 * int(sys.argv[1]))
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024)
"""


def plain(sound: np.ndarray) -> None:  # type: ignore[type-arg]
    """The transforms of a plain spectrogram with the same windows."""
    analysis = analysis_for(ORDERS, SAMPLE_RATE_HZ / 3)
    hop = round(analysis.hop_s * analysis.rate_hz)
    cut = np.lib.stride_tricks.sliding_window_view(sound[::3], analysis.samples)[::hop]
    window = np.hanning(analysis.samples)
    for start in range(0, len(cut), 40):
        np.abs(np.fft.rfft(cut[start : start + 40] * window, analysis.size, axis=1)) ** 2


def main() -> None:
    """Time, weigh, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else "")
    parser.add_argument("--minutes", type=float, default=2.0)
    given = parser.parse_args()
    seconds = 60 * given.minutes
    at = np.linspace(0, seconds, 200)
    rpm = 2600 + 1200 * np.sin(at / 7)
    sound = engine_sound(at, rpm, InventedEngine(cylinders=4), InventedNoise(snr_db=8), 1).astype(np.float32)
    pairs = []
    for _ in range(5):
        began = time.process_time()
        plain(sound)
        between = time.process_time()
        engine_speed([sound], SAMPLE_RATE_HZ, ORDERS, seconds)
        pairs.append((between - began, time.process_time() - between))
    base, whole = (statistics.median(column) for column in zip(*pairs, strict=True))
    print(f"tracking {given.minutes:g} min of sound: {whole / base:.0f} times a plain spectrogram of it")
    print(f"                               {seconds / whole:.0f} seconds of sound in a second of processor time")
    for tens in (6, 60):
        done = subprocess.run([sys.executable, "-c", MEMORY, str(tens)], capture_output=True, text=True, check=True)
        print(f"most memory for {tens / 6:g} min: {float(done.stdout):.0f} MB")


if __name__ == "__main__":
    main()
