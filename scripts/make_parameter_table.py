"""Write `docs/parameters.md`: every uncertain figure of the program, read off the code that uses it.

Run `python scripts/make_parameter_table.py` after changing a default; `--check` only compares. Vehicles of every class
are built with the model's own `build`, so the page shows what a run really starts from.
"""

from __future__ import annotations

import importlib
import itertools
import math
import sys
import tomllib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from calmday.metrology.constants import ZERO_CELSIUS_K
from calmday.metrology.fuels import FUELS, UNKNOWN, FuelProperties
from calmday.model import defaults
from calmday.model.cruise import steady_drive
from calmday.model.drive import Drive
from calmday.model.parameters import Parameter
from calmday.model.vehicle_model import VehicleModel, build, gearing_of, wind_height_m
from calmday.records.declared import Declared
from calmday.records.vehicle import BODIES, Engine, FullLoadCurve, TyreSize, Vehicle
from calmday.records.weather import TERRAINS, Weather, WeatherReading
from calmday.reduction.weather_air import road_air
from calmday.reduction.weather_wind import RoadWind, road_wind
from calmday.reduction.wind_profile import (
    MAST_HEIGHT_M,
    TERRAIN_CLASSES,
    VEHICLE_HEIGHT_M,
    mast_to_road_ratio,
    vehicle_wind_ratio,
)

PAGE = Path(__file__).parents[1] / "docs" / "parameters.md"
WORDS: dict[str, Any] = tomllib.loads(Path(__file__).with_name("parameter_page.toml").read_text(encoding="utf-8"))

WARM_K = ZERO_CELSIUS_K + 20.0


def shown(value: float, digits: int = 3) -> str:
    """A number to so many figures, without exponents where they can be avoided."""
    if not math.isfinite(value):
        return "none"
    if abs(value) < 1e-6:
        return "0"
    return f"{float(f'{value:.{digits}g}'):.10g}"


def spread(parameter: Parameter) -> str:
    """The spread in words: a percentage of a log-normal, the plain figure of a normal one."""
    if parameter.shape == "log":
        return f"{shown(100 * parameter.spread)} %"
    return shown(parameter.spread)


def table(heads: Iterable[str], rows: Iterable[Iterable[str]]) -> list[str]:
    """A table in Markdown."""
    heads = list(heads)
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return lines + ["| " + " | ".join(row) + " |" for row in rows] + [""]


def drive_at(temperature_k: float = WARM_K, wind: RoadWind | None = None, density_sd: float = 0.0) -> Drive:
    """A steady drive whose doubts of the weather are those given."""
    drive = steady_drive(np.array([20.0, 25.0]))
    return msgspec.structs.replace(
        drive,
        temperature_k=np.full(2, temperature_k),
        wind_factor_log_sd=wind.factor_log_sd if wind else 0.0,
        wind_offset_sd_mps=wind.offset_sd_mps if wind else 0.0,
        direction_sd_rad=wind.direction_sd_rad if wind else 0.0,
        density_relative_sd=density_sd,
    )


DISPLACED = Declared(1.9e-3)
PLAIN = Engine(fuel="diesel", injection="direct", displacement_m3=DISPLACED)
PETROL = Engine(fuel="petrol", displacement_m3=DISPLACED)
CURVE = FullLoadCurve((20.0, 60.0), (100.0, 100.0))
RADIAL_TYRE = TyreSize("195/75 R16", 0.195, 0.75, 0.406, True)
BIAS_TYRE = TyreSize("6.00-16", 0.152, 0.92, 0.406, False)


def vehicle(**changes: object) -> Vehicle:
    """A vehicle of which little is declared."""
    engine = changes.pop("engine", PLAIN)
    return Vehicle(name="any", engine=engine, **changes)  # type: ignore[arg-type]


def model(it: Vehicle | None = None, **conditions: object) -> VehicleModel:
    """The model of a vehicle, warm start at 20 °C unless told otherwise."""
    drive = conditions.pop("drive", drive_at())
    return build(it or vehicle(), drive, **{"start": "warm", **conditions})  # type: ignore[arg-type]


