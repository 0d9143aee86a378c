"""Laboratory highway economy from road load, weight, displacement and gearing, with class defaults for the engine only.

    python studies/lab_economy.py

Data: US EPA test car list, even model years 2016-2024, petrol, manual gearbox (public domain); schedule: HWFET, 40
CFR 600
Appendix I. The laboratory's road load, in force form, takes the place of the model's own; engine, driveline and gear
choice
are the class defaults of an injected petrol engine. The unadjusted economy of the list is what is predicted.
"""

from __future__ import annotations

import csv
import math
import os
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import msgspec
import numpy as np

from calmday.model.basis import AS_DRIVEN, build_basis, coefficients
from calmday.model.cruise import steady_drive
from calmday.model.gears import EARLY_SPEED_SHARE, LATE_SPEED_SHARE, likely_gears
from calmday.model.kernel import indicated_energy_j
from calmday.model.scores import draw_matrix
from calmday.model.vehicle_model import Gearing, VehicleModel, build
from calmday.records.declared import Declared
from calmday.records.vehicle import Engine, Vehicle

DATA = Path(__file__).resolve().parents[2] / "shared/data"
METRE_PER_MILE = 1609.344
POUND_KG = 0.45359237
POUND_FORCE_N = POUND_KG * 9.80665
US_GALLON_M3 = 3.785411784e-3
TEST_FUEL_HEATING_VALUE = 42.98e6
"""18 478 Btu/lb, 40 CFR 600 Appendix II."""
TEST_FUEL_DENSITY = 743.0
DRAWS = 600
ROTATING = 1.03
RATIOS = (4.3, 2.4, 1.65, 1.25, 1.0)
"""Ratios of a five-speed gearbox to its top gear; only the top gear's engine speed is in the list."""


def schedule() -> tuple[np.ndarray, np.ndarray]:
    """HWFET speed (m/s) and acceleration (m/s2), one sample a second."""
    rows = list(csv.DictReader((DATA / "hwfet_765s_mph.csv").open()))
    speed = np.array([float(row["v_mph"]) for row in rows]) * METRE_PER_MILE / 3600
    return speed, np.gradient(speed)


def model_of(row: dict[str, str], drive) -> VehicleModel:
    """The engine and gearing of one line of the list, all else by class."""
    litres = float(row["displacement_L"])
    vehicle = Vehicle(
        name="list",
        body="saloon",
        test_mass_kg=Declared(float(row["test_weight_lb"]) * POUND_KG),
        engine=Engine(
            displacement_m3=Declared(litres / 1000),
            fuel="petrol",
            injection="port",
            governed_speed_rps=Declared(6200 / 60),
            overrun_fuel_cut=True,
        ),
    )
    model = build(vehicle, drive, start="warm")
    top = float(row["rpm_per_mph_top_gear"]) / 60 / (METRE_PER_MILE / 3600)
    gearing = Gearing(tuple(top * r for r in RATIOS), tuple(3.5 * r for r in RATIOS), True)
    return msgspec.structs.replace(model, gearing=gearing)


def predict(row: dict[str, str], speed: np.ndarray, acceleration: np.ndarray) -> np.ndarray:
    """Draws of miles per US gallon."""
    drive = msgspec.structs.replace(steady_drive(speed), acceleration_mps2=acceleration)
    model = model_of(row, drive)
    mass = float(row["test_weight_lb"]) * POUND_KG
    mph = speed * 3600 / METRE_PER_MILE
    load = sum(
        float(row[f"road_load_{name}"]) * mph**power
        for power, name in enumerate(("A_lbf", "B_lbf_per_mph", "C_lbf_per_mph2"))
    )
    wheel = (load * POUND_FORCE_N + ROTATING * mass * acceleration) * speed
    asked = np.maximum(wheel, 0.0) / 0.92

    shares = (EARLY_SPEED_SHARE, LATE_SPEED_SHARE)
    gears = tuple(likely_gears(model, speed, drive.step_s, asked, share) for share in shares)
    basis = msgspec.structs.replace(build_basis(model, drive, gears), wheel=wheel[None, :])
    values = model.parameters.values(draw_matrix(DRAWS, len(model.parameters), 1).parameters)
    c = coefficients(model, build_basis(model, drive, gears), values, AS_DRIVEN)
    c = msgspec.structs.replace(c, wheel=np.ones((DRAWS, 1)))
    energy = indicated_energy_j(basis, c, drive.step_s[:, None])[:, 0] / values["indicated_efficiency"]
    gallons = energy / TEST_FUEL_HEATING_VALUE / TEST_FUEL_DENSITY / US_GALLON_M3
    return float(speed.sum()) / METRE_PER_MILE / gallons


def main() -> None:
    speed, acceleration = schedule()
    rows = list(csv.DictReader((DATA / "lab_road_load_and_economy.csv").open()))
    errors, inside, widths, years, per_litre = [], [], [], [], []
    for row in rows:
        draws = predict(row, speed, acceleration)
        found, truth = np.log(1 / draws), math.log(1 / float(row["hwfet_mpg"]))
        low, high = np.quantile(found, (0.025, 0.975))
        errors.append(found.mean() - truth)
        inside.append(low <= truth <= high)
        widths.append((high - low) / 2)
        years.append(int(row["model_year"]))
        per_litre.append(float(row["rated_power_hp"]) / float(row["displacement_L"]))
    e = np.array(errors)
    print(f"{len(e)} vehicles, fuel used over HWFET, predicted against laboratory")
    print("| group | n | bias, % | rms, % | rms about bias, % | inside 95 %, % | half width, % |")
    print("|---|---:|---:|---:|---:|---:|---:|")
    power = np.array(per_litre)
    groups = {"all": np.ones(len(e), bool)}
    groups |= {str(year): np.array(years) == year for year in sorted(set(years))}
    groups |= {"below 85 hp/L (mostly natural)": power < 85, "85 hp/L and more (mostly boosted)": power >= 85}
    for name, chosen in groups.items():
        x = e[chosen]
        print(
            f"| {name} | {chosen.sum()} | {100 * x.mean():+.1f} | {100 * np.sqrt(np.mean(x**2)):.1f} | "
            f"{100 * x.std():.1f} |"
            f" {100 * np.mean(np.array(inside)[chosen]):.0f} | {100 * np.mean(np.array(widths)[chosen]):.0f} |"
        )
    spread = math.hypot(e.std(), e.mean())
    print(f"spread that covers modern engines with these centres: {100 * spread:.0f} % (one standard deviation)")


if __name__ == "__main__":
    main()
