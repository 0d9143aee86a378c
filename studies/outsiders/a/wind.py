"""Weather of a day: wind at 10 m, at the road, gusts met by a moving vehicle, and what the station reports."""
from __future__ import annotations
from dataclasses import dataclass
import math
import numpy as np
from . import air

# roughness lengths by declared terrain, m: Davenport classes, reference.md 3.4
TERRAIN_Z0 = {"water": .0005, "open": .03, "farmland": .10, "hedged": .25, "suburban": .5, "town": 1.0}
BLEND_M = 60.0        # blending height, Wieringa's usual value [from memory]
Z0_STATION = 0.03     # aerodrome, reference.md 3.4
SITE_SD = 0.08        # persistent station-to-route factor of the wind, relative sd (assumed, station 5-25 km off)
LOCAL_SD = 0.08       # exposure of the road against its terrain class (assumed)
Z0_LN_SD = 0.35       # spread of roughness inside a terrain class (assumed)
DIR_SD_DEG = 8.0      # persistent direction difference, grows in light wind (assumed)
SLOW_SD = 0.08        # slow variation of the wind, time constant 25 min, station and road independent in half of it (assumed)
SLOW_TAU = 1500.0


@dataclass(frozen=True)
class Day:
    u10: float            # m/s, mean at 10 m over open ground on the route
    direction: float      # deg, from
    t_c: float
    rh: float
    qnh: float            # Pa
    z_road: float         # m
    z_station: float
    terrain: str
    z0: float
    local: float
    site: float           # station / route
    site_dir: float       # deg
    site_t: float         # K

    @property
    def p_road(self) -> float:
        return air.pressure_from_qnh(self.qnh, self.z_road)

    @property
    def rho(self) -> float:
        return air.density(self.t_c, self.p_road, self.rh)

    def factor(self, z: float) -> float:
        """Mean wind at height z on the road / wind at 10 m over open ground: log law down from the blending height."""
        top = math.log(BLEND_M / Z0_STATION) / math.log(10 / Z0_STATION)
        zz = max(z, 1.5 * self.z0)
        return self.local * top * math.log(zz / self.z0) / math.log(BLEND_M / self.z0)


def draw_day(rng: np.random.Generator, u10: float, terrain: str, z_road: float, t_range: tuple[float, float] = (0, 29)) -> Day:
    t = float(rng.uniform(*t_range))
    return Day(
        u10=u10, direction=float(rng.uniform(0, 360)), t_c=t, rh=float(np.clip(rng.normal(.70 - .008 * (t - 12), .13), .3, .97)),
        qnh=float(rng.normal(1014, 9)) * 100, z_road=z_road, z_station=float(round(max(2, z_road + rng.normal(0, 40)))), terrain=terrain,
        z0=TERRAIN_Z0[terrain] * float(np.exp(rng.normal(0, Z0_LN_SD))), local=float(np.exp(rng.normal(0, LOCAL_SD))),
        site=float(np.exp(rng.normal(0, SITE_SD))), site_dir=float(rng.normal(0, DIR_SD_DEG * (1 + 1.5 / max(u10, 1)))),
        site_t=float(rng.normal(0, .6)))


def ou(rng: np.random.Generator, n: int, dt: float, tau: float) -> np.ndarray:
    """Unit Ornstein-Uhlenbeck process."""
    a = math.exp(-dt / tau)
    e = (rng.standard_normal(n) * math.sqrt(1 - a * a)).tolist()
    out, y = [0.0] * n, float(rng.standard_normal())
    for i in range(n):
        y = a * y + e[i]
        out[i] = y
    return np.array(out)


@dataclass(frozen=True)
class Slow:
    """Slow course of wind on the road and at the station, from t = -3600 s, 10 s steps."""
    road: np.ndarray
    station: np.ndarray
    road_dir: np.ndarray
    station_dir: np.ndarray

    def at(self, a: np.ndarray, t: np.ndarray | float) -> np.ndarray:
        return np.interp(t, -3600 + 10.0 * np.arange(len(a)), a)


def draw_slow(rng: np.random.Generator, day: Day, seconds: float) -> Slow:
    n = int((seconds + 7200) / 10)
    c, r, s = (ou(rng, n, 10, SLOW_TAU) for _ in range(3))
    cd, rd, sd = (ou(rng, n, 10, SLOW_TAU) for _ in range(3))
    h = math.sqrt(.5)
    k = 6.0 * (1 + 2 / max(day.u10, 1))  # deg, slow veering and backing, assumed
    return Slow(np.exp(SLOW_SD * h * (c + r)), np.exp(SLOW_SD * h * (c + s)), k * h * (cd + rd), k * h * (cd + sd))