def engines() -> list[tuple[str, Engine]]:
    """Every class of engine that the build sheet can tell apart."""
    out: list[tuple[str, Engine]] = []
    for fuel, injection in (
        ("diesel", "direct"),
        ("diesel", "indirect"),
        ("diesel", None),
        ("petrol", "carburettor"),
        ("petrol", "port"),
        ("petrol", "direct"),
        ("petrol", None),
    ):
        for induction in ("natural", "turbocharged", "supercharged"):
            if induction != "natural" and injection in ("carburettor", None):
                continue
            name = f"{fuel}, {injection or 'injection not said'}" + ("" if induction == "natural" else f", {induction}")
            out.append((name, Engine(fuel=fuel, injection=injection, induction=induction, displacement_m3=DISPLACED)))  # type: ignore[arg-type]
    out.append(("fuel not said", Engine(displacement_m3=DISPLACED)))
    return out


def displacing(litres: float) -> Engine:
    """The plain engine with another displacement."""
    return msgspec.structs.replace(PLAIN, displacement_m3=Declared(1e-3 * litres))


def variations() -> dict[str, list[VehicleModel]]:
    """Models that differ in one thing only, by what differs."""
    wind = road_wind([metar()], "farmland", np.zeros(1), VEHICLE_HEIGHT_M)
    return {
        "body": [model(vehicle(body=body)) for body in BODIES],
        "tyre": [model(), model(vehicle(tyre=BIAS_TYRE))],
        "engine": [model(vehicle(engine=engine)) for _, engine in engines()],
        "displacement": [
            model(),
            model(vehicle(engine=msgspec.structs.replace(PLAIN, displacement_m3=None))),
            model(vehicle(engine=displacing(0.7))),
        ],
        "gearing": [model(), model(vehicle(gear_ratios=(3.6, 2.0, 1.0), final_drive=4.0))],
        "full-load curve": [model(), model(vehicle(engine=msgspec.structs.replace(PLAIN, full_load=CURVE)))],
        "start": [model(vehicle(engine=PETROL), start=start) for start in ("warm", "cold", None)],
        "weather": [model(), model(drive=drive_at(wind=wind, density_sd=0.01)), model(drive=drive_at(WARM_K - 20.0))],
    }


def differs(key: str, models: list[VehicleModel]) -> tuple[bool, bool]:
    """Whether centre and spread of a parameter differ between models."""
    own = [m.parameters[key] for m in models]
    return len({p.centre for p in own}) > 1, len({p.spread for p in own}) > 1


def _log_else(key: str, starts: list[VehicleModel]) -> bool:
    """Whether a parameter that is normal after a warm start is log-normal after others."""
    warm, cold, _ = (m.parameters[key].shape for m in starts)
    return warm != cold


def main_table() -> list[str]:
    base, varied = model(), variations()
    rows = []
    for p in base.parameters.parameters:
        by_centre = [name for name, models in varied.items() if differs(p.key, models)[0]]
        by_spread = [name for name, models in varied.items() if differs(p.key, models)[1]]
        limits = "" if p.floor == -math.inf else f", not below {shown(p.floor)}"
        limits += "" if p.ceiling == math.inf else f", not above {shown(p.ceiling)}"
        rows.append(
            (
                f"`{p.key}`",
                WORDS["meaning"][p.key],
                p.unit,
                "log; after a warm start " * _log_else(p.key, varied["start"]) + p.shape + limits,
                f"by {', '.join(by_centre)}" if by_centre else shown(p.centre, 4),
                f"by {', '.join(by_spread)}" if by_spread else spread(p),
                p.group,
                p.source,
            )
        )
    heads = ("key", "meaning", "unit", "shape", "centre", "spread", "line of the budget", "rests on")
    return table(heads, rows)


def body_table() -> list[str]:
    rows = []
    for body in BODIES:
        it = vehicle(body=body)
        p, own = model(it).parameters, defaults.BODY_CLASSES[body]
        rows.append(
            (
                body,
                f"{shown(own.drag_coefficient)} ± {shown(100 * own.drag_spread)} %",
                f"{shown(own.frontal_area_m2)} ± {shown(100 * own.area_spread)} %",
                f"{shown(p['drag_area'].centre)} ± {spread(p['drag_area'])}",
                f"{shown(p['test_mass'].centre, 4)} ± {spread(p['test_mass'])}",
                f"{shown(p['yaw_growth'].centre)} ± {spread(p['yaw_growth'])}",
                shown(own.height_m),
                shown(wind_height_m(it)),
            )
        )
    heads = ("body", "drag coefficient", "frontal area, m²", "`drag_area`, m²", "`test_mass`, kg", "`yaw_growth`")
    return [*table((*heads, "height, m", "height of the wind, m"), rows), f"Rests on: {defaults.BODY_SOURCE}.", ""]


