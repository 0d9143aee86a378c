"""A map plane through the track on which lengths are right to the millimetre per kilometre wherever the track goes.

Transverse Mercator about the track's own middle meridian, by Krueger's series in the third flattening. It is
conformal: a small piece of road keeps its shape, and its true length is the plane length divided by the point scale,
which is known in closed form. So one plane serves a car park and a day's drive across a country.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.constants import WGS84_FLATTENING, WGS84_SEMI_MAJOR_M

FloatArray = NDArray[np.float64]

_F = WGS84_FLATTENING
_E2 = _F * (2 - _F)
_E = math.sqrt(_E2)
_N = _F / (2 - _F)
_RECTIFYING_RADIUS_M = WGS84_SEMI_MAJOR_M / (1 + _N) * (1 + _N**2 / 4 + _N**4 / 64)
# Karney 2011, J. Geodesy 85, 475, eqs. (35) and (36), to order n^4: below 0.1 um within 2000 km of the meridian.
_ALPHA = (
    _N / 2 - 2 / 3 * _N**2 + 5 / 16 * _N**3 + 41 / 180 * _N**4,
    13 / 48 * _N**2 - 3 / 5 * _N**3 + 557 / 1440 * _N**4,
    61 / 240 * _N**3 - 103 / 140 * _N**4,
    49561 / 161280 * _N**4,
)
_BETA = (
    _N / 2 - 2 / 3 * _N**2 + 37 / 96 * _N**3 - 1 / 360 * _N**4,
    1 / 48 * _N**2 + 1 / 15 * _N**3 - 437 / 1440 * _N**4,
    17 / 480 * _N**3 - 37 / 840 * _N**4,
    4397 / 161280 * _N**4,
)


class Plane(msgspec.Struct, frozen=True):
    """A plane about the meridian `longitude_deg`, its origin at `latitude_deg`, lifted to `height_m`."""

    latitude_deg: float
    longitude_deg: float
    height_m: float = 0.0

    def lift(self) -> float:
        """Length at `height_m` over length on the ellipsoid: 1 + h/R, R the Gaussian mean radius there."""
        meridian, prime_vertical = radii_m(self.latitude_deg)
        return 1.0 + self.height_m / math.sqrt(meridian * prime_vertical)

    def to_plane(self, latitude_deg: FloatArray, longitude_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
        """East and north of the origin [m] at the plane's height, not yet freed of the point scale."""
        xi, eta = _series_forward(latitude_deg, longitude_deg - self.longitude_deg)
        xi0, _ = _series_forward(np.array([self.latitude_deg]), np.zeros(1))
        unit = _RECTIFYING_RADIUS_M * self.lift()
        return unit * eta, unit * (xi - xi0[0])

    def to_geographic(self, east_m: FloatArray, north_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Latitude and longitude [deg] of plane coordinates [m]."""
        unit = _RECTIFYING_RADIUS_M * self.lift()
        xi0, _ = _series_forward(np.array([self.latitude_deg]), np.zeros(1))
        xi = north_m / unit + xi0[0]
        eta = east_m / unit
        xi_s, eta_s = xi.copy(), eta.copy()
        for j, beta in enumerate(_BETA, start=1):
            xi_s -= beta * np.sin(2 * j * xi) * np.cosh(2 * j * eta)
            eta_s -= beta * np.cos(2 * j * xi) * np.sinh(2 * j * eta)
        tau_conformal = np.sin(xi_s) / np.hypot(np.sinh(eta_s), np.cos(xi_s))
        longitude = np.degrees(np.arctan2(np.sinh(eta_s), np.cos(xi_s))) + self.longitude_deg
        return np.degrees(np.arctan(_tau_from_conformal(tau_conformal))), _wrapped_deg(longitude)

    def scale_and_convergence(
        self, latitude_deg: FloatArray, longitude_deg: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Point scale (plane length over true length) and bearing of plane north from true north [rad].

        Karney 2011, eqs. (23) to (28).
        """
        phi = np.radians(latitude_deg)
        lam = np.radians(_wrapped_deg(longitude_deg - self.longitude_deg))
        tau_c = _conformal_tau(phi)
        xi = np.arctan2(tau_c, np.cos(lam))
        eta = np.arcsinh(np.sin(lam) / np.hypot(tau_c, np.cos(lam)))
        p, q = np.ones_like(xi), np.zeros_like(xi)
        for j, alpha in enumerate(_ALPHA, start=1):
            p += 2 * j * alpha * np.cos(2 * j * xi) * np.cosh(2 * j * eta)
            q += 2 * j * alpha * np.sin(2 * j * xi) * np.sinh(2 * j * eta)
        convergence = np.arctan(tau_c / np.sqrt(1 + tau_c**2) * np.tan(lam)) + np.arctan2(q, p)
        sphere = np.sqrt(1 - _E2 * np.sin(phi) ** 2) / np.cos(phi) / np.hypot(tau_c, np.cos(lam))
        return _RECTIFYING_RADIUS_M / WGS84_SEMI_MAJOR_M * sphere * np.hypot(p, q), convergence


def plane_for(latitude_deg: FloatArray, longitude_deg: FloatArray, height_m: float = 0.0) -> Plane:
    """The plane through the middle of a track; longitudes may cross the date line."""
    turned = longitude_deg[0] + _wrapped_deg(longitude_deg - longitude_deg[0])
    middle = (float(turned.min()) + float(turned.max())) / 2
    return Plane((float(latitude_deg.min()) + float(latitude_deg.max())) / 2, middle, height_m)


def radii_m(latitude_deg: float) -> tuple[float, float]:
    """Radii of curvature [m] of the WGS-84 ellipsoid: in the meridian, in the prime vertical.

    M = a(1-e2)/(1-e2 sin^2)^(3/2), N = a/(1-e2 sin^2)^(1/2). NIMA TR8350.2.
    """
    root = math.sqrt(1 - _E2 * math.sin(math.radians(latitude_deg)) ** 2)
    return WGS84_SEMI_MAJOR_M * (1 - _E2) / root**3, WGS84_SEMI_MAJOR_M / root


def _wrapped_deg(angle_deg: FloatArray) -> FloatArray:
    return (angle_deg + 180.0) % 360.0 - 180.0


def _conformal_tau(phi: FloatArray) -> FloatArray:
    """Tangent of the conformal latitude."""
    sine = np.sin(phi)
    return np.asarray(np.sinh(np.arctanh(sine) - _E * np.arctanh(_E * sine)))


def _tau_from_conformal(tau_conformal: FloatArray) -> FloatArray:
    """Tangent of latitude from that of conformal latitude: Newton, Karney 2011 eqs. (19) to (21)."""
    tau = tau_conformal / (1 - _E2)
    for _ in range(4):
        sigma = np.sinh(_E * np.arctanh(_E * tau / np.sqrt(1 + tau**2)))
        guess = tau * np.sqrt(1 + sigma**2) - sigma * np.sqrt(1 + tau**2)
        tau += (
            (tau_conformal - guess)
            / np.sqrt(1 + guess**2)
            * (1 + (1 - _E2) * tau**2)
            / ((1 - _E2) * np.sqrt(1 + tau**2))
        )
    return tau


def _series_forward(latitude_deg: FloatArray, longitude_deg: FloatArray) -> tuple[FloatArray, FloatArray]:
    lam = np.radians(_wrapped_deg(longitude_deg))
    tau_c = _conformal_tau(np.radians(latitude_deg))
    xi_s = np.arctan2(tau_c, np.cos(lam))
    eta_s = np.arcsinh(np.sin(lam) / np.hypot(tau_c, np.cos(lam)))
    xi, eta = xi_s.copy(), eta_s.copy()
    for j, alpha in enumerate(_ALPHA, start=1):
        xi += alpha * np.sin(2 * j * xi_s) * np.cosh(2 * j * eta_s)
        eta += alpha * np.cos(2 * j * xi_s) * np.sinh(2 * j * eta_s)
    return xi, eta
