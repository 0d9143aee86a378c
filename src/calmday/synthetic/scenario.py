"""One invented test drive, chosen at random from a seed: the choices from which everything else is drawn."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.records.run import EngineStart
from calmday.records.vehicle import Body
from calmday.records.weather import Terrain
from calmday.synthetic.streams import chance, normal, stream, uniform
from calmday.synthetic.truth_types import RouteKind
from calmday.synthetic.vehicle_truth import BODY_CLASSES, Fuel, InductionTruth, InjectionTruth

TrackFormat = Literal["gpx 1.1", "gpx 1.0", "nmea", "csv"]


class Scenario(msgspec.Struct, frozen=True, kw_only=True):
    """The choices of one invented drive. SI units; temperatures degC; directions deg from true north.

    `parked_before_s` and `parked_after_s`: the recorder runs while the vehicle stands with the engine off.
    """

    seed: int
    body: Body
    fuel: Fuel
    injection: InjectionTruth
    induction: InductionTruth
    displacement_l: float
    mass_kg: float
    payload_kg: float
    pressure_ratio: float
    route_kind: RouteKind
    lap_length_m: float
    laps: int
    steepest_grade: float
    cruise_mps: float
    stops_per_lap: float
    traffic: float
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    wind_speed_10m_mps: float
    wind_from_deg: float
    terrain: Terrain
    temperature_c: float
    pressure_pa: float
    relative_humidity: float
    engine_start: EngineStart
    has_doppler: bool
    has_height: bool
    track_format: TrackFormat
    parked_before_s: float
    parked_after_s: float
    utc_offset_h: float


def _engine_kind(seed: int, body: Body) -> tuple[Fuel, InjectionTruth, InductionTruth]:
    g = stream(seed, "engine kind")
    if chance(g, 0.7 if body in ("van", "lorry", "pickup") else 0.5):
        injection: InjectionTruth = "indirect" if chance(g, 0.5) else "direct"
        return (
            "diesel",
            injection,
            "turbocharged" if chance(g, 0.6 if injection == "direct" else 0.3) else "natural",
        )
    return "petrol", "carburettor" if chance(g, 0.5) else "port", "natural"


def _size(seed: int, body: Body) -> tuple[float, float]:
    """Displacement [L] and mass [kg], larger bodies with larger engines on the whole."""
    g = stream(seed, "size")
    kind = BODY_CLASSES[body]
    fullness = uniform(g, 0, 1)
    mass = kind.mass_kg[0] + (kind.mass_kg[1] - kind.mass_kg[0]) * fullness
    litres = kind.litres[0] + (kind.litres[1] - kind.litres[0]) * min(1, max(0, 0.6 * fullness + uniform(g, 0, 0.4)))
    return round(litres, 3), mass


def _route(seed: int) -> tuple[RouteKind, float, float, int]:
    """Kind, length of a lap, cruising target and laps for 20 to 60 minutes of driving."""
    g = stream(seed, "route")
    draw = uniform(g, 0, 1)
    kind: RouteKind = "smooth loop" if draw < 0.35 else ("polygon loop" if draw < 0.7 else "out and back")
    length = uniform(g, 5e3, 20e3) if kind != "out and back" else uniform(g, 12e3, 44e3)
    cruise = uniform(g, 55, 100) / 3.6
    aimed = uniform(g, 25, 58) * 60
    longest = 60 * 60 * 0.82 * cruise
    laps = min(max(round(aimed * 0.82 * cruise / length), 1), 6)
    while laps > 1 and laps * length > longest:
        laps -= 1
    shortest = 20 * 60 * 0.86 * cruise
    return kind, max(length, shortest / laps), cruise, laps


def _weather(seed: int) -> dict[str, float | str]:
    g = stream(seed, "weather")
    temperature = uniform(g, -2, 32)
    terrain = str(g.choice(["open", "farmland", "hedged", "suburban"], p=[0.3, 0.35, 0.25, 0.1]))
    elevation = abs(normal(g, 0, 200))
    sea_level = normal(g, 1014, 9) * 100
    kelvin = 288.15 - 0.0065 * elevation
    return {
        "wind_speed_10m_mps": uniform(g, 0, 11),
        "wind_from_deg": uniform(g, 0, 360),
        "terrain": terrain,
        "temperature_c": temperature,
        "elevation_m": elevation,
        "pressure_pa": sea_level * (kelvin / 288.15) ** 5.2559,
        "relative_humidity": min(max(0.75 - 0.012 * (temperature - 10) + normal(g, 0, 0.13), 0.2), 0.99),
    }


def _recorder(seed: int) -> dict[str, float | str | bool]:
    g = stream(seed, "recorder choice")
    before = uniform(g, 60, 400) if chance(g, 0.4) else uniform(g, 0, 15)
    after = uniform(g, 60, 300) if chance(g, 0.3) else uniform(g, 0, 15)
    return {
        "has_doppler": chance(g, 0.5),
        "has_height": chance(g, 0.93),
        "track_format": str(g.choice(["gpx 1.1", "gpx 1.0", "nmea", "csv"], p=[0.72, 0.15, 0.09, 0.04])),
        "parked_before_s": round(before),
        "parked_after_s": round(after),
    }


def random_scenario(seed: int, **overrides: object) -> Scenario:
    """A scenario drawn from `seed`; `overrides` replace fields of `Scenario` and leave the rest of the draw
    as it was.

    Raises TypeError for a name that is not a field.
    """
    unknown = set(overrides) - set(Scenario.__struct_fields__)
    if unknown:
        raise TypeError(f"no such choice: {', '.join(sorted(unknown))}")
    g = stream(seed, "choices")
    bodies = list(BODY_CLASSES)
    body = overrides.get("body", str(g.choice(bodies, p=[BODY_CLASSES[b].share for b in bodies])))
    fuel, injection, induction = _engine_kind(seed, body)  # type: ignore[arg-type]
    litres, mass = _size(seed, body)  # type: ignore[arg-type]
    kind, length, cruise, laps = _route(seed)
    latitude = uniform(g, 36, 60) * (1 if chance(g, 0.85) else -0.75)
    choices: dict[str, object] = {
        "seed": seed,
        "body": body,
        "fuel": fuel,
        "injection": injection,
        "induction": induction,
        "displacement_l": litres,
        "mass_kg": mass,
        "payload_kg": round(uniform(g, 40, 300) * mass / 2000) if chance(g, 0.25) else 0.0,
        "pressure_ratio": normal(g, 1.0, 0.04),
        "route_kind": kind,
        "lap_length_m": length,
        "laps": laps,
        "steepest_grade": uniform(g, 0.002, 0.04) if chance(g, 0.85) else 0.0005,
        "cruise_mps": cruise,
        "stops_per_lap": float(g.choice([0.0, 0.5, 1.0, 2.0], p=[0.4, 0.2, 0.25, 0.15])),
        "traffic": uniform(g, 0.01, 0.05),
        "latitude_deg": latitude,
        "longitude_deg": uniform(g, -170, 170),
        "engine_start": "cold" if chance(g, 0.45) else "warm",
        "utc_offset_h": float(g.integers(-8, 11)),
        **_weather(seed),
        **_recorder(seed),
    }
    if "fuel" in overrides and "injection" not in overrides and overrides["fuel"] != fuel:
        choices |= {
            "injection": "direct" if overrides["fuel"] == "diesel" else "port",
            "induction": "natural",
        }
    return msgspec.convert(choices | overrides, Scenario)
