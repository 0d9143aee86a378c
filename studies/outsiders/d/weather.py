"""The day's weather on the road, and what the station or the tester says of it.

Wind: one regional mean vector at 10 m over open ground. The station's own mean differs from the road's by a
lognormal factor, a turn and an additive vector (some km away); each also drifts by its own slow process. On the road
the log law over the local roughness brings it to 0.6 of the vehicle's height; a site factor and the places' own
shelter multiply it; gusts are a first-order correlated process of the air mass through which the vehicle drives.
"""
from __future__ import annotations
from dataclasses import dataclass
from datetime import datetime, timedelta
import math
import numpy as np
from .air import KN, ROUGHNESS, STATION_Z0, dew_point_c, log_law, pressure_from_qnh, air_density

Rng = np.random.Generator
STATION_SPEED_SD = 0.13       # ln, road against station, day by day (assumed; some km apart)
STATION_TURN_SD = math.radians(11.0)   # assumed
STATION_VECTOR_SD = 0.35      # m/s per component (assumed)
SLOW_SPEED_SD, SLOW_TURN_SD, SLOW_TAU = 0.08, math.radians(6.0), 1500.0   # drift within the drive (assumed)
SITE_SD = 0.12                # ln, exposure of this road against its class (assumed)
Z0_SD = 0.45                  # ln, roughness against its class (Davenport classes are a factor 2 to 2.5 apart)
SIGMA_U, SIGMA_V = 2.3, 1.8   # sigma/u*, near-ground neutral surface layer (handbook 2.4, 1.9)
GUST_LENGTH = 50.0            # m, integral length near the ground (assumed)


@dataclass(frozen=True)
class Site:
    """What stays the same on one route from day to day."""
    terrain: str; z0: float; factor: float
    station: str; station_elev: float; road_elev: float


@dataclass(frozen=True)
class Day:
    start_utc: datetime; seconds: float
    u10: float; direction: float            # road regional wind, m/s, rad FROM
    st_u10: float; st_direction: float      # station's
    t_c: float; qnh_pa: float; rh: float
    st_t_c: float; st_qnh_pa: float; st_rh: float
    t0: float                               # seconds before start at which the slow series begin
    slow: np.ndarray                        # columns: road speed, road turn, station speed, station turn; every 60 s


def draw_site(rng: Rng, road_elev: float) -> Site:
    terrain = str(rng.choice(list(ROUGHNESS), p=[0.35, 0.42, 0.15, 0.08]))
    z0 = ROUGHNESS[terrain] * math.exp(rng.normal(0, Z0_SD))
    code = "ZZ" + "".join(rng.choice(list("ABCDEFGHKLMNPRSTUVW"), 2))
    return Site(terrain, z0, math.exp(rng.normal(0, SITE_SD)), code, max(2.0, road_elev + rng.normal(0, 25)), road_elev)


def draw_day(rng: Rng, u10: float, start_utc: datetime, seconds: float, direction: float | None = None,
             t_range: tuple[float, float] = (0.5, 27.5)) -> Day:
    direction = rng.uniform(0, 2 * math.pi) if direction is None else direction
    st = u10 * math.exp(rng.normal(0, STATION_SPEED_SD))
    sd = direction + rng.normal(0, STATION_TURN_SD)
    vx, vy = st * math.sin(sd) + rng.normal(0, STATION_VECTOR_SD), st * math.cos(sd) + rng.normal(0, STATION_VECTOR_SD)
    t_c = rng.uniform(*t_range)
    t0, n = 3600.0, int((seconds + 7200) / 60) + 2
    slow = np.zeros((n, 4))
    a = math.exp(-60 / SLOW_TAU)
    slow[0] = rng.normal(size=4)
    for i in range(1, n):
        slow[i] = a * slow[i - 1] + math.sqrt(1 - a * a) * rng.normal(size=4)
    slow *= [SLOW_SPEED_SD, SLOW_TURN_SD, SLOW_SPEED_SD, SLOW_TURN_SD]
    qnh, rh = rng.normal(101500, 900), rng.uniform(0.4, 0.92)
    return Day(start_utc, seconds, u10, direction, math.hypot(vx, vy), math.atan2(vx, vy), t_c, qnh, rh,
               t_c + rng.normal(0, 0.7), qnh + rng.normal(0, 40), float(np.clip(rh + rng.normal(0, 0.05), .25, .97)), t0, slow)


def profile(site: Site, vehicle_height: float) -> float:
    """Mean wind on the vehicle over the regional 10 m wind; at 0.6 of the height (assumed)."""
    return max(0.05, log_law(0.6 * vehicle_height, site.z0)) * site.factor


