"""What a kitchen or parcel scale says of the fuel that a simulated drive burnt."""

from __future__ import annotations

from typing import Literal

import msgspec
import numpy as np

from calmday.synthetic.simulate import SimulatedRun
from calmday.synthetic.streams import chance, normal, stream, uniform

_HIDDEN_KG = 0.012
_WEIGHTS_DENSITY = 8000.0


class ScaleTruth(msgspec.Struct, frozen=True, kw_only=True):
    """The scale: display step and scatter [kg], the error it really has and the limit its maker states
    (fractions).
    """

    resolution_kg: float
    repeatability_kg: float
    span_error: float
    stated_accuracy: float
    capacity_kg: float


class WeighedPart(msgspec.Struct, frozen=True, kw_only=True):
    """One filling as read: repeat gross readings and the tare [kg]."""

    when: Literal["before", "after", "added"]
    gross_kg: tuple[float, ...]
    tare_kg: float


class WeighedFuel(msgspec.Struct, frozen=True, kw_only=True):
    """All readings of a run, and what they hide: fuel kept by lines and air pockets [kg]."""

    scale: ScaleTruth
    parts: tuple[WeighedPart, ...]
    hidden_kg: float


def random_scale(seed: int, heaviest_kg: float) -> ScaleTruth:
    """A scale that can carry `heaviest_kg`; its true span error is rectangular within what the maker
    states.
    """
    g = stream(seed, "scale")
    capacity = float(next(c for c in (5, 10, 20, 30, 60, 120) if c >= heaviest_kg))
    step = float(g.choice([1, 2, 5, 10], p=[0.3, 0.25, 0.35, 0.1])) * 1e-3
    stated = float(g.choice([0.0005, 0.001, 0.002]))
    return ScaleTruth(
        resolution_kg=step,
        repeatability_kg=max(step * uniform(g, 0.4, 1.0), 0.0007),
        span_error=uniform(g, -stated, stated),
        stated_accuracy=stated,
        capacity_kg=capacity,
    )


def _read(g: np.random.Generator, scale: ScaleTruth, pull_kg: float) -> float:
    value = pull_kg * (1 + scale.span_error) + normal(g, 0, scale.repeatability_kg)
    return round(round(value / scale.resolution_kg) * scale.resolution_kg, 4)


def weigh(run: SimulatedRun) -> WeighedFuel:
    """Weigh the can before and after, sometimes in two parts, sometimes with fuel added on the way."""
    g = stream(run.scenario.seed, "weighing")
    left = uniform(g, 1.0, 4.0)
    added = uniform(g, 0.3, 0.7) if chance(g, 0.06) else 0.0
    tare = uniform(g, 0.7, 1.8)
    scale = random_scale(run.scenario.seed, tare + run.truth.fuel_burnt_kg * (1 - added) + left + 0.25)
    repeats = int(g.choice([1, 2, 3], p=[0.4, 0.35, 0.25]))
    portions = 2 if chance(g, 0.06) else 1
    return weigh_on(run, scale, tare_kg=tare, left_kg=left, repeats=repeats, portions=portions, added_share=added)


def weigh_on(
    run: SimulatedRun,
    scale: ScaleTruth,
    *,
    tare_kg: float,
    left_kg: float,
    repeats: int,
    portions: int = 1,
    added_share: float = 0.0,
) -> WeighedFuel:
    """Weigh on a given scale, in air, with 12 g (one standard deviation) that hide in the fuel system.

    `left_kg` stays in the can; `portions` fillings before; `added_share` of the fuel burnt is put in on the way.
    """
    g = stream(run.scenario.seed, "readings")
    burnt = run.truth.fuel_burnt_kg
    hidden = normal(g, 0, _HIDDEN_KG)
    added = added_share * burnt
    filled = burnt + hidden + left_kg - added
    density = run.vehicle.density_15 - 0.75 * (run.scenario.temperature_c - 15)
    lift = (1 - run.air.density / density) / (1 - 1.2 / _WEIGHTS_DENSITY)
    shown_tare = _read(g, scale, tare_kg)

    def part(when: Literal["before", "after", "added"], fuel_kg: float) -> WeighedPart:
        pull = tare_kg + fuel_kg * lift
        gross = tuple(_read(g, scale, pull) for _ in range(repeats))
        return WeighedPart(when=when, gross_kg=gross, tare_kg=shown_tare)

    parts = [part("before", filled / portions) for _ in range(portions)]
    if added:
        parts.append(part("added", added))
    parts.append(part("after", left_kg))
    return WeighedFuel(scale=scale, parts=tuple(parts), hidden_kg=hidden)
