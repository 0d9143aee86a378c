"""What was read off a vehicle's dials beside what is known to be true: speedometer, odometer, fuel gauge."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.records.consumption import GivenConsumption
from calmday.records.declared import Declared
from calmday.records.track import Track
from calmday.records.vehicle import TyreSize, Vehicle

DrivenBy = Literal["gearbox", "wheel"]
DRIVEN_BY: tuple[str, ...] = get_args(DrivenBy)


class SpeedReading(msgspec.Struct, frozen=True, kw_only=True):
    """The dial and the receiver at one steady speed, m/s."""

    indicated_mps: float
    true_mps: Declared


class OdometerStretch(msgspec.Struct, frozen=True, kw_only=True):
    """Odometer at both ends of a stretch, as indicated, and its true length: stated, or a track."""

    start_m: float
    end_m: float
    distance_m: Declared | None = None
    track: Track | None = None


class GaugeReading(msgspec.Struct, frozen=True, kw_only=True):
    """Needle (0 empty to 1 full) with what was in the tank, or with what was put in since the reading before."""

    needle: float
    content_m3: Declared | None = None
    added_m3: Declared | None = None
    added_kg: Declared | None = None


class FuelGauge(msgspec.Struct, frozen=True, kw_only=True):
    """A gauge and its tank. `at_start_m3` what was in the tank before the first filling; `density_kgpm3` of what was
    weighed in; `unusable_m3` what the pickup leaves behind."""

    capacity_m3: Declared | None = None
    readings: tuple[GaugeReading, ...] = ()
    at_start_m3: Declared | None = None
    density_kgpm3: Declared | None = None
    unusable_m3: Declared | None = None


class RangeAsked(msgspec.Struct, frozen=True, kw_only=True):
    """How far the fuel goes: from the needle now, or from the distance driven since the tank was full."""

    needle: float | None = None
    since_full_m: Declared | None = None
    consumption: GivenConsumption | None = None


class DialChange(msgspec.Struct, frozen=True, kw_only=True):
    """A change that is thought of: another tyre, rolling circumference or axle ratio."""

    what: str = ""
    tyre: TyreSize | None = None
    rolling_circumference_m: Declared | None = None
    final_drive: float | None = None


class Dials(msgspec.Struct, frozen=True, kw_only=True):
    """All that was read off the dials of one vehicle in one state. Divisions: smallest step that can be read, SI."""

    label: str
    vehicle: Vehicle
    date: dt.date | None = None
    driven_by: DrivenBy = "gearbox"
    speedometer: tuple[SpeedReading, ...] = ()
    speedometer_division_mps: float | None = None
    odometer: tuple[OdometerStretch, ...] = ()
    odometer_division_m: float | None = None
    gauge: FuelGauge | None = None
    range: RangeAsked | None = None
    changes: tuple[DialChange, ...] = ()
    ended_by: str = ""
    """What was changed about tyres or axle after the date, "" for nothing."""

    file: str = ""
