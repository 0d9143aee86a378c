"""Flags on the fuel: weighings, batches, and consumption that cannot be."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise
from statistics import NormalDist
from typing import Final

from calmday.metrology.fuels import FUEL_WORDS, density_within_standard
from calmday.metrology.rounding import listed
from calmday.model.defaults import SPARK_FUELS
from calmday.procedures.flag import Flag, flag
from calmday.procedures.weighed_run import WeighedRun
from calmday.records.run import Run
from calmday.records.vehicle import FuelKind
from calmday.reduction.scale import DEFAULT_DIVISION_KG, DEFAULT_REPEATABILITY_KG
from calmday.reduction.weighing_checks import (
    after_heavier_than_before,
    batches,
    fuel_kind_of,
    heaviest_gross_kg,
    identical_readings,
    over_capacity,
    spread_in_divisions,
    tare_above_gross,
    tare_on_one_side_only,
)

BELIEVABLE_GPKWH: Final = {False: (195.0, 450.0), True: (225.0, 900.0)}
"""Specific consumption of diesel (False) and spark-ignition (True) engines on the road at light to full load.
Common practice, no source."""

_FAR_SD: Final = 2.5
_IMPOSSIBLE_SD: Final = 4.5
"""Of 3800 invented drives none lay so far off (`studies/calm_day.py`); large petrol engines idling along reach 4.4."""
_IMPOSSIBLE_RATIO: Final = 1.7
_SPREAD_DIVISIONS: Final = 3.0
_SPREAD_SD: Final = 4.0
"""The range of three honest readings exceeds 4.1 standard deviations once in a hundred times."""
_POOR_FUEL: Final = 0.03
_CHANCE_WORTH_TELLING: Final = 0.25


def implied_gpkwh(weighed: WeighedRun) -> float | None:
    """Weighed fuel over the shaft work that the drive should have taken, g/kWh; None without a simulated drive."""
    simulated = weighed.simulated
    if simulated is None or simulated.shaft_energy_j <= 0:
        return None
    return weighed.fuel.mass_kg * 1000 / (simulated.shaft_energy_j / 3.6e6)


def surprise_sd(weighed: WeighedRun) -> float:
    """Weighed fuel against what the model expected, in standard deviations of that expectation."""
    simulated = weighed.simulated
    if simulated is None or weighed.fuel.mass_kg <= 0:
        return 0.0
    spread = math.hypot(simulated.conditioned.expected_sd, weighed.fuel.mass_sd_kg / weighed.fuel.mass_kg)
    return (math.log(weighed.fuel.mass_kg) - simulated.conditioned.expected) / spread


def _identical_by_chance(run: Run, count: int) -> float:
    """Chance that `count` honest readings agree to the division, for scatter s and division d: mean over where the load
    lies within a division of the sum of p^count over the divisions."""
    scatter = run.scale.repeatability_kg or DEFAULT_REPEATABILITY_KG
    division = run.scale.resolution_kg or DEFAULT_DIVISION_KG
    cumulative = NormalDist(0.0, scatter).cdf
    chances = []
    for part in range(8):
        edges = [cumulative((step + part / 8 - 0.5) * division) for step in range(-6, 8)]
        chances.append(sum((high - low) ** count for low, high in pairwise(edges)))
    return sum(chances) / len(chances)


def _impossible(weighed: WeighedRun) -> Iterator[Flag]:
    specific = implied_gpkwh(weighed)
    run, simulated = weighed.run, weighed.simulated
    if specific is None or simulated is None:
        return
    surprise = surprise_sd(weighed)
    low, high = BELIEVABLE_GPKWH[simulated.model.fuel in SPARK_FUELS]
    expected = simulated.expected_fuel_kg
    ratio = weighed.fuel.mass_kg / expected
    saw = (
        f"The fuel weighed is {weighed.fuel.mass_kg:.2f} kg where this drive should take about {expected:.2f} kg; "
        f"that is {specific:.0f} g for every kilowatt-hour at the shaft."
    )
    if surprise > _IMPOSSIBLE_SD and specific > high and ratio > _IMPOSSIBLE_RATIO:
        hours = (weighed.path.moving_time_s or 0) / 3600
        spare = weighed.fuel.mass_kg - expected
        first = "Enter the tare in both weighings or in neither. Then check" if tare_on_one_side_only(run) else "Check"
        rate = f", about {1000 * spare / weighed.fuel.density_15_kgpm3 / hours:.1f} L/h," if hours > 0 else ""
        yield flag(
            "fuel-cannot-have-been-burnt", "stop", saw,
            f"An engine cannot burn that much for the work done: fuel{rate} went elsewhere.",
            f"{first} that every return line ends in the test can, look for a leak, and check the lap count.",
        )  # fmt: skip
    elif surprise < -_IMPOSSIBLE_SD and specific < low and ratio < 1 / _IMPOSSIBLE_RATIO:
        yield flag(
            "fuel-missed", "stop", saw,
            "No engine of this kind does the work on so little: some fuel was not weighed, or the distance is too "
            "long.",
            "Check that the main tank was shut off, the tare, the lap count and the unit of distance.",
        )  # fmt: skip
    elif abs(surprise) > _FAR_SD:
        more = "more" if surprise > 0 else "less"
        yield flag(
            "fuel-far-from-expected", "caution", saw,
            f"That is clearly {more} than the build sheet leads one to expect; either the sheet or the weighing is "
            f"off.",
            "Check the build sheet (mass, drag, gearing, fuel) and the weighings before you rely on the calm-day "
            "figure.",
        )  # fmt: skip


def _weighings(weighed: WeighedRun) -> Iterator[Flag]:
    run = weighed.run
    if after_heavier_than_before(run):
        yield flag(
            "after-heavier-than-before", "stop",
            "The can is heavier after the run than before it, fuel added included.",
            "The engine does not make fuel: two readings are swapped, or a tare is missing on one side.",
            "Compare the sheet with the photographs of the display and correct the entry.",
        )  # fmt: skip
    elif weighed.fuel.mass_kg <= 0:
        yield flag(
            "no-fuel-burnt", "stop",
            "The readings leave no fuel that was burnt.",
            "Nothing can be divided by the distance.",
            "Check the readings, the tare and the unit.",
        )  # fmt: skip
    if over_capacity(run):
        yield flag(
            "over-scale-capacity", "stop",
            f"A reading of {heaviest_gross_kg(run):.3f} kg is above the scale's capacity of "
            f"{run.scale.capacity_kg:.3f} kg.",
            "Beyond its capacity a scale may show anything.",
            "Weigh the fuel in two cans and enter both, or use a larger scale.",
        )  # fmt: skip
    for number, weighing in enumerate(run.weighings, start=1):
        if tare_above_gross(weighing):
            yield flag(
                "tare-above-gross", "stop",
                f"In weighing {number} ({weighing.when}) the empty can is heavier than the full one.",
                "One of the two is mistyped or in another unit.",
                "Compare with the photograph of the display.",
            )  # fmt: skip
        if identical_readings(weighing):
            by_chance = _identical_by_chance(run, len(weighing.gross_kg))
            yield flag(
                "identical-readings", "note" if by_chance > _CHANCE_WORTH_TELLING else "caution",
                f"All {len(weighing.gross_kg)} readings of weighing {number} ({weighing.when}) are the same to the "
                f"gram.",
                f"A scale like this repeats so well about {100 * by_chance:.0f} times in 100; a number copied is "
                f"not a number read.",
                "Lift the can off between readings and write down each display.",
            )  # fmt: skip
        division = run.scale.resolution_kg
        # Scatter that was declared is no surprise.
        honest = max(_SPREAD_DIVISIONS, _SPREAD_SD * (run.scale.repeatability_kg or 0.0) / division) if division else 0
        if division and len(weighing.gross_kg) > 1 and spread_in_divisions(weighing, division) > honest:
            yield flag(
                "readings-spread", "caution",
                f"The readings of weighing {number} ({weighing.when}) differ by "
                f"{spread_in_divisions(weighing, division):.0f} divisions of the display.",
                "Wind on the pan, soft ground or an off-centre can make a scale wander.",
                "Shelter the scale, set it on firm level ground and take three more readings.",
            )  # fmt: skip
    if tare_on_one_side_only(run):
        yield flag(
            "tare-on-one-side", "caution",
            "One weighing carries a tare and another does not.",
            "A tare forgotten once goes straight into the fuel.",
            "Enter the tare in both, or leave it out of both.",
        )  # fmt: skip


def _another_fuel(weighed: WeighedRun) -> Iterator[Flag]:
    yield from another_fuel("The run", weighed.run.fuel.kind, weighed.run.vehicle.engine.fuel)


def another_fuel(what: str, said: FuelKind | None, built: FuelKind | None) -> Iterator[Flag]:
    """The flag on a fuel that the engine of the build sheet cannot burn; `what` names it: "The run"."""
    if said is None or built is None or (said in SPARK_FUELS) == (built in SPARK_FUELS):
        return
    yield flag(
        "fuel-of-another-engine", "stop",
        f"{what} names {FUEL_WORDS[said]} as its fuel, the build sheet {FUEL_WORDS[built]}.",
        "An engine for the one does not run on the other: one of the two is wrong, and with it litres, energy and the "
        "calm day.",
        "Correct that fuel, or the build sheet; another engine is a change with its date. If the wrong fuel "
        "really is in the tank, do not start the engine.",
    )  # fmt: skip


def _batch_and_density(weighed: WeighedRun) -> Iterator[Flag]:
    run = weighed.run
    named = batches(run)
    if len(named) > 1:
        yield flag(
            "mixed-batches", "caution",
            f"More than one batch of fuel is named: {', '.join(named)}.",
            "Density and energy differ between batches by a per cent or more, winter and summer fuel by up to five.",
            "Compare runs only within one batch, or weigh a measured litre of each.",
        )  # fmt: skip
    fits = density_within_standard(fuel_kind_of(run), weighed.fuel.density_15_kgpm3)
    if fits is False:
        yield flag(
            "density-outside-standard", "caution",
            f"The density, {weighed.fuel.density_15_kgpm3:.0f} kg/m³ at 15 °C, is outside what the standard allows.",
            f"It changes litres, not grams; but it may also be another fuel than it is taken for"
            f"{_alike(weighed.fuel.density_15_kgpm3)}.",
            "Check the fuel's name, the unit, and the temperature of the density.",
        )  # fmt: skip
    relative = weighed.fuel.mass_sd_kg / weighed.fuel.mass_kg if weighed.fuel.mass_kg > 0 else 0.0
    if relative > _POOR_FUEL:
        yield flag(
            "too-little-fuel", "caution",
            f"The weighing is good to {200 * relative:.0f} % only, because little fuel was burnt.",
            "What hides in lines and filter weighs the same on a short drive as on a long one.",
            "Drive further, or find the fuel system's own scatter with a null test.",
        )  # fmt: skip


def _alike(density_15_kgpm3: float) -> str:
    """Which fuels have such a density: `: petrol has such a density`; empty for none."""
    names = [words for kind, words in FUEL_WORDS.items() if density_within_standard(kind, density_15_kgpm3)]
    return f": {listed(names)} {'has' if len(names) == 1 else 'have'} such a density" if names else ""


RULES = (_another_fuel, _impossible, _weighings, _batch_and_density)
