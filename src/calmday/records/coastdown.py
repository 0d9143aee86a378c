"""Coastdowns of one day, as declared in a coastdown file."""

from __future__ import annotations

import datetime as dt

import msgspec

from calmday.records.declared import Declared
from calmday.records.track import Track
from calmday.records.vehicle import Vehicle
from calmday.records.weather import Terrain, Weather


class CoastdownPass(msgspec.Struct, frozen=True, kw_only=True):
    """One roll in neutral, or a long track that holds several.

    `heading_deg` the way it was driven, where the track has no positions. `from_speed_mps`, `to_speed_mps` cut it.
    `mass_kg` as it was on this pass; None: the day's. `grade` rise over run in the direction driven.
    """

    track: Track
    heading_deg: float | None = None
    from_speed_mps: float | None = None
    to_speed_mps: float | None = None
    mass_kg: Declared | None = None
    grade: Declared | None = None


class CoastdownDay(msgspec.Struct, frozen=True, kw_only=True):
    """All passes of one day with one state of one vehicle. None: not given; the answer is then wider.

    `days` the dates that the tracks are of. `rotating_mass_kg` what wheels and shafts add to the mass in neutral, where
    it is known. `warm_up_s` how long the vehicle had been driven before the first pass. `wanted` the half width of the
    road load at 80 km/h to reach, a fraction.
    """

    label: str
    vehicle: Vehicle
    passes: tuple[CoastdownPass, ...]
    date: dt.date | None = None
    days: tuple[dt.date, ...] = ()
    payload_kg: Declared | None = None
    tyre_pressure_pa: Declared | None = None
    rotating_mass_kg: Declared | None = None
    warm_up_s: float | None = None
    terrain: Terrain | None = None
    weather: Weather = Weather()
    wanted: float | None = None
    file: str = ""
