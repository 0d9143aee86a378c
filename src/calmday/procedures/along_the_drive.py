"""What the vehicle did second by second: air speed, power, engine speed, load and fuel rate, each with its doubt.

The drive is run through the forward model for a modest number of posterior draws; mean and 95 % band are read off per
sample. The fuel rate is shared out by the model and adds up to the fuel that was weighed.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import COVERAGE, Figure, from_draws
from calmday.model.basis import AS_DRIVEN, Basis, Coefficients, coefficients, high_load_w
from calmday.model.drive import Drive
from calmday.model.parameters import Values
from calmday.physics.drag import air_speed_mps, wind_in_vehicle_axes
from calmday.procedures.drive_of_run import DriveOfRun
from calmday.procedures.simulated_run import SimulatedRun, thinned
from calmday.procedures.weighed_run import WeighedRun
from calmday.reduction.reduced_track import Gap, ReducedTrack, Span

BoolArray = NDArray[np.bool_]
IntArray = NDArray[np.int64]

BAND_DRAWS = 200
_TAILS = ((1 - COVERAGE) / 2, (1 + COVERAGE) / 2)
_NORMAL_REACH = 1.959963984540054
_CHUNK_SAMPLES = 400
"""Samples worked out at once: a few arrays of draws x samples that stay in cache."""


class Band(msgspec.Struct, frozen=True):
    """A quantity along the drive, arrays (n,): mean and the bounds of its 95 % interval; NaN where it is not known."""

    mean: FloatArray
    low: FloatArray
    high: FloatArray


class WindMet(msgspec.Struct, frozen=True, kw_only=True):
    """The mean wind at vehicle height over the drive.

    `speed` m/s; `from_deg` where it comes from, clockwise from true north, with a 95 % half width of at most 180.
    `known` false where no report gave a wind.
    """

    speed: Figure
    from_deg: float
    from_half_width_deg: float
    known: bool


class AlongTheDrive(msgspec.Struct, frozen=True, kw_only=True):
    """A drive on the samples of its reduced track, arrays (n,), SI units.

    `engine_power_w` at the flywheel without accessories, negative where the wheels turn the engine; `load` that power
    over what full load gives at the same engine speed; `fuel_rate_kgps` its mean, summed over the samples and carried
    over the gaps by distance, is the weighed fuel. Without a simulated drive the last five bands are None.
    `laps`, `stops` are spans of samples; `gaps` holes in the recording.
    """

    time_s: FloatArray
    distance_m: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    heading_rad: FloatArray
    segment: IntArray
    bridged: BoolArray
    speed_mps: Band
    height_m: Band
    grade: Band
    air_speed_mps: Band | None
    engine_power_w: Band | None
    engine_speed_rps: Band | None
    load: Band | None
    fuel_rate_kgps: Band | None
    laps: tuple[Span, ...]
    stops: tuple[Span, ...]
    gaps: tuple[Gap, ...]
    has_height: bool
    wind: WindMet

    def modelled(self) -> dict[str, FloatArray]:
        """The modelled bands by name, `_low` and `_high` behind the name for the bounds; empty without a model."""
        found: dict[str, FloatArray] = {}
        for name in _MODELLED:
            band: Band | None = getattr(self, name)
            if band is not None:
                found |= {name: band.mean, f"{name}_low": band.low, f"{name}_high": band.high}
        return found


_MODELLED = ("air_speed_mps", "engine_power_w", "engine_speed_rps", "load", "fuel_rate_kgps")


def along_the_drive(weighed: WeighedRun, draws: int = BAND_DRAWS) -> AlongTheDrive | None:
    """The drive of a reduced run sample by sample; None where there is no track to show it along."""
    track = weighed.path.track
    if track is None or track.time_s.size == 0:
        return None
    modelled: dict[str, Band | None] = dict.fromkeys(_MODELLED)
    rows: IntArray | None = None
    if weighed.simulated is not None and weighed.path.drive is not None:
        rows = thinned(weighed.simulated, draws)
        found = _modelled(weighed, weighed.simulated, weighed.path.drive, rows)
        modelled = {name: _on_track(band, weighed.path, track) for name, band in found.items()}
    return AlongTheDrive(
        time_s=track.time_s,
        distance_m=track.distance_m,
        east_m=track.east_m,
        north_m=track.north_m,
        heading_rad=track.heading_rad,
        segment=track.segment,
        bridged=track.bridged,
        speed_mps=_normal(track.speed_mps, track.speed_sd_mps, floor=0.0),
        height_m=_normal(track.height_m, track.height_sd_m),
        grade=_normal(track.grade, track.grade_sd),
        laps=track.laps,
        stops=track.stops,
        gaps=track.gaps,
        has_height=track.has_height,
        wind=_wind(weighed, rows),
        **modelled,
    )


def _normal(mean: FloatArray, sd: FloatArray, floor: float = -math.inf) -> Band:
    reach = _NORMAL_REACH * sd
    return Band(mean, np.maximum(mean - reach, floor), mean + reach)


def _on_track(band: Band, path: DriveOfRun, track: ReducedTrack) -> Band:
    """A band on the drive's samples put on the track's; NaN before the engine ran and after."""

    def spread(values: FloatArray) -> FloatArray:
        out = np.full(track.time_s.size, np.nan)
        out[path.samples] = values
        return out

    return Band(spread(band.mean), spread(band.low), spread(band.high))


def _modelled(weighed: WeighedRun, simulated: SimulatedRun, drive: Drive, rows: IntArray) -> dict[str, Band]:
    values = {key: value[rows] for key, value in simulated.values.items()}
    c = coefficients(simulated.model, simulated.basis, values, AS_DRIVEN)
    mass = weighed.draws.fuel_mass_kg[simulated.conditioned.picked][rows]
    # a few hundred draws blur the mean of the weighed mass a little; the rates are to add up to the mass itself
    mass = mass * (weighed.fuel.mass_kg / mass.mean()) / weighed.path.scale
    energy = np.zeros(len(rows))
    parts: dict[str, list[FloatArray]] = {name: [] for name in _MODELLED}
    for start in range(0, len(drive), _CHUNK_SAMPLES):
        part = slice(start, start + _CHUNK_SAMPLES)
        air = _air_speed(drive, values, part)
        power, revs, load, fuel = _engine(simulated.basis, c, values, part)
        energy += fuel @ drive.step_s[part]
        for name, found in zip(_MODELLED, (air, power, revs, load, fuel), strict=True):
            parts[name].append(found)
    bands = {name: _band(parts[name]) for name in _MODELLED[:-1]}
    per_energy = (mass / energy)[:, None]
    bands["fuel_rate_kgps"] = _band([per_energy * fuel for fuel in parts["fuel_rate_kgps"]])
    return bands


def _band(parts: list[FloatArray]) -> Band:
    """Mean and 95 % bounds over the draws of arrays (m, part of n), the bounds widened to hold the mean.

    Where one draw in a hundred pulls and all others coast, the mean lies outside the interval of equal tails.
    """
    columns = [(part.mean(axis=0), *np.quantile(part, _TAILS, axis=0)) for part in parts]
    mean, low, high = (np.concatenate(side) for side in zip(*columns, strict=True))
    return Band(mean, np.minimum(low, mean), np.maximum(high, mean))


def _air_speed(drive: Drive, p: Values, part: slice) -> FloatArray:
    """Speed relative to the mean wind of each draw, (m, part): the wind turned, scaled and offset as in the model."""
    head, cross = wind_in_vehicle_axes(drive.wind_east_mps[part], drive.wind_north_mps[part], drive.heading_rad[part])
    sin, cos = np.sin(drive.heading_rad[part]), np.cos(drive.heading_rad[part])
    a = (p["wind_factor"] * np.cos(p["wind_direction"]))[:, None]
    b = (p["wind_factor"] * np.sin(p["wind_direction"]))[:, None]
    east, north = p["wind_offset_east"][:, None], p["wind_offset_north"][:, None]
    ahead = a * head + b * cross - east * sin - north * cos
    beside = a * cross - b * head + east * cos - north * sin
    return air_speed_mps(drive.speed_mps[part], ahead, beside)


def _engine(
    basis: Basis, c: Coefficients, p: Values, part: slice
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Shaft power (W), engine speed (1/s), load and fuel power times indicated efficiency (W), each (m, part).

    The same formulas as `model.kernel`, kept apart per sample instead of summed.
    """
    wheel = c.wheel @ basis.wheel[:, part]
    eta = c.efficiency[:, None]
    full = c.cap[:, None] * basis.cap_w[part]
    power, extra = high_load_w(np.maximum(wheel / eta, wheel * eta), full)
    late = p["gear_habit"][:, None]
    turns = (1 - late) * basis.early.engine_rps[part] + late * basis.late.engine_rps[part]
    revs = np.where(basis.early.gear[part] < 0, turns, p["gearing_scale"][:, None] * turns)
    load = np.divide(power, full, out=np.zeros_like(power), where=full > 0)
    losses = c.loss @ basis.loss[:, part]
    floor = c.floor_w[:, None] * basis.running[part]
    indicated = np.maximum(c.gain[:, None] * (power + extra) + losses, floor)
    fuel = indicated * (1 + c.enrichment[:, None] * basis.decay[part])
    return power, revs * basis.running[part], np.clip(load, 0.0, 1.0), fuel


