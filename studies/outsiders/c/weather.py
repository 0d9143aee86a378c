"""The day: region wind, wind at the vehicle, air; the aerodrome's report and the roadside readings.

Chain from mast to vehicle:
  station wind  --(representativeness error)-->  wind at 10 m beside the road, over aerodrome-like ground
  --(exposure: common wind at 60 m, other roughness)-->  wind at 10 m over the road's terrain
  --(log law to 0.65 of the body height)--> open-road wind --(shelter along the road)--> mean wind at the vehicle
  + turbulence (small eddies and gusts), in proportion to friction velocity.
"""
from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, timezone

import numpy as np
from numpy.random import Generator

from .air import KNOT, Air, dew_point_c, pressure_at
from .noise import clipped, ou

DT = 0.2  # s, step of the physics
MAX_STEPS = int(85 * 60 / DT)
# roughness length m by terrain: Davenport classes (reference.md 3.4), suburban lowered to the street-side verge (assumed)
ROUGHNESS = {"water": 0.0005, "open": 0.03, "farmland": 0.10, "hedged": 0.25, "suburban": 0.45, "town": 0.8}
Z0_AERODROME = 0.03  # Davenport "open", airport runway area
BLEND = 60.0  # m, height where the wind is common to both sites (exposure correction, handbook value)
STATION_RATIO_SD = 0.12  # log sd of road/station speed over the drive, station 10-25 km away (assumed)
STATION_DIRECTION_SD = 8.0  # deg (assumed)
STATION_VECTOR_SD = 0.5  # m/s per component (assumed)
SHELTER_RUN_SD = 0.15  # log sd of the run's mean exposure beyond roughness (assumed)
Z0_SD = 0.30  # log sd of the true roughness about its class (assumed)
T0_MIN, T1_MIN = -100, 140  # minutes about the start kept in the slow series


