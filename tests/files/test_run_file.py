"""Run files: everything a good one says, and every fault of a bad one."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from calmday.errors import InputError
from calmday.files.run_file import read_run
from calmday.records.run import Run

TODAY = dt.date(2026, 5, 1)


def read(day: Path) -> Run:
    return read_run(day / "run.toml", name="run.toml", today=TODAY)


def change(day: Path, old: str, new: str) -> None:
    path = day / "run.toml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


def add(day: Path, text: str) -> None:
    with (day / "run.toml").open("a", encoding="utf-8") as stream:
        stream.write(text)


def faults(day: Path) -> dict[str, str]:
    with pytest.raises(InputError) as caught:
        read(day)
    return {fault.key: f"{fault.wrong}; {fault.right}" for fault in caught.value.faults}


def utc(*when: int) -> float:
    return dt.datetime(*when, tzinfo=dt.UTC).timestamp()  # type: ignore[misc,arg-type]


def test_every_field_of_the_run(day: Path) -> None:
    r = read(day)
    assert r.label == "Loop, four laps, north wind"
    assert r.vehicle.name == "Fen Hauler"
    assert (r.date, r.utc_offset_s) == (dt.date(2026, 4, 12), 7200.0)
    assert r.track is not None and len(r.track) == 20 and r.track.files == ("out.gpx",)
    assert (r.engine_start, r.terrain) == ("cold", "farmland")
    assert r.payload_kg and r.payload_kg.value == 0.0
    assert r.tyre_pressure_pa and r.tyre_pressure_pa.value == 290_000.0
    assert r.fuel.kind == "diesel" and r.fuel.density_kgpm3 and r.fuel.density_kgpm3.value == 836.0
    assert r.fuel.density_temperature_k == pytest.approx(288.15)
    assert (r.fuel.price_per_m3, r.fuel.price_currency) == (pytest.approx(1620.0), "EUR")
    assert (r.fuel_system.arrangement, r.fuel_system.repeatability_kg) == (
        "drained tank",
        pytest.approx(0.012),
    )
    assert r.scale.resolution_kg == pytest.approx(0.005)
    assert r.scale.accuracy == pytest.approx(0.001)
    assert r.scale.capacity_kg == 20.0
    assert [w.when for w in r.weighings] == ["before", "after"]
    assert r.weighings[0].gross_kg == (16.605, 16.610)
    assert r.weighings[0].tare_kg == 1.02
    assert r.weighings[0].as_entered == ("16.605 kg", "16.610 kg")
    assert r.weather.field_elevation_m == 35.0
    metar, roadside = r.weather.readings
    assert metar.time_s == utc(2026, 4, 12, 11, 20)
    assert roadside.time_s == utc(2026, 4, 12, 11, 30)
    assert (roadside.wind_speed_mps, roadside.wind_from_deg, roadside.height_m) == (5.0, 340.0, 10.0)
    assert (roadside.pressure_pa, roadside.relative_humidity) == (101_300.0, 0.62)
    assert r.odometer and r.odometer.end_m == pytest.approx(12_384_200)
    assert r.predictions[0].by == "Ada"
    assert (r.predictions[0].value, r.predictions[0].unit) == (34.0, "mpg_us")
    assert r.file == "run.toml"


def test_optional_keys(day: Path) -> None:
    change(
        day,
        'payload = "0 kg"',
        'payload = { value = "120 kg", pm = "5 kg" }\ndistance = "38.6 km"\n'
        'duration = "38 min 20 s"\nlaps = 4\nlap_length = "9.65 km"\nnote = "wet"\nsmallest_change = "3 %"\n'
        'published = { value = "34 mpg imp", kind = "maker" }',
    )
    change(day, 'arrangement = "drained tank"', 'arrangement = "test can"\nnull_test = ["12 g", "-3 g"]')
    change(day, "[odometer]", "[odometer]\nfactor = { value = 0.98, pm = 0.01 }")
    change(day, 'price = "1.62 EUR/L"', 'price = "4.09 USD/US gal"\nbatch = "A"')
    r = read(day)
    assert r.payload_kg and r.payload_kg.half_width == 5.0
    assert r.distance_m and r.distance_m.value == 38_600.0
    assert r.moving_time_s and r.moving_time_s.value == 2300.0
    assert (r.laps, r.lap_length_m and r.lap_length_m.value, r.note) == (4, 9650.0, "wet")
    assert r.smallest_change_of_interest == pytest.approx(0.03)
    assert r.published and (r.published.value, r.published.unit, r.published.kind) == (
        34.0,
        "mpg_imp",
        "maker",
    )
    assert r.fuel_system.null_test_kg == pytest.approx((0.012, -0.003))
    assert r.odometer and r.odometer.factor and r.odometer.factor.value == 0.98
    assert r.fuel.batch == "A"


def test_fill_by_volume_and_bare_minimum(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text('distance = "100 km"\n[[fill]]\nvolume = { value = "6.1 L", pm = "0.3 L" }\n', encoding="utf-8")
    r = read_run(path, today=TODAY)
    assert r.vehicle.name == "This vehicle"
    assert r.label == "run" and r.date is None and r.utc_offset_s is None and r.track is None
    assert r.fills[0].volume_m3 == pytest.approx(6.1e-3)
    assert r.fills[0].half_width_m3 == pytest.approx(3e-4)


def test_pounds_and_ounces_on_the_scale(day: Path) -> None:
    change(day, 'gross = ["13.240 kg"]', 'gross = "11 lb 14.0 oz"')
    assert read(day).weighings[1].gross_kg == (pytest.approx(5.386409, abs=1e-6),)
    assert read(day).weighings[1].as_entered == ("11 lb 14.0 oz",)


def test_the_vehicle_is_in_the_state_of_the_date(day: Path) -> None:
    with (day / "vehicle.toml").open("a", encoding="utf-8") as stream:
        for date, ratio in (("2026-04-12", 3.7), ("2026-04-13", 3.5)):
            stream.write(f"[[change]]\ndate = {date}\nfinal_drive = {ratio}\n")
    assert read(day).vehicle.final_drive == 3.7


def test_time_zones(day: Path) -> None:
    change(day, 'timezone = "+02:00"', 'timezone = "Europe/Paris"')
    assert read(day).utc_offset_s == 7200.0
    assert read(day).weather.readings[1].time_s == utc(2026, 4, 12, 11, 30)
    change(day, "Europe/Paris", "-0330")
    assert read(day).utc_offset_s == -12_600.0
    change(day, '"-0330"', '"Z"')
    assert read(day).utc_offset_s == 0.0
    change(day, "time = 2026-04-12T13:30:00", 'time = "2026-04-12T13:30:00+01:00"')
    assert read(day).weather.readings[-1].time_s == utc(2026, 4, 12, 12, 30)
    change(day, 'time = "2026-04-12T13:30:00+01:00"', "time = 13:30:00")
    assert read(day).weather.readings[-1].time_s == utc(2026, 4, 12, 13, 30)
    change(day, '"Z"', '"Nowhere/Land"')
    assert "is not a time zone" in faults(day)["timezone"]


def test_a_local_time_without_offset_is_refused(day: Path) -> None:
    change(day, 'timezone = "+02:00"\n', "")
    found = faults(day)
    assert list(found) == ["weather.reading[0].time"]
    assert "no offset" in found["weather.reading[0].time"] and "timezone" in found["weather.reading[0].time"]


@pytest.mark.parametrize("date", ["2026-05-03", "1969-12-31", "2101-01-01"])
def test_impossible_dates(day: Path, date: str) -> None:
    change(day, "date = 2026-04-12", f"date = {date}")
    assert "from 1970-01-01 to 2026-05-02" in faults(day)["date"]


def test_a_track_from_the_future(day: Path) -> None:
    path = day / "out.gpx"
    path.write_bytes(path.read_bytes().replace(b"2026-04-12", b"2031-04-12"))
    assert "2031-04-12" in faults(day)["track"]


def test_tomorrow_is_still_today_somewhere(day: Path) -> None:
    change(day, "date = 2026-04-12", "date = 2026-05-02")
    assert read(day).date == dt.date(2026, 5, 2)


def test_the_date_of_the_track_serves_where_none_is_given(day: Path) -> None:
    change(day, "date = 2026-04-12\n", "")
    assert read(day).date == dt.date(2026, 4, 12)


def test_metar_without_any_date(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    text = 'distance = "9 km"\n[[fill]]\nvolume = "1 L"\n[weather]\nmetar = "LFPN 010830Z 27010KT 11/10 Q0995"\n'
    path.write_text(text, encoding="utf-8")
    weather = read_run(path, today=TODAY).weather
    when = dt.datetime.fromtimestamp(weather.readings[0].time_s, tz=dt.UTC)
    assert (when.day, when.hour, when.minute) == (1, 8, 30) and dt.timedelta(0) <= TODAY - when.date() < dt.timedelta(
        62
    )
    assert "no date given" in weather.notes[0]


def test_metar_lines_in_one_text(day: Path) -> None:
    change(day, 'metar = ["METAR', 'metar = """\nLFPN 121050Z /////KT 11/10 Q0995\nMETAR')
    change(day, 'Q1017"]', 'Q1017\n"""')
    weather = read(day).weather
    assert [r.source for r in weather.readings] == ["metar", "metar", "roadside"]
    assert len(weather.notes) == 1 and "no usable wind" in weather.notes[0]


