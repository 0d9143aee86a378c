"""Gear found from the speed trace against recorded engine speed, on the open 1 Hz drives.

    python studies/gear_trace.py

The data say nothing of the vehicle. Its overall ratios are read off the recorded engine turns per metre of road
(peaks of
their distribution while moving steadily); a petrol saloon by class stands for the rest. Then gears are found from the
speed
trace alone, early and late habit, as the model does, and compared with the recorded engine speed.
"""

from __future__ import annotations

import csv
from pathlib import Path

import msgspec
import numpy as np

from calmday.files.csv_track import read_csv_track
from calmday.model.basis import build_basis
from calmday.model.cruise import steady_drive
from calmday.model.vehicle_model import Gearing, build
from calmday.records.vehicle import Engine, Vehicle
from calmday.reduction.track import reduce_track

DATA = Path(__file__).resolve().parents[2] / "shared/data/drives_1hz.csv"
STEADY_MPS = 4.0
BIN = 0.02
PEAK_SHARE = 0.05


def drives() -> dict[str, list[dict[str, str]]]:
    """Rows of each drive."""
    found: dict[str, list[dict[str, str]]] = {}
    with DATA.open() as file:
        for row in csv.DictReader(file):
            found.setdefault(row["drive"], []).append(row)
    return found


def overall_ratios(turns_per_metre: np.ndarray) -> tuple[float, ...]:
    """Peaks of the distribution of ln(turns per metre) that hold at least a twentieth of the time, first gear first."""
    edges = np.arange(np.log(0.8), np.log(14.0), BIN)
    counts, _ = np.histogram(np.log(turns_per_metre), edges)
    smooth = np.convolve(counts, np.ones(5) / 5, mode="same")
    inner = (smooth[1:-1] >= smooth[:-2]) & (smooth[1:-1] > smooth[2:])
    peaks = np.flatnonzero(inner) + 1
    chosen: list[int] = []
    for peak in peaks[np.argsort(-smooth[peaks])]:
        held = counts[max(peak - 4, 0) : peak + 5].sum() / counts.sum()
        if held >= PEAK_SHARE and all(abs(peak - other) * BIN > 0.15 for other in chosen):
            chosen.append(int(peak))
    middle = (edges[:-1] + edges[1:]) / 2
    return tuple(sorted((float(np.exp(middle[peak])) for peak in chosen), reverse=True))


def main() -> None:
    print(
        "| drive | gears read off the engine speed | samples | same gear, early | same gear, late | engine speed rms |"
    )
    print("|---|---|---:|---:|---:|---:|")
    scratch = Path("/tmp/calmday_gear_trace.csv")
    for name, rows in drives().items():
        with scratch.open("w", newline="") as file:
            writer = csv.writer(file)
            writer.writerow(["time", "latitude", "longitude", "elevation_m", "speed_mph"])
            for row in rows:
                writer.writerow(
                    [row["time_utc"], row["gps_lat"], row["gps_long"], row["gps_elevation"], row["speed_mph"]]
                )
        track = reduce_track(read_csv_track(scratch))
        time = np.array([float(row["time_utc"]) for row in rows])
        rpm = np.array([float(row["engine_rpm"] or "nan") for row in rows])
        known = np.isfinite(rpm) & (rpm > 0)
        if known.sum() < 200:
            continue
        recorded = np.interp(track.time_s, time[known], rpm[known]) / 60
        fast = (track.speed_mps > STEADY_MPS) & (np.abs(track.acceleration_mps2) < 1.0)
        turns = recorded / np.maximum(track.speed_mps, 0.1)
        gearing = overall_ratios(turns[fast])
        drive = msgspec.structs.replace(
            steady_drive(track.speed_mps), acceleration_mps2=track.acceleration_mps2, grade=track.grade
        )
        model = build(Vehicle(name="unknown", body="saloon", engine=Engine(fuel="petrol", injection="port")), drive)
        ratios = tuple(g / gearing[-1] * 2.8 for g in gearing)
        model = msgspec.structs.replace(model, gearing=Gearing(gearing, ratios, True))
        basis = build_basis(model, drive)
        truth = np.argmin(np.abs(np.log(turns[:, None] / np.array(gearing))), axis=1)
        near = np.min(np.abs(np.log(turns[:, None] / np.array(gearing))), axis=1) < 0.06
        judged = fast & near
        agree = [float(np.mean(trace.gear[judged] == truth[judged])) for trace in (basis.early, basis.late)]
        mixed = 0.75 * basis.early.engine_rps + 0.25 * basis.late.engine_rps
        rms = float(np.sqrt(np.mean((mixed[fast] / recorded[fast] - 1) ** 2)))
        shown = ", ".join(f"{g:.2f}" for g in gearing)
        print(
            f"| {name} | {shown} turns/m | {int(judged.sum())} | {100 * agree[0]:.0f} % | {100 * agree[1]:.0f} % |"
            f" {100 * rms:.0f} % |"
        )


if __name__ == "__main__":
    main()