@dataclass(frozen=True)
class Day:
    """Hidden truth of one day and what was reported."""

    start: datetime
    utc_offset_h: int
    air: Air  # on the road
    road_elevation: float
    field_elevation: float
    qnh_pa: float
    minutes: np.ndarray
    speed10: np.ndarray  # m/s at 10 m by the road over aerodrome-like ground
    direction: np.ndarray  # deg from
    station_speed: np.ndarray
    station_direction: np.ndarray
    station_temperature: float
    z0: float
    exposure: float
    run_factor: float
    gust: np.ndarray  # unit series at DT: along, across
    terrain: str

    def height_factor(self, height: float) -> float:
        """Mean wind at a height over the aerodrome-like 10 m wind, before local shelter."""
        return self.exposure * self.run_factor * max(np.log(max(height, 2 * self.z0) / self.z0), 0.3) / np.log(10 / self.z0)

    def at_vehicle(self, body_height: float, n: int, shelter: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """East and north components (blowing to) at the vehicle, at DT, m/s."""
        t = np.arange(n) * DT / 60.0
        u10 = np.interp(t, self.minutes, self.speed10)
        d = np.radians(np.interp(t, self.minutes, self.direction))
        mean = u10 * self.height_factor(0.65 * body_height) * shelter
        # sigma_u = 2.4 u*, sigma_v = 1.9 u* (surface-layer values), u* = 0.4 U/ln(10/z0)
        ustar = 0.4 * u10 * self.exposure / np.log(10 / self.z0) * np.sqrt(np.clip(shelter, 0.3, 1.3))
        along = np.maximum(mean + 2.2 * ustar * self.gust[0, :n], -0.5 * mean)
        across = 1.8 * ustar * self.gust[1, :n]
        east = -along * np.sin(d) + across * np.cos(d)
        north = -along * np.cos(d) - across * np.sin(d)
        return east, north


def draw_day(rng: Generator, terrain: str, road_elevation: float, u10: float, temperature: float | None = None) -> Day:
    """Draw a day; u10 is the mean 10 m wind at the road."""
    m = np.arange(T0_MIN, T1_MIN + 1.0)
    k = len(m)
    temp = temperature if temperature is not None else float(np.clip(rng.normal(14.5, 6.5), -2, 30))
    month = int(np.clip(round(1 + (temp + 2) / 32 * 6 + rng.normal(0, 0.7)), 1, 7))
    offset = 2 if month > 3 else 1
    start = datetime(2026, month, int(rng.integers(1, 29)), int(rng.integers(8, 17)), int(rng.integers(0, 60)),
                     int(rng.integers(0, 60)), tzinfo=timezone(timedelta(hours=offset)))
    trend = rng.normal(0, 0.06) * m / 60
    speed = np.maximum(u10 * (1 + trend + 0.09 * ou(rng, k, 1, 25)), 0.0)
    d0 = rng.uniform(0, 360)
    direction = d0 + rng.normal(0, 5) * m / 60 + 7 * ou(rng, k, 1, 20)
    ratio = np.exp(rng.normal(0, STATION_RATIO_SD))
    e = -speed * np.sin(np.radians(direction)) * ratio + rng.normal(0, STATION_VECTOR_SD) + 0.05 * u10 * ou(rng, k, 1, 15)
    n = -speed * np.cos(np.radians(direction)) * ratio + rng.normal(0, STATION_VECTOR_SD) + 0.05 * u10 * ou(rng, k, 1, 15)
    st_s = np.hypot(e, n) * (1 + 0.04 * rng.standard_normal(k))
    st_d = np.degrees(np.arctan2(-e, -n)) + rng.normal(0, STATION_DIRECTION_SD)
    z0 = ROUGHNESS[terrain] * float(np.exp(rng.normal(0, Z0_SD)))
    exposure = (np.log(BLEND / Z0_AERODROME) / np.log(10 / Z0_AERODROME)) * (np.log(10 / z0) / np.log(BLEND / z0))
    small = [ou(rng, MAX_STEPS, DT, 1.6) for _ in range(2)]  # 30-40 m eddies met at road speed
    large = [ou(rng, MAX_STEPS, DT, 40.0) for _ in range(2)]
    gust = np.sqrt(0.6) * np.array(small) + np.sqrt(0.4) * np.array(large)
    qnh = clipped(rng, 101_500, 900)
    field = float(round(max(2.0, road_elevation + rng.normal(0, 35))))
    rh = float(np.clip(rng.normal(0.72, 0.14), 0.3, 0.97))
    p = pressure_at(qnh, road_elevation) + rng.normal(0, 30)  # Pa, QNH of the place differs a little
    return Day(start, offset, Air(temp, p, rh), road_elevation, field, qnh, m, speed, direction, st_s, st_d,
               temp + clipped(rng, 0, 0.7), z0, float(exposure), float(np.exp(rng.normal(0, SHELTER_RUN_SD))), gust, terrain)


def metar_lines(day: Day, rng: Generator, duration_s: float, station: str) -> list[str]:
    """Half-hourly reports: last before the start to first after the end. Ten-minute means (WMO)."""
    utc = day.start.astimezone(timezone.utc)
    first = utc.replace(minute=20, second=0) if utc.minute >= 20 else utc.replace(minute=20, second=0) - timedelta(minutes=30)
    if utc.minute >= 50:
        first = utc.replace(minute=50, second=0)
    out, t = [], first
    while True:
        mm = (t - utc).total_seconds() / 60
        w = (day.minutes > mm - 10.5) & (day.minutes <= mm + 0.5)
        e = np.mean(-day.station_speed[w] * np.sin(np.radians(day.station_direction[w])))
        n = np.mean(-day.station_speed[w] * np.cos(np.radians(day.station_direction[w])))
        sp = float(np.mean(day.station_speed[w]))
        dd = int(round(np.degrees(np.arctan2(-e, -n)) % 360 / 10) * 10) % 360 or 360
        kt = int(round(sp / KNOT))
        peak = int(round(sp / KNOT * clipped(rng, 1.48, 0.08)))
        wind = "00000KT" if kt == 0 else f"VRB{kt:02d}KT" if kt <= 2 else f"{dd:03d}{kt:02d}{f'G{peak:02d}' if peak - kt >= 10 else ''}KT"
        tt = day.station_temperature + mm / 60 * 0.3
        td = dew_point_c(tt, day.air.humidity)

        def g(v: float) -> str:
            r = int(np.floor(v + 0.5))
            return f"M{-r:02d}" if r < 0 else f"{r:02d}"
        cloud = str(rng.choice(["FEW030", "SCT035", "BKN040", "FEW025 SCT045", "SCT028"]))
        out.append(f"METAR {station} {t:%d%H%M}Z {wind} 9999 {cloud} {g(tt)}/{g(min(td, tt))} Q{int(day.qnh_pa // 100):04d}")
        if mm * 60 >= duration_s:
            return out
        t += timedelta(minutes=30)


def roadside(day: Day, rng: Generator, duration_s: float, height: float, times: int) -> list[dict[str, str]]:
    """Readings of a hand-held or tripod anemometer at an open place by the road, means of some minutes."""
    place = float(np.exp(rng.normal(0, 0.12)))  # the place is not the whole road (assumed)
    gain = 1 + clipped(rng, 0, 0.03)  # anemometer
    out = []
    for i in range(times):
        sec = duration_s * (i / max(times - 1, 1)) - (150 if i == 0 else -120 if i == times - 1 else 0)
        mm = sec / 60
        w = (day.minutes >= mm - 2) & (day.minutes <= mm + 2)
        sp = float(np.mean(day.speed10[w])) * day.height_factor(height) * place * gain * float(np.exp(rng.normal(0, 0.05)))
        dd = float(np.mean(day.direction[w])) + rng.normal(0, 7)
        r = {"time": (day.start + timedelta(seconds=sec)).strftime("%Y-%m-%dT%H:%M:%S"),
             "wind_speed": f"{sp:.1f} m/s", "wind_from": f"{round(dd % 360 / 5) * 5 % 360:.0f} deg"}
        if sp > 1:
            r["gust"] = f"{sp * clipped(rng, 1.7, 0.12):.1f} m/s"
        r |= {"height": f"{height:g} m", "temperature": f"{day.air.temperature_c + clipped(rng, 0, 0.5):.0f} degC",
              "pressure": f"{day.air.pressure_pa / 100 + rng.normal(0, 0.8):.0f} hPa",
              "relative_humidity": f"{100 * day.air.humidity + rng.normal(0, 4):.0f} %"}
        out.append(r)
    return out


def weather_toml(metar: list[str], field_elevation: float | None, readings: list[dict[str, str]]) -> str:
    """[weather] table."""
    out = ["[weather]"]
    if metar:
        out.append("metar = [\n" + "".join(f'  "{m}",\n' for m in metar) + "]")
        out.append(f'field_elevation = "{field_elevation:.0f} m"')
    for r in readings:
        out.append("[[weather.reading]]")
        out += [f"{k} = {v}" if k == "time" else f'{k} = "{v}"' for k, v in r.items()]
    return "\n".join(out) + "\n"
