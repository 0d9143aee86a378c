"""From scale readings or fills to the fuel that went through the engine, with a budget.

As read, correction, corrected: the difference of readings stays as it was read; the mean of a null test and
the lift of the air are applied to it in that order.
"""

from __future__ import annotations

import math
from typing import Final

from calmday.errors import InputError
from calmday.metrology.budget import root_sum_of_squares
from calmday.metrology.buoyancy import buoyancy_factor
from calmday.metrology.fuel_volume import BASE_60F_K, density_at, volume_correction_15c
from calmday.metrology.fuels import FuelProperties, fuel_properties
from calmday.metrology.propagation import digital_step, rectangular
from calmday.metrology.rounding import counted
from calmday.records.run import Run
from calmday.reduction.fuel_density import BatchDensity, batch_density
from calmday.reduction.fuel_fills import reduce_fills
from calmday.reduction.reduced_fuel import Contribution, ReducedFuel
from calmday.reduction.scale import (
    DEFAULT_SYSTEM_SD_KG,
    ScaleFigures,
    brim_volume_sd_m3,
    scale_figures,
    scatter_variance,
)
from calmday.reduction.weighing_checks import batches, fuel_kind_of

DEFAULT_DRIPS_KG: Final = 3e-3
"""Drips, a wet rag and vapour around one run, one standard deviation; assumed. A declared system figure
covers it.
"""

VAPOUR_FRACTION: Final = 1e-3
"""Most that vapour in the space above petrol shifts the buoyancy and the loss, as a fraction of the fuel;
derived.
"""

BUOYANCY_DOUBT: Final = 0.05
"""Relative doubt of the buoyancy correction: air density on the spot, density of the weights; assumed."""

_NULL_TEST_PRIOR_WEIGHT: Final = 2.0
_SIGN: Final = {"before": 1.0, "added": 1.0, "after": -1.0}
_MOMENTS: Final = ("before", "added", "after")


def reduce_fuel(run: Run, air_density_kgpm3: float, fuel_temperature_k: float | None = None) -> ReducedFuel:
    """Fuel burnt in a run: true mass [kg] and volumes [m^3] at 15 degC and 60 degF, each with its
    contributions.

    Weighed: sum(before) + sum(added) - sum(after), less the mean of a null test, times the buoyancy factor
    (OIML D 28). By volume: sum of the fills at 15 degC. `fuel_temperature_k` of the fuel where it was weighed
    or filled, as far as known: only the buoyancy and fills without a temperature use it. Figures not declared
    take defaults, named in `notes`. Raises InputError where neither weighings nor fills allow a difference.
    """
    fuel = fuel_properties(fuel_kind_of(run))
    density = batch_density(run, fuel)
    notes = [*density.notes]
    if len(batches(run)) > 1:
        notes.append("more than one batch of fuel: one density is used for all of it")
    if _weighed(run):
        return _reduce_weighings(
            run,
            fuel,
            density,
            air_density_kgpm3=air_density_kgpm3,
            fuel_temperature_k=fuel_temperature_k,
            notes=notes,
        )
    if run.fills:
        return reduce_fills(run, fuel, density, fuel_temperature_k, notes)
    raise InputError.one(
        run.file or run.label,
        "weighing",
        "the fuel burnt cannot be found: " + _what_is_missing(run),
        "[[weighing]] tables before and after the run, or [[fill]] tables, full to full",
    )


def _weighed(run: Run) -> bool:
    moments = {weighing.when for weighing in run.weighings}
    put_in = bool(moments & {"before", "added"})
    return put_in and ("after" in moments or run.fuel_system.arrangement == "brim to brim")


def _what_is_missing(run: Run) -> str:
    moments = {weighing.when for weighing in run.weighings}
    if not moments:
        return "no weighing and no fill"
    return "no weighing after the run" if "after" not in moments else "no weighing before the run"


def net_mass_kg(run: Run) -> float:
    """Difference of readings [kg] as read: sum(before) + sum(added) - sum(after), each table's mean less its
    tare.
    """
    total = 0.0
    for w in run.weighings:
        total += _SIGN[w.when] * (math.fsum(w.gross_kg) / len(w.gross_kg) - w.tare_kg)
    return total


