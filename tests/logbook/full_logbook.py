"""A logbook with something of everything in it, for tests that break, move or copy it."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "samples"))
from sample_results import full_result

from calmday.logbook import Logbook
from calmday.logbook.folder_out import export_all
from calmday.reports.json_result import json_result

GPX = (
    '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + "".join(
        f'<trkpt lat="{52.6 + i * 1e-4:.6f}" lon="0.2"><ele>5</ele>'
        f"<time>2026-04-12T11:{i // 60:02d}:{i % 60:02d}Z</time></trkpt>"
        for i in range(300)
    )
    + "</trkseg></trk></gpx>"
).encode()
PHOTOGRAPH = b"\xff\xd8\xff" + b"".join(hashlib.sha256(bytes([i])).digest() for i in range(200))


def fill(book: Logbook, runs: int = 3) -> list[str]:
    """A vehicle, its instruments and some runs with corrections, files, guesses and results; the runs."""
    vehicle = book.create("vehicle", "Fen Hauler", by="Ada")
    book.write("vehicle", vehicle, {"vehicle.test_mass": "1480 kg", "vehicle.gear_ratios[0]": "3.65"}, "Ada")
    book.attach(
        "vehicle", vehicle, "full_load", "full_load.csv", b"speed_rpm,torque_Nm\n1200,118\n4400,104\n", by="Ada"
    )
    scale = book.create("instrument", "Parcel scale", by="Ada")
    book.write("instrument", scale, {"type": "scale", "scale.resolution": "5 g"}, "Ada")
    fuel = book.create("fuel", "Pump 3, April", by="Ada")
    book.write("fuel", fuel, {"fuel.kind": "diesel", "fuel.density": "836 kg/m^3"}, "Ada")
    route = book.create("route", "Fen loop", by="Ada")
    made = []
    for i in range(runs):
        run = book.create("run", f"Loop {i}", vehicle, by="Ada")
        for role, target in (("scale", scale), ("fuel", fuel), ("route", route)):
            book.link(run, role, target, "Ada")
        book.write("run", run, {"date": f"2026-04-{12 + i}", "weighing[0].when": "before"}, "Ada", "phone")
        book.write("run", run, {"weighing[0].gross[0]": "16.605 kg", "weighing[0].tare": "1.020 kg"}, "Ada", "phone")
        book.write("run", run, {"weighing[0].gross[0]": "16.650 kg"}, "Bram", why="digits swapped")
        book.attach("run", run, "track", "out.gpx", GPX + f"<!-- {i} -->".encode(), by="Ada")
        book.attach("run", run, "photograph", "scale.jpg", PHOTOGRAPH + bytes([i]), by="Ada")
        book.seal_prediction(run, "34 mpg US", "Cleo")
        book.write("run", run, {"weighing[1].when": "after", "weighing[1].gross[0]": "13.240 kg"}, "Ada")
        book.open_predictions(run, "Ada")
        book.add_note(run, "rain at the bridge", "Bram")
        book.add_result(
            run, inputs_sha256="a" * 64, version="0.0", seed=7, draws=500, summary={"sentence": "as it was"},
            content=json_result(full_result()), along=bytes(range(200)),
        )  # fmt: skip
        made.append(run)
    book.void(made[-1], "return hose in the main tank", "Ada")
    return made


def everything_in(book: Logbook) -> dict[str, bytes]:
    """All that a logbook holds, as the files of its export."""
    found: dict[str, bytes] = {}
    with book.reading() as connection:
        export_all(connection, book.where, found.__setitem__)
    return found


def everything_at(path: Path) -> dict[str, bytes]:
    """All that the logbook in a file holds."""
    with Logbook.open(path, make=False, patience_s=0.1) as book:
        return everything_in(book)
