"""The prior: a build sheet and the conditions of a run turned into uncertain parameters."""

from __future__ import annotations

import math
from typing import Literal

import msgspec
import numpy as np

from calmday.metrology.constants import REFERENCE_TEMPERATURE_K
from calmday.model import defaults
from calmday.model.cold_start import start_parameters, usual_heat_w
from calmday.model.drive import Drive
from calmday.model.full_load_rating import Losses, curve_spread, flywheel_curve
from calmday.model.parameters import HALF_WIDTH_PER_SD, Parameter, ParameterSet, declared_or
from calmday.model.parameters import log_parameter as _log
from calmday.model.parameters import normal_parameter as _normal
from calmday.physics.gearing import overall_diameter_m, rolling_circumference_m
from calmday.records.declared import Declared
from calmday.records.vehicle import FuelKind, FullLoadCurve, Vehicle

WIND_HEIGHT_SHARE = 0.6
"""Height of the body whose wind stands for the whole of it, as a share of its height: a little above the middle,
because
the drag of the upper half meets more wind. Assumed."""


class Gearing(msgspec.Struct, frozen=True):
    """Overall ratios (ascending engine turns: first gear first) over rolling circumference: engine turns per metre."""

    turns_per_metre: tuple[float, ...]
    overall_ratios: tuple[float, ...]
    declared: bool


class VehicleModel(msgspec.Struct, frozen=True, kw_only=True):
    """A vehicle ready for the forward model: uncertain parameters, and what is taken as given."""

    parameters: ParameterSet
    fuel: FuelKind
    engine_class: defaults.EngineClass
    displacement_m3: float
    strokes: int
    idle_rps: float
    governed_rps: float
    friction_reference_rps: float
    gearing: Gearing
    full_load: FullLoadCurve | None
    overrun_cut: bool
    usual_temperature_k: float
    pressure_ratio: float


def _displacement_m3(vehicle: Vehicle) -> float:
    declared = vehicle.engine.displacement_m3
    return declared.value if declared else defaults.DISPLACEMENT_M3


def _displacement_spread(vehicle: Vehicle) -> float:
    return defaults.DISPLACEMENT_SPREAD if vehicle.engine.displacement_m3 is None else 0.0


def _mass(vehicle: Vehicle, body: defaults.BodyClass, payload: Declared | None) -> Parameter:
    mass = declared_or(
        vehicle.test_mass_kg,
        key="test_mass",
        default=body.mass_kg,
        default_spread=body.mass_spread,
        declared_spread=0.02,
        unit="kg",
        group="mass",
        source=defaults.BODY_SOURCE,
    )
    if payload is None or payload.value == 0:
        return mass
    doubt = (payload.half_width or 0.2 * payload.value) / HALF_WIDTH_PER_SD
    total = mass.centre + payload.value
    return msgspec.structs.replace(mass, centre=total, spread=math.hypot(mass.spread * mass.centre, doubt) / total)


def _drag_area(vehicle: Vehicle, body: defaults.BodyClass) -> Parameter:
    common = {"unit": "m2", "group": "air drag", "source": defaults.BODY_SOURCE}
    area_declared = vehicle.frontal_area_m2
    if area_declared is None and vehicle.width_m is not None and vehicle.height_m is not None:
        value = 0.84 * vehicle.width_m.value * vehicle.height_m.value
        area_declared = Declared(value, 0.10 * value, "from width and height")
    area = declared_or(
        area_declared,
        key="area",
        default=body.frontal_area_m2,
        default_spread=body.area_spread,
        declared_spread=0.035,
        **common,
    )
    drag = declared_or(
        vehicle.drag_coefficient,
        key="cd",
        default=body.drag_coefficient,
        default_spread=body.drag_spread,
        declared_spread=0.08,
        **common,
    )
    return Parameter(
        key="drag_area",
        centre=area.centre * drag.centre,
        spread=math.hypot(area.spread, drag.spread),
        shape="log",
        unit="m2",
        group="air drag",
        origin="declared" if vehicle.drag_coefficient is not None and area_declared is not None else "assumed",
        source=f"drag coefficient {drag.source}; frontal area {area.source}",
    )