def _reduce_weighings(
    run: Run,
    fuel: FuelProperties,
    density: BatchDensity,
    *,
    air_density_kgpm3: float,
    fuel_temperature_k: float | None,
    notes: list[str],
) -> ReducedFuel:
    scale = scale_figures(run)
    notes += scale.notes
    if run.fills:
        notes.append("fills by volume left aside: the fuel was weighed")
    as_read = net_mass_kg(run)
    system_correction, system = _system(run, scale, density.density_15_kgpm3, notes)
    warm = density.density_15_kgpm3
    if fuel_temperature_k is not None:
        warm = density_at(warm, fuel_temperature_k, fuel.expansion_per_k)
    factor = buoyancy_factor(air_density_kgpm3, warm)
    mass = (as_read - system_correction) * factor
    contributions = [
        *_readings(run, scale),
        Contribution("scale, accuracy", abs(as_read) * scale.accuracy_sd),
        *system,
        *_losses(run, fuel, mass),
        Contribution("buoyancy", BUOYANCY_DOUBT * abs(mass - mass / factor)),
    ]
    contributions = [c for c in contributions if c.standard_uncertainty > 0.0]
    rho = density.density_15_kgpm3
    volume = mass / rho
    in_volume = [Contribution(c.source, c.standard_uncertainty / rho) for c in contributions]
    in_volume.append(Contribution("fuel density", abs(volume) * density.sd_kgpm3 / rho))
    return ReducedFuel(
        measured="mass",
        mass_kg=mass,
        mass_sd_kg=root_sum_of_squares(c.standard_uncertainty for c in contributions),
        mass_contributions=tuple(contributions),
        volume_15_m3=volume,
        volume_15_sd_m3=root_sum_of_squares(c.standard_uncertainty for c in in_volume),
        volume_60f_m3=volume / volume_correction_15c(rho, BASE_60F_K, fuel.expansion_per_k),
        volume_contributions=tuple(in_volume),
        density_15_kgpm3=rho,
        density_15_sd_kgpm3=density.sd_kgpm3,
        density_origin=density.origin,
        as_read_kg=as_read,
        buoyancy_factor=factor,
        null_test_correction_kg=system_correction,
        notes=tuple(notes),
    )


def _division_variance(readings: tuple[float, ...], division_kg: float) -> float:
    """Variance of a mean reading from the display's steps: readings that differ average them, copies do
    not.
    """
    differ = len(set(readings)) > 1
    return digital_step(division_kg) ** 2 / (len(readings) if differ else 1)


def _readings(run: Run, scale: ScaleFigures) -> list[Contribution]:
    """Display steps by moment, and repeatability of all weighings; a tare used several times counts as one
    weighing.

    The same tare before and after cancels; where it does not (two fillings before, one after) its error
    counts once for every time that is left over.
    """
    division = dict.fromkeys(_MOMENTS, 0.0)
    repeatability = 0.0
    tares: dict[float, float] = {}
    for w in run.weighings:
        division[w.when] += _division_variance(w.gross_kg, scale.division_kg)
        repeatability += scale.repeatability_kg**2 / len(w.gross_kg)
        if w.tare_kg:
            tares[w.tare_kg] = tares.get(w.tare_kg, 0.0) - _SIGN[w.when]
    left_over = math.fsum(times**2 for times in tares.values())
    repeatability += left_over * scale.repeatability_kg**2
    steps = [(f"scale, {when}: division", division[when]) for when in _MOMENTS]
    steps.append(("scale, tare: division", left_over * digital_step(scale.division_kg) ** 2))
    steps.append(("scale, repeatability", repeatability))
    return [Contribution(source, math.sqrt(variance)) for source, variance in steps]


def _system(
    run: Run, scale: ScaleFigures, density_15_kgpm3: float, notes: list[str]
) -> tuple[float, list[Contribution]]:
    """What hides in lines, filter and air pockets: the null test's mean as a correction, and the doubt that
    stays.
    """
    declared = run.fuel_system.repeatability_kg
    brim = run.fuel_system.arrangement == "brim to brim"
    name = "level of the full tank" if brim else "fuel in lines, filter, air pockets"
    prior = declared
    if prior is None:
        prior = brim_volume_sd_m3() * density_15_kgpm3 if brim else DEFAULT_SYSTEM_SD_KG
    tests = run.fuel_system.null_test_kg
    if not tests:
        if declared is None:
            notes.append(f"{name}: {1000 * prior:.3g} g assumed; a null test would find it")
        return 0.0, [Contribution(name, prior)]
    mean = math.fsum(tests) / len(tests)
    weighing = 2.0 * (scale.repeatability_kg**2 + digital_step(scale.division_kg) ** 2)
    squares = math.fsum((x - mean) ** 2 for x in tests)
    variance = scatter_variance(
        prior, squares, len(tests) - 1, weight=_NULL_TEST_PRIOR_WEIGHT, already_counted=weighing
    )
    tries = counted(len(tests), "try", "tries")
    notes.append(f"null test: {tries}, mean of {1000 * mean:.3g} g taken off the reading")
    return mean, [
        Contribution(name, math.sqrt(variance)),
        Contribution("null test", math.sqrt((variance + weighing) / len(tests))),
    ]


def _losses(run: Run, fuel: FuelProperties, mass_kg: float) -> list[Contribution]:
    """Drips, where nothing better is known, and vapour of fuels that evaporate; one source."""
    known = run.fuel_system.repeatability_kg is not None or bool(run.fuel_system.null_test_kg)
    drips = 0.0 if known or run.fuel_system.arrangement == "brim to brim" else DEFAULT_DRIPS_KG
    vapour = rectangular(VAPOUR_FRACTION * abs(mass_kg)) if fuel.evaporates else 0.0
    return [Contribution("drips and vapour", math.hypot(drips, vapour))]