def road_wind(rng: np.random.Generator, day: Day, slow: Slow, t: np.ndarray, v: np.ndarray, s_lap: np.ndarray, lap: float,
              height: float, dt: float) -> tuple[np.ndarray, np.ndarray]:
    """Wind vector (blowing TO, east and north) met by the vehicle, with gusts and shelter along the road."""
    z = 0.55 * height + 0.1  # height of the drag-weighted mean wind, assumed
    n_sh = max(8, int(lap / 50))
    sh = ou(rng, 2 * n_sh, 50, 300)[n_sh:]
    w = np.linspace(0, 1, n_sh)
    sh = (1 - w) * sh + w * np.roll(sh, -1)
    shelter = np.exp(.18 * sh - .5 * .18 ** 2)  # hedges and openings, sd 18 %, 300 m (assumed)
    mean = day.u10 * day.factor(z) * slow.at(slow.road, t) * np.interp(s_lap % lap, np.linspace(0, lap, n_sh), shelter)
    ang = np.radians(day.direction + slow.at(slow.road_dir, t))
    zz = max(z, 1.5 * day.z0)
    ti = min(.5, .95 / math.log(zz / day.z0))  # sigma_u / u = 2.5 u* / (u*/0.4 ln(z/z0)), surface layer, [from memory]
    u, c = _gusts(rng, v, mean, dt)
    along = mean * (1 + ti * u)
    across = mean * .76 * ti * c               # sigma_v / sigma_u = 1.9 / 2.5
    e = -along * np.sin(ang) + across * np.cos(ang)
    n = -along * np.cos(ang) - across * np.sin(ang)
    return e, n


def _gusts(rng: np.random.Generator, v: np.ndarray, mean: np.ndarray, dt: float) -> tuple[np.ndarray, np.ndarray]:
    """Two components: half the variance with a length of 25 m, half with 150 m, met at the speed of vehicle and wind."""
    travel = (np.hypot(v, mean) + .5) * dt
    out = []
    for _ in range(2):
        tot = np.zeros(len(v))
        for length in (25.0, 150.0):
            a = np.exp(-travel / length)
            e = (np.sqrt(1 - a * a) * rng.standard_normal(len(v))).tolist()
            al, y, o = a.tolist(), float(rng.standard_normal()), [0.0] * len(v)
            for i in range(len(o)):
                y = al[i] * y + e[i]
                o[i] = y
            tot += math.sqrt(.5) * np.array(o)
        out.append(np.clip(tot, -2.2, 3.5))
    return out[0], out[1]


def station_obs(rng: np.random.Generator, day: Day, slow: Slow, t: float) -> tuple[float, float, float]:
    """Ten-minute mean speed, direction, greatest 3 s gust at the station."""
    u = day.u10 * day.site * float(np.mean(slow.at(slow.station, np.arange(t - 600, t, 60)))) * (1 + rng.normal(0, .04))
    d = day.direction + day.site_dir + float(slow.at(slow.station_dir, t - 300)) + rng.normal(0, 3)
    return u, d % 360, u * (1 + .17 * abs(rng.normal(2.4, .6)))  # intensity 17 % at 10 m over z0 0.03


def metar(rng: np.random.Generator, day: Day, slow: Slow, t: float, day_of_month: int, hour: int, minute: int, station: str, qnh: float) -> str:
    u, d, g = station_obs(rng, day, slow, t)
    kn, gk = round(u / .514444), round(g / .514444)
    if kn == 0:
        w = "00000KT"
    elif kn <= 2 and rng.random() < .6:
        w = f"VRB{kn:02d}KT"
    else:
        dd = int(round(d / 10)) * 10 % 360 or 360
        w = f"{dd:03d}{kn:02d}" + (f"G{gk:02d}" if gk - kn >= 10 else "") + "KT"
    tt = day.t_c + day.site_t + rng.normal(0, .2)
    td = air.dew_point_c(tt, day.rh)
    f = lambda x: ("M" if round(x) < 0 else "") + f"{abs(round(x)):02d}"
    sky = str(rng.choice(["SCT030", "BKN025", "FEW040", "SCT025 BKN040", "NSC"]))
    return f"METAR {station} {day_of_month:02d}{hour:02d}{minute:02d}Z {w} 9999 {sky} {f(tt)}/{f(min(td, tt))} Q{int(qnh / 100):04d}"
