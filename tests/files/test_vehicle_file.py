"""Build sheets with their dated changes."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.vehicle_file import read_vehicle, read_vehicle_states
from calmday.records.vehicle import Vehicle

CHANGES = """
[[change]]
date = 2026-05-01
what = "taller axle and wheels measured"
final_drive = 3.7
rolling_circumference = "2.10 m"
[change.engine]
governed_speed = "4200 rpm"
[[change]]
date = 2026-03-01
what = "roof rack"
frontal_area = { value = "3.1 m^2", pm = "0.1 m^2" }
"""


def faults_of(path: Path) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        read_vehicle(path)
    return {fault.key: fault.right for fault in caught.value.faults}


def test_every_field_of_the_build_sheet(day: Path) -> None:
    v = read_vehicle(day / "vehicle.toml")
    assert (v.name, v.body) == ("Fen Hauler", "van")
    assert v.test_mass_kg and v.test_mass_kg.value == 1480.0 and v.test_mass_kg.as_entered == "1480 kg"
    assert v.frontal_area_m2 and v.frontal_area_m2.value == 2.9
    assert v.drag_coefficient and v.drag_coefficient.value == 0.44
    assert v.rolling_resistance and v.rolling_resistance.value == 0.0125
    assert v.tyre and (v.tyre.section_width_m, v.tyre.aspect_ratio, v.tyre.radial) == (0.195, 0.75, True)
    assert v.tyre_pressure_pa and v.tyre_pressure_pa.value == 300_000.0
    assert v.gear_ratios == (3.65, 2.02, 1.37, 1.0, 0.83)
    assert v.final_drive == 4.1
    assert v.driveline_efficiency and v.driveline_efficiency.value == 0.93
    e = v.engine
    assert e.displacement_m3 and e.displacement_m3.value == pytest.approx(2.1e-3)
    assert (e.strokes, e.cylinders, e.fuel, e.induction, e.injection) == (
        4,
        4,
        "diesel",
        "natural",
        "indirect",
    )
    assert e.idle_speed_rps and e.idle_speed_rps.value == pytest.approx(800 / 60)
    assert e.governed_speed_rps and e.governed_speed_rps.value == pytest.approx(4600 / 60)
    assert e.full_load and e.full_load.torque_nm == (118, 140, 135, 95)
    assert e.overrun_fuel_cut is True
    assert v.since is None and v.changes == ()


def test_the_state_in_force_on_a_date(day: Path) -> None:
    path = day / "vehicle.toml"
    path.write_text(path.read_text(encoding="utf-8") + CHANGES, encoding="utf-8")
    built = read_vehicle(path, dt.date(2026, 2, 28))
    rack = read_vehicle(path, dt.date(2026, 3, 1))
    last = read_vehicle(path, dt.date(2026, 5, 1))
    assert built.since is None and built.frontal_area_m2 and built.frontal_area_m2.value == 2.9
    assert rack.frontal_area_m2 and (rack.frontal_area_m2.value, rack.frontal_area_m2.half_width) == (
        3.1,
        0.1,
    )
    assert rack.final_drive == 4.1 and rack.tyre is not None
    assert last.final_drive == 3.7
    assert last.frontal_area_m2 and last.frontal_area_m2.value == 3.1
    assert last.engine.governed_speed_rps and last.engine.governed_speed_rps.value == 70.0
    assert last.engine.displacement_m3 == built.engine.displacement_m3
    # What was measured replaces the tyre code it contradicts.
    assert last.tyre is None and last.rolling_circumference_m and last.rolling_circumference_m.value == 2.1
    assert last.changes == ("roof rack", "taller axle and wheels measured")
    assert last.since == dt.date(2026, 5, 1)
    assert read_vehicle(path) == last
    assert read_vehicle_states(path) == (built, rack, last)


def test_two_changes_on_one_day_make_one_state(day: Path) -> None:
    path = day / "vehicle.toml"
    text = '[[change]]\ndate = 2026-05-01\nwhat = "a"\nfinal_drive = 3.7\n'
    text += '[[change]]\ndate = 2026-05-01\nwhat = "b"\ndrag_coefficient = 0.40\n'
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")
    states = read_vehicle_states(path)
    assert len(states) == 2
    assert states[1].changes == ("a", "b")
    assert states[1].final_drive == 3.7


def test_everything_may_be_left_out(tmp_path: Path) -> None:
    path = tmp_path / "mystery.toml"
    path.write_text("", encoding="utf-8")
    assert read_vehicle(path) == Vehicle(name="mystery", file=str(path))


def test_all_faults_at_once_with_their_keys(tmp_path: Path) -> None:
    path = tmp_path / "v.toml"
    path.write_text(
        """
