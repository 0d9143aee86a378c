"""A build sheet of our own for what-ifs, in files."""

from __future__ import annotations

from pathlib import Path

VEHICLE = """
[vehicle]
name = "Marsh Heron"
body = "van"
test_mass = "1500 kg"
frontal_area = "2.8 m^2"
drag_coefficient = 0.44
rolling_resistance = 0.012
rolling_circumference = "2.10 m"
tyre_pressure = "250 kPa"
gear_ratios = [3.7, 2.1, 1.4, 1.0, 0.8]
final_drive = 4.1
driveline_efficiency = 0.92
[engine]
displacement = "2.2 L"
fuel = "diesel"
injection = "indirect"
induction = "natural"
idle_speed = "800 rpm"
governed_speed = "4200 rpm"
full_load = "full_load.csv"
"""
CURVE = "speed_rpm,torque_Nm\n1200,118\n1800,132\n2400,136\n3000,131\n3600,122\n4200,108\n"


def sheet_in(folder: Path, text: str = VEHICLE) -> Path:
    """The build sheet and its curve in a folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "full_load.csv").write_text(CURVE, encoding="utf-8")
    (folder / "vehicle.toml").write_text(text, encoding="utf-8")
    return folder / "vehicle.toml"
