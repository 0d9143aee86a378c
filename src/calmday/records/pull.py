"""Full-load pulls and held-speed climbs of one day, as declared in a pull file."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.records.declared import Declared
from calmday.records.track import Track
from calmday.records.vehicle import PowerStandard, Vehicle
from calmday.records.weather import Terrain, Weather

PullKind = Literal["acceleration", "climb", "start"]
PULL_KINDS: tuple[str, ...] = get_args(PullKind)


class Pull(msgspec.Struct, frozen=True, kw_only=True):
    """One pull at full load in one gear (1 first), from a track, or a climb timed by hand over a known way.

    `kind` "acceleration" gains speed, "climb" holds it; "start" is from rest through the gears, whatever `gear` says.
    `from_speed_mps`, `to_speed_mps` cut the track; `grade` rise
    over run, or `rise_m` over `length_m`; `times_s` of a climb over `length_m` without a track, one for each repeat.
    `rotating_mass_kg` what engine, gearbox and wheels add to the mass in this gear, where it is known.
    """

    kind: PullKind
    gear: int
    track: Track | None = None
    from_speed_mps: float | None = None
    to_speed_mps: float | None = None
    grade: Declared | None = None
    rise_m: Declared | None = None
    length_m: Declared | None = None
    times_s: tuple[float, ...] = ()
    heading_deg: float | None = None
    rotating_mass_kg: Declared | None = None


class PullDay(msgspec.Struct, frozen=True, kw_only=True):
    """All pulls of one day with one state of one vehicle. None: not given; the answer is then wider.

    `days` the dates that the tracks are of.
    """

    label: str
    vehicle: Vehicle
    pulls: tuple[Pull, ...]
    date: dt.date | None = None
    days: tuple[dt.date, ...] = ()
    payload_kg: Declared | None = None
    tyre_pressure_pa: Declared | None = None
    terrain: Terrain | None = None
    weather: Weather = Weather()
    correct_to: PowerStandard = "ISO 1585"
    chart_standard: PowerStandard | None = None
    file: str = ""
