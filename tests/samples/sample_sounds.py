"""Invented engine sounds and what belongs to them, for tests."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from calmday.synthetic.engine_sound import InventedEngine, InventedNoise, engine_sound, write_wav

FloatArray = NDArray[np.float64]

SHEET = """[vehicle]
name = "Minnow"
rolling_circumference = "1.665 m"
gear_ratios = [4.63, 2.259]
final_drive = {axle}
[engine]
cylinders = 4
fuel = "petrol"
idle_speed = "1200 rpm"
governed_speed = "12500 rpm"
"""


def held_speed(folder: Path, rpm: float, seconds: float = 8.0, snr_db: float = 6.0, seed: int = 5) -> Path:
    """A recording of a four-cylinder at one speed, with noise of road and wind."""
    time = np.array([0.0, seconds])
    sound = engine_sound(time, np.array([rpm, rpm]), InventedEngine(cylinders=4), InventedNoise(snr_db=snr_db), seed)
    file = folder / "cab.wav"
    write_wav(file, sound)
    return file


class Drive:
    """A drive up through five gears, then steady, then harder with a clutch that slips; (n,) at every 50 ms."""

    gears = (3.65, 2.02, 1.37, 1.0, 0.83)
    axle, circumference = 4.1, 2.13

    def __init__(self, tyre: float = 1.0, slip: float = 0.0) -> None:
        self.time = np.arange(0, 90, 0.05)
        self.speed = np.zeros(self.time.size)
        self.rpm = np.zeros(self.time.size)
        now, gear, shifting = 3.0, 0, 0.0
        for i, at in enumerate(self.time):
            if shifting > 0:
                shifting -= 0.05
            else:
                push = (0.0 if at < 75 else 0.25) if at > 60 else (1.6, 1.2, 0.8, 0.5, 0.3)[gear]
                now = min(now + 0.05 * push, 29.0)
                if now > (8, 14, 20, 27, 99)[gear]:
                    gear, shifting = gear + 1, 0.7
            self.speed[i] = now
            wanted = 60 * now * self.gears[gear] * self.axle / (self.circumference * tyre)
            if shifting > 0 and i:
                wanted = self.rpm[i - 1] + 0.15 * (wanted - self.rpm[i - 1])
            self.rpm[i] = max(wanted * (1 + slip * np.exp(-(((at - 80) / 2) ** 2))), 900)

    def write(self, folder: Path, clock_s: float = 6.3, seed: int = 3) -> None:
        """vehicle.toml, cab.wav, track.csv and sound.toml; the receiver's clock runs `clock_s` ahead."""
        sound = engine_sound(
            self.time, self.rpm, InventedEngine(cylinders=4, unlike=0.15), InventedNoise(snr_db=8), seed
        )
        write_wav(folder / "cab.wav", sound)
        way = np.cumsum(self.speed) * 0.05
        rows = ["time,latitude,longitude,speed_mps"]
        for k in range(100):
            at = k - clock_s
            there = float(np.interp(at, self.time, way)) if at > 0 else 3.0 * at
            fast = float(np.interp(at, self.time, self.speed))
            rows.append(f"2026-04-12T11:{k // 60:02d}:{k % 60:02d}Z,{52.6 + there / 111_250:.7f},0.2,{fast:.2f}")
        (folder / "track.csv").write_text("\n".join(rows), encoding="utf-8")
        ratios = ", ".join(map(str, self.gears))
        (folder / "vehicle.toml").write_text(
            f'[vehicle]\nname = "Fen Hauler"\nrolling_circumference = {{ value = "2.13 m", pm = "0.02 m" }}\n'
            f"gear_ratios = [{ratios}]\nfinal_drive = {self.axle}\n"
            '[engine]\ncylinders = 4\nfuel = "diesel"\nidle_speed = "800 rpm"\ngoverned_speed = "4600 rpm"\n',
            encoding="utf-8",
        )
        (folder / "sound.toml").write_text(
            'vehicle = "vehicle.toml"\nrecording = "cab.wav"\ntrack = "track.csv"\nlabel = "Up through the gears"\n'
            'listened_by = "Ada"\nmicrophone = "under the dash"\n',
            encoding="utf-8",
        )
