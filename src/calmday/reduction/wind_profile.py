"""Wind and gusts from the height of an anemometer to the height of a vehicle, by terrain."""

from __future__ import annotations

import math
from typing import Final

import msgspec

from calmday.records.weather import Terrain

VEHICLE_HEIGHT_M: Final = 1.0
"""Height whose mean wind stands for the body of a road vehicle: near the middle of a body 1.5 to 2 m tall;
assumed.
"""

MAST_HEIGHT_M: Final = 10.0
"""Height of an aerodrome's anemometer. WMO-No. 8, part I, chapter 5."""

AERODROME_ROUGHNESS_M: Final = 0.03
"""Roughness around an aerodrome's mast. Davenport class open (codes.wmo.int, seen)."""

BLENDING_HEIGHT_M: Final = 60.0
"""Where the wind no longer feels what lies on the ground of one place. Wieringa 1986; WMO-No. 8, part I, chapter 5
(remembered).
"""

GUST_PEAK_FACTOR: Final = 3.0
"""Peak of 3 s in 10 min over the mean, in standard deviations. Harper, Kepert, Ginger 2010, WMO/TD-1555
(remembered).
"""

_LATERAL_RATIO: Final = 0.75
"""sigma_v / sigma_u near the ground. ESDU 85020; Panofsky and Dutton 1984 (remembered)."""


class TerrainClass(msgspec.Struct, frozen=True, kw_only=True):
    """What a kind of country does to the wind near the ground.

    `roughness_m` Davenport's class. `shelter` wind at vehicle height over wind at 10 m where houses and trees
    stand in the layer itself and the logarithmic law does not reach the road; None: the law holds.
    `factor_log_sd` doubt of that ratio for the whole course, as the standard deviation of its log.
    `direction_sd_rad` how far the wind turns from the mast to the road. `turbulence` share of the
    open-country gusts that is left between houses.
    """

    roughness_m: float
    factor_log_sd: float
    direction_sd_rad: float
    shelter: float | None = None
    turbulence: float = 1.0


# Roughness: Davenport classes (codes.wmo.int, seen). Doubts assumed: at least 30 % behind hedges.
TERRAIN_CLASSES: Final[dict[Terrain | None, TerrainClass]] = {
    "water": TerrainClass(roughness_m=0.0002, factor_log_sd=0.12, direction_sd_rad=math.radians(6.0)),
    "open": TerrainClass(roughness_m=0.03, factor_log_sd=0.16, direction_sd_rad=math.radians(7.0)),
    "farmland": TerrainClass(roughness_m=0.10, factor_log_sd=0.20, direction_sd_rad=math.radians(8.0)),
    "hedged": TerrainClass(roughness_m=0.25, factor_log_sd=0.28, direction_sd_rad=math.radians(12.0)),
    "suburban": TerrainClass(
        roughness_m=0.5, factor_log_sd=0.35, direction_sd_rad=math.radians(18.0), shelter=0.30, turbulence=0.8
    ),
    "town": TerrainClass(
        roughness_m=1.0, factor_log_sd=0.45, direction_sd_rad=math.radians(25.0), shelter=0.22, turbulence=0.6
    ),
    # Not said: most test loops run through open country and farmland, some through hedges.
    None: TerrainClass(roughness_m=0.08, factor_log_sd=0.35, direction_sd_rad=math.radians(12.0)),
}


def log_law_ratio(height_m: float, reference_height_m: float, roughness_m: float) -> float:
    """Mean wind at one height over mean wind at another [1]: ln(z/z0) / ln(z_ref/z0), neutral air.

    Both heights above the roughness length. Stull 1988, An Introduction to Boundary Layer Meteorology, 9.7.
    """
    return math.log(height_m / roughness_m) / math.log(reference_height_m / roughness_m)


def power_law_ratio(height_m: float, reference_height_m: float, exponent: float) -> float:
    """Mean wind at one height over mean wind at another [1]: (z/z_ref)^a. For comparison; it flatters the
    ground.
    """
    return float((height_m / reference_height_m) ** exponent)


