"""The build sheet: one state of one vehicle."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.records.declared import Declared

Body = Literal["saloon", "estate", "hatchback", "coupe", "roadster", "pickup", "van", "lorry", "other"]
FuelKind = Literal["diesel", "petrol", "biodiesel", "hvo", "ethanol", "e10", "lpg"]
Induction = Literal["natural", "turbocharged", "supercharged"]
Injection = Literal["direct", "indirect", "port", "carburettor"]

PowerStandard = Literal["ISO 1585", "SAE J1349", "DIN 70020"]
CurveRating = Literal["net", "gross"]
CurvePlace = Literal["engine", "wheels"]

POWER_STANDARDS: tuple[str, ...] = get_args(PowerStandard)
CURVE_RATINGS: tuple[str, ...] = get_args(CurveRating)
CURVE_PLACES: tuple[str, ...] = get_args(CurvePlace)
BODIES: tuple[str, ...] = get_args(Body)
FUEL_KINDS: tuple[str, ...] = get_args(FuelKind)
INDUCTIONS: tuple[str, ...] = get_args(Induction)
INJECTIONS: tuple[str, ...] = get_args(Injection)


class TyreSize(msgspec.Struct, frozen=True):
    """A tyre size code such as 195/75 R16, or an old one without aspect ratio such as 6.00-16."""

    code: str
    section_width_m: float
    aspect_ratio: float
    rim_diameter_m: float
    radial: bool


class FullLoadCurve(msgspec.Struct, frozen=True):
    """Full-load torque over engine speed, as read from a file or typed.

    `speed_rps` revolutions per second, ascending; `torque_nm` at the flywheel. `power_w` where the source gives power
    beside torque, so that power = torque x speed can be checked; None otherwise. `source` file name. `half_width`
    relative 95 % half width of each torque as it was read off, None where nobody says.
    """

    speed_rps: tuple[float, ...]
    torque_nm: tuple[float, ...]
    power_w: tuple[float, ...] | None = None
    source: str = ""
    half_width: tuple[float, ...] | None = None


class Engine(msgspec.Struct, frozen=True, kw_only=True):
    """The engine. None means "not declared": the model takes a class default with a wide spread.

    `full_load_standard` what the curve is corrected to; `full_load_rating` with the fan and alternator of the road
    (net) or bare (gross); `full_load_at` measured at the engine or on rollers, at the wheels.
    """

    displacement_m3: Declared | None = None
    strokes: int = 4
    cylinders: int | None = None
    fuel: FuelKind | None = None
    induction: Induction | None = None
    injection: Injection | None = None
    idle_speed_rps: Declared | None = None
    governed_speed_rps: Declared | None = None
    full_load: FullLoadCurve | None = None
    full_load_standard: PowerStandard | None = None
    full_load_rating: CurveRating | None = None
    full_load_at: CurvePlace | None = None
    overrun_fuel_cut: bool | None = None


class Vehicle(msgspec.Struct, frozen=True, kw_only=True):
    """One state of a vehicle, in force from `since` (None: from the start)."""

    name: str
    body: Body = "other"
    test_mass_kg: Declared | None = None
    frontal_area_m2: Declared | None = None
    width_m: Declared | None = None
    height_m: Declared | None = None
    drag_coefficient: Declared | None = None
    rolling_resistance: Declared | None = None
    tyre: TyreSize | None = None
    rolling_circumference_m: Declared | None = None
    tyre_pressure_pa: Declared | None = None
    gear_ratios: tuple[float, ...] = ()
    final_drive: float | None = None
    driveline_efficiency: Declared | None = None
    engine: Engine = Engine()
    since: dt.date | None = None
    changes: tuple[str, ...] = ()
    file: str = ""