final_drive = 4
[vehicle]
bodi = "van"
body = "vann"
test_mass = "1e9 kg"
frontal_area = "29 m^2"
drag_coefficient = 5
rolling_resistance = nan
tyre = "fat"
gear_ratios = [1.0, 2.0]
tyre_pressure = { value = "38 psi", pm = "1 kg" }
[engine]
displacement = "2.1 gal"
strokes = 3
idle_speed = "2000 rpm"
governed_speed = "1000 rpm"
full_load = "none.csv"
name = "x"
[[change]]
what = "no date"
[[change]]
date = 2026-01-01
cylinders = 4
test_mass = "5 g"
[change.engine]
fule = "diesel"
""",
        encoding="utf-8",
    )
    right = faults_of(path)
    assert right["final_drive"] == "put it under [vehicle]"
    assert right["vehicle.bodi"] == "did you mean body?"
    assert right["vehicle.body"].endswith("did you mean van?")
    assert right["vehicle.test_mass"] == "from 50 kg to 60000 kg"
    assert right["vehicle.frontal_area"] == "from 0.2 m^2 to 15 m^2"
    assert right["vehicle.gear_ratios"].startswith("first gear first")
    assert right["engine.displacement"] == "US gal or imp gal"
    assert right["engine.strokes"] == "2 or 4"
    assert right["engine.name"] == "put it under [vehicle]"
    assert right["change[1].cylinders"] == "put it under [change.engine]"
    assert right["change[1].test_mass"] == "from 50 kg to 60000 kg"
    assert right["change[1].engine.fule"] == "did you mean fuel?"
    assert {"vehicle.drag_coefficient", "vehicle.rolling_resistance", "vehicle.tyre"} <= right.keys()
    assert {"vehicle.tyre_pressure.pm", "engine.idle_speed", "change[0].date", "file"} <= right.keys()


@pytest.mark.parametrize(
    ("line", "key"),
    [
        ('test_mass = "-3 kg"', "vehicle.test_mass"),
        ('test_mass = "1480 lbf"', "vehicle.test_mass"),
        ("drag_coefficient = 0.01", "vehicle.drag_coefficient"),
        ("rolling_resistance = 1.2", "vehicle.rolling_resistance"),
        ("driveline_efficiency = 93", "vehicle.driveline_efficiency"),
        ("final_drive = 0", "vehicle.final_drive"),
        ("gear_ratios = [25.0]", "vehicle.gear_ratios[0]"),
        ("gear_ratios = 3", "vehicle.gear_ratios"),
        ('tyre_pressure = "2 kPa"', "vehicle.tyre_pressure"),
        ('rolling_circumference = "20 m"', "vehicle.rolling_circumference"),
        ('width = "30 m"', "vehicle.width"),
        ("name = 3", "vehicle.name"),
    ],
)
def test_physical_ranges(tmp_path: Path, line: str, key: str) -> None:
    path = tmp_path / "v.toml"
    path.write_text(f"[vehicle]\n{line}\n", encoding="utf-8")
    assert list(faults_of(path)) == [key]


def test_how_the_full_load_curve_was_measured(day: Path) -> None:
    path = day / "vehicle.toml"
    text = path.read_text(encoding="utf-8")
    more = 'full_load_standard = "DIN 70020"\nfull_load_rating = "gross"\nfull_load_at = "wheels"\n'
    path.write_text(text.replace("overrun_fuel_cut", f"{more}overrun_fuel_cut"), encoding="utf-8")
    engine = read_vehicle(path, dt.date(2026, 2, 28)).engine
    assert (engine.full_load_standard, engine.full_load_rating, engine.full_load_at) == ("DIN 70020", "gross", "wheels")
    path.write_text(text.replace("overrun_fuel_cut", 'full_load_at = "gearbox"\noverrun_fuel_cut'), encoding="utf-8")
    with pytest.raises(InputError, match="wheels"):
        read_vehicle(path, dt.date(2026, 2, 28))
