"""Read the result of a weighed run off its draws: every figure of the contract, the sentence and the flags."""

from __future__ import annotations

from typing import Final

import numpy as np

from calmday.metrology.constants import CUBIC_METRE_PER_IMPERIAL_GALLON, CUBIC_METRE_PER_US_GALLON
from calmday.metrology.figure import Figure, exact, from_draws, from_normal
from calmday.metrology.fuels import fuel_properties
from calmday.model.breakdown import DESTINATIONS, energy_by_destination
from calmday.model.cruise import level_cruise
from calmday.procedures.consumption import mpg
from calmday.procedures.run_budget import calm_day_sources, lines, measurement_sources
from calmday.procedures.run_flags import flags_of_run
from calmday.procedures.run_flags_fuel import surprise_sd
from calmday.procedures.run_stretches import laps_and_legs
from calmday.procedures.simulated_run import SimulatedRun, thinned
from calmday.procedures.weighed_run import WeighedRun
from calmday.procedures.weighed_run_result import (
    BudgetLine,
    CruisePoint,
    EnergyShare,
    Lap,
    Leg,
    ParameterEstimate,
    Penalties,
    Provenance,
    Quality,
    RunResult,
)
from calmday.reduction.weighing_checks import fuel_kind_of

CRUISE_SPEEDS_KMPH: Final = (50, 60, 70, 80, 90, 100, 110, 120)
BREAKDOWN_DRAWS: Final = 240

SHOWN_PARAMETERS: Final = {
    "drag_area": ("drag_area", 1.0, "m2"),
    "rolling_resistance": ("rolling_resistance", 1.0, "1"),
    "indicated_efficiency": ("indicated_efficiency", 1.0, "1"),
    "friction_mep": ("friction_mep", 1e-5, "bar"),
    "test_mass": ("test_mass", 1.0, "kg"),
    "driveline_efficiency": ("driveline_efficiency", 1.0, "1"),
    "yaw_growth": ("yaw_growth", 1.0, "1"),
    "wind_factor": ("wind_factor", 1.0, "1"),
    "cold_friction": ("cold_friction", 1.0, "1"),
}


def result_of_run(weighed: WeighedRun, provenance: Provenance, sentence: str = "") -> RunResult:
    """The result of a reduced run; what produced it and the sentence come from the caller."""
    fuel, path = weighed.fuel, weighed.path
    simulated = weighed.simulated
    measured = measurement_sources(fuel, path.distance)
    laps: tuple[Lap, ...] = ()
    legs: tuple[Leg, ...] = ()
    if simulated is not None:
        laps, legs = laps_and_legs(path, simulated, weighed.draws.as_driven_m3pm, path.distance.metres)
    calm = weighed.calm_day
    budget: tuple[BudgetLine, ...] = ()
    if simulated is not None and calm is not None:
        budget = lines(calm_day_sources(measured, simulated), calm.L_per_100km)
    return RunResult(
        label=weighed.run.label,
        vehicle=weighed.run.vehicle.name,
        fuel=fuel_kind_of(weighed.run) or "",
        sentence=sentence,
        distance=path.distance.figure,
        moving_time=None if path.moving_time_s is None else exact(path.moving_time_s, "s"),
        fuel_mass=from_normal(fuel.mass_kg, fuel.mass_sd_kg, "kg"),
        fuel_volume=from_normal(fuel.volume_15_m3 * 1e3, fuel.volume_15_sd_m3 * 1e3, "L"),
        fuel_volume_60F=_volume_60f(weighed),
        fuel_density_15C=from_normal(fuel.density_15_kgpm3, fuel.density_15_sd_kgpm3, "kg/m3"),
        as_driven=weighed.as_driven,
        calm_day=calm,
        level_cruise=_cruise(weighed, simulated),
        penalties=_penalties(simulated),
        energy=_energy(weighed, simulated),
        budget=budget,
        budget_as_driven=lines(measured, weighed.as_driven.L_per_100km),
        laps=laps,
        legs=legs,
        estimates=_estimates(simulated),
        quality=_quality(weighed, simulated),
        flags=flags_of_run(weighed),
        notes=_notes(weighed),
        provenance=provenance,
    )


