"""Weather as reported or read."""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

Terrain = Literal["water", "open", "farmland", "hedged", "suburban", "town"]
TERRAINS: tuple[str, ...] = get_args(Terrain)


class WeatherReading(msgspec.Struct, frozen=True, kw_only=True):
    """One report of a station (METAR/SPECI) or one roadside reading. None: not reported.

    `time_s` seconds since 1970-01-01 UTC. `wind_from_deg` true bearing the wind comes from; None with a wind speed
    means variable. `height_m` of the anemometer above ground (10 m for a METAR, by WMO rule). `pressure_pa` as it is
    on the spot; `qnh_pa` reduced to sea level (METAR Q or A group), which is not the pressure on the road.
    `relative_humidity` 0 to 1.
    """

    time_s: float
    source: Literal["metar", "roadside"]
    wind_speed_mps: float | None = None
    wind_from_deg: float | None = None
    gust_mps: float | None = None
    height_m: float = 10.0
    temperature_k: float | None = None
    pressure_pa: float | None = None
    qnh_pa: float | None = None
    relative_humidity: float | None = None
    text: str = ""


class Weather(msgspec.Struct, frozen=True, kw_only=True):
    """All readings of a run, in time order, and what is needed to carry them to the road.

    `field_elevation_m` of the METAR station; None where unknown (then the track's own height serves).
    """

    readings: tuple[WeatherReading, ...] = ()
    field_elevation_m: float | None = None
    notes: tuple[str, ...] = ()
