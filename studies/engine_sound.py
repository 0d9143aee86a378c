"""How good is an engine speed found from sound? Hundreds of invented recordings with known truth.

    python studies/engine_sound.py                    # seeds 0 to 239
    python studies/engine_sound.py --seeds 0:40 --rows

Each seed is an engine (1 to 12 cylinders, 2 and 4 strokes, cylinders unlike each other, some weak, some built to fire
unevenly and declared so), a way of driving it (held, swept, up through the gears, idle and away) and a noise (wind and
road, 20 to 0 dB engine over noise); every second one is spoilt in one more way. The sound is made in time, one pulse
for each firing, apart from what finds the speed (`calmday.synthetic.engine_sound`). An engine is 14 dB quieter at idle
than at full speed, so "0 dB" is far below that at idle.

A frame counts as wrong where the speed said to be known is more than 3 % off: another octave, another engine, a lag.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Callable

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reduction.engine_comb import EngineOrders
from calmday.reduction.engine_speed import engine_speed
from calmday.synthetic.engine_sound import SAMPLE_RATE_HZ, InventedEngine, InventedNoise, engine_sound

FloatArray = NDArray[np.float64]
SECONDS = 20.0

ENGINES = (
    (1, 4, 1100, 6500), (2, 4, 900, 6000), (3, 4, 800, 4800), (4, 4, 800, 4600), (4, 4, 1200, 12000),
    (5, 4, 780, 4500), (6, 4, 650, 4200), (8, 4, 600, 5000), (12, 4, 700, 6500), (2, 2, 1200, 8000), (3, 2, 1000, 6500),
    (1, 2, 1300, 7500),
)  # fmt: skip
"""Cylinders, strokes, idle and governed speed in rpm."""

ODD = {2: (0.0, 0.375), 6: (0.0, 0.125, 1 / 3, 0.4583, 2 / 3, 0.7917)}
"""Firing moments of a 90 degree twin and of a 90 degree six on three crank pins, parts of a cycle."""

SPOILT = ("nothing", "mains", "tyre", "lorry", "low cut", "clipped", "lossy", "dropouts", "weak cylinder", "odd firing")


class Heard(msgspec.Struct, frozen=True, kw_only=True):
    """One recording: how many frames, and of those known how many wrong, their errors and whether inside."""

    snr_db: int
    driving: str
    spoilt: str
    cylinders: int
    frames: int
    known: int
    wrong: int
    square: float
    inside: int


def held(t: FloatArray, idle: float, top: float, random: np.random.Generator) -> FloatArray:
    """One speed, wavering a little."""
    return random.uniform(1.5 * idle, 0.95 * top) * (1 + 0.004 * np.sin(2 * np.pi * t / random.uniform(4, 9)))


def swept(t: FloatArray, idle: float, top: float, random: np.random.Generator) -> FloatArray:
    """Up and down."""
    return 1.2 * idle + (0.95 * top - 1.2 * idle) * (0.5 - 0.5 * np.cos(2 * np.pi * t / random.uniform(10, 25)))


def geared(t: FloatArray, idle: float, top: float, random: np.random.Generator) -> FloatArray:
    """Pulling up, changing, pulling up more slowly."""
    out = np.empty(t.size)
    now, shifting, after = 1.5 * idle, 0.0, 0.0
    high, push = random.uniform(0.7, 0.95) * top, random.uniform(0.1, 0.35)
    for i in range(t.size):
        if shifting > 0:
            shifting -= 0.02
            now += (after - now) * 0.02 / 0.12
            push = max(0.6 * push, 0.02) if shifting <= 0 else push
        else:
            now = min(now * (1 + 0.02 * push), 1.0001 * high)
            if now > high and push > 0.03:
                shifting, after = 0.6, 0.62 * now
        out[i] = now
    return out


def idled(t: FloatArray, idle: float, top: float, random: np.random.Generator) -> FloatArray:
    """Idle, hunting a little, then away."""
    waver = idle * (1 + 0.01 * np.sin(2 * np.pi * t / 3))
    return np.where(t > 10, np.minimum(waver + (t - 10) * top * random.uniform(0.05, 0.15), 0.8 * top), waver)


DRIVING: dict[str, Callable[[FloatArray, float, float, np.random.Generator], FloatArray]] = {
    "held": held, "swept": swept, "geared": geared, "idled": idled,
}  # fmt: skip


def one(seed: int) -> Heard:
    """Invent a recording and listen to it."""
    random = np.random.default_rng([seed, 77])
    cylinders, strokes, idle, top = ENGINES[seed % len(ENGINES)]
    driving = list(DRIVING)[int(random.integers(4))]
    snr = int(random.choice([20, 10, 5, 0]))
    spoilt = SPOILT[int(random.integers(1, len(SPOILT)))] if seed % 2 else SPOILT[0]
    uneven = spoilt == "odd firing" and cylinders in ODD and strokes == 4
    spoilt = SPOILT[0] if spoilt == "odd firing" and not uneven else spoilt
    t = np.arange(0, SECONDS + 1, 0.02)
    rpm = DRIVING[driving](t, idle, top, random)
    engine = InventedEngine(
        cylinders=cylinders, strokes=strokes, firing=ODD[cylinders] if uneven else None,
        unlike=float(random.uniform(0.03, 0.15)), weak=0.6 if spoilt == "weak cylinder" else 1.0,
    )  # fmt: skip
    noise = InventedNoise(
        snr_db=snr, wind=float(random.uniform(0, 1)), road=float(random.uniform(0.1, 1)),
        hiss=float(random.uniform(0, 1)),
        mains=0.5 if spoilt == "mains" else 0.0, tyre=0.7 if spoilt == "tyre" else 0.0,
        lorry=1.0 if spoilt == "lorry" else 0.0, low_cut_hz=120.0 if spoilt == "low cut" else 0.0,
        clip=0.3 if spoilt == "clipped" else 1.0, lossy=spoilt == "lossy",
        dropouts=((4.0, 0.4), (9.0, 2.0)) if spoilt == "dropouts" else (),
    )  # fmt: skip
    sound = engine_sound(t, rpm, engine, noise, seed).astype(np.float32)
    orders = EngineOrders(
        cylinders=cylinders, strokes=strokes, lowest_rps=0.75 * idle / 60, highest_rps=1.12 * top / 60, uneven=uneven
    )
    found = engine_speed([sound], SAMPLE_RATE_HZ, orders, SECONDS)
    truth = np.interp(found.time_s, t, rpm) / 60
    known = found.known
    off = found.speed_rps[known] / truth[known] - 1
    right = np.abs(off) <= 0.03
    reach = 1.959964 * found.sd_rps[known] / truth[known]
    return Heard(
        snr_db=snr, driving=driving, spoilt=spoilt, cylinders=cylinders, frames=known.size, known=int(known.sum()),
        wrong=int((~right).sum()), square=float(np.sum(off[right] ** 2)),
        inside=int(np.sum(np.abs(off[right]) <= reach[right])),
    )  # fmt: skip


def told(name: str, heard: list[Heard]) -> str:
    """One row of the table."""
    frames, known, wrong = (sum(getattr(h, key) for h in heard) for key in ("frames", "known", "wrong"))
    right = max(known - wrong, 1)
    rms = 100 * (sum(h.square for h in heard) / right) ** 0.5
    inside = 100 * sum(h.inside for h in heard) / right
    of_known = 100 * wrong / max(known, 1)
    return f"| {name} | {len(heard)} | {100 * known / frames:.0f} % | {rms:.2f} % | {inside:.1f} % | {of_known:.2f} % |"


def main() -> None:
    """Run the seeds asked for and print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", default="0:240", help="FIRST:LAST")
    parser.add_argument("--rows", action="store_true", help="print each recording")
    given = parser.parse_args()
    first, last = (int(part) for part in given.seeds.split(":"))
    heard = []
    for seed in range(first, last):
        found = one(seed)
        heard.append(found)
        if given.rows:
            print(seed, msgspec.json.encode(found).decode(), flush=True)
    print("| recordings | number | known | rms error | inside 95 % interval | wrong, of known |")
    print("|---|---|---|---|---|---|")
    print(told("all", heard))
    for snr in (20, 10, 5, 0):
        print(told(f"{snr} dB", [h for h in heard if h.snr_db == snr]))
    for driving in DRIVING:
        print(told(driving, [h for h in heard if h.driving == driving]))
    for spoilt in SPOILT:
        if some := [h for h in heard if h.spoilt == spoilt]:
            print(told(f"spoilt: {spoilt}", some))
    for cylinders in sorted({h.cylinders for h in heard}):
        count = f"{cylinders} cylinder{'s' if cylinders > 1 else ''}"
        print(told(count, [h for h in heard if h.cylinders == cylinders]))


if __name__ == "__main__":
    main()
