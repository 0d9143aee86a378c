"""A test day as plain files: build sheet, run file and a track made by hand."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import numpy as np

from calmday.procedures.weighed_run_result import Flag, RunResult

START = dt.datetime(2026, 4, 12, 9, 0, tzinfo=dt.UTC)


def motion(parts: list[tuple[float, float, float]], ramp: float = 0.7) -> np.ndarray:
    """Way driven at every second for parts of (length m, cruising speed m/s, stop after it s), rest to rest."""
    ways = [np.zeros(10)]
    done = 0.0
    for length, speed, stop in parts:
        ramp_s, ramp_m = speed / ramp, speed**2 / ramp / 2
        level_s = (length - 2 * ramp_m) / speed
        assert level_s > 0
        t = np.arange(1.0, math.ceil(2 * ramp_s + level_s) + 1)
        up = np.minimum(t, ramp_s)
        level = np.clip(t - ramp_s, 0, level_s)
        down = np.clip(t - ramp_s - level_s, 0, ramp_s)
        way = ramp * up**2 / 2 + speed * level + speed * down - ramp * down**2 / 2
        ways += [done + way, np.full(round(stop), done + length)]
        done += length
    return np.concatenate([*ways, np.full(10, done)])


def on_circle(way_m: np.ndarray, lap_m: float) -> tuple[np.ndarray, np.ndarray]:
    """East and north on a closed round course."""
    radius = lap_m / (2 * math.pi)
    return radius * (1 - np.cos(way_m / radius)), radius * np.sin(way_m / radius)


def out_and_back(way_m: np.ndarray, leg_m: float, bearing_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """East and north on one straight road, turned round at its end."""
    along = np.minimum(way_m, 2 * leg_m - way_m)
    bearing = math.radians(bearing_deg)
    return along * math.sin(bearing), along * math.cos(bearing)


def round_a_square(way_m: np.ndarray, lap_m: float) -> tuple[np.ndarray, np.ndarray]:
    """East and north on a square: north, east, south, west."""
    side, done = lap_m / 4, np.mod(way_m, lap_m)
    east = np.clip(done - side, 0, side) - np.clip(done - 3 * side, 0, side)
    north = np.clip(done, 0, side) - np.clip(done - 2 * side, 0, side)
    return east, north


def gpx(
    east_m: np.ndarray,
    north_m: np.ndarray,
    start: dt.datetime = START,
    height_m: float = 10.0,
    keep: np.ndarray | None = None,
) -> str:
    """GPX 1.1 with a fix every second; `keep` leaves fixes out."""
    a, f, latitude = 6_378_137.0, 1 / 298.257223563, 52.0
    e2 = f * (2 - f)
    root = 1 - e2 * math.sin(math.radians(latitude)) ** 2
    per_north = math.radians(1) * a * (1 - e2) / root**1.5
    per_east = math.radians(1) * a / math.sqrt(root) * math.cos(math.radians(latitude))
    points = []
    for i in range(east_m.size):
        if keep is not None and not keep[i]:
            continue
        time = (start + dt.timedelta(seconds=i)).strftime("%Y-%m-%dT%H:%M:%SZ")
        points.append(
            f'<trkpt lat="{latitude + north_m[i] / per_north:.8f}" lon="{1 + east_m[i] / per_east:.8f}">'
            f"<ele>{height_m:.1f}</ele><time>{time}</time></trkpt>"
        )
    body = "\n".join(points)
    return (
        '<?xml version="1.0"?><gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1" creator="hand">'
        f"<trk><trkseg>\n{body}\n</trkseg></trk></gpx>\n"
    )


def write(folder: Path, **files: str) -> Path:
    """Write files (`run`, `vehicle` are TOML, `full_load` CSV, `out` GPX); gives the run file."""
    folder.mkdir(parents=True, exist_ok=True)
    suffix = {"full_load": ".csv", "out": ".gpx"}
    for name, text in files.items():
        (folder / (name + suffix.get(name, ".toml"))).write_text(text, encoding="utf-8")
    return folder / "run.toml"


def flags(result: RunResult) -> dict[str, Flag]:
    """Flags of a result by code."""
    return {flag.code: flag for flag in result.flags}