def _notes(weighed: WeighedRun) -> tuple[str, ...]:
    """What readers and reductions assumed or put right, once each, in the order of the work."""
    run, track = weighed.run, weighed.path.track
    notes = [*(run.track.notes if run.track is not None else ())]
    if track is not None:
        notes += [finding.detail for finding in track.findings if finding.kind != "reader"]
    notes += [*weighed.path.weather.notes, *weighed.fuel.notes]
    return tuple(dict.fromkeys(note for note in notes if note))


def _volume_60f(weighed: WeighedRun) -> Figure:
    fuel = weighed.fuel
    relative = fuel.volume_15_sd_m3 / fuel.volume_15_m3 if fuel.volume_15_m3 else 0.0
    litres = fuel.volume_60f_m3 * 1e3
    return from_normal(litres, abs(relative * litres), "L")


def _cruise(weighed: WeighedRun, simulated: SimulatedRun | None) -> tuple[CruisePoint, ...]:
    if simulated is None:
        return ()
    speeds = np.array(CRUISE_SPEEDS_KMPH) / 3.6
    cruise = level_cruise(simulated.model, simulated.values, speeds)
    heating = fuel_properties(simulated.model.fuel).net_heating_value_jpkg
    density = weighed.draws.density_15_kgpm3[simulated.conditioned.picked]
    points = []
    for i, kmph in enumerate(CRUISE_SPEEDS_KMPH):
        if cruise.sustainable[i] < 0.05:
            break
        volume = cruise.fuel_power_w[:, i] / heating / speeds[i] / density
        points.append(
            CruisePoint(
                speed=exact(kmph, "km/h"),
                L_per_100km=from_draws(volume * 1e8, "L/100km"),
                mpg_us=from_draws(mpg(volume, CUBIC_METRE_PER_US_GALLON), "mpg US"),
                mpg_imp=from_draws(mpg(volume, CUBIC_METRE_PER_IMPERIAL_GALLON), "mpg imp"),
                engine_speed=exact(60 * float(cruise.engine_rps[i]), "rpm"),
                sustainable=float(cruise.sustainable[i]),
            )
        )
    return tuple(points)


def _penalties(simulated: SimulatedRun | None) -> Penalties | None:
    if simulated is None:
        return None
    return Penalties(**{name: from_draws(draws, "%") for name, draws in simulated.penalties.items()})


def _energy(weighed: WeighedRun, simulated: SimulatedRun | None) -> tuple[EnergyShare, ...]:
    drive = weighed.path.drive
    if simulated is None or drive is None:
        return ()
    rows = thinned(simulated, BREAKDOWN_DRAWS)
    values = {key: value[rows] for key, value in simulated.values.items()}
    parts = energy_by_destination(simulated.model, drive, simulated.basis, values, drive.step_s)
    shares = parts / parts.sum(axis=1, keepdims=True)
    heating = fuel_properties(simulated.model.fuel).net_heating_value_jpkg
    fuel_mj = weighed.draws.fuel_mass_kg[simulated.conditioned.picked][rows] * heating / 1e6
    return tuple(
        EnergyShare(to=name, energy=from_draws(shares[:, i] * fuel_mj, "MJ"), share=from_draws(shares[:, i], "1"))
        for i, name in enumerate(DESTINATIONS)
    )


def _estimates(simulated: SimulatedRun | None) -> dict[str, ParameterEstimate]:
    if simulated is None:
        return {}
    found = {}
    for name, (key, factor, unit) in SHOWN_PARAMETERS.items():
        parameter = simulated.model.parameters[key]
        after = from_draws(simulated.values[key] * factor, unit)
        found[name] = ParameterEstimate(
            value=after.value,
            standard_uncertainty=after.standard_uncertainty,
            low=after.low,
            high=after.high,
            unit=unit,
            before=from_draws(simulated.before[key] * factor, unit),
            origin=parameter.origin,
            source=parameter.source,
        )
    return found


def _quality(weighed: WeighedRun, simulated: SimulatedRun | None) -> Quality | None:
    if simulated is None:
        return None
    conditioned = simulated.conditioned
    return Quality(
        draws=len(conditioned.scores),
        effective_draws=conditioned.effective_draws,
        sound=conditioned.sound,
        surprise=surprise_sd(weighed),
    )
