"""Does can and fuel fit on the scale, and will the fuel on board last?"""

from __future__ import annotations

import math

import numpy as np

from calmday.metrology.draws import standard_normal
from calmday.metrology.figure import exact, from_draws
from calmday.procedures.plan_result import FitsScale, FuelReserve
from calmday.procedures.planned_test import Candidate, PlannedTest, in_kg
from calmday.procedures.planned_weighing import tare_kg
from calmday.records.plan import Plan

ON_BOARD_SD = 0.03
"""Relative doubt of how much fuel is on board: a gauge or a fill; common practice, no source."""


def fits_scale(plan: Plan, chosen: Candidate) -> FitsScale:
    """Whether the can with its fuel can be weighed, in how many parts, in words."""
    weighing, capacity = chosen.weighing, plan.scale.capacity_kg
    parts = weighing.parts
    whole = tare_kg(plan) + weighing.filled_kg
    if parts is None:
        words = f"Can and fuel come to {whole:.1f} kg; the scale carries {capacity or 0.0:.1f} kg."
    elif capacity is None:
        words = f"Can and fuel come to {whole:.1f} kg; what the scale carries is not said."
    elif parts == 1:
        words = f"Can and fuel come to {whole:.1f} kg, and the scale carries {capacity:.1f} kg."
    else:
        words = (
            f"Can and fuel come to {whole:.1f} kg in one; weighed in {parts} parts each comes to "
            f"{weighing.heaviest_kg:.1f} kg."
        )
    return FitsScale(
        fits=None if capacity is None and parts == 1 else parts == 1,
        parts=parts,
        heaviest=exact(weighing.heaviest_kg, "kg"),
        capacity=None if capacity is None else exact(capacity, "kg"),
        filled=exact(weighing.filled_kg, "kg"),
        left=exact(weighing.left_kg, "kg"),
        doubt_times=math.sqrt(parts) if parts else math.inf,
        words=words,
    )


def reserve_of(plan: Plan, test: PlannedTest, chosen: Candidate) -> FuelReserve:
    """What is left of the fuel on board after the test."""
    needed = in_kg(chosen.fuel_kg)
    board = plan.fuel_on_board_kg
    if board is None and plan.fuel_on_board_m3 is not None:
        board = plan.fuel_on_board_m3 * test.density.density_15_kgpm3
    if board is None:
        return FuelReserve(
            on_board=None,
            needed=needed,
            left=None,
            further=None,
            enough=None,
            words=f"It will burn {needed.value:.1f} kg; what is on board is not said.",
        )
    draws = board * (1 + ON_BOARD_SD * standard_normal(chosen.fuel_kg.size, 1, test.seed + 9)[:, 0])
    left = draws - chosen.fuel_kg
    further = left / (chosen.fuel_kg / chosen.distance_m) / 1000
    enough = float(np.mean(left > 0))
    kept = max(float(left.mean()), 0.0)
    words = (
        f"{board:.1f} kg are on board, {needed.value:.1f} kg will be burnt, {kept:.1f} kg stay: about "
        f"{max(10 * round(float(further.mean()) / 10), 0)} km."
        if enough >= 0.5
        else f"{board:.1f} kg are on board, and about {needed.value:.1f} kg will be needed."
    )
    return FuelReserve(
        on_board=from_draws(draws, "kg"),
        needed=needed,
        left=from_draws(left, "kg"),
        further=from_draws(further, "km"),
        enough=enough,
        words=words,
    )
