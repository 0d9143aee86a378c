"""Is a build sheet that states something false noticed? Each figure of a right sheet is falsified in turn.

    python studies/build_sheets.py                 # vehicles 0 to 19
    python studies/build_sheets.py --seeds 30000:30040

The vehicles, runs and coastdowns of `studies/pooling.py`; a slip of a weighbridge (0.3 % off, one standard deviation)
and ten turns of the wheel (0.2 %). Noticed: `build-sheet-doubted` is raised; rightly: it names a parameter that rests
on the false figure. A test is slandered where it is called odd although it is the sheet that is false.
"""

from __future__ import annotations

import argparse
import math
import os
import tempfile
from collections.abc import Callable
from functools import partial
from multiprocessing import Pool
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import msgspec
import numpy as np
from pooling import tests_of

from calmday.model.evidence import Piece
from calmday.operations.knowledge import knowledge_result, known_vehicle
from calmday.procedures import knowledge
from calmday.procedures.pieces import piece_of_coastdown
from calmday.records.coastdown import CoastdownDay
from calmday.records.declared import Declared
from calmday.records.evidence import SmallEvidence
from calmday.records.run import Run
from calmday.records.vehicle import Vehicle
from calmday.synthetic.coastdown_truth import invented_coastdown

changed = msgspec.structs.replace
TESTS = ("three runs", "and a coastdown", "and slip, roll-out")


def times(stated: Declared | None, factor: float) -> Declared | None:
    """A stated figure and its give-or-take, both so many times as large."""
    if stated is None:
        return None
    half = None if stated.half_width is None else factor * stated.half_width
    return changed(stated, value=factor * stated.value, half_width=half)


def mass(sheet: Vehicle, factor: float) -> Vehicle:
    """Test mass off."""
    return changed(sheet, test_mass_kg=times(sheet.test_mass_kg, factor))


def size(sheet: Vehicle, factor: float) -> Vehicle:
    """Frontal area off, or what it is worked out from."""
    side = math.sqrt(factor)
    return changed(
        sheet,
        frontal_area_m2=times(sheet.frontal_area_m2, factor),
        width_m=times(sheet.width_m, side),
        height_m=times(sheet.height_m, side),
    )


def body(sheet: Vehicle) -> Vehicle:
    """Another body, and nothing of its size."""
    other = "saloon" if sheet.body in ("van", "lorry", "pickup") else "van"
    bare = dict.fromkeys(("frontal_area_m2", "width_m", "height_m", "drag_coefficient"))
    return changed(sheet, body=other, **bare)


def tyre(sheet: Vehicle, factor: float) -> Vehicle:
    """Another tyre, so much larger around."""
    if sheet.rolling_circumference_m is not None or sheet.tyre is None:
        return changed(sheet, rolling_circumference_m=times(sheet.rolling_circumference_m, factor))
    old = sheet.tyre
    larger = changed(old, rim_diameter_m=factor * old.rim_diameter_m, section_width_m=factor * old.section_width_m)
    return changed(sheet, tyre=larger)


def axle(sheet: Vehicle, factor: float) -> Vehicle:
    """Another axle ratio."""
    return changed(sheet, final_drive=None if sheet.final_drive is None else factor * sheet.final_drive)


def swept(sheet: Vehicle, factor: float) -> Vehicle:
    """Displacement off."""
    return changed(sheet, engine=changed(sheet.engine, displacement_m3=times(sheet.engine.displacement_m3, factor)))


FAULTS: dict[str, tuple[Callable[[Vehicle], Vehicle], tuple[str, ...]]] = {
    "nothing false": (lambda sheet: sheet, ()),
    "mass + 15 %": (partial(mass, factor=1.15), ("test_mass",)),
    "mass - 15 %": (partial(mass, factor=0.85), ("test_mass",)),
    "frontal area + 30 %": (partial(size, factor=1.3), ("drag_area",)),
    "frontal area - 30 %": (partial(size, factor=0.7), ("drag_area",)),
    "another body, no size": (body, ("drag_area",)),
    "tyre 10 % larger": (partial(tyre, factor=1.1), ("gearing_scale",)),
    "axle ratio + 15 %": (partial(axle, factor=1.15), ("gearing_scale",)),
    "displacement + 30 %": (partial(swept, factor=1.3), ("friction_mep", "indicated_efficiency")),
    "displacement x 2": (partial(swept, factor=2.0), ("friction_mep", "indicated_efficiency")),
}
"""What is falsified, and which parameters rest on it."""


