"""Air drag along the vehicle's axis with wind and yaw."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def wind_in_vehicle_axes(
    wind_east_mps: FloatArray, wind_north_mps: FloatArray, heading_rad: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Head and cross component of a wind given by where the air moves TO, both (m/s), shape of the inputs.

    Head is positive when the air comes from ahead; cross is positive when it moves to the vehicle's right.
    """
    sin, cos = np.sin(heading_rad), np.cos(heading_rad)
    head = -(wind_east_mps * sin + wind_north_mps * cos)
    cross = wind_east_mps * cos - wind_north_mps * sin
    return head, cross


SIDE_SHARE = 0.5
"""Part of the square of a cross wind that adds to drag without any growth of the coefficient: V_r u = u^2 + w^2/2."""


def axial_drag_n(
    air_density_kgpm3: FloatArray | float,
    drag_area_m2: FloatArray | float,
    yaw_growth: FloatArray | float,
    speed_mps: FloatArray | float,
    head_mps: FloatArray | float = 0.0,
    cross_mps: FloatArray | float = 0.0,
) -> FloatArray:
    """Drag force along the vehicle axis, newton, positive backwards.

    F = 1/2 rho CdA (1 + k psi^2) V_r u with the coefficient taken along the air (wind axes), V_r the air speed, psi its
    yaw angle, u = v + head, w = cross. V_r u = u^2 + w^2/2 - ..., so to the second order in w this is
    F = 1/2 rho CdA (u|u| + (1/2 + k) w^2): a polynomial in the wind, bounded at any yaw. A coefficient along the
    vehicle's axis (body axes, SAE J1594) has 1 + k in place of 1/2 + k.
    `yaw_growth` k: dimensionless; drag in yaw grows as k psi^2 for small psi (psi in rad).
    """
    axial = np.asarray(speed_mps) + head_mps
    side = np.asarray(cross_mps)
    return 0.5 * air_density_kgpm3 * drag_area_m2 * (axial * np.abs(axial) + (SIDE_SHARE + yaw_growth) * side**2)


HEADINGS = 24
"""Directions over which a wind from all around is averaged; the mean has settled to four digits by then."""


def wind_around_n(
    air_density_kgpm3: FloatArray | float,
    drag_area_m2: FloatArray,
    yaw_growth: FloatArray,
    speed_mps: FloatArray,
    wind_mps: float,
) -> FloatArray:
    """What a wind adds to the mean drag at steady speed when the road turns through all directions, newton.

    Mean of `axial_drag_n` over evenly spread headings, its growth with yaw levelled off, less the drag in still air.
    At small yaw and without growth this is 1/2 rho CdA (w^2/2 + w^2/4): head and tail wind leave (w/v)^2/2, cross wind
    half as much again, the 1 + 0.75 (w/v)^2 of a circle. Shapes broadcast.
    """
    extra = np.zeros(np.broadcast_shapes(np.shape(drag_area_m2), np.shape(speed_mps)))
    if wind_mps == 0:
        return extra
    for heading in np.arange(HEADINGS) * (2 * math.pi / HEADINGS):
        head, cross = np.asarray(wind_mps * math.cos(heading)), np.asarray(wind_mps * math.sin(heading))
        growth = yaw_growth * levelled_growth(yaw_angle_rad(speed_mps, head, cross))
        extra += axial_drag_n(air_density_kgpm3, drag_area_m2, growth, speed_mps, head, cross) / HEADINGS
    return extra - axial_drag_n(air_density_kgpm3, drag_area_m2, 0.0, speed_mps)


LEVELLING_YAW_RAD = math.radians(25.0)
"""Yaw at which the growth of drag levels off; road vehicles peak between 20 and 30 degrees (assumed from such
curves)."""


def levelled_growth(yaw_rad: FloatArray) -> FloatArray:
    """How much of the growth k sin^2 psi is left at a yaw angle: psi_0^2 tanh(psi^2 / psi_0^2) / sin^2 psi, 1 for
    small psi.

    Air that overtakes the vehicle (psi beyond a right angle) counts by the angle to its axis, as from ahead.
    """
    square = np.maximum(np.sin(yaw_rad) ** 2, 1e-12)
    to_axis = np.arcsin(np.sqrt(square))
    level = LEVELLING_YAW_RAD**2
    return np.asarray(level * np.tanh(to_axis**2 / level) / square)


def yaw_angle_rad(speed_mps: FloatArray, head_mps: FloatArray, cross_mps: FloatArray) -> FloatArray:
    """Yaw angle of the air to the nose, psi = atan2(cross, v + head), rad."""
    return np.arctan2(cross_mps, speed_mps + head_mps)


def air_speed_mps(speed_mps: FloatArray, head_mps: FloatArray, cross_mps: FloatArray) -> FloatArray:
    """Speed of the vehicle relative to the air, V_r = sqrt((v + head)^2 + cross^2), m/s."""
    return np.hypot(np.asarray(speed_mps) + head_mps, cross_mps)