def _road_parameters(vehicle: Vehicle, body: defaults.BodyClass, payload: Declared | None) -> list[Parameter]:
    bias = vehicle.tyre is not None and not vehicle.tyre.radial
    rolling = declared_or(
        vehicle.rolling_resistance,
        key="rolling_resistance",
        default=defaults.BIAS_ROLLING_COEFFICIENT if bias else defaults.ROLLING_COEFFICIENT,
        default_spread=defaults.ROLLING_SPREAD,
        declared_spread=0.10,
        unit="1",
        group="tyres and rolling",
        source=defaults.ROLLING_SOURCE,
    )
    radial = vehicle.tyre is not None and vehicle.tyre.radial
    growth = (
        *(defaults.RADIAL_GROWTH if radial else defaults.GROWTH),
        "1",
        "tyres and rolling",
        defaults.GROWTH_SOURCE,
    )
    efficiency = declared_or(
        vehicle.driveline_efficiency,
        key="driveline_efficiency",
        default=defaults.DRIVELINE_EFFICIENCY,
        default_spread=defaults.DRIVELINE_SPREAD,
        declared_spread=0.012,
        unit="1",
        group="driveline",
        source=defaults.DRIVELINE_SOURCE,
    )
    return [
        _mass(vehicle, body, payload),
        _drag_area(vehicle, body),
        _log("yaw_growth", body.yaw_growth, defaults.YAW_SPREAD, "1", "drag in side wind", defaults.YAW_SOURCE),
        rolling,
        _normal("rolling_growth", *growth, floor=0.0),
        _normal(
            "rolling_temperature", 0.0083, 0.0025, "1/K", "tyres and rolling",
            "UN GTR 15 K0 8.6e-3; ISO 28580 6e-3 to 1e-2", floor=0.0,
        ),
        efficiency,
        _log(
            "driveline_drag", defaults.driveline_drag_n(_displacement_m3(vehicle)),
            math.hypot(defaults.DRIVELINE_DRAG_SPREAD, _displacement_spread(vehicle)), "N", "driveline",
            defaults.DRIVELINE_DRAG_SOURCE,
        ),
        _normal(
            "driveline_thickening", *defaults.DRIVELINE_THICKENING, "1/K", "driveline",
            defaults.DRIVELINE_THICKENING_SOURCE, floor=0.0,
        ),
    ]  # fmt: skip


def _engine_parameters(vehicle: Vehicle, engine: defaults.EngineClass, fuel_said: bool) -> list[Parameter]:
    doubt = 1.0 if fuel_said else 1.6
    displacement_sd = _displacement_spread(vehicle)
    source = defaults.ENGINE_SOURCE
    gearing_sd, gearing_source = _gearing_doubt(vehicle)
    return [
        _log(
            "indicated_efficiency", engine.indicated_efficiency, doubt * engine.efficiency_spread, "1", "engine", source
        ),
        _log(
            "friction_mep", engine.friction_mep_pa, math.hypot(doubt * engine.friction_spread, displacement_sd), "Pa",
            "engine friction", source,
        ),
        _normal("friction_slope", 0.45, 0.15, "1", "engine friction", "Heywood; Millington and Hartles", floor=0.0),
        _log("pumping_mep", max(engine.pumping_mep_pa, 1.0), 0.25, "Pa", "engine friction", source),
        _log(
            "accessory_power", defaults.accessory_w(_displacement_m3(vehicle)),
            math.hypot(defaults.ACCESSORY_SPREAD, defaults.ACCESSORY_POWER * displacement_sd), "W", "engine",
            defaults.ACCESSORY_SOURCE,
        ),
        _log("gearing_scale", 1.0, gearing_sd, "1", "gearing", gearing_source),
        Parameter(
            key="gear_habit", centre=0.25, spread=1.0, shape="share", unit="1", group="gearing", origin="assumed",
            source="how late gears are changed, between an early and a late habit; assumed",
        ),
        _log(
            "full_load_scale", 1.0, curve_spread(vehicle.engine), "1", "full-load curve", "reading of the chart, wear"
        ),
    ]  # fmt: skip


def _has_gearing(vehicle: Vehicle) -> bool:
    return bool(vehicle.gear_ratios) and vehicle.final_drive is not None


def _gearing_doubt(vehicle: Vehicle) -> tuple[float, str]:
    """Relative standard deviation of engine turns per metre, and what they rest on."""
    if not _has_gearing(vehicle):
        return defaults.GEARING_SPREAD, "assumed"
    rolled = vehicle.rolling_circumference_m
    if rolled is not None and rolled.half_width is not None:
        return rolled.half_width / HALF_WIDTH_PER_SD / rolled.value, "declared gearing"
    if rolled is None and vehicle.tyre is None:
        return defaults.CIRCUMFERENCE_SPREAD, "declared ratios, assumed tyre"
    return defaults.DECLARED_GEARING_SPREAD, "declared gearing"