def vehicle_wind_ratio(
    terrain: Terrain | None, reading_height_m: float, vehicle_height_m: float = VEHICLE_HEIGHT_M
) -> float:
    """Mean wind at vehicle height over the wind read at `reading_height_m` in the same country [1].

    The logarithmic law over the local roughness; between houses a sheltered share of the 10 m wind, fading to
    1 where the reading itself was taken at vehicle height.
    """
    kind = TERRAIN_CLASSES[terrain]
    if kind.shelter is None:
        # Down in the roughness itself the law ends: taken at three roughness lengths.
        lowest = 3.0 * kind.roughness_m
        return log_law_ratio(max(vehicle_height_m, lowest), max(reading_height_m, lowest), kind.roughness_m)
    return float(kind.shelter ** log_height_share(reading_height_m, vehicle_height_m))


def country_over_mast(terrain: Terrain | None) -> float:
    """Wind at 10 m over the country about the road, over that at an aerodrome's mast [1].

    Both have the wind of `BLENDING_HEIGHT_M` above them and the logarithmic law of their own roughness z0 below it:
    ln(60/0.03)/ln(10/0.03) up from the mast, ln(10/z0)/ln(60/z0) down to the road. The exposure correction of
    WMO-No. 8, part I, chapter 5 (remembered), from the mast to a rougher place.
    """
    roughness = TERRAIN_CLASSES[terrain].roughness_m
    up = log_law_ratio(BLENDING_HEIGHT_M, MAST_HEIGHT_M, AERODROME_ROUGHNESS_M)
    return up * log_law_ratio(MAST_HEIGHT_M, BLENDING_HEIGHT_M, roughness)


def mast_to_road_ratio(terrain: Terrain | None, vehicle_height_m: float = VEHICLE_HEIGHT_M) -> float:
    """Mean wind at vehicle height over that at the 10 m mast of an aerodrome [1]."""
    return country_over_mast(terrain) * vehicle_wind_ratio(terrain, MAST_HEIGHT_M, vehicle_height_m)


def log_height_share(reading_height_m: float, vehicle_height_m: float = VEHICLE_HEIGHT_M) -> float:
    """How much of the way from the 10 m mast to the vehicle a reading has left, on a log scale [1]; 1 for the
    mast.
    """
    whole = math.log(MAST_HEIGHT_M / vehicle_height_m)
    return math.log(reading_height_m / vehicle_height_m) / whole


def transfer_log_sd(
    terrain: Terrain | None, reading_height_m: float, vehicle_height_m: float = VEHICLE_HEIGHT_M
) -> float:
    """Doubt of `vehicle_wind_ratio` as the standard deviation of its log [1]: smaller the less height there
    is to go.
    """
    share = min(1.5, abs(log_height_share(reading_height_m, vehicle_height_m)))
    return TERRAIN_CLASSES[terrain].factor_log_sd * share


def turbulence_sd(
    terrain: Terrain | None, wind_speed_mps: float, reading_height_m: float, above_mean_mps: float | None = None
) -> float:
    """Standard deviation of the wind along its mean [m/s] near the ground, from a mean in the same country and how
    far a reported gust stands above the mean where it was reported.

    sigma_u = 2.5 u* = U / ln(z/z0) (kappa = 0.4), the same at all heights of the surface layer (Panofsky and
    Dutton 1984). A reported gust says (gust - mean)/3 of the same; the two count alike, because gusts are
    reported only when they stand out. Between houses a share is left.
    """
    kind = TERRAIN_CLASSES[terrain]
    lowest = 3.0 * kind.roughness_m
    similar = wind_speed_mps / math.log(max(reading_height_m, lowest) / kind.roughness_m)
    if above_mean_mps is not None and above_mean_mps > 0:
        similar = math.sqrt(max(similar, 0.1) * above_mean_mps / GUST_PEAK_FACTOR)
    return kind.turbulence * similar


def across_variance(along_variance: float) -> float:
    """Variance of the gusts across the mean wind from that along it [(m/s)^2]."""
    return _LATERAL_RATIO**2 * along_variance
