"""What can be shown along a drive: each quantity in the reader's units, with its band."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, get_args

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.reports.charts.scale import nice_step
from calmday.reports.charts.units import ReaderUnits

if TYPE_CHECKING:
    from calmday.procedures.along_the_drive import AlongTheDrive, Band

FloatArray = NDArray[np.float64]

QuantityKey = Literal["speed", "air_speed", "height", "grade", "engine_power", "engine_speed", "load", "fuel_rate"]
QUANTITY_KEYS: Final[tuple[QuantityKey, ...]] = get_args(QuantityKey)

_FIELDS: Final[dict[str, str]] = {
    "speed": "speed_mps",
    "air_speed": "air_speed_mps",
    "height": "height_m",
    "grade": "grade",
    "engine_power": "engine_power_w",
    "engine_speed": "engine_speed_rps",
    "load": "load",
    "fuel_rate": "fuel_rate_kgps",
}
_WORDS: Final[dict[str, str]] = {
    "speed": "speed",
    "air_speed": "air speed",
    "height": "height",
    "grade": "grade",
    "engine_power": "engine power",
    "engine_speed": "engine speed",
    "load": "load",
    "fuel_rate": "fuel rate",
}
LONGEST_TABLE = 60


class Quantity(msgspec.Struct, frozen=True, kw_only=True):
    """A quantity along the drive as shown: arrays (n,) in `unit`; NaN where it is not known."""

    key: QuantityKey
    words: str
    unit: str
    mean: FloatArray
    low: FloatArray
    high: FloatArray


def quantity(along: AlongTheDrive, key: QuantityKey, units: ReaderUnits) -> Quantity | None:
    """The quantity in the reader's units; None where the drive does not know it."""
    band: Band | None = getattr(along, _FIELDS[key])
    if band is None or (key in ("height", "grade") and not along.has_height) or not np.isfinite(band.mean).any():
        return None
    unit, factor = _shown(key, units)
    return Quantity(
        key=key,
        words=_WORDS[key],
        unit=unit,
        mean=factor * band.mean,
        low=factor * band.low,
        high=factor * band.high,
    )


def _shown(key: QuantityKey, units: ReaderUnits) -> tuple[str, float]:
    if key in ("speed", "air_speed"):
        shown = units.show("speed")
        return shown.unit, shown.factor
    if key == "height":
        shown = units.show("height")
        return shown.unit, shown.factor
    if key == "engine_power":
        shown = units.show("power")
        return shown.unit, shown.factor
    return {"grade": ("%", 100.0), "load": ("%", 100.0), "engine_speed": ("rpm", 60.0)}.get(key, ("kg/h", 3600.0))


def linked_samples(size: int, most: int = 300) -> NDArray[np.int64]:
    """Samples that route and traces share, so that a place in one is found in the other."""
    return np.unique(np.linspace(0, max(size - 1, 0), min(size, most)).round().astype(np.int64))


def stretches(distance: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """Round edges along the way, and which stretch each sample is in; at most LONGEST_TABLE stretches."""
    length = float(np.nanmax(distance)) if distance.size else 0.0
    step = nice_step(length, LONGEST_TABLE)
    count = max(1, int(np.ceil(length / step - 1e-9)))
    return step * np.arange(count + 1, dtype=np.float64), np.minimum((distance // step).astype(np.int64), count - 1)


def mean_in(values: FloatArray, stretch: NDArray[np.int64], index: int) -> float | None:
    """Mean of the known values in one stretch."""
    inside = values[(stretch == index) & np.isfinite(values)]
    return float(inside.mean()) if inside.size else None
