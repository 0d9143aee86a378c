"""The fused loop in machine code. Only `kernel_compiled` imports this module, and late: numba is slow to load.

One row of `rows` per property of a sample, in the order of `kernel_compiled.sample_rows`; one row of `draws` per drawn
vehicle, in the order of `kernel_compiled.draw_rows`. No branches and no intermediate arrays, every row a slice that
starts at nought, so that the compiler can work on several samples at once.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numba
import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

BLOCK = 1024
"""Samples worked on at a time, so that their rows stay near the processor while the draws go by."""

_SIGNATURE = "void(f8[:,::1], f8[:,::1], f8[::1], f8[::1], f8[::1], i8, i8, i8, i8)"
_REORDERED_SUMS = {"reassoc", "nsz", "contract"}


def _add_energy(  # noqa: PLR0915  (every row by its name; a call would keep the compiler from seeing the whole)
    draws: FloatArray, rows: FloatArray, axial_weight: FloatArray, weight: FloatArray, energy: FloatArray,
    first_draw: int, last_draw: int, first_sample: int, last_sample: int,
) -> None:  # fmt: skip
    """Add to `energy` (m,) what the draws take over the samples: sum of weight (1 + E exp(-t/tau)) X.

    `axial_weight` (n,) is half air density times speed, with the sign of the air along the vehicle.
    """
    for start in range(first_sample, last_sample, BLOCK):
        stop = min(start + BLOCK, last_sample)
        v = rows[0, start:stop]
        head = rows[1, start:stop]
        cross = rows[2, start:stop]
        sine = rows[3, start:stop]
        cosine = rows[4, start:stop]
        half = rows[5, start:stop]
        growing = rows[6, start:stop]
        gusts = rows[7, start:stop]
        growing_gusts = rows[8, start:stop]
        rolling = rows[9, start:stop]
        faster = rows[10, start:stop]
        warming_0 = rows[11, start:stop]
        warming_1 = rows[12, start:stop]
        warming_2 = rows[13, start:stop]
        climb = rows[14, start:stop]
        cap = rows[15, start:stop]
        swept = rows[16, start:stop]
        swept_later = rows[17, start:stop]
        rising = rows[18, start:stop]
        rising_later = rows[19, start:stop]
        churning = rows[20, start:stop]
        cold_0 = rows[21, start:stop]
        cold_1 = rows[22, start:stop]
        cold_2 = rows[23, start:stop]
        running = rows[24, start:stop]
        richness = rows[25, start:stop]
        axial = axial_weight[start:stop]
        seconds = weight[start:stop]
        for d in range(first_draw, last_draw):
            p = draws[d]
            area, growth, turbulence = p[0], p[1], p[2]
            with_wind, turned, east, north = p[3], p[4], p[5], p[6]
            c_rolling, c_faster, c_0, c_1, c_2, mass = p[7], p[8], p[9], p[10], p[11], p[12]
            back, knee, floor = p[13], p[14], p[15]
            late, friction, slope, drag = p[16], p[17], p[18], p[19]
            pumping, accessories = p[20], p[21]
            k_0, k_1, k_2, enrichment = p[22], p[23], p[24], p[25]
            steeper, most = p[26], p[27]
            total = 0.0
            for i in range(v.size):
                along = v[i] + with_wind * head[i] + turned * cross[i] - east * sine[i] - north * cosine[i]
                side = with_wind * cross[i] - turned * head[i] + east * cosine[i] - north * sine[i]
                pushed = axial[i] * along * along + (half[i] + growth * growing[i]) * side * side
                air = pushed + turbulence * (gusts[i] + growth * growing_gusts[i])
                road = c_rolling * rolling[i] + c_faster * faster[i] + mass * climb[i]
                warming = c_0 * warming_0[i] + c_1 * warming_1[i] + c_2 * warming_2[i]
                wheel = area * air + road + warming
                shaft = min(max(wheel, back * wheel), most * knee * cap[i])
                shaft += steeper * max(shaft - knee * cap[i], 0.0)
                turns = swept[i] + late * swept_later[i]
                squared = rising[i] + late * rising_later[i]
                own = friction * turns + slope * squared + drag * churning[i]
                cold = 1.0 + k_0 * cold_0[i] + k_1 * cold_1[i] + k_2 * cold_2[i]
                losses = own * cold + pumping * turns + accessories * running[i]
                total += max(shaft + losses, floor * running[i]) * seconds[i] * (1.0 + enrichment * richness[i])
            energy[d] += total


def _machine_code() -> Callable[..., Any]:
    """Compiled for this processor, kept beside this file or in the user's cache; in memory only where neither is
    writable."""
    for keep in (True, False):
        try:
            compiler = numba.njit(_SIGNATURE, fastmath=_REORDERED_SUMS, nogil=True, cache=keep)
            made: Callable[..., Any] = compiler(_add_energy)
            return made
        except RuntimeError as error:  # numba found no folder it may write to
            if not keep or "cache" not in str(error):
                raise
    raise AssertionError("unreachable")


add_energy = _machine_code()
