"""Where the doubt of a run's figures comes from: independent sources, as shares of the variance of ln(consumption)."""

from __future__ import annotations

import math
from collections.abc import Mapping

from calmday.metrology.budget import variance_shares
from calmday.metrology.figure import Figure
from calmday.procedures.drive_of_run import Distance
from calmday.procedures.simulated_run import SimulatedRun
from calmday.procedures.weighed_run_result import BudgetLine
from calmday.reduction.reduced_fuel import ReducedFuel


def measurement_sources(fuel: ReducedFuel, distance: Distance) -> dict[str, float]:
    """Relative standard uncertainties of consumption by volume as driven."""
    sources: dict[str, float] = {}
    if fuel.measured == "mass":
        amount, contributions = fuel.mass_kg, fuel.mass_contributions
    else:
        amount, contributions = fuel.volume_15_m3, fuel.volume_contributions
    for contribution in contributions:
        if contribution.source.startswith("density"):
            continue
        sources[contribution.source] = _relative(contribution.standard_uncertainty, amount)
    sources[f"distance ({distance.source})"] = _relative(distance.sd_m, distance.metres)
    if fuel.measured == "mass":
        sources[f"fuel density ({fuel.density_origin})"] = _relative(fuel.density_15_sd_kgpm3, fuel.density_15_kgpm3)
    return sources


def _relative(standard_uncertainty: float, amount: float) -> float:
    ratio = standard_uncertainty / abs(amount) if amount else math.nan
    return ratio if math.isfinite(ratio) else 0.0


def calm_day_sources(measured: Mapping[str, float], simulated: SimulatedRun) -> dict[str, float]:
    """Relative standard uncertainties of the calm-day figure.

    What the weighing says also moves the model, so its sources enter with the response of the whole chain; distance and
    density do not reach the model.
    """
    sources: dict[str, float] = {}
    for name, value in measured.items():
        outside = name.startswith(("distance", "fuel density"))
        sources[name] = value if outside else abs(simulated.weighing_response) * value
    for group, variance in simulated.parameter_budget.items():
        sources[group] = math.sqrt(variance)
    sources["run-to-run scatter in the model"] = abs(simulated.run_response) * simulated.run_sd
    return sources


def lines(sources: Mapping[str, float], figure: Figure) -> tuple[BudgetLine, ...]:
    """Budget lines of a figure, largest first; shares sum to one. Sources that are nothing are left out."""
    names = [name for name, value in sources.items() if value > 0]
    shares = variance_shares([sources[name] for name in names])
    ordered = sorted(zip(names, shares, strict=True), key=lambda item: -item[1])
    return tuple(
        BudgetLine(source=name, contribution=_contribution(sources[name] * figure.value, figure.unit), share=share)
        for name, share in ordered
    )


def _contribution(standard_uncertainty: float, unit: str) -> Figure:
    """A contribution as a figure: its standard uncertainty, which itself is not doubted here."""
    return Figure(standard_uncertainty, 0.0, standard_uncertainty, standard_uncertainty, unit)
