"""How good the scale is: declared figures, or what its readings and the trade's experience allow."""

from __future__ import annotations

import math
from functools import reduce
from typing import Final

import msgspec

from calmday.metrology.propagation import digital_step, rectangular
from calmday.records.run import Run

DEFAULT_DIVISION_KG: Final = 5e-3
"""Parcel and kitchen scales of 20 to 40 kg; trade knowledge, assumed."""

DEFAULT_REPEATABILITY_KG: Final = 3e-3
"""Same load lifted off and put back, one standard deviation; trade knowledge, assumed."""

KNOWN_SCALE_ACCURACY: Final = 1.5e-3
UNKNOWN_SCALE_ACCURACY: Final = 5e-3
"""Span error of a scale with its data at hand, and of any kitchen scale, one standard deviation; assumed."""

DEFAULT_SYSTEM_SD_KG: Final = 12e-3
"""Fuel that hides in lines, filter and air pockets, drained tank or test can: 8 to 15 g; trade knowledge,
assumed.
"""

BRIM_SD_M3: Final = 0.3e-3
"""Level of one brim filling: 0.3 L, one standard deviation (0.3 to 1 L in the trade); assumed."""

_PRIOR_WEIGHT: Final = 4.0
_STEPS: Final = (1, 2, 5)
_COARSEST_GRAMS: Final = 100


class ScaleFigures(msgspec.Struct, frozen=True, kw_only=True):
    """`division_kg` step of the display; `repeatability_kg` and `accuracy_sd` (fraction) one standard
    deviation.
    """

    division_kg: float
    repeatability_kg: float
    accuracy_sd: float
    notes: tuple[str, ...] = ()


def brim_volume_sd_m3() -> float:
    """Doubt of the fuel between two brim fillings [m^3]; only the first and the last level count."""
    return math.sqrt(2.0) * BRIM_SD_M3


def scatter_variance(
    prior_sd: float,
    squares: float,
    freedom: int,
    *,
    weight: float = _PRIOR_WEIGHT,
    already_counted: float = 0.0,
) -> float:
    """Variance from a few observations pooled with a prior figure, wide enough for how few they are.

    (w s0^2 + SS) / (w + nu): the posterior mean of a variance under a scaled inverse chi-squared prior of
    mean s0^2 and w + 2 degrees of freedom (Gelman et al., Bayesian Data Analysis, 3rd ed., 2.6), so that no
    further Student factor is due. `already_counted` is variance in each observation that another line of the
    budget holds.
    """
    own = max(0.0, squares - freedom * already_counted)
    return (weight * prior_sd**2 + own) / (weight + freedom)


def inferred_division_kg(readings_kg: tuple[float, ...]) -> float | None:
    """Step of the display as the readings betray it: the 1-2-5 step that divides them all [kg].

    None where they are not whole grams, or too few: two readings can share a coarse divisor by chance.
    """
    grams = [1000.0 * reading for reading in readings_kg]
    whole = [round(g) for g in grams]
    distinct = {w for w in whole if w}
    if len(distinct) < 2 or any(abs(g - w) > 1e-6 for g, w in zip(grams, whole, strict=True)):
        return None
    common = reduce(math.gcd, distinct)
    fine_enough = common if len(distinct) > 2 else min(common, round(1000.0 * DEFAULT_DIVISION_KG))
    steps = [step * decade for decade in (1, 10, 100) for step in _STEPS]
    fitting = [s for s in steps if s <= min(fine_enough, _COARSEST_GRAMS) and common % s == 0]
    return max(fitting) / 1000.0


def _observed(run: Run) -> tuple[float, int]:
    """Sum of squares about each table's mean [kg^2], and its degrees of freedom."""
    squares, freedom = 0.0, 0
    for w in run.weighings:
        mean = math.fsum(w.gross_kg) / len(w.gross_kg)
        squares += math.fsum((x - mean) ** 2 for x in w.gross_kg)
        freedom += len(w.gross_kg) - 1
    return squares, freedom


def _chi_squared_limit(freedom: int) -> float:
    """99.9 % point of chi-squared over its degrees of freedom. Wilson and Hilferty 1931, PNAS 17, 684."""
    spread = 2.0 / (9.0 * freedom)
    return (1.0 - spread + 3.090 * math.sqrt(spread)) ** 3


def _repeatability(run: Run, division_kg: float, notes: list[str]) -> float:
    declared = run.scale.repeatability_kg
    squares, freedom = _observed(run)
    step = digital_step(division_kg) ** 2
    if declared is None:
        prior = max(DEFAULT_REPEATABILITY_KG, 0.5 * division_kg)
        found = math.sqrt(scatter_variance(prior, squares, freedom, already_counted=step))
        notes.append(f"scale repeatability: {1000 * found:.2g} g assumed from its readings and kind")
        return found
    if freedom and squares > _chi_squared_limit(freedom) * freedom * (declared**2 + step):
        found = math.sqrt(scatter_variance(declared, squares, freedom, weight=1.0, already_counted=step))
        notes.append(f"scale repeatability: readings scatter more than declared, {1000 * found:.2g} g used")
        return found
    return declared


def scale_figures(run: Run) -> ScaleFigures:
    """Division, repeatability and accuracy of the scale of a run; what was not declared is said in
    `notes`.
    """
    notes: list[str] = []
    scale = run.scale
    division = scale.resolution_kg
    if division is None:
        readings = tuple(x for w in run.weighings for x in w.gross_kg)
        division = inferred_division_kg(readings) or DEFAULT_DIVISION_KG
        notes.append(f"scale division: {1000 * division:.3g} g assumed from its readings and kind")
    repeatability = _repeatability(run, division, notes)
    if scale.accuracy is not None:
        accuracy = rectangular(scale.accuracy)
    else:
        described = scale.resolution_kg is not None or scale.repeatability_kg is not None
        accuracy = KNOWN_SCALE_ACCURACY if described else UNKNOWN_SCALE_ACCURACY
        notes.append(f"scale accuracy: {100 * accuracy:.2g} % assumed; a bottle of known mass would check it")
    return ScaleFigures(division_kg=division, repeatability_kg=repeatability, accuracy_sd=accuracy, notes=tuple(notes))