def engine_table() -> list[str]:
    rows = []
    for name, engine in engines():
        m = model(vehicle(engine=engine), start="cold")
        p, own = m.parameters, m.engine_class
        throttled = own.pumping_mep_pa > 0
        rows.append(
            (
                name,
                f"{shown(p['indicated_efficiency'].centre)} ± {spread(p['indicated_efficiency'])}",
                f"{shown(p['friction_mep'].centre * 1e-5)} ± {spread(p['friction_mep'])}",
                f"{shown(p['pumping_mep'].centre * 1e-5)} ± {spread(p['pumping_mep'])}" if throttled else "none",
                shown(own.best_mep_pa * 1e-5),
                shown(p["cold_enrichment"].centre) if throttled else "none",
                "cut" if m.overrun_cut else "flows",
                shown(60 * m.governed_rps, 4),
            )
        )
    heads = (
        "engine",
        "`indicated_efficiency`",
        "`friction_mep`, bar",
        "`pumping_mep`, bar",
        "full-load mean pressure, bar",
        "`cold_enrichment`, cold start at 20 °C",
        "fuel on the overrun",
        "governed speed, rpm",
    )
    unsaid = model(vehicle(engine=msgspec.structs.replace(PLAIN, displacement_m3=None)))
    friction = unsaid.parameters["friction_mep"]
    return [
        *table(heads, rows),
        f"Fuels taken for spark ignition: {', '.join(sorted(defaults.SPARK_FUELS))}; all others run as diesel. "
        f"Where the displacement is not declared it is taken as {shown(1e3 * unsaid.displacement_m3)} L, and the "
        f"spread of `friction_mep` becomes {spread(friction)} (here: diesel, direct), because friction power is mean "
        f"pressure times displacement.",
        "",
        f"Rests on: {defaults.ENGINE_SOURCE}.",
        "",
        *displacement_table(),
    ]


def displacement_table() -> list[str]:
    """What grows with the engine."""
    rows = []
    for litres in (0.35, 0.7, 1.0, 1.4, 1.9, 2.8, 4.0):
        p = model(vehicle(engine=displacing(litres))).parameters
        rows.append(
            (
                shown(litres),
                f"{shown(p['accessory_power'].centre)} ± {spread(p['accessory_power'])}",
                f"{shown(p['driveline_drag'].centre)} ± {spread(p['driveline_drag'])}",
            )
        )
    return [
        *table(("displacement, L", "`accessory_power`, W", "`driveline_drag`, N"), rows),
        f"Rests on: accessories, {defaults.ACCESSORY_SOURCE}; driveline, {defaults.DRIVELINE_DRAG_SOURCE}.",
        "",
    ]


def start_table() -> list[str]:
    rows = []
    for start, celsius in itertools.product(("cold", "warm", None), (20.0, 0.0)):
        p = model(vehicle(engine=PETROL), start=start, drive=drive_at(ZERO_CELSIUS_K + celsius)).parameters
        rows.append(
            (
                start or "not said",
                f"{celsius:.0f}",
                *(
                    f"{shown(p[key].centre)} ± {spread(p[key])}" + (", not below 0" if p[key].floor == 0 else "")
                    for key in ("cold_friction", "cold_enrichment", "cold_time", "tyre_warmup", "tyre_time")
                ),
            )
        )
    heads = ("`engine_start`", "air, °C", "`cold_friction`", "`cold_enrichment`, petrol without injection")
    return table((*heads, "`cold_time`, s", "`tyre_warmup`", "`tyre_time`, s"), rows)