def _air_parameters(drive: Drive) -> list[Parameter]:
    wind = "transfer from the report to the vehicle"
    return [
        _log("wind_factor", 1.0, drive.wind_factor_log_sd, "1", "wind at the vehicle", wind),
        _normal("wind_direction", 0.0, drive.direction_sd_rad, "rad", "wind at the vehicle", wind),
        _normal("wind_offset_east", 0.0, drive.wind_offset_sd_mps, "m/s", "wind at the vehicle", wind),
        _normal("wind_offset_north", 0.0, drive.wind_offset_sd_mps, "m/s", "wind at the vehicle", wind),
        _log("turbulence", 1.0, 0.5, "1", "gusts", "spread of gust intensity; assumed"),
        _log("air_density", 1.0, drive.density_relative_sd, "1", "air density", "temperature and pressure on the road"),
    ]


def wind_height_m(vehicle: Vehicle) -> float:
    """Height above ground at which the wind is taken to act, m."""
    height = vehicle.height_m.value if vehicle.height_m is not None else defaults.BODY_CLASSES[vehicle.body].height_m
    return WIND_HEIGHT_SHARE * height


def gearing_of(vehicle: Vehicle, spark: bool) -> Gearing:
    """Engine turns per metre of road in each gear, declared or assumed."""
    circumference = None
    if vehicle.rolling_circumference_m is not None:
        circumference = vehicle.rolling_circumference_m.value
    elif vehicle.tyre is not None:
        tyre = vehicle.tyre
        diameter = overall_diameter_m(tyre.section_width_m, tyre.aspect_ratio, tyre.rim_diameter_m)
        circumference = rolling_circumference_m(diameter, tyre.radial)
    if _has_gearing(vehicle):
        assert vehicle.final_drive is not None
        overall = tuple(ratio * vehicle.final_drive for ratio in vehicle.gear_ratios)
        length = circumference if circumference is not None else defaults.CIRCUMFERENCE_M
        turns = sorted(((ratio / length, ratio) for ratio in overall), reverse=True)
        return Gearing(tuple(t for t, _ in turns), tuple(r for _, r in turns), circumference is not None)
    top = defaults.TOP_GEAR_RPS_PER_MPS[spark]
    ratios = tuple(ratio / defaults.GEAR_RATIOS[-1] for ratio in defaults.GEAR_RATIOS)
    return Gearing(tuple(top * r for r in ratios), tuple(top * r * defaults.CIRCUMFERENCE_M for r in ratios), False)


def build(
    vehicle: Vehicle,
    drive: Drive,
    *,
    run_fuel: FuelKind | None = None,
    payload: Declared | None = None,
    start: Literal["cold", "warm"] | None = None,
    tyre_pressure_pa: float | None = None,
) -> VehicleModel:
    """Turn what is declared, and class defaults for the rest, into a model of this vehicle on this drive."""
    fuel, said = defaults.fuel_of(vehicle.engine, run_fuel)
    spark = fuel in defaults.SPARK_FUELS
    engine = defaults.engine_class(vehicle.engine, fuel)
    body = defaults.BODY_CLASSES[vehicle.body]
    ambient = float(np.mean(drive.temperature_k)) if len(drive) else REFERENCE_TEMPERATURE_K
    declared = vehicle.engine
    of_the_vehicle = [*_road_parameters(vehicle, body, payload), *_engine_parameters(vehicle, engine, said)]
    displacement = _displacement_m3(vehicle)
    governed = declared.governed_speed_rps.value if declared.governed_speed_rps else defaults.GOVERNED_RPS[spark]
    usual = vehicle.tyre_pressure_pa.value if vehicle.tyre_pressure_pa else None
    cut = declared.overrun_fuel_cut
    gearing = gearing_of(vehicle, spark)
    swept = 2 / declared.strokes * displacement
    heat = usual_heat_w({p.key: p.centre for p in of_the_vehicle}, drive, swept * gearing.turns_per_metre[-1])
    starting = start_parameters(start, ambient, engine, heat / displacement)
    known = ParameterSet((*of_the_vehicle, *starting, *_air_parameters(drive)))
    losses = Losses(
        efficiency=known["driveline_efficiency"].centre,
        churning_n=known["driveline_drag"].centre,
        accessories_w=known["accessory_power"].centre,
    )
    return VehicleModel(
        parameters=known,
        fuel=fuel,
        engine_class=engine,
        displacement_m3=displacement,
        strokes=declared.strokes,
        idle_rps=declared.idle_speed_rps.value if declared.idle_speed_rps else defaults.IDLE_RPS,
        governed_rps=governed,
        friction_reference_rps=0.45 * governed,
        gearing=gearing,
        full_load=flywheel_curve(declared, gearing.turns_per_metre, losses),
        overrun_cut=engine.overrun_cut if cut is None else cut,
        usual_temperature_k=ambient,
        pressure_ratio=tyre_pressure_pa / usual if tyre_pressure_pa and usual else 1.0,
    )
