"""A drive without what lies near home, for pictures that others see."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from calmday.procedures.along_the_drive import AlongTheDrive, Band

LEAST_SAMPLES = 30


def away_from_home(along: AlongTheDrive, radius_m: float) -> AlongTheDrive | None:
    """The drive without any sample within `radius_m` of where it began or ended; None where too little is left.

    Laps, stops and gaps are left out: their numbers count samples that are gone.
    """
    east, north = along.east_m, along.north_m
    hidden = np.zeros(east.size, dtype=bool)
    for end in (0, -1):
        hidden |= np.hypot(east - east[end], north - north[end]) <= radius_m
    keep = ~hidden
    if int(keep.sum()) < LEAST_SAMPLES:
        return None
    pieces = np.cumsum(np.diff(np.flatnonzero(keep), prepend=-1) > 1)

    def kept(name: str) -> object:
        value = getattr(along, name)
        if isinstance(value, Band):
            return Band(value.mean[keep], value.low[keep], value.high[keep])
        return value[keep] if isinstance(value, np.ndarray) else value

    fields = {name: kept(name) for name in along.__struct_fields__}
    segment: NDArray[np.int64] = along.segment[keep].astype(np.int64) * (int(pieces.max()) + 1) + pieces
    fields |= {"segment": segment, "laps": (), "stops": (), "gaps": ()}
    return AlongTheDrive(**fields)  # type: ignore[arg-type]