def declared_table() -> list[str]:
    base = model().parameters

    def after(key: str, **changes: object) -> str:
        return spread(model(vehicle(**changes)).parameters[key])

    drag, area = Declared(0.40), Declared(2.0)
    geared = {"gear_ratios": (3.6, 1.0), "final_drive": 4.0}
    sized = {"width_m": Declared(1.7), "height_m": Declared(1.5)}
    laden = model(vehicle(test_mass_kg=Declared(1000.0, 1e-9)), payload=Declared(100.0)).parameters["test_mass"]
    rows = [
        ("`test_mass`", spread(base["test_mass"]), after("test_mass", test_mass_kg=Declared(1300.0))),
        (
            "`drag_area`: coefficient and area",
            spread(base["drag_area"]),
            after("drag_area", drag_coefficient=drag, frontal_area_m2=area),
        ),
        ("`drag_area`: coefficient only", spread(base["drag_area"]), after("drag_area", drag_coefficient=drag)),
        ("`drag_area`: area only", spread(base["drag_area"]), after("drag_area", frontal_area_m2=area)),
        ("`drag_area`: width and height only", spread(base["drag_area"]), after("drag_area", **sized)),
        (
            "`rolling_resistance`",
            spread(base["rolling_resistance"]),
            after("rolling_resistance", rolling_resistance=Declared(0.012)),
        ),
        (
            "`driveline_efficiency`",
            spread(base["driveline_efficiency"]),
            after("driveline_efficiency", driveline_efficiency=Declared(0.92)),
        ),
        ("`gearing_scale`: ratios and axle", spread(base["gearing_scale"]), after("gearing_scale", **geared)),
        (
            "`gearing_scale`: ratios, axle and tyre",
            spread(base["gearing_scale"]),
            after("gearing_scale", tyre=RADIAL_TYRE, **geared),
        ),
        (
            "`full_load_scale`: full-load curve",
            spread(base["full_load_scale"]),
            after("full_load_scale", engine=msgspec.structs.replace(PLAIN, full_load=CURVE)),
        ),
    ]
    heads = ("figure", "spread by class (body: other)", "spread when declared without `pm`")
    return [
        *table(heads, rows),
        f"A payload without `pm` adds a standard deviation of {shown(100 * laden.spread * laden.centre / 100.0)} % of "
        "itself to the mass. With `pm`, the spread is `pm` / 1.96.",
        "",
    ]


def metar(**changes: object) -> WeatherReading:
    """A plain report at the time of the drive: 5 m/s from the north."""
    plain = {
        "time_s": 0.0,
        "source": "metar",
        "wind_speed_mps": 5.0,
        "wind_from_deg": 0.0,
        "temperature_k": WARM_K,
        "qnh_pa": 101_500.0,
        "relative_humidity": 0.5,
        "text": "METAR ZZAA 121120Z",
    }
    return WeatherReading(**{**plain, **changes})  # type: ignore[arg-type]


def wind_table() -> list[str]:
    rows = []
    time = np.zeros(1)
    roadside = metar(source="roadside", height_m=1.5, text="")
    for terrain in (*TERRAINS, None):
        kind = TERRAIN_CLASSES[terrain]  # type: ignore[index]
        station, near, none = (
            road_wind(readings, terrain, time, VEHICLE_HEIGHT_M)  # type: ignore[arg-type]
            for readings in ([metar()], [roadside], [])
        )
        ratio = vehicle_wind_ratio(terrain, MAST_HEIGHT_M)  # type: ignore[arg-type]
        rows.append(
            (
                terrain or "not said",
                shown(kind.roughness_m),
                shown(ratio),
                shown(mast_to_road_ratio(terrain)),  # type: ignore[arg-type]
                *(_wind_doubt(wind) for wind in (station, near)),
                f"{shown(100 * none.factor_log_sd)} %, any direction",
            )
        )
    over = f"wind at {shown(VEHICLE_HEIGHT_M)} m over"
    heads = ("`terrain`", "roughness length, m", f"{over} wind at 10 m there", f"{over} that at an aerodrome's mast")
    doubts = ("report of a station at 10 m", "reading at the roadside, 1.5 m", "no report")
    return [
        *table((*heads, *doubts), rows),
        "The three last columns: spread of `wind_factor`; of `wind_direction`; of each `wind_offset`. Roughness "
        "lengths: Davenport classes, codes.wmo.int (seen). Spreads: assumed.",
        "",
    ]


