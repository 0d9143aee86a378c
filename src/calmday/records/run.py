"""One weighed drive, as declared in a run file."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.records.declared import Declared
from calmday.records.track import Track
from calmday.records.vehicle import FuelKind, Vehicle
from calmday.records.weather import Terrain, Weather

Arrangement = Literal["drained tank", "test can", "brim to brim"]
EngineStart = Literal["cold", "warm"]
WeighingMoment = Literal["before", "after", "added"]

GuessRule = Literal["fuel per distance", "distance per fuel", "proportion"]
GuessedFigure = Literal["as driven", "calm day"]

GUESS_RULES: tuple[str, ...] = get_args(GuessRule)
GUESSED_FIGURES: tuple[str, ...] = get_args(GuessedFigure)
ARRANGEMENTS: tuple[str, ...] = get_args(Arrangement)
ENGINE_STARTS: tuple[str, ...] = get_args(EngineStart)
WEIGHING_MOMENTS: tuple[str, ...] = get_args(WeighingMoment)


class Weighing(msgspec.Struct, frozen=True, kw_only=True):
    """Repeat readings of one filling of the can. `gross_kg` one or more; `tare_kg` 0 where the scale was zeroed."""

    when: WeighingMoment
    gross_kg: tuple[float, ...]
    tare_kg: float = 0.0
    batch: str = ""
    as_entered: tuple[str, ...] = ()


class Fill(msgspec.Struct, frozen=True, kw_only=True):
    """Fuel put in by volume, full to full."""

    volume_m3: float
    temperature_k: float | None = None
    batch: str = ""
    half_width_m3: float | None = None


class Scale(msgspec.Struct, frozen=True, kw_only=True):
    """The scale. `accuracy` the maker's limit as a fraction of reading (rectangular half width)."""

    resolution_kg: float | None = None
    repeatability_kg: float | None = None
    accuracy: float | None = None
    capacity_kg: float | None = None


class FuelBatch(msgspec.Struct, frozen=True, kw_only=True):
    """The fuel: kind, density and where it stands, price. `price_per_m3` in `price_currency`."""

    kind: FuelKind | None = None
    density_kgpm3: Declared | None = None
    density_temperature_k: float | None = None
    price_per_m3: float | None = None
    price_currency: str = ""
    batch: str = ""


class FuelSystem(msgspec.Struct, frozen=True, kw_only=True):
    """How the fuel was caught, and what hides in lines, filter and air pockets (one standard deviation).

    `null_test_kg` fuel lost in repeated null tests: connect, purge, idle, disconnect, weigh, without driving.
    """

    arrangement: Arrangement | None = None
    repeatability_kg: float | None = None
    null_test_kg: tuple[float, ...] = ()


class Odometer(msgspec.Struct, frozen=True, kw_only=True):
    """Readings of the vehicle's own odometer, as indicated; `factor` true / indicated where it is known."""

    start_m: float | None = None
    end_m: float | None = None
    factor: Declared | None = None


class Prediction(msgspec.Struct, frozen=True, kw_only=True):
    """What somebody guessed before the test: `value` in `unit`, one of the consumption units of the result.

    `digest` what was shown when it was sealed, `salt` what makes the digest again; empty where it was not sealed.
    """

    by: str
    value: float
    unit: str
    as_entered: str = ""
    salt: str = ""
    digest: str = ""


class Guessing(msgspec.Struct, frozen=True, kw_only=True):
    """How guesses are scored, declared before they are opened. None: nobody said.

    `figure` what was guessed at; `declared` when this was declared, as it was written; `speed_mps` the steady speed
    meant to be held, from which the program makes its own guess where there is no track yet.
    """

    unit: str | None = None
    rule: GuessRule | None = None
    figure: GuessedFigure = "as driven"
    declared: str = ""
    speed_mps: float | None = None


class Published(msgspec.Struct, frozen=True, kw_only=True):
    """A published figure to hold the result against: `value` in `unit`, and what kind of figure it is."""

    value: float
    unit: str
    kind: str = ""
    as_entered: str = ""


class Run(msgspec.Struct, frozen=True, kw_only=True):
    """One weighed drive, ready to be reduced. None: not given; the reduction then widens its answer.

    `distance_m`, `moving_time_s`, `laps`, `lap_length_m` may stand in for a track. `start_s`, `end_s` seconds since
    1970 UTC where the file gives them. `question` what the run is to answer. `file` the run file as the user named it.
    """

    label: str
    vehicle: Vehicle
    date: dt.date | None = None
    utc_offset_s: float | None = None
    track: Track | None = None
    engine_start: EngineStart | None = None
    payload_kg: Declared | None = None
    tyre_pressure_pa: Declared | None = None
    terrain: Terrain | None = None
    fuel: FuelBatch = FuelBatch()
    fuel_system: FuelSystem = FuelSystem()
    scale: Scale = Scale()
    weighings: tuple[Weighing, ...] = ()
    fills: tuple[Fill, ...] = ()
    weather: Weather = Weather()
    odometer: Odometer | None = None
    distance_m: Declared | None = None
    moving_time_s: Declared | None = None
    laps: int | None = None
    lap_length_m: Declared | None = None
    predictions: tuple[Prediction, ...] = ()
    guessing: Guessing | None = None
    published: Published | None = None
    smallest_change_of_interest: float | None = None
    note: str = ""
    question: str = ""
    file: str = ""
