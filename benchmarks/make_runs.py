"""Invented runs of three sizes to measure with: python benchmarks/make_runs.py FOLDER

`usual`: three quarters of an hour at 1 Hz; `ten-hertz`: the same fixes with nine more between each two; `day`: the same
laps for twenty-four hours at 1 Hz.
"""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path

import msgspec
import numpy as np

from calmday.records.track import Track
from calmday.synthetic import random_scenario, simulate, write_folder
from calmday.synthetic.receiver import random_receiver, record
from calmday.synthetic.track_files import FILE_NAMES

SEED = 3
DAY_S = 86_400
WHITE_DEG = 1e-5  # about 1 m: of fixes in a straight line every jump of the next would be believed


def main() -> None:
    """Write the three folders and say how many fixes each has."""
    into = Path(sys.argv[1])
    scenario = msgspec.structs.replace(random_scenario(SEED), track_format="gpx 1.1")
    run = simulate(scenario)
    track = record(run, random_receiver(SEED))
    write_folder(run, into / "usual")
    write_folder(run, into / "ten-hertz")
    dense = denser(track, 10)
    (into / "ten-hertz" / FILE_NAMES["gpx 1.1"]).write_text(gpx_text(dense), encoding="utf-8", newline="")
    laps = round(scenario.laps * DAY_S / float(track.time_s[-1] - track.time_s[0]))
    day = simulate(msgspec.structs.replace(scenario, laps=laps))
    write_folder(day, into / "day")
    for name in ("usual", "ten-hertz", "day"):
        text = (into / name / FILE_NAMES["gpx 1.1"]).read_text(encoding="utf-8")
        print(f"{name}: {text.count('<trkpt')} fixes")


def denser(track: Track, times: int) -> Track:
    """Fixes in between, as noisy as those of a receiver."""
    rng = np.random.default_rng(SEED)
    steps = np.arange((len(track.time_s) - 1) * times + 1) / times
    whole = np.arange(len(track.time_s))

    def between(values: np.ndarray, noise: float, digits: int) -> np.ndarray:
        return np.round(np.interp(steps, whole, values) + noise * rng.standard_normal(steps.size), digits)

    return msgspec.structs.replace(
        track,
        time_s=np.round(np.interp(steps, whole, track.time_s), 1),
        latitude_deg=between(track.latitude_deg, WHITE_DEG, 7),
        longitude_deg=between(track.longitude_deg, WHITE_DEG, 7),
        height_m=between(track.height_m, 0.0, 1),
        speed_mps=between(track.speed_mps, 0.0, 2),
        course_deg=np.full(steps.size, np.nan),
        hdop=np.full(steps.size, np.nan),
        segment=np.zeros(steps.size, np.int64),
    )


def gpx_text(track: Track) -> str:
    """The fixes with tenths of a second, which the writer of the invented drives leaves out."""
    lines = ['<gpx version="1.1" creator="calmday" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>']
    for at, latitude, longitude, height in zip(
        track.time_s, track.latitude_deg, track.longitude_deg, track.height_m, strict=True
    ):
        when = dt.datetime.fromtimestamp(float(at), dt.UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
        place = f'<trkpt lat="{latitude:.7f}" lon="{longitude:.7f}">'
        lines.append(f"{place}<ele>{height:.1f}</ele><time>{when}</time></trkpt>")
    return "\n".join([*lines, "</trkseg></trk></gpx>", ""])


if __name__ == "__main__":
    sys.exit(main())
