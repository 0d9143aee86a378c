"""Make the example: an invented van on an invented fen loop, its readings, and the truth they were made from.

    python examples/make_fen_hauler.py

Writes examples/fen-hauler/. The same files come out every time. The vehicle is built by hand below; the build sheet
in vehicle.toml is deliberately not quite right, as build sheets are.
"""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import msgspec
import numpy as np

from calmday.synthetic import SimulatedRun, random_scenario, simulate
from calmday.synthetic.folder import truth_json
from calmday.synthetic.receiver import Receiver, record
from calmday.synthetic.simulate import chosen_vehicle
from calmday.synthetic.track_files import gpx
from calmday.synthetic.vehicle_truth import VehicleFacts, random_vehicle, top_speed
from calmday.synthetic.weighing import ScaleTruth, WeighedFuel, weigh_on

FOLDER = Path(__file__).parent / "fen-hauler"
SEED = 1216
RPM = 60 / (2 * math.pi)
CURVE_RPM = (1000, 1400, 1800, 2200, 2600, 3000, 3500, 4000, 4600)
CURVE_NM = (98, 112, 119, 120, 117, 112, 104, 95, 81)
GEARS, FINAL_DRIVE, CIRCUMFERENCE_M = (3.65, 2.02, 1.37, 1.0, 0.83), 4.1, 2.128
START = dt.datetime(2026, 4, 12, 11, 4, 30, tzinfo=dt.UTC)

SCENARIO = random_scenario(
    SEED,
    body="van",
    fuel="diesel",
    injection="indirect",
    induction="natural",
    displacement_l=2.1,
    mass_kg=1492.0,
    payload_kg=0.0,
    pressure_ratio=290 / 300,
    route_kind="polygon loop",
    lap_length_m=9860.0,
    laps=4,
    steepest_grade=0.008,
    cruise_mps=76 / 3.6,
    stops_per_lap=0.5,
    traffic=0.025,
    latitude_deg=54.0,
    longitude_deg=2.5,
    elevation_m=4.0,
    wind_speed_10m_mps=6.4,
    wind_from_deg=348.0,
    terrain="farmland",
    temperature_c=10.6,
    pressure_pa=101_540.0,
    relative_humidity=0.62,
    engine_start="cold",
    has_doppler=True,
    has_height=True,
    track_format="gpx 1.1",
    parked_before_s=150.0,
    parked_after_s=75.0,
    utc_offset_h=2.0,
)


def fen_hauler() -> VehicleFacts:
    """The van as it truly is: a little heavier, a little smaller and a little weaker than its sheet says."""
    drawn = random_vehicle(SEED, chosen_vehicle(SCENARIO), SCENARIO.pressure_ratio, 0.0)
    omega = np.linspace(0.0, 4600 / RPM, 60)
    torque = 0.985 * np.interp(omega * RPM, (0, *CURVE_RPM), (70, *CURVE_NM))
    radius = CIRCUMFERENCE_M / (2 * math.pi)
    cooling = 1492 * 9.80665 * 0.0119 * (80 / 3.6) / 24.0
    truth = drawn.truth._replace(
        drag_area_m2=1.245,
        yaw_growth=4.4,
        rolling=0.0119,
        tyre_warm_c=44.0,
        tyre_cooling=cooling,
        tyre_capacity=cooling * 850,
        wheel_radius_m=radius,
        gear_ratio=np.array(GEARS) * FINAL_DRIVE,
        gear_efficiency=np.array([0.945, 0.945, 0.945, 0.955, 0.945]),
        spin_torque=1.7,
        governed_speed=4600 / RPM,
        best_speed=2250 / RPM,
        idle_speed=800 / RPM,
        full_load_step=float(omega[1]),
        full_load_torque=torque,
        heating_value=42.75e6,
    )
    driver = drawn.driver._replace(
        upshift_easy=2500 / RPM, upshift_hard=3700 / RPM, downshift=1450 / RPM, launch_speed=1400 / RPM
    )
    return msgspec.structs.replace(
        drawn,
        truth=truth,
        driver=driver,
        area_m2=2.83,
        drag_coefficient=0.44,
        gear_ratios=GEARS,
        final_drive=FINAL_DRIVE,
        tyre="195/75 R16",
        circumference_m=CIRCUMFERENCE_M,
        usual_pressure_kpa=300.0,
        density_15=837.2,
        top_speed_mps=top_speed(truth),
    )


