"""Do the dials tell the truth? Speedometer, odometer and fuel gauge of one vehicle in one state, and what changes do.

The two factors are never mixed: a speedometer may be off on purpose, an odometer is not.
"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import Figure, exact, from_draws
from calmday.metrology.fuels import fuel_properties
from calmday.model.parameters import HALF_WIDTH_PER_SD
from calmday.physics.gearing import overall_diameter_m, rolling_circumference_m
from calmday.procedures.dials_flags import flags_of_dials
from calmday.procedures.dials_result import ChangedDials, DialsResult, RangeResult
from calmday.procedures.fuel_gauge import NEEDLE_SD, DrawnGauge, draw_gauge, gauge_of
from calmday.procedures.odometer_factor import draw_factor, odometer_of
from calmday.procedures.speedometer import KMH, DrawnDial, draw_dial, speedometer_of, upper_limit_mps, verdict
from calmday.procedures.weighed_run_result import Provenance
from calmday.records.declared import Declared
from calmday.records.dials import DialChange, Dials, FuelGauge
from calmday.records.vehicle import TyreSize

FloatArray = NDArray[np.float64]

TYRE_SD: Final = 0.010
"""Relative doubt of a rolling circumference by its tyre code: makes and wear. Assumed."""

ROLLED_SD: Final = 0.003
"""Relative doubt of one that was rolled out, where nobody says. Assumed."""

CONSUMPTION_SD: Final = 0.05
"""Relative doubt of a consumption where nobody says. Assumed."""

TYPICAL_KMH: Final = 80.0

CUBIC_METRES_PER_METRE: Final = 1e-8
"""1 L/100 km."""

_PER_VOLUME: Final = {"mpg_us": 235.214583, "mpg_imp": 282.480936, "km_per_L": 100.0}
"""L/100 km times this unit (3.785411784 L, 4.54609 L, 1609.344 m)."""


def study_dials(
    dials: Dials, draws: int, seed: int, provenance: Provenance, consumption: FloatArray | None = None
) -> DialsResult:
    """Everything that was read. `consumption` draws of a weighed run, L/100 km. Raises InputError; the sentence is put
    in by the report."""
    dial = draw_dial(dials, draws, seed)
    factor, stretches = draw_factor(dials, draws, seed + 10) if dials.odometer else (None, ())
    gauge = draw_gauge(dials.gauge or FuelGauge(), dials.vehicle.engine.fuel, draws, seed + 20)
    result = DialsResult(
        label=dials.label,
        vehicle=dials.vehicle.name,
        sentence="",
        speedometer=speedometer_of(dials, dial) if dials.speedometer else None,
        odometer=odometer_of(dials, factor, stretches) if factor is not None else None,
        fuel_gauge=gauge_of(dials.gauge, gauge) if dials.gauge is not None and dials.gauge.readings else None,
        range=_range(dials, gauge, factor, draws, seed + 30, consumption),
        changes=tuple(_changed(dials, one, dial, factor, draws, seed + 40 + i) for i, one in enumerate(dials.changes)),
        flags=(),
        provenance=provenance,
    )
    return _flagged(result, dials)


def _flagged(result: DialsResult, dials: Dials) -> DialsResult:
    return msgspec.structs.replace(result, flags=flags_of_dials(result, dials))


def _range(
    dials: Dials, gauge: DrawnGauge, factor: FloatArray | None, draws: int, seed: int, known: FloatArray | None
) -> RangeResult | None:
    asked = dials.range
    if asked is None:
        return None
    scores = standard_normal(draws, 4, seed)
    used = _consumption(dials, known, draws, scores[:, 0])
    if used is None:
        return None
    unusable = dials.gauge.unusable_m3 if dials.gauge is not None else None
    lost = _stated(unusable, 0.2, scores[:, 1]) if unusable is not None else np.zeros(draws)
    if asked.needle is not None:
        content = gauge.at(asked.needle + NEEDLE_SD * scores[:, 2])
    else:
        assert asked.since_full_m is not None
        driven = _stated(asked.since_full_m, 0.005, scores[:, 2]) * (factor if factor is not None else 1.0)
        content = gauge.capacity_m3 - driven * used * CUBIC_METRES_PER_METRE
    left = np.maximum(content - lost, 0.0)
    way = left / (used * CUBIC_METRES_PER_METRE)
    return RangeResult(
        known_by="needle" if asked.needle is not None else "distance since full",
        fuel_left=from_draws(1000 * left, "L"),
        consumption=from_draws(used, "L/100km"),
        distance=from_draws(way / 1000, "km"),
        count_on=float(np.quantile(way / 1000, 0.05)),
    )


def _consumption(dials: Dials, known: FloatArray | None, draws: int, scores: FloatArray) -> FloatArray | None:
    """Draws of the consumption, L/100 km: as stated, or of a weighed run."""
    given = dials.range.consumption if dials.range is not None else None
    if given is None:
        if known is None:
            return None
        return known[np.linspace(0, known.size - 1, draws).astype(np.int64)]
    sd = given.half_width / HALF_WIDTH_PER_SD / given.value if given.half_width else CONSUMPTION_SD
    value = given.value * np.exp(sd * scores)
    if given.unit == "g_per_km":
        return np.asarray(value / 10 / fuel_properties(dials.vehicle.engine.fuel).density_15_kgpm3 * 1000)
    return np.asarray(_PER_VOLUME[given.unit] / value if given.unit in _PER_VOLUME else value)


def _stated(stated: Declared, usual: float, scores: FloatArray) -> FloatArray:
    sd = stated.half_width / HALF_WIDTH_PER_SD if stated.half_width else usual * stated.value
    return np.asarray(np.maximum(stated.value + sd * scores, 0.0))


def _changed(
    dials: Dials, change: DialChange, dial: DrawnDial, factor: FloatArray | None, draws: int, seed: int
) -> ChangedDials:
    """Both dials after a change. A dial behind the gearbox counts turns before the axle; one at a wheel counts wheel
    turns, and does not see the axle."""
    scores = standard_normal(draws, 2, seed)
    rolls = _rolls_further(dials, change, scores)
    old_axle = dials.vehicle.final_drive
    axle = change.final_drive / old_axle if change.final_drive is not None and old_axle is not None else 1.0
    reads = np.asarray((axle if dials.driven_by == "gearbox" else 1.0) / rolls)
    new = factor / reads if factor is not None else None
    shown = TYPICAL_KMH * KMH
    after = dial.scaled(reads).true_mps(shown)
    has_dial = bool(dials.speedometer)
    lawful = float(np.mean((shown >= after) & (shown <= upper_limit_mps(after))))
    return ChangedDials(
        what=change.what or _words(change),
        reads=from_draws(reads, "1"),
        odometer_factor=from_draws(new, "1") if new is not None else None,
        at_indicated=exact(TYPICAL_KMH, "km/h") if has_dial else None,
        true_before=from_draws(dial.true_mps(shown) / KMH, "km/h") if has_dial else None,
        true_speed=from_draws(after / KMH, "km/h") if has_dial else None,
        verdict=verdict(lawful) if has_dial else None,
        engine_speed_change=_percent(axle / rolls),
    )


def _percent(ratio: FloatArray) -> Figure:
    return from_draws(100 * (ratio - 1), "%")


def _rolls_further(dials: Dials, change: DialChange, scores: FloatArray) -> FloatArray:
    """Draws of new over old rolling circumference, (m,)."""
    if change.tyre is None and change.rolling_circumference_m is None:
        return np.ones(scores.shape[0])
    vehicle = dials.vehicle
    old = _circumference(vehicle.tyre, vehicle.rolling_circumference_m, scores[:, 0])
    new = _circumference(change.tyre, change.rolling_circumference_m, scores[:, 1])
    if old is None or new is None:
        return np.full(scores.shape[0], math.nan)
    return np.asarray(new / old)


def _circumference(tyre: TyreSize | None, rolled: Declared | None, scores: FloatArray) -> FloatArray | None:
    if rolled is not None:
        sd = rolled.half_width / HALF_WIDTH_PER_SD if rolled.half_width else ROLLED_SD * rolled.value
        return np.asarray(rolled.value + sd * scores)
    if tyre is None:
        return None
    diameter = overall_diameter_m(tyre.section_width_m, tyre.aspect_ratio, tyre.rim_diameter_m)
    return np.asarray(rolling_circumference_m(diameter, tyre.radial) * np.exp(TYRE_SD * scores))


def _words(change: DialChange) -> str:
    parts = []
    if change.tyre is not None:
        parts.append(f"tyre {change.tyre.code}")
    if change.rolling_circumference_m is not None:
        parts.append(f"rolling circumference {change.rolling_circumference_m.value:.3f} m")
    if change.final_drive is not None:
        parts.append(f"axle ratio {change.final_drive:g}")
    return ", ".join(parts) or "no change"
