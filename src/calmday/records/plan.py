"""A test that is still to be driven, as declared in a plan file."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.records.coastdown import CoastdownDay
from calmday.records.declared import Declared
from calmday.records.evidence import SmallEvidence
from calmday.records.run import EngineStart, FuelBatch, FuelSystem, Run, Scale
from calmday.records.track import Track
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Terrain, Weather

Question = Literal["baseline", "comparison", "capability", "cost"]
WindOnTheDay = Literal["station", "roadside", "none"]

QUESTIONS: tuple[str, ...] = get_args(Question)
WINDS_ON_THE_DAY: tuple[str, ...] = get_args(WindOnTheDay)


class Forecast(msgspec.Struct, frozen=True, kw_only=True):
    """Weather foretold for one moment. None: not foretold.

    `time_s` seconds since 1970 UTC, None where the plan gives no time: it then holds for the whole drive. Wind at
    `height_m` above ground, 10 m as forecasts give it.
    """

    time_s: float | None = None
    wind_speed_mps: float | None = None
    wind_from_deg: float | None = None
    gust_mps: float | None = None
    height_m: float = 10.0
    temperature_k: float | None = None
    pressure_pa: float | None = None
    relative_humidity: float | None = None


class Can(msgspec.Struct, frozen=True, kw_only=True):
    """The can that is weighed: empty mass, the most fuel it takes, and what must stay in it so that no air is drawn."""

    tare_kg: float | None = None
    volume_m3: float | None = None
    left_kg: float | None = None


class Plan(msgspec.Struct, frozen=True, kw_only=True):
    """One test to be driven. None: not given; the plan then assumes something and says so.

    `route` one lap or a whole drive as recorded; `lap_length_m` stands in for it. `speed_mps` on the open road.
    `stops_per_lap`, `stop_s` each; `bends_per_lap` that are taken at `bend_mps`. `wanted` give-or-take of the figure
    and `smallest_change` worth knowing, as fractions. `grade` and `head_wind_mps` of a capability question.
    `runs`, `coastdowns`, `evidence` earlier tests of this vehicle, to learn from. `change_s` how long one change
    between the two states of a comparison takes. `record_track` whether a receiver will record the drive;
    `wind_on_the_day` what will tell the wind then.
    """

    label: str
    vehicle: Vehicle
    question: Question = "baseline"
    wanted: float | None = None
    smallest_change: float | None = None
    date: dt.date | None = None
    utc_offset_s: float | None = None
    start_s: float | None = None
    route: Track | None = None
    lap_length_m: Declared | None = None
    laps: int | None = None
    most_laps: int | None = None
    speed_mps: float | None = None
    stops_per_lap: float | None = None
    stop_s: float | None = None
    bends_per_lap: float | None = None
    bend_mps: float | None = None
    head_wind_mps: float | None = None
    grade: float | None = None
    engine_start: EngineStart | None = None
    payload_kg: Declared | None = None
    tyre_pressure_pa: Declared | None = None
    terrain: Terrain | None = None
    fuel: FuelBatch = FuelBatch()
    fuel_on_board_kg: float | None = None
    fuel_on_board_m3: float | None = None
    fuel_system: FuelSystem = FuelSystem()
    scale: Scale = Scale()
    can: Can = Can()
    readings_each: int = 3
    forecast: tuple[Forecast, ...] = ()
    forecast_doubt_mps: float | None = None
    weather: Weather = Weather()
    wind_on_the_day: WindOnTheDay | None = None
    record_track: bool = True
    runs_per_side: int | None = None
    run_scatter: float | None = None
    change_s: float | None = None
    hours: float | None = None
    runs: tuple[Run, ...] = ()
    coastdowns: tuple[CoastdownDay, ...] = ()
    evidence: tuple[SmallEvidence, ...] = ()
    note: str = ""
    file: str = ""