def test_a_hand_held_reading_without_height_says_what_was_assumed(day: Path) -> None:
    change(day, 'height = "10 m"\n', "")
    weather = read(day).weather
    assert weather.readings[1].height_m == 2.0
    assert "2 m, hand-held, assumed" in weather.notes[0]


@pytest.mark.parametrize(("word", "bearing"), [("NNW", 337.5), ("360 deg", 0.0), ("variable", None), ("s", 180.0)])
def test_wind_directions(day: Path, word: str, bearing: float | None) -> None:
    change(day, 'wind_from = "340 deg"', f'wind_from = "{word}"')
    assert read(day).weather.readings[1].wind_from_deg == bearing


@pytest.mark.parametrize(
    ("old", "new", "key", "says"),
    [
        ('vehicle = "vehicle.toml"', 'vehicle = "gone.toml"', "file", "is not there"),
        ('track = ["out.gpx"]', 'track = ["gone.gpx"]', "file", "is not there"),
        ('track = ["out.gpx"]', "track = []", "track", "empty list"),
        ('track = ["out.gpx"]', "track = 3", "track", "text"),
        ('engine_start = "cold"', 'engine_start = "tepid"', "engine_start", "cold, warm"),
        ('terrain = "farmland"', 'terrain = "farmlnd"', "terrain", "did you mean farmland?"),
        ('payload = "0 kg"', 'payload = "1e9 kg"', "payload", "from -2000 kg"),
        ('density = "836 kg/m^3"', 'density = "5 kg/m^3"', "fuel.density", "from 480 kg/m^3 to 1000 kg/m^3"),
        ('density = "836 kg/m^3"', 'density = "836 kg"', "fuel.density", "not a density"),
        ('"15 degC"', '"-300 degC"', "fuel.density_temperature", "from -40 degC"),
        ('price = "1.62 EUR/L"', 'price = "1.62"', "fuel.price", "has no currency"),
        ('accuracy = "0.1 %"', "accuracy = 0.1", "scale.accuracy", "no unit"),
        ('resolution = "5 g"', 'resolution = "0 g"', "scale.resolution", "from"),
        ('capacity = "20 kg"', 'capacty = "20 kg"', "scale.capacty", "did you mean capacity?"),
        ('when = "after"', 'when = "afterwards"', "weighing[1].when", "before, after, added"),
        ('when = "after"\n', "", "weighing[1].when", "is missing"),
        ('when = "after"', 'when = "before"', "weighing", 'when = "after"'),
        ('when = "before"', 'when = "after"', "weighing", 'when = "before"'),
        ('gross = ["13.240 kg"]\n', "", "weighing[1].gross", "is missing"),
        ('"16.610 kg"', '"16,610 kg"', "weighing[0].gross[1]", "comma"),
        ('"13.240 kg"', '"EEE"', "weighing[1].gross[0]", "number"),
        ('"13.240 kg"', '"0.5 kg"', "weighing[1].gross[0]", "below the tare"),
        (
            'temperature = "11 degC"',
            'temperature = "11 K"',
            "weather.reading[0].temperature",
            "from -60 degC",
        ),
        ('gust = "9 m/s"', 'gust = "3 m/s"', "weather.reading[0].gust", "below wind_speed"),
        ('wind_from = "340 deg"', 'wind_from = "400 deg"', "weather.reading[0].wind_from", "from 0 deg"),
        ('pressure = "1013 hPa"', 'pressure = "1013 kPa"', "weather.reading[0].pressure", "from 450 hPa"),
        ("T13:30:00", "T13:30:00Z\nwind = 3", "weather.reading[0].wind", "did you mean wind_"),
        ("2026-04-12T13", "2027-04-12T13", "weather.reading[0].time", "is not possible"),
        ("time = 2026-04-12T13:30:00\n", "", "weather.reading[0].time", "is missing"),
        ("METAR ZZAA 121120Z", "METAR ZZAA 991120Z", "weather.metar", "impossible time"),
        ('end = "12384.2 km"', 'end = "1 km"', "odometer.end", "not above start"),
        ('value = "34 mpg US"', 'value = "34 mpg"', "prediction[0].value", "mpg US or mpg imp"),
        ("[odometer]", "[odometr]", "odometr", "did you mean odometer?"),
        ("[scale]", "[[scale]]", "scale", "is not a table"),
    ],
)
def test_one_fault_with_its_key(day: Path, old: str, new: str, key: str, says: str) -> None:
    change(day, old, new)
    found = faults(day)
    assert key in found, found
    assert says in found[key]


