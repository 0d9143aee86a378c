"""Real recordings reduced: what comes out, with and without the recorded speed. Figures for docs/accuracy.md.

Run: python studies/real_tracks.py. Reads ../shared/data; says so where it is absent.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

import msgspec
import numpy as np

from calmday.errors import InputError
from calmday.files.track_files import read_track
from calmday.records.track import Track
from calmday.reduction.reduced_track import ReducedTrack
from calmday.reduction.track import reduce_track

DATA = Path(__file__).parents[2] / "shared" / "data"
_FIELDS = ("time_s", "latitude_deg", "longitude_deg", "height_m", "speed_mps", "course_deg", "hdop", "segment")


def drives_of(path: Path) -> dict[str, Track]:
    """The drives of one CSV file, told apart by its first column; speed in mph, time in seconds since 1970."""
    table = np.genfromtxt(path, delimiter=",", names=True)
    out = {}
    for number in np.unique(table["drive"]):
        rows = table[table["drive"] == number]
        out[f"drive {number:g}"] = Track(
            time_s=rows["time_utc"], latitude_deg=rows["gps_lat"], longitude_deg=rows["gps_long"],
            height_m=rows["gps_elevation"], speed_mps=rows["speed_mph"] * 0.44704, course_deg=rows["gps_heading"],
            hdop=rows["gps_hdop"], segment=np.zeros(rows.size, np.int64), files=(path.name,),
        )  # fmt: skip
    return out


def part(track: Track, index: slice) -> Track:
    """Some of the fixes."""
    return msgspec.structs.replace(track, **{name: getattr(track, name)[index] for name in _FIELDS})


def without_speed(track: Track) -> Track:
    """The same fixes without recorded speed and course."""
    none = np.full(len(track), np.nan)
    return msgspec.structs.replace(track, speed_mps=none, course_deg=none)


def integrated_speed_m(track: Track) -> float:
    """Recorded speed summed over time by trapezoids."""
    known = np.isfinite(track.speed_mps)
    return float(np.trapezoid(track.speed_mps[known], track.time_s[known])) if known.sum() > 1 else float("nan")


def told(name: str, track: Track) -> ReducedTrack | None:
    """Reduce and print one line."""
    begun = time.perf_counter()
    try:
        out = reduce_track(track)
    except InputError as error:
        print(f"{name:34s} refused: {error}")
        return None
    spent = 1e3 * (time.perf_counter() - begun)
    laps = ", ".join(f"{lap:.1f}" for lap in out.lap_distance_m)
    print(
        f"{name:34s} {len(track):5d} fixes {out.time_s[-1] - out.time_s[0]:6.0f} s  way {out.total_distance_m:9.1f} "
        f"+- {out.total_distance_sd_m:5.1f} m  recorded speed summed {integrated_speed_m(track):9.1f} m  laps [{laps}] "
        f"stops {len(out.stops)}  holes {len(out.gaps)}  top {out.speed_mps.max():.1f} m/s  acceleration "
        f"{out.acceleration_mps2.min():+.1f} to {out.acceleration_mps2.max():+.1f} m/s2  {spent:.0f} ms"
    )
    for finding in out.findings:
        print(f"{'':34s} {finding.kind}: {finding.detail}")
    return out


def main() -> int:
    if not DATA.exists():
        print(f"{DATA} is absent: nothing to study")
        return 0
    course = read_track(DATA / "closed_course_10hz.csv")
    with_speed = told("closed course, 10 Hz, speed", course)
    alone = told("closed course, 10 Hz, positions", without_speed(course))
    told("closed course, 1 Hz, positions", part(without_speed(course), slice(None, None, 10)))
    if with_speed is not None and alone is not None:
        for name, out in (("with speed", with_speed), ("positions", alone)):
            ratio = out.total_distance_m / integrated_speed_m(course)
            print(f"{'':34s} {name}: way over integrated recorded speed {ratio:.5f}")
        off = np.interp(alone.time_s, course.time_s, course.speed_mps) - alone.speed_mps
        print(f"{'':34s} speed by positions against recorded: rms {np.sqrt(np.mean(off**2)):.3f} m/s")
    for name, drive in drives_of(DATA / "drives_1hz.csv").items():
        told(name, drive)
        told(name + ", positions", without_speed(drive))
    told("gpx around-visnjan", read_track(DATA / "gpx" / "around-visnjan-with-car.gpx"))
    for log in ("bt451", "bundg_zeus_9"):
        track = read_track(DATA / "nmea" / f"{log}.log")
        told(f"nmea {log}", track)
        told(f"nmea {log}, positions", without_speed(track))
    return 0


if __name__ == "__main__":
    sys.exit(main())