def road_wind(day: Day, site: Site, vehicle_height: float, t: np.ndarray, speed: np.ndarray, shelter: np.ndarray,
              rng: Rng) -> tuple[np.ndarray, np.ndarray]:
    """Wind at the vehicle, components blowing TO east and north, m/s, with gusts."""
    grid = np.arange(day.slow.shape[0]) * 60.0 - day.t0
    sp = np.exp(np.interp(t, grid, day.slow[:, 0]))
    di = day.direction + np.interp(t, grid, day.slow[:, 1])
    mean = day.u10 * sp * profile(site, vehicle_height) * shelter
    ustar = 0.4 * day.u10 * sp / math.log(10 / site.z0) * site.factor * shelter
    dt = float(t[1] - t[0])
    a = np.exp(-dt * (speed + mean + 0.3) / GUST_LENGTH)
    b = np.sqrt(1 - a * a)
    e = rng.normal(size=(t.size, 2))
    g0, g1 = float(e[0, 0]), float(e[0, 1])
    out = np.empty((t.size, 2))
    al, bl, el = a.tolist(), b.tolist(), e.tolist()
    for i in range(t.size):
        g0 = al[i] * g0 + bl[i] * el[i][0]
        g1 = al[i] * g1 + bl[i] * el[i][1]
        out[i, 0] = g0; out[i, 1] = g1
    along, across = mean + SIGMA_U * ustar * out[:, 0], SIGMA_V * ustar * out[:, 1]
    return -along * np.sin(di) + across * np.cos(di), -along * np.cos(di) - across * np.sin(di)


def road_density(day: Day, site: Site) -> tuple[float, float]:
    p = pressure_from_qnh(day.qnh_pa, site.road_elev)
    return air_density(day.t_c, p, day.rh), p


def metars(day: Day, site: Site, rng: Rng) -> list[str]:
    """Half-hourly reports (minute 20 and 50) from before the start to after the end."""
    first = day.start_utc - timedelta(minutes=30)
    when = first.replace(minute=20 if first.minute < 35 else 50, second=0, microsecond=0)
    if when < first:
        when += timedelta(minutes=30)
    out = []
    grid = np.arange(day.slow.shape[0]) * 60.0 - day.t0
    sky = str(rng.choice(["SCT030", "FEW025", "BKN040", "SCT035 BKN060", "FEW040", "CAVOK"]))
    while True:
        tt = (when - day.start_utc).total_seconds()
        u = day.st_u10 * math.exp(float(np.interp(tt, grid, day.slow[:, 2]))) * math.exp(rng.normal(0, 0.04))
        d = math.degrees(day.st_direction + float(np.interp(tt, grid, day.slow[:, 3])) + rng.normal(0, 0.05)) % 360
        kn = int(round(u / KN))
        peak = u + SIGMA_U * 0.4 * u / math.log(10 / STATION_Z0) * rng.normal(2.8, 0.4)   # 3-s peak in 10 min
        gust = int(round(peak / KN))
        if kn == 0:
            w = "00000KT"
        elif kn < 3:
            w = f"VRB{kn:02d}KT"
        else:
            dd = int(round(d / 10)) * 10
            dd = 360 if dd in (0, 360) else dd
            w = f"{dd:03d}{kn:02d}" + (f"G{gust:02d}" if gust - kn >= 10 else "") + "KT"
        t = day.st_t_c + 0.15 * rng.normal()
        td = dew_point_c(t, day.st_rh)
        f = lambda x: f"M{abs(round(x)):02d}" if round(x) < 0 else f"{abs(round(x)):02d}"
        body = "CAVOK" if sky == "CAVOK" else f"9999 {sky}"
        out.append(f"METAR {site.station} {when:%d%H%M}Z {w} {body} {f(t)}/{f(td)} Q{int(day.st_qnh_pa / 100):04d}")
        if tt > day.seconds:
            return out
        when += timedelta(minutes=30)


def roadside(day: Day, site: Site, rng: Rng, tz_hours: int) -> str:
    """Two hand-held readings at 2 m beside the road, before and after; TOML tables."""
    out = []
    p = pressure_from_qnh(day.qnh_pa, site.road_elev)
    grid = np.arange(day.slow.shape[0]) * 60.0 - day.t0
    spot = math.exp(rng.normal(0, 0.12))                 # exposure of the lay-by
    turn = rng.normal(0, 8)
    for tt in (-240.0, day.seconds + 240.0):
        u = day.u10 * math.exp(float(np.interp(tt, grid, day.slow[:, 0]))) * max(.05, log_law(2.0, site.z0)) * site.factor * spot
        u *= math.exp(rng.normal(0, 0.12))               # 2-min mean, instrument
        d = (math.degrees(day.direction + float(np.interp(tt, grid, day.slow[:, 1]))) + turn + rng.normal(0, 8)) % 360
        when = day.start_utc + timedelta(seconds=tt, hours=tz_hours)
        out += ["[[weather.reading]]", f"time = {when:%Y-%m-%dT%H:%M:%S}", f'wind_speed = "{u:.1f} m/s"',
                f'wind_from = "{round(d / 10) * 10 % 360:.0f} deg"',
                f'gust = "{max(u * rng.uniform(1.5, 2.0), u + 0.1):.1f} m/s"', 'height = "2 m"',
                f'temperature = "{day.t_c + rng.normal(0, .5):.0f} degC"', f'pressure = "{p / 100 + rng.normal(0, .5):.0f} hPa"',
                f'relative_humidity = "{min(97, max(25, 100 * day.rh + rng.normal(0, 4))):.0f} %"', ""]
    return "\n".join(out)
