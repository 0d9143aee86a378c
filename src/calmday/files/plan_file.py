"""A test to be driven: plan.toml with the vehicle, the route and the earlier runs it names."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from pathlib import Path, PurePath
from typing import TypeVar, cast

import msgspec

from calmday.errors import InputError
from calmday.files.coastdown_file import coastdown_of
from calmday.files.evidence_file import evidence_of
from calmday.files.local_time import LocalTime, read_zone
from calmday.files.named_files import FolderFiles, NamedDocument, NamedFiles, NeighbouringTests, SeenFiles
from calmday.files.run_file import read_fuel, read_fuel_system, read_scale, run_of
from calmday.files.toml_table import FaultList, Table
from calmday.files.track_files import read_named_tracks
from calmday.files.vehicle_file import in_force, vehicle_states_of
from calmday.files.weather_tables import read_bearing, read_weather
from calmday.metrology.units import QuantityError, parse_quantity, shown
from calmday.records.plan import QUESTIONS, WINDS_ON_THE_DAY, Can, Forecast, Plan, Question, WindOnTheDay
from calmday.records.run import ENGINE_STARTS, EngineStart
from calmday.records.track import Track
from calmday.records.vehicle import Vehicle
from calmday.records.weather import TERRAINS, Terrain, Weather

_AHEAD = dt.timedelta(days=1100)
"""How far ahead a test may be planned: three years."""

Earlier = TypeVar("Earlier")

_SPEEDS = ("5 km/h", "250 km/h")
_WIND = ("0 m/s", "80 m/s")
_FORECAST_KEYS = ("forecast", "forecast_doubt", "wind_on_the_day")


def read_plan(
    path: Path | str, *, name: str | None = None, today: dt.date | None = None, seen: SeenFiles | None = None
) -> Plan:
    """The plan of a file with everything it names. `name` the file as the user named it.

    `today` bounds the dates that are too far ahead; `seen` notes every file read. Raises InputError with every fault.
    """
    file = name or str(path)
    path = Path(path)
    named = FolderFiles(path.parent, seen).document(path.name, file)
    return plan_of(
        msgspec.structs.replace(named, files=NeighbouringTests(path.parent, seen)), file, path.stem, today=today
    )


def plan_of(named: NamedDocument, file: str, stem: str, *, today: dt.date | None = None) -> Plan:
    """The plan in a document; else as `read_plan`."""
    faults = FaultList(file, named.kept)
    table = Table(named.tables, faults)
    day = today or dt.date.today()
    latest = day + _AHEAD
    date = table.date("date", latest)
    clock = LocalTime(read_zone(table), date, latest)
    on_board = _fuel_on_board(table)
    forecast, doubt, told, weather = _weather(table.table("weather"), clock, date)
    plan = Plan(
        label=table.text("label") or stem,
        vehicle=_vehicle(table, named.files, date),
        question=cast("Question", table.choice("question", QUESTIONS) or "baseline"),
        wanted=table.quantity("wanted", "fraction", ("0.05 %", "50 %")),
        smallest_change=table.quantity("smallest_change", "fraction", ("0.05 %", "100 %")),
        date=date,
        utc_offset_s=clock.offset_s(),
        start_s=clock.seconds(table, "start"),
        route=_route(table, named.files),
        lap_length_m=table.declared("lap_length", "length", ("200 m", "1000 km")),
        laps=table.integer("laps", 1, 200),
        most_laps=table.integer("most_laps", 1, 200),
        speed_mps=table.quantity("speed", "speed", _SPEEDS),
        stops_per_lap=table.number("stops_per_lap", 0, 100),
        stop_s=table.quantity("stop_time", "time", ("0 s", "10 min")),
        bends_per_lap=table.number("bends_per_lap", 0, 500),
        bend_mps=table.quantity("bend_speed", "speed", _SPEEDS),
        head_wind_mps=table.quantity("head_wind", "speed", ("-40 m/s", "40 m/s")),
        grade=table.quantity("grade", "fraction", ("-30 %", "30 %")),
        engine_start=cast("EngineStart | None", table.choice("engine_start", ENGINE_STARTS)),
        payload_kg=table.declared("payload", "mass", ("-2000 kg", "40000 kg")),
        tyre_pressure_pa=table.declared("tyre_pressure", "pressure", ("50 kPa", "1200 kPa")),
        terrain=cast("Terrain | None", table.choice("terrain", TERRAINS)),
        fuel=read_fuel(table.table("fuel")),
        fuel_on_board_kg=on_board[0],
        fuel_on_board_m3=on_board[1],
        fuel_system=read_fuel_system(table.table("fuel_system")),
        scale=read_scale(table.table("scale")),
        can=_can(table.table("can")),
        readings_each=table.integer("readings", 1, 20) or 3,
        forecast=forecast,
        forecast_doubt_mps=doubt,
        weather=weather,
        wind_on_the_day=told,
        record_track=table.boolean("record_track") is not False,
        runs_per_side=table.integer("runs_per_side", 1, 50),
        run_scatter=table.quantity("run_scatter", "fraction", ("0.1 %", "20 %")),
        change_s=table.quantity("change_time", "time", ("0 s", "24 h")),
        hours=_hours(table),
        runs=tuple(_earlier(table, "runs", named.files, day, run_of)),
        coastdowns=tuple(_earlier(table, "coastdowns", named.files, day, coastdown_of)),
        evidence=tuple(_earlier(table, "evidence", named.files, day, evidence_of)),
        note=table.text("note") or "",
        file=file,
    )
    if not any(key in table for key in ("route", "lap_length")):
        table.fault("lap_length", "is missing", 'the length of one lap such as "14.2 km", or route with a track of it')
    table.finish()
    faults.raise_any()
    return plan


def _hours(table: Table) -> float | None:
    seconds = table.quantity("time_available", "time", ("10 min", "30 d"))
    return None if seconds is None else seconds / 3600


def _fuel_on_board(table: Table) -> tuple[float | None, float | None]:
    """Fuel on board as mass (kg) or as volume (m3), whichever was given."""
    entry = table.raw("fuel_on_board")
    if entry is None:
        return None, None
    limits = {"mass": (0.01, 5000.0, "from 10 g to 5000 kg"), "volume": (1e-5, 5.0, "from 10 mL to 5000 L")}
    wrong: QuantityError | None = None
    for dimension, (low, high, right) in limits.items():
        try:
            value = parse_quantity(entry, dimension)
        except QuantityError as e:
            wrong = e
            continue
        if not low <= value <= high:
            table.fault("fuel_on_board", f"{shown(entry)} is not possible", right)
            return None, None
        return (value, None) if dimension == "mass" else (None, value)
    assert wrong is not None
    table.fault("fuel_on_board", wrong.wrong, f'{wrong.right}, or a mass such as "31 kg"')
    return None, None


def _vehicle(table: Table, files: NamedFiles, date: dt.date | None) -> Vehicle:
    entry = table.file_name("vehicle")
    if entry is None:
        if "vehicle" not in table:
            table.fault("vehicle", "is missing", 'a build sheet such as "vehicle.toml"')
        return Vehicle(name="")
    name = _beside(table, entry)
    try:
        return in_force(vehicle_states_of(files.document(entry, name), name, PurePath(entry).stem), date)
    except InputError as e:
        table.faults.extend(e.faults)
        return Vehicle(name="")


def _route(table: Table, files: NamedFiles) -> Track | None:
    entries = table.file_names("route")
    if not entries:
        return None
    try:
        return read_named_tracks(files, entries, [_beside(table, entry) for entry in entries])
    except InputError as e:
        table.faults.extend(e.faults)
        return None


def _earlier(
    table: Table, key: str, files: NamedFiles, today: dt.date, read: Callable[..., Earlier]
) -> Iterator[Earlier]:
    """Earlier tests of the vehicle, in the order written."""
    for entry in table.file_names(key):
        name = _beside(table, entry)
        try:
            yield read(files.document(entry, name), name, PurePath(entry).stem, today=today)
        except InputError as e:
            table.faults.extend(e.faults)


def _beside(table: Table, entry: str) -> str:
    """How to name a file that this one names."""
    return str(Path(table.faults.file).parent / entry)


def _can(table: Table) -> Can:
    can = Can(
        tare_kg=table.quantity("tare", "mass", ("0 kg", "200 kg")),
        volume_m3=table.quantity("volume", "volume", ("0.1 L", "1000 L")),
        left_kg=table.quantity("left", "mass", ("0 kg", "200 kg")),
    )
    table.finish()
    return can


def _weather(
    table: Table, clock: LocalTime, date: dt.date | None
) -> tuple[tuple[Forecast, ...], float | None, WindOnTheDay | None, Weather]:
    forecast = tuple(_forecast(each, clock) for each in table.tables("forecast"))
    doubt = table.quantity("forecast_doubt", "speed", ("0 m/s", "20 m/s"))
    told = cast("WindOnTheDay | None", table.choice("wind_on_the_day", WINDS_ON_THE_DAY))
    rest = {key: value for key, value in table.items() if key not in _FORECAST_KEYS}
    return forecast, doubt, told, read_weather(Table(rest, table.faults, table.key), clock, date)


def _forecast(table: Table, clock: LocalTime) -> Forecast:
    speed = table.quantity("wind_speed", "speed", _WIND)
    gust = table.quantity("gust", "speed", _WIND)
    found = Forecast(
        time_s=clock.seconds(table, "time"),
        wind_speed_mps=speed,
        wind_from_deg=read_bearing(table),
        gust_mps=gust,
        height_m=table.quantity("height", "length", ("0.3 m", "200 m")) or 10.0,
        temperature_k=table.quantity("temperature", "temperature", ("-60 degC", "60 degC")),
        pressure_pa=table.quantity("pressure", "pressure", ("450 hPa", "1100 hPa")),
        relative_humidity=table.quantity("relative_humidity", "fraction", ("0 %", "100 %")),
    )
    if speed is not None and gust is not None and gust < speed:
        table.fault("gust", "is below wind_speed", "the peak, not below the mean")
    if all(x is None for x in (speed, found.temperature_k, found.pressure_pa, found.relative_humidity)):
        table.fault("wind_speed", "is missing", "wind_speed, temperature, pressure or relative_humidity")
    table.finish()
    return found
