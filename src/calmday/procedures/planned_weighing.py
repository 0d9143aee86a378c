"""Weighing that is still to be done: will the can fit on the scale, in how many parts, and how sure is the mass?"""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.draws import FloatArray
from calmday.metrology.fuels import fuel_properties
from calmday.metrology.propagation import digital_step
from calmday.model.basis import REFERENCE_DENSITY
from calmday.model.defaults import fuel_of
from calmday.records.plan import Plan
from calmday.records.run import Run, Weighing
from calmday.reduction.fuel_density import BatchDensity, batch_density
from calmday.reduction.reduced_fuel import Contribution
from calmday.reduction.scale import DEFAULT_DIVISION_KG, DEFAULT_REPEATABILITY_KG
from calmday.reduction.weighing import reduce_fuel

USUAL_TARE_KG: Final = 1.2
LEFT_SHARE: Final = 0.15
LEAST_LEFT_KG: Final = 0.4
"""What must stay in a can so that no air is drawn in, over the fuel burnt, and at the least; common practice, no
source."""

FULLEST: Final = 0.9
"""How full a can is filled, so that it can be carried and warm up; common practice, no source."""

MOST_PARTS: Final = 12


class Weighed(msgspec.Struct, frozen=True, kw_only=True):
    """How a fuel mass will be weighed. `parts` fillings before; None where the scale carries no can with fuel worth
    weighing. `heaviest_kg` the heaviest thing that comes on the scale; `mass_sd_kg` of the fuel burnt, of which
    `common_sd_kg` is the same in every run (the span of the scale)."""

    parts: int | None
    heaviest_kg: float
    filled_kg: float
    left_kg: float
    mass_sd_kg: float
    common_sd_kg: float
    contributions: tuple[Contribution, ...]


def tare_kg(plan: Plan) -> float:
    """The empty can, as given or as usual."""
    return plan.can.tare_kg if plan.can.tare_kg is not None else USUAL_TARE_KG


def density_of(plan: Plan) -> BatchDensity:
    """Density of the fuel at 15 degC with its doubt, declared or by kind."""
    kind, _ = fuel_of(plan.vehicle.engine, plan.fuel.kind)
    return batch_density(_run(plan, ()), fuel_properties(kind))


def weighed(plan: Plan, burnt_kg: float, most_kg: float) -> Weighed:
    """Weighing of `burnt_kg`, with a can filled for `most_kg`: the most that the drive may burn.

    Each part is a filling and a weighing of its own; their errors add up as the root of their number.
    """
    tare = tare_kg(plan)
    brim = plan.fuel_system.arrangement == "brim to brim"
    left = 0.0 if brim else _left_kg(plan, most_kg)
    filled = burnt_kg if brim else most_kg + left
    parts = parts_of(plan, filled)
    if parts is None:
        return Weighed(
            parts=None,
            heaviest_kg=tare + filled,
            filled_kg=filled,
            left_kg=left,
            mass_sd_kg=math.inf,
            common_sd_kg=0.0,
            contributions=(),
        )
    fuel = reduce_fuel(_run(plan, _weighings(plan, burnt_kg, filled, parts, brim)), REFERENCE_DENSITY)
    common = math.hypot(
        *(c.standard_uncertainty for c in fuel.mass_contributions if c.source in ("scale, accuracy", "buoyancy"))
    )
    return Weighed(
        parts=parts,
        heaviest_kg=tare + filled / parts,
        filled_kg=filled,
        left_kg=left,
        mass_sd_kg=fuel.mass_sd_kg,
        common_sd_kg=common,
        contributions=fuel.mass_contributions,
    )


def parts_of(plan: Plan, filled_kg: float) -> int | None:
    """In how many fillings a fuel mass comes onto the scale; None where it never does."""
    rooms = [math.inf]
    if plan.scale.capacity_kg is not None:
        rooms.append(plan.scale.capacity_kg - tare_kg(plan))
    if plan.can.volume_m3 is not None:
        rooms.append(FULLEST * plan.can.volume_m3 * density_of(plan).density_15_kgpm3)
    room = min(rooms)
    if room <= 0:
        return None
    parts = max(1, math.ceil(filled_kg / room - 1e-9))
    return parts if parts <= MOST_PARTS else None


def _left_kg(plan: Plan, most_kg: float) -> float:
    if plan.can.left_kg is not None:
        return plan.can.left_kg
    if plan.fuel_system.arrangement == "drained tank":
        return LEAST_LEFT_KG
    return max(LEAST_LEFT_KG, LEFT_SHARE * most_kg)


def _weighings(plan: Plan, burnt_kg: float, filled_kg: float, parts: int, brim: bool) -> tuple[Weighing, ...]:
    """Readings as they may come out: scattered as much as the scale is expected to scatter, about the right mean."""
    tare, each = tare_kg(plan), filled_kg / parts
    apart = _scatter_kg(plan) * _even_scatter(plan.readings_each)

    def readings(fuel_kg: float) -> tuple[float, ...]:
        return tuple(tare + fuel_kg + float(a) for a in apart)

    before = tuple(
        Weighing(when="added" if brim else "before", gross_kg=readings(each), tare_kg=tare) for _ in range(parts)
    )
    if brim:
        return before
    return (*before, Weighing(when="after", gross_kg=readings(max(filled_kg - burnt_kg, 0.0)), tare_kg=tare))


def _scatter_kg(plan: Plan) -> float:
    """Standard deviation of one reading: repeatability with the step of the display."""
    division = plan.scale.resolution_kg or DEFAULT_DIVISION_KG
    repeatability = plan.scale.repeatability_kg
    if repeatability is None:
        repeatability = max(DEFAULT_REPEATABILITY_KG, 0.5 * division)
    return math.hypot(repeatability, digital_step(division))


def _even_scatter(count: int) -> FloatArray:
    """`count` numbers of mean 0 and sample variance 1, evenly apart; one alone is 0."""
    if count < 2:
        return np.zeros(1)
    even = np.arange(count) - (count - 1) / 2
    return np.asarray(even / even.std(ddof=1))


def _run(plan: Plan, weighings: tuple[Weighing, ...]) -> Run:
    return Run(
        label=plan.label,
        vehicle=plan.vehicle,
        fuel=plan.fuel,
        fuel_system=plan.fuel_system,
        scale=plan.scale,
        weighings=weighings,
        file=plan.file,
    )
