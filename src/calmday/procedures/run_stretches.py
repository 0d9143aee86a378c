"""Laps and legs of a run: distance, speed, wind and share of the fuel of each."""

from __future__ import annotations

import numpy as np

from calmday.metrology.draws import FloatArray
from calmday.metrology.figure import exact, from_draws, from_normal
from calmday.physics.drag import wind_in_vehicle_axes
from calmday.procedures.drive_of_run import DriveOfRun
from calmday.procedures.simulated_run import SimulatedRun, shares_of_fuel, thinned
from calmday.procedures.weighed_run_result import Lap, Leg
from calmday.reduction.legs import LegSpan
from calmday.reduction.legs import legs as legs_of_track
from calmday.reduction.reduced_track import ReducedTrack, Span

STRETCH_DRAWS = 800
"""Draws for laps and legs: their shares differ by far more than these few draws blur."""


def _weights(path: DriveOfRun, spans: list[Span]) -> FloatArray:
    """Seconds of each drive sample in the whole drive (column 0) and in each span."""
    assert path.drive is not None
    weights = np.zeros((len(path.drive), 1 + len(spans)))
    weights[:, 0] = path.drive.step_s
    for column, span in enumerate(spans, start=1):
        inside = (path.samples >= span.start) & (path.samples < span.stop)
        weights[inside, column] = path.drive.step_s[inside]
    return weights


def _length_m(track: ReducedTrack, span: Span) -> float:
    return float(track.distance_m[min(span.stop, len(track.distance_m) - 1)] - track.distance_m[span.start])


def _wind_from_deg(path: DriveOfRun) -> float:
    """Bearing the mean wind comes from."""
    return float(np.degrees(np.arctan2(-path.weather.wind_east_mps.mean(), -path.weather.wind_north_mps.mean())) % 360)


def laps_and_legs(
    path: DriveOfRun, simulated: SimulatedRun, as_driven_m3pm: FloatArray, distance_m: float
) -> tuple[tuple[Lap, ...], tuple[Leg, ...]]:
    """Laps and legs with their share of the fuel. `as_driven_m3pm`: draws of fuel volume per distance of the run."""
    track = path.track
    if track is None:
        return (), ()
    legs = legs_of_track(track, _wind_from_deg(path))
    spans = [*track.laps, *(Span(leg.start, leg.stop) for leg in legs)]
    if not spans:
        return (), ()
    rows = thinned(simulated, STRETCH_DRAWS)
    shares = shares_of_fuel(simulated, _weights(path, spans), rows)
    total = as_driven_m3pm[simulated.conditioned.picked][rows] * distance_m
    relative_sd = track.total_distance_sd_m / track.total_distance_m if track.total_distance_m else 0.0
    laps = []
    for number, span in enumerate(track.laps, start=1):
        length = _length_m(track, span)
        moving = float(np.count_nonzero(track.moving[span.start : span.stop]) * track.step_s)
        share = shares[:, number - 1]
        laps.append(
            Lap(
                number=number,
                start_s=float(track.time_s[span.start]),
                end_s=float(track.time_s[span.stop - 1]),
                distance=from_normal(length / 1000, relative_sd * length / 1000, "km"),
                moving_time=exact(moving, "s"),
                speed=from_normal(
                    3.6 * length / max(moving, 1.0), relative_sd * 3.6 * length / max(moving, 1.0), "km/h"
                ),
                fuel_share=from_draws(share, "1"),
                L_per_100km=from_draws(share * total / max(length, 1.0) * 1e8, "L/100km"),
            )
        )
    found = []
    turn, factor = simulated.values["wind_direction"], simulated.values["wind_factor"]
    turned = (factor * np.cos(turn), factor * np.sin(turn))
    for number, leg in enumerate(legs, start=1):
        share = shares[:, len(track.laps) + number - 1]
        found.append(_leg(path, simulated, turned, number, leg, share, total))
    return tuple(laps), tuple(found)


def _leg(
    path: DriveOfRun,
    simulated: SimulatedRun,
    turned: tuple[FloatArray, FloatArray],
    number: int,
    leg: LegSpan,
    share: FloatArray,
    total_m3: FloatArray,
) -> Leg:
    """One leg. `turned`: factor on the wind times cosine and sine of the error of its direction, each (m,)."""
    track = path.track
    assert track is not None
    inside = (path.samples >= leg.start) & (path.samples < leg.stop)
    east, north = path.weather.wind_east_mps[inside].mean(), path.weather.wind_north_mps[inside].mean()
    p = simulated.values
    wind_east = turned[0] * east + turned[1] * north + p["wind_offset_east"]
    wind_north = turned[0] * north - turned[1] * east + p["wind_offset_north"]
    along, across = wind_in_vehicle_axes(wind_east, wind_north, np.asarray(np.radians(leg.heading_deg)))
    length = leg.distance_m
    seconds = max((leg.stop - leg.start) * track.step_s, 1.0)
    return Leg(
        number=number,
        start_s=float(track.time_s[leg.start]),
        end_s=float(track.time_s[leg.stop - 1]),
        heading_deg=leg.heading_deg,
        wind_along=from_draws(along, "m/s"),
        wind_across=from_draws(across, "m/s"),
        distance=exact(length / 1000, "km"),
        speed=exact(3.6 * length / seconds, "km/h"),
        fuel_share=from_draws(share, "1"),
        L_per_100km=from_draws(share * total_m3 / max(length, 1.0) * 1e8, "L/100km"),
    )
