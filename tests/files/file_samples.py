"""A small sound test day as text, and makers of GPX tracks."""

from __future__ import annotations

VEHICLE = """
[vehicle]
name = "Fen Hauler"
body = "van"
test_mass = "1480 kg"
frontal_area = "2.9 m^2"
drag_coefficient = 0.44
rolling_resistance = 0.0125
tyre = "195/75 R16"
tyre_pressure = "300 kPa"
gear_ratios = [3.65, 2.02, 1.37, 1.0, 0.83]
final_drive = 4.1
driveline_efficiency = 0.93
[engine]
displacement = "2.1 L"
strokes = 4
cylinders = 4
fuel = "diesel"
induction = "natural"
injection = "indirect"
idle_speed = "800 rpm"
governed_speed = "4600 rpm"
full_load = "full_load.csv"
overrun_fuel_cut = true
"""

RUN = """
vehicle = "vehicle.toml"
label = "Loop, four laps, north wind"
date = 2026-04-12
timezone = "+02:00"
track = ["out.gpx"]
engine_start = "cold"
payload = "0 kg"
tyre_pressure = "290 kPa"
terrain = "farmland"
[fuel]
kind = "diesel"
density = "836 kg/m^3"
density_temperature = "15 degC"
price = "1.62 EUR/L"
[fuel_system]
arrangement = "drained tank"
repeatability = "12 g"
[scale]
resolution = "5 g"
repeatability = "4 g"
accuracy = "0.1 %"
capacity = "20 kg"
[[weighing]]
when = "before"
gross = ["16.605 kg", "16.610 kg"]
tare = "1.020 kg"
[[weighing]]
when = "after"
gross = ["13.240 kg"]
tare = "1.020 kg"
[weather]
metar = ["METAR ZZAA 121120Z 34012G19KT 9999 SCT030 11/04 Q1017"]
field_elevation = "35 m"
[[weather.reading]]
time = 2026-04-12T13:30:00
wind_speed = "5 m/s"
wind_from = "340 deg"
gust = "9 m/s"
height = "10 m"
temperature = "11 degC"
pressure = "1013 hPa"
relative_humidity = "62 %"
[odometer]
start = "12345.6 km"
end = "12384.2 km"
[[prediction]]
by = "Ada"
value = "34 mpg US"
"""

FULL_LOAD = "speed_rpm,torque_Nm\n1000,118\n2000,140\n3000,135\n4600,95\n"


def gpx_of(points: str, version: str = "1.1") -> bytes:
    """A GPX file with the given track points in one segment."""
    head = f'<?xml version="1.0"?><gpx version="{version}" xmlns="http://www.topografix.com/GPX/1/1">'
    return f"{head}<trk><trkseg>{points}</trkseg></trk></gpx>".encode()


def point(i: int, inner: str = "") -> str:
    """One track point, a second and about a metre after the one before."""
    time = f"2026-04-12T11:{i // 60:02d}:{i % 60:02d}Z"
    return f'<trkpt lat="{51 + i * 1e-5:.6f}" lon="4.5"><ele>3</ele><time>{time}</time>{inner}</trkpt>'