def small(sheet: Vehicle, seed: int, mass_kg: float, turn_m: float) -> list[SmallEvidence]:
    """A weighbridge slip and a roll-out, read nearly rightly."""
    off = np.random.default_rng(seed).standard_normal(2)
    slip, rolled = mass_kg * (1 + 0.003 * float(off[0])), 10 * turn_m * (1 + 0.002 * float(off[1]))
    return [
        SmallEvidence(kind="weighbridge", label="slip", vehicle=sheet, readings=(slip,)),
        SmallEvidence(kind="roll-out", label="chalk", vehicle=sheet, readings=(rolled,), turns=10),
    ]


def noticed(
    sheet: Vehicle, runs: list[Run], days: list[CoastdownDay], evidence: list[SmallEvidence], keys: tuple[str, ...]
) -> tuple[bool, bool, bool]:
    """Whether the sheet is doubted, whether rightly, and whether any test is called odd."""
    known = known_vehicle(sheet, runs=runs, coastdowns=days, evidence=evidence, draws=500)
    result = knowledge_result(known)
    said = [flag.message for flag in result.flags if flag.code == "build-sheet-doubted"]
    rightly = any(key.replace("_", " ") in words for key in keys for words in said)
    return bool(said), rightly, any(test.odd for test in result.tests)


class FittedOnce:
    """A day of coastdowns is fitted once for each sheet, whichever tests stand beside it."""

    def __init__(self) -> None:
        self._fit = piece_of_coastdown
        self._day: CoastdownDay | None = None
        self._piece: Piece | None = None

    def __call__(self, day: CoastdownDay, state: int) -> Piece:
        if day is not self._day or self._piece is None:
            self._day, self._piece = day, self._fit(day, state)
        return self._piece


def row_of(seed: int) -> list[list[tuple[bool, bool, bool]]]:
    """For each fault and each set of tests."""
    knowledge.piece_of_coastdown = FittedOnce()
    with tempfile.TemporaryDirectory() as folder:
        told, truth = tests_of(seed, Path(folder))
    facts = truth.vehicle
    _, rolled = invented_coastdown(seed + 5000, vehicle=facts)
    rolled = changed(rolled, tyre_pressure_pa=Declared(facts.usual_pressure_kpa * 1e3))
    rows = []
    for false, keys in FAULTS.values():
        sheet = false(told[0].vehicle)
        runs = [changed(run, vehicle=sheet) for run in told]
        days = [changed(rolled, vehicle=sheet)]
        extra = small(sheet, seed, facts.truth.mass_kg, facts.circumference_m)
        sets: list[tuple[list[Run], list[CoastdownDay], list[SmallEvidence]]]
        sets = [(runs, [], []), (runs, days, []), (runs, days, extra)]
        rows.append([noticed(sheet, *tests, keys) for tests in sets])
    return rows


def main() -> None:
    """Run the study and print one line for each fault."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", default="0:20", help="first:last+1")
    parser.add_argument("--workers", type=int, default=2)
    given = parser.parse_args()
    first, _, last = given.seeds.partition(":")
    with Pool(given.workers) as workers:
        every = np.array(workers.map(row_of, range(int(first), int(last)), chunksize=1), dtype=float)
    print(f"{len(every)} vehicles; noticed (rightly), tests slandered, with {', '.join(TESTS)}")
    for fault, of_tests in zip(FAULTS, every.mean(axis=0), strict=True):
        print(f"{fault:22s}", "   ".join(f"{n:4.0%} ({r:4.0%}) {o:4.0%}" for n, r, o in of_tests))


if __name__ == "__main__":
    main()
