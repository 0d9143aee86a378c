"""Invented engine sounds whose engine speed is known: pulses from cylinders, pipes that ring, and the noise of a road.

Sound is made in time, one pulse for each firing; nothing here knows of spectra, combs or orders, so that what finds
the engine speed cannot check itself. All figures are invented.
"""

from __future__ import annotations

import math
import struct
from pathlib import Path
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

SAMPLE_RATE_HZ: Final = 16_000


class InventedEngine(msgspec.Struct, frozen=True, kw_only=True):
    """An engine that sounds. `firing` moments within one cycle, 0 to 1, one for each cylinder; None: even.

    `unlike` spread of strength from cylinder to cylinder; `weak` strength of the first cylinder; `unsteady` spread from
    firing to firing; `whine_order` a tone of some gear or fan, turns per crank turn, and its `whine` level.
    """

    cylinders: int
    strokes: int = 4
    firing: tuple[float, ...] | None = None
    unlike: float = 0.10
    weak: float = 1.0
    unsteady: float = 0.06
    whine_order: float = 17.0
    whine: float = 0.03


class InventedNoise(msgspec.Struct, frozen=True, kw_only=True):
    """What else the microphone hears. `snr_db` engine over noise in power, 40 Hz and up; `wind`, `road`, `hiss` their
    shares of the noise power; `mains` and `tyre` levels of steady tones over the engine's rms; `lorry` another engine
    that passes; `low_cut_hz` of a telephone microphone; `clip` part of the peak above which it is cut off; `lossy`
    noise such as compression leaves; `dropouts` parts of a second without sound, each (start, length) in seconds.
    """

    snr_db: float = 20.0
    wind: float = 0.3
    road: float = 0.5
    hiss: float = 0.2
    mains: float = 0.0
    tyre: float = 0.0
    lorry: float = 0.0
    low_cut_hz: float = 0.0
    clip: float = 1.0
    lossy: bool = False
    dropouts: tuple[tuple[float, float], ...] = ()


def engine_sound(
    time_s: FloatArray,
    speed_rpm: FloatArray,
    engine: InventedEngine,
    noise: InventedNoise,
    seed: int,
    rate_hz: int = SAMPLE_RATE_HZ,
) -> FloatArray:
    """Sound pressure at `rate_hz` over the whole of `time_s` (from 0), peaks within 1, of an engine at `speed_rpm`."""
    random = np.random.default_rng(seed)
    count = int(time_s[-1] * rate_hz)
    at = np.arange(count) / rate_hz
    rpm = np.interp(at, time_s, speed_rpm)
    pure = _pulses(rpm, engine, rate_hz, random)
    heard = _cut_low(pure, rate_hz, noise.low_cut_hz)
    level = _rms(_cut_low(heard, rate_hz, 40.0))
    heard = heard + level * 10 ** (-noise.snr_db / 20) * _noise(at, rate_hz, noise, random)
    for hz, part in ((50.0, 1.0), (150.0, 0.6), (250.0, 0.3)):
        heard = heard + noise.mains * level * part * np.sin(2 * math.pi * hz * at + random.uniform(0, 6))
    if noise.tyre:
        hum = np.cumsum(180 + 15 * np.sin(2 * math.pi * at / 23)) / rate_hz
        heard = heard + 1.4 * noise.tyre * level * np.sin(2 * math.pi * hum)
    if noise.lorry:
        other = _pulses(np.full(count, 1330.0), InventedEngine(cylinders=6), rate_hz, random)
        passing = np.exp(-(((at - 0.5 * at[-1]) / 2.5) ** 2))
        heard = heard + noise.lorry * level * passing * other / _rms(other)
    for start, length in noise.dropouts:
        heard[(at >= start) & (at < start + length)] = 0.0
    if noise.lossy:
        heard = _lossy(heard, random)
    top = float(np.abs(heard).max()) or 1.0
    if noise.clip < 1:
        heard = np.clip(heard, -noise.clip * top, noise.clip * top)
        top *= noise.clip
    return np.asarray(0.9 * heard / top)


def _pulses(rpm: FloatArray, engine: InventedEngine, rate: int, random: np.random.Generator) -> FloatArray:
    """The engine alone: one impulse for each firing, rung through pipes, louder with speed and load."""
    per_second = rpm / 60 / (engine.strokes / 2)
    cycles = np.cumsum(per_second) / rate
    moments = engine.firing or tuple(k / engine.cylinders for k in range(engine.cylinders))
    strength = np.exp(engine.unlike * random.standard_normal(engine.cylinders))
    strength[0] *= engine.weak
    train = np.zeros(rpm.size + 2)
    for moment, strong in zip(moments, strength, strict=True):
        numbers = np.arange(math.ceil(cycles[0] - moment), math.floor(cycles[-1] - moment) + 1)
        when = np.interp(numbers + moment, cycles, np.arange(rpm.size))
        when = np.clip(when + 0.004 * random.standard_normal(when.size) * rate / 60, 0, rpm.size - 1)
        size = strong * np.exp(engine.unsteady * random.standard_normal(when.size))
        whole = when.astype(np.int64)
        np.add.at(train, whole, size * (1 - (when - whole)))
        np.add.at(train, whole + 1, size * (when - whole))
    train = train[: rpm.size]
    slow = np.interp(np.arange(rpm.size), np.linspace(0, rpm.size, 12), np.exp(0.25 * random.standard_normal(12)))
    loud = slow * (0.3 + rpm / max(float(rpm.max()), 1.0))
    rung = _ring(train, rate, random)
    rung = rung - rung.mean()
    whine = np.sin(2 * math.pi * engine.whine_order * np.cumsum(rpm / 60) / rate)
    return np.asarray(loud * (rung + engine.whine * _rms(rung) * whine))