def _wind(weighed: WeighedRun, rows: IntArray | None) -> WindMet:
    air = weighed.path.weather
    east, north = float(air.wind_east_mps.mean()), float(air.wind_north_mps.mean())
    if weighed.simulated is None or rows is None:
        factor = np.exp(air.wind_factor_log_sd * np.array([-_NORMAL_REACH, 0.0, _NORMAL_REACH]))
        low, value, high = np.hypot(east, north) * factor
        spread = air.wind_factor_log_sd * float(value)
        speed = Figure(float(value), spread, float(low), float(high), "m/s")
        half = min(180.0, math.degrees(_NORMAL_REACH * air.direction_sd_rad))
        return WindMet(speed=speed, from_deg=_from_deg(east, north), from_half_width_deg=half, known=air.wind_known)
    p = {key: value[rows] for key, value in weighed.simulated.values.items()}
    cos, sin = np.cos(p["wind_direction"]), np.sin(p["wind_direction"])
    to_east = p["wind_factor"] * (cos * east + sin * north) + p["wind_offset_east"]
    to_north = p["wind_factor"] * (cos * north - sin * east) + p["wind_offset_north"]
    mean_from = _from_deg(float(to_east.mean()), float(to_north.mean()))
    away = (np.degrees(np.arctan2(-to_east, -to_north)) - mean_from + 180) % 360 - 180
    return WindMet(
        speed=from_draws(np.hypot(to_east, to_north), "m/s"),
        from_deg=mean_from,
        from_half_width_deg=float(np.quantile(np.abs(away), COVERAGE)),
        known=air.wind_known,
    )


def _from_deg(east: float, north: float) -> float:
    """Bearing a wind comes from, given the way the air moves."""
    return math.degrees(math.atan2(-east, -north)) % 360
