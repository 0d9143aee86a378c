"""What the weather station and the roadside instrument say about a day (with their errors)."""
from __future__ import annotations
import math
from datetime import datetime, timedelta
import numpy as np
from . import air
from .drive import Day

# Station error, all assumed as realistic for an aerodrome some km away: the day's mean wind there differs from the road's by 10 % (1 sd,
# lognormal) and 7 deg; each report differs further by 0.4 m/s per component (10-min sampling, distance, time); then rounding to 1 kn, 10 deg.
SITE_FACTOR, SITE_DIRECTION, REPORT_SD = 0.10, 7.0, 0.4


def station_bias(rng: np.random.Generator) -> tuple[float, float]:
    return math.exp(rng.normal(0, SITE_FACTOR)), rng.normal(0, SITE_DIRECTION)


def metar_lines(day: Day, regional: np.ndarray, dt: float, start: datetime, rng: np.random.Generator, icao: str, station_z: float
                ) -> list[str]:
    """Half-hourly reports that bracket the drive. start is UTC; regional as drive.Trace.regional."""
    f, dd = station_bias(rng)
    first = start.replace(minute=20, second=0, microsecond=0)
    while first > start: first -= timedelta(minutes=30)
    t, out, n = first, [], len(regional)
    end = start + timedelta(seconds=n * dt)
    dtemp = rng.normal(0, 0.6)
    while True:
        k0 = int(np.clip(((t - start).total_seconds() - 600) / dt, 0, n - 1)); k1 = int(np.clip((t - start).total_seconds() / dt, k0 + 1, n))
        e, nn = regional[k0:k1].mean(0)
        e, nn = f * e + rng.normal(0, REPORT_SD), f * nn + rng.normal(0, REPORT_SD)
        sp = math.hypot(e, nn); kn = int(round(sp / air.KN)); d = int(round((math.degrees(math.atan2(e, nn)) + dd) % 360 / 10)) * 10
        d = 360 if d == 0 else d
        gust = int(round(kn * rng.normal(1.48, 0.08)))
        if kn == 0: w = "00000KT"
        elif kn <= 3 and rng.uniform() < 0.4: w = f"VRB{kn:02d}KT"
        else: w = f"{d:03d}{kn:02d}" + (f"G{gust:02d}" if gust - kn >= 10 else "") + "KT"
        tc = day.temp + dtemp + rng.normal(0, 0.2); td = air.dew_point(day.temp, float(np.clip(day.rh + rng.normal(0, .03), .15, .99)))
        td = min(td, tc)
        fm = lambda x: f"M{abs(round(x)):02d}" if round(x) < 0 else f"{round(x):02d}"
        out.append(f"METAR {icao} {t:%d%H%M}Z {w} 9999 {rng.choice(['FEW025', 'SCT030', 'BKN040', 'FEW030 SCT045'])} "
                   f"{fm(tc)}/{fm(td)} Q{int(day.qnh / 100):04d}")
        if t >= end: return out
        t += timedelta(minutes=30)


def readings(day: Day, regional: np.ndarray, dt: float, start_local: datetime, rng: np.random.Generator, count: int) -> list[str]:
    """Hand-held at 2 m, two-minute means by the road, TOML lines. Place 10 % (1 sd), two-minute sampling 14 %, instrument 4 %, direction 9 deg."""
    out = []; n = len(regional); height = 2.0; inst = math.exp(rng.normal(0, 0.04)); place = math.exp(rng.normal(0, 0.10))
    for j in range(count):
        k = int(round((n - 1) * (j / max(1, count - 1))))
        e, nn = regional[k]; u = math.hypot(e, nn) * air.transfer(height, day.terrain)
        m = u * inst * place * math.exp(rng.normal(0, 0.14)); d = (math.degrees(math.atan2(e, nn)) + rng.normal(0, 9)) % 360
        t = start_local + timedelta(seconds=k * dt + (-300 if j == 0 else 200 if j == count - 1 else 0))
        out += ["[[weather.reading]]", f"time = {t:%Y-%m-%dT%H:%M:%S}", f'wind_speed = "{m:.1f} m/s"', f'wind_from = "{round(d / 5) * 5 % 360} deg"',
                f'gust = "{max(m * rng.normal(1.65, .1), m):.1f} m/s"', f'height = "{height:g} m"', f'temperature = "{day.temp + rng.normal(0, .4):.1f} degC"',
                f'pressure = "{day.pressure / 100 + rng.normal(0, .5):.0f} hPa"', f'relative_humidity = "{100 * np.clip(day.rh + rng.normal(0, .03), .1, .99):.0f} %"']
    return out
