"""The program's own guess of a run, from build sheet, road and weather alone: no weighing is ever looked at."""

from __future__ import annotations

import math
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.fuels import fuel_properties
from calmday.metrology.middle import median
from calmday.metrology.rounding import decimals_for_half_width, format_to
from calmday.model.basis import AS_DRIVEN, CALM_DAY, build_basis
from calmday.model.conditioning import RUN_TO_RUN_SD
from calmday.model.forward import Forward
from calmday.model.scores import draw_matrix
from calmday.procedures.consumption import consumption
from calmday.procedures.drive_of_run import drive_of_run
from calmday.procedures.guess_board import rule_of, shown_in, shown_unit
from calmday.procedures.guess_result import OwnGuess
from calmday.procedures.simulated_run import model_of_run
from calmday.records.declared import Declared
from calmday.records.run import Run

DRAWS: Final = 1000
ASSUMED_WAY_M: Final = 50_000.0
"""Length of the steady drive that is reckoned with where neither track nor distance is known yet. Assumed."""


def unseeing(run: Run) -> Run:
    """The run without anything that was weighed, filled, guessed or published."""
    return msgspec.structs.replace(run, weighings=(), fills=(), predictions=(), published=None)


def own_guess(run: Run, seed: int) -> OwnGuess | None:
    """What the model expects the run to use; None where neither track nor speed says how it is driven.

    Draws of the vehicle before any weighing, each driven along the track or at the speed meant to be held; the guess
    is the middle one, rounded to its doubt: their mean is drawn up by a few thirsty ones.
    """
    seen, basis_words = _to_drive(unseeing(run))
    if seen is None:
        return None
    path = drive_of_run(seen)
    if path.drive is None:
        return None
    model = model_of_run(seen, path.drive)
    matrix = draw_matrix(DRAWS, len(model.parameters), seed)
    calm = run.guessing is not None and run.guessing.figure == "calm day"
    forward = Forward(model, path.drive, build_basis(model, path.drive))
    energy = forward.fuel_energy_j(model.parameters.values(matrix.parameters), CALM_DAY if calm else AS_DRIVEN)
    fuel = fuel_properties(run.fuel.kind or run.vehicle.engine.fuel)
    heating = fuel.net_heating_value_jpkg + fuel.net_heating_value_sd_jpkg * matrix.heating_value
    mass = energy / fuel.net_heating_value_jpkg * path.scale * np.exp(RUN_TO_RUN_SD * matrix.run_to_run)
    density = fuel.density_15_kgpm3 + fuel.density_15_sd_kgpm3 * matrix.density
    if run.fuel.density_kgpm3 is not None and run.fuel.density_temperature_k is None:
        density = np.full(DRAWS, run.fuel.density_kgpm3.value)
    carbon = fuel.co2_kgpkg + fuel.co2_sd_kgpkg * matrix.carbon
    found = consumption(mass / path.distance.metres, density, heating, carbon, None, "")
    unit, _ = rule_of(run.guessing)
    litres = median(mass / path.distance.metres / density) * 1e8
    half_width = getattr(found, unit).half_width
    words = {"L_per_100km": "L/100km", "g_per_km": "g/km"}.get(unit) or shown_unit(unit)
    text = f"{_plain(shown_in(litres, unit, found), half_width)} {words}"
    return OwnGuess(
        text=text,
        L_per_100km=found.L_per_100km,
        mpg_us=found.mpg_us,
        mpg_imp=found.mpg_imp,
        basis=basis_words,
        sentence="",
    )


def _to_drive(run: Run) -> tuple[Run | None, str]:
    """The run as it can be simulated, and what its motion comes from."""
    if run.track is not None and len(run.track) > 0:
        return run, "the build sheet, the track and the weather"
    speed = run.guessing.speed_mps if run.guessing is not None else None
    distance = run.distance_m
    if distance is None and run.laps is not None and run.lap_length_m is not None:
        distance = Declared(run.laps * run.lap_length_m.value)
    if speed is not None:
        way = distance if distance is not None else Declared(ASSUMED_WAY_M)
        time = Declared(way.value / speed)
        seen = msgspec.structs.replace(run, distance_m=way, moving_time_s=time)
        return seen, f"the build sheet, a steady {3.6 * speed:.0f} km/h on the level, and the weather known so far"
    if distance is not None and run.moving_time_s is not None:
        return run, "the build sheet, distance and time, and the weather"
    return None, ""


def _plain(value: float, half_width: float) -> str:
    """A figure rounded to a tenth of its doubt, as it can be typed again: a guess is one number, not an interval."""
    places = decimals_for_half_width(half_width) + 1 if half_width > 0 and math.isfinite(half_width) else 2
    return format_to(value, min(max(places, 0), 2)).replace("\u2212", "-")