def test_without_fuel_nothing_can_be_computed(tmp_path: Path) -> None:
    path = tmp_path / "run.toml"
    path.write_text('distance = "9 km"\n', encoding="utf-8")
    with pytest.raises(InputError, match=r"run\.toml: weighing: is missing; \[\[weighing\]\] tables"):
        read_run(path, today=TODAY)


@pytest.mark.parametrize(
    "given", ["", "laps = 3\n", 'lap_length = "9 km"\n', '[odometer]\nstart = "5 km"\n', "[odometer]\n"]
)
def test_without_distance_nothing_can_be_computed(tmp_path: Path, given: str) -> None:
    path = tmp_path / "run.toml"
    fill = '[[fill]]\nvolume = "1 L"\n'
    path.write_text(given + fill, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read_run(path, today=TODAY)
    (fault,) = caught.value.faults
    assert fault.key in ("track", "laps", "lap_length", "odometer")


@pytest.mark.parametrize("given", ['laps = 3\nlap_length = "9 km"\n', '[odometer]\nstart = "5 km"\nend = "9 km"\n'])
def test_distance_from_laps_or_odometer(tmp_path: Path, given: str) -> None:
    path = tmp_path / "run.toml"
    path.write_text(given + '[[fill]]\nvolume = "1 L"\n', encoding="utf-8")
    assert read_run(path, today=TODAY).track is None


def test_faults_of_all_files_come_together(day: Path) -> None:
    change(day, 'terrain = "farmland"', 'terrain = "moon"')
    (day / "out.gpx").write_bytes(b"<gpx><trk>")
    (day / "full_load.csv").write_text("nothing\n", encoding="utf-8")
    with pytest.raises(InputError) as caught:
        read(day)
    assert [f.file for f in caught.value.faults] == ["out.gpx", "full_load.csv", "run.toml"]


def test_paths_are_relative_to_the_file(day: Path, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.chdir(tmp_path.parent)
    r = read_run(Path(day.name) / "run.toml", today=TODAY)
    assert r.track is not None and r.track.files == (str(Path(day.name) / "out.gpx"),)


GGA_ONLY = (
    "$GPGGA,112000.00,5212.0000,N,00012.0000,E,1,09,0.9,20.0,M,45.0,M,,\n"
    "$GPGGA,112001.00,5212.0100,N,00012.0000,E,1,09,0.9,20.0,M,45.0,M,,\n"
)


@pytest.mark.parametrize(
    ("zone", "time_of_day", "utc_day"),
    [
        ("+02:00", "112000.00", 12),
        ("-07:00", "022000.00", 13),  # 19:20 of the 12th where it was driven
        ("+10:00", "232000.00", 11),  # 09:20 of the 12th
    ],
)
def test_times_of_day_are_of_the_date_of_the_run(day: Path, zone: str, time_of_day: str, utc_day: int) -> None:
    """A log of GGA alone says when, but not on which day: the run file does."""
    (day / "out.nmea").write_text(
        GGA_ONLY.replace("112000.00", time_of_day).replace("112001.00", time_of_day[:5] + "1")
    )
    change(day, 'track = ["out.gpx"]', 'track = ["out.nmea"]')
    change(day, '"+02:00"', f'"{zone}"')
    track = read(day).track
    assert track is not None and track.clock == "utc"
    assert track.time_s[0] == utc(2026, 4, utc_day, int(time_of_day[:2]), 20)
    assert any("times of day are taken as of 2026-04-12" in note for note in track.notes)


def test_times_of_day_without_any_date_stay_as_they_are(day: Path) -> None:
    (day / "out.nmea").write_text(GGA_ONLY)
    change(day, 'track = ["out.gpx"]', 'track = ["out.nmea"]')
    change(day, "date = 2026-04-12\n", "")
    change(day, "time = 2026-04-12T13:30:00", "time = 2026-04-12T13:30:00+02:00")
    track = read(day).track
    assert track is not None and track.clock == "time of day" and track.time_s[0] == 11 * 3600 + 20 * 60


def test_a_half_width_where_none_is_used_is_told_plainly(day: Path) -> None:
    change(day, '["13.240 kg"]', '{ value = "13.240 kg", pm = "5 g" }')
    (told,) = faults(day).values()
    assert told == 'takes no pm; the plain quantity, "13.240 kg"'


def test_a_build_sheet_in_place_of_a_run_file_is_named(day: Path) -> None:
    (day / "run.toml").write_text((day / "vehicle.toml").read_text())
    assert faults(day) == {
        "vehicle": "is a table: this is a build sheet, not a run file; "
        'the run file that names it: vehicle = "vehicle.toml"'
    }


CSV_NAIVE = "time,latitude,longitude\n2026-04-12T13:20:00,52.2,0.2\n2026-04-12T13:20:01,52.2001,0.2\n"
GEOJSON_NAIVE = (
    '{"type": "Feature", "geometry": {"type": "LineString", "coordinates": [[0.2, 52.2], [0.2, 52.2001]]},'
    '"properties": {"coordTimes": ["2026-04-12T13:20:00", "2026-04-12T13:20:01"]}}'
)


@pytest.mark.parametrize(("name", "text"), [("out.csv", CSV_NAIVE), ("out.geojson", GEOJSON_NAIVE)])
def test_track_times_without_offset_are_local(day: Path, name: str, text: str) -> None:
    """Times are local where the run says in which zone, as for all times of a run file; else UTC, and told so."""
    (day / name).write_text(text)
    change(day, 'track = ["out.gpx"]', f'track = ["{name}", "out.gpx"]')
    track = read(day).track
    assert track is not None and track.clock == "utc"
    assert track.time_s[0] == utc(2026, 4, 12, 11, 20)
    assert any("taken as local, +0200 from UTC" in note for note in track.notes)
    assert not any("taken as UTC" in note for note in track.notes)


@pytest.mark.parametrize("head", ["time_utc", "time"])
def test_track_times_that_say_utc_or_no_zone_are_universal(day: Path, head: str) -> None:
    (day / "out.csv").write_text(CSV_NAIVE.replace("time,", f"{head},"))
    change(day, 'track = ["out.gpx"]', 'track = ["out.csv"]')
    if head == "time":
        change(day, 'timezone = "+02:00"\n', "")
        change(day, "time = 2026-04-12T13:30:00", "time = 2026-04-12T13:30:00+02:00")
    track = read(day).track
    assert track is not None and track.time_s[0] == utc(2026, 4, 12, 13, 20)
    assert any("taken as UTC" in note for note in track.notes) == (head == "time")