VEHICLE_TOML = """\
# The build sheet. Everything here is invented.
[vehicle]
name = "Fen Hauler"
body = "van"
test_mass = "1480 kg"            # as it is driven: with driver, fuel and the usual load
frontal_area = "2.9 m^2"
drag_coefficient = 0.44          # a guess from pictures of similar vans
rolling_resistance = 0.0125      # from a tyre list
tyre = "195/75 R16"
tyre_pressure = "300 kPa"        # the usual cold pressure
gear_ratios = [3.65, 2.02, 1.37, 1.0, 0.83]
final_drive = 4.1
driveline_efficiency = 0.93

[engine]
displacement = "2.1 L"
cylinders = 4
fuel = "diesel"
induction = "natural"
injection = "indirect"
idle_speed = "800 rpm"
governed_speed = "4600 rpm"      # the speed not to exceed
full_load = "full_load.csv"
overrun_fuel_cut = true
"""

RUN_TOML = """\
# One weighed drive, written down the way one would in the lay-by. Everything here is invented.
vehicle = "vehicle.toml"
label = "Fen loop, four laps, north wind"
date = 2026-04-12
timezone = "+02:00"              # of the clock on the wall; the receiver and the airfield keep universal time
track = ["out.gpx"]              # what the satellite receiver recorded, one fix a second
engine_start = "cold"            # the van had stood overnight
payload = "0 kg"
tyre_pressure = "290 kPa"        # a little under the usual 300
terrain = "farmland"             # open fields, a few hedges: tells how much of the wind reaches the van

[fuel]
kind = "diesel"
density = "836 kg/m^3"           # from the delivery note
density_temperature = "15 degC"
price = "1.62 EUR/L"

[fuel_system]
arrangement = "test can"         # the engine drew from a can that stood on the scale before and after
repeatability = "12 g"           # what hides in hoses and filter; a null test found it

[scale]
resolution = "5 g"
repeatability = "4 g"
accuracy = "0.1 %"
capacity = "20 kg"

# The can before the drive: lifted off and put back between readings.
[[weighing]]
when = "before"
gross = [{before}]
tare = "{tare:.3f} kg"               # the empty can

# The same can after four laps.
[[weighing]]
when = "after"
gross = [{after}]
tare = "{tare:.3f} kg"

[weather]
# Copied from the airfield's hourly reports: wind from 340 or 350 degrees, about 12 knots, gusting.
metar = [
  "METAR ZZAA 121050Z 34012KT 9999 SCT030 10/04 Q1015",
  "METAR ZZAA 121120Z 35012G22KT 9999 SCT030 11/04 Q1015",
  "METAR ZZAA 121150Z 35013G23KT 9999 BKN030 11/04 Q1015",
]
field_elevation = "6 m"          # of the airfield above the sea

# What three people said before the drive.
[[prediction]]
by = "Ada"
value = "34 mpg US"

[[prediction]]
by = "Bram"
value = "7.9 L/100km"

[[prediction]]
by = "Cleo"
value = "38 mpg imp"
"""


def main() -> None:
    """Simulate the drive and write its folder."""
    run: SimulatedRun = simulate(SCENARIO, fen_hauler())
    run = msgspec.structs.replace(run, start_utc=START)
    scale = ScaleTruth(
        resolution_kg=0.005,
        repeatability_kg=0.004,
        span_error=0.0004,
        stated_accuracy=0.001,
        capacity_kg=20.0,
    )
    weighed = weigh_on(run, scale, tare_kg=1.021, left_kg=9.1, repeats=2)
    receiver = Receiver(
        drift_m=1.8,
        memory_s=90.0,
        white_m=0.2,
        height_drift_m=3.5,
        doppler_mps=0.08,
        outlier_share=0.0005,
        dropouts=2,
    )
    curve = [f"{rpm},{torque}" for rpm, torque in zip(CURVE_RPM, CURVE_NM, strict=True)]
    FOLDER.mkdir(exist_ok=True)
    files = {
        "vehicle.toml": VEHICLE_TOML,
        "run.toml": RUN_TOML.format(**readings(weighed)),
        "full_load.csv": "\n".join(["speed_rpm,torque_Nm", *curve, ""]),
        "out.gpx": gpx(record(run, receiver), "1.1", "Fen loop"),
        "truth.json": truth_json(run, weighed),
    }
    for name, text in files.items():
        (FOLDER / name).write_text(text, encoding="utf-8", newline="\n")


def readings(weighed: WeighedFuel) -> dict[str, object]:
    """The readings as text for run.toml."""
    by_moment = {part.when: part for part in weighed.parts}
    quoted = {when: ", ".join(f'"{kg:.3f} kg"' for kg in part.gross_kg) for when, part in by_moment.items()}
    return {"before": quoted["before"], "after": quoted["after"], "tare": by_moment["before"].tare_kg}


if __name__ == "__main__":
    main()