def _ring(train: FloatArray, rate: int, random: np.random.Generator) -> FloatArray:
    """What exhaust, intake and body make of impulses: a puff and some modes that die away."""
    at = np.arange(int(0.25 * rate)) / rate
    answer = np.exp(-at / 0.004) - 0.5 * np.exp(-at / 0.011)
    for low, high, decay, strong in (
        (60, 110, 0.030, 0.35),
        (160, 260, 0.020, 0.40),
        (330, 520, 0.012, 0.30),
        (700, 1100, 0.006, 0.25),
        (1500, 2600, 0.003, 0.20),
    ):
        hz = random.uniform(low, high)
        answer += strong * np.exp(-at / decay) * np.sin(2 * math.pi * hz * at)
    size = 1 << (train.size + at.size).bit_length()
    return np.fft.irfft(np.fft.rfft(train, size) * np.fft.rfft(answer, size), size)[: train.size]


def _noise(at: FloatArray, rate: int, noise: InventedNoise, random: np.random.Generator) -> FloatArray:
    """Wind, road and hiss together, rms 1 above 40 Hz; wind comes in gusts."""
    gusts = np.interp(
        at, np.linspace(0, at[-1], max(int(at[-1]), 4)), np.exp(0.5 * random.standard_normal(max(int(at[-1]), 4)))
    )
    wind = gusts * _coloured(at.size, rate, random, lambda f: 1 / (1 + (f / 60) ** 2))
    road = _coloured(at.size, rate, random, lambda f: 1 / (1 + np.abs(np.log(np.maximum(f, 1) / 300)) ** 2))
    hiss = random.standard_normal(at.size)
    total = sum(
        math.sqrt(share) * part / _rms(_cut_low(part, rate, 40.0))
        for share, part in ((noise.wind, wind), (noise.road, road), (noise.hiss, hiss))
    )
    return np.asarray(total) / math.sqrt(max(noise.wind + noise.road + noise.hiss, 1e-9))


def _coloured(count: int, rate: int, random: np.random.Generator, gain) -> FloatArray:  # type: ignore[no-untyped-def]
    spectrum = np.fft.rfft(random.standard_normal(count))
    return np.fft.irfft(spectrum * gain(np.fft.rfftfreq(count, 1 / rate)), count)


def _cut_low(sound: FloatArray, rate: int, hz: float) -> FloatArray:
    if hz <= 0:
        return sound
    spectrum = np.fft.rfft(sound)
    f = np.fft.rfftfreq(sound.size, 1 / rate)
    return np.fft.irfft(spectrum * (f**2 / (f**2 + hz**2)), sound.size)


def _lossy(sound: FloatArray, random: np.random.Generator) -> FloatArray:
    """Keep the strongest eighth of each short spectrum, coarsely: what hard compression leaves."""
    block = 1024
    window = np.sin(math.pi * (np.arange(block) + 0.5) / block)
    padded = np.concatenate([np.zeros(block), sound, np.zeros(2 * block)])
    made = np.zeros(padded.size)
    for start in range(0, padded.size - block, block // 2):
        spectrum = np.fft.rfft(window * padded[start : start + block])
        size = np.abs(spectrum)
        least = np.quantile(size, 0.875)
        step = max(least / 2, 1e-12)
        kept = np.where(size >= least, step * np.round(spectrum / step), 0)
        made[start : start + block] += window * np.fft.irfft(kept, block)
    return made[block : block + sound.size] + 1e-4 * float(np.abs(sound).max()) * random.standard_normal(sound.size)


def _rms(sound: FloatArray) -> float:
    return float(np.sqrt(np.mean(sound**2))) or 1.0


def write_wav(path: Path, sound: FloatArray, rate_hz: int = SAMPLE_RATE_HZ) -> None:
    """Write sound within -1 to 1 as a plain 16-bit recording."""
    path.write_bytes(wav_bytes(sound, rate_hz))


def wav_bytes(sound: FloatArray, rate_hz: int = SAMPLE_RATE_HZ) -> bytes:
    """A plain 16-bit mono recording as bytes."""
    data = np.round(32_000 * np.clip(sound, -1, 1)).astype("<i2").tobytes()
    head = b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt "
    head += struct.pack("<IHHIIHH", 16, 1, 1, rate_hz, 2 * rate_hz, 2, 16) + b"data" + struct.pack("<I", len(data))
    return head + data