def _wind_doubt(wind: RoadWind) -> str:
    turn = math.degrees(wind.direction_sd_rad)
    return f"{shown(100 * wind.factor_log_sd)} %; {shown(turn, 2)}°; {shown(wind.offset_sd_mps, 2)} m/s"


def air_table() -> list[str]:
    time, height = np.zeros(1), np.full(1, 50.0)
    unknown = np.full(1, np.nan)
    cases: list[tuple[str, Weather, np.ndarray]] = [
        ("report of a station, height of the road known", Weather(readings=(metar(),), field_elevation_m=50.0), height),
        ("report of a station, height of the road not known", Weather(readings=(metar(),)), unknown),
        (
            "read at the roadside: temperature, pressure, humidity",
            Weather(readings=(metar(source="roadside", qnh_pa=None, pressure_pa=1.01e5, text=""),)),
            height,
        ),
        ("nothing reported, height of the road known", Weather(), height),
        ("nothing reported, height not known", Weather(), unknown),
    ]
    rows = []
    for name, weather, road in cases:
        air = road_air(weather, time, road)
        rows.append((name, shown(air.temperature_sd_k, 2), f"{shown(100 * air.density_relative_sd, 2)} %"))
    return [*table(("what was read", "temperature, K", "`air_density`"), rows), "Assumed.", ""]


def given_table(group: str) -> list[str]:
    out = []
    for module, name, meaning, factor, unit, source in WORDS["constants"][group]:
        value = getattr(importlib.import_module(f"calmday.{module}"), name)
        out.append((meaning, f"{shown(value * factor)} {unit}".removesuffix(" 1"), source, f"`{module}.{name}`"))
    return table(("what", "value", "rests on", "in code"), out)


def gearing_lines() -> list[str]:
    words = []
    for spark, name in ((False, "diesel"), (True, "spark ignition")):
        top = min(gearing_of(vehicle(), spark).turns_per_metre)
        words.append(f"{shown(1000 / 60 / top * 3.6)} km/h for each 1000 rpm in top gear ({name})")
    ratios = ", ".join(shown(r) for r in defaults.GEAR_RATIOS)
    return [f"Where no gearing is declared: {' and '.join(words)}, with steps as between {ratios}. Assumed.", ""]


def fuel_table() -> list[str]:
    def row(fuel: FuelProperties) -> tuple[str, ...]:
        return (
            fuel.kind,
            f"{shown(fuel.density_15_kgpm3, 4)} ± {shown(fuel.density_15_sd_kgpm3)}",
            fuel.density_source,
            f"{shown(fuel.net_heating_value_jpkg * 1e-6)} ± {shown(fuel.net_heating_value_sd_jpkg * 1e-6)}",
            fuel.heating_value_source,
            f"{shown(fuel.co2_kgpkg, 4)} ± {shown(fuel.co2_sd_kgpkg)}",
            fuel.co2_source,
        )

    heads = ("density at 15 °C, kg/m³", "net heating value, MJ/kg", "CO₂, kg/kg")
    return table(
        ("fuel", *itertools.chain(*((head, "rests on") for head in heads))),
        (row(fuel) for fuel in (*FUELS.values(), UNKNOWN)),
    )


SECTIONS: dict[str, tuple[Callable[[], list[str]], ...]] = {
    "vehicle": (main_table,),
    "body": (body_table,),
    "engine": (engine_table,),
    "start": (start_table,),
    "declared": (declared_table,),
    "wind": (wind_table, lambda: given_table("wind")),
    "air": (air_table,),
    "weighing": (lambda: given_table("weighing"),),
    "fuel": (fuel_table,),
    "given": (lambda: given_table("given"), gearing_lines),
}


def page_text() -> str:
    """The page."""
    lines = [WORDS["head"].strip(), ""]
    for name, makers in SECTIONS.items():
        title, intro = WORDS["section"][name]
        lines += [f"## {title}", "", intro, ""]
        for make in makers:
            lines += make()
    return "\n".join(lines).rstrip() + "\n"


def main() -> int:
    """Write the page, or with `--check` tell whether it is up to date."""
    text = page_text()
    if "--check" in sys.argv[1:]:
        same = PAGE.exists() and PAGE.read_text(encoding="utf-8") == text
        print("parameters.md is up to date" if same else "parameters.md differs: run scripts/make_parameter_table.py")
        return 0 if same else 1
    PAGE.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
