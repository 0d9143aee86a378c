"""The vehicle as it is and as it would be, as draws that share what the two have in common.

Draw by draw both are the same vehicle: a parameter that a change leaves alone has the same value on both sides, so
that its doubt cancels from the difference. One that was stated and is stated otherwise keeps its score (the same error
of the same scale, the same optimism about the same body) and gains a doubt of the change itself, a share of its size.
What was assumed and is now stated is drawn anew.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import msgspec
import numpy as np
from numpy.typing import NDArray

from calmday.metrology.draws import standard_normal
from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import PRESSURE_EXPONENT
from calmday.model.parameters import Parameter
from calmday.model.vehicle_model import VehicleModel
from calmday.procedures.gears_vehicle import GearVehicle, prior_of
from calmday.records.vehicle import Vehicle
from calmday.records.what_if import ImaginedChange

FloatArray = NDArray[np.float64]

CHANGE_DOUBT: Final = {"test_mass": 0.05, "gearing_scale": 0.0, "tyre_pressure": 0.0}
USUAL_CHANGE_DOUBT: Final = 0.25
"""How well the size of a change is known, one standard deviation as a share of its logarithm. Assumed: ratios are
counted and loads weighed; that a fairing takes a tenth off the drag is a hope."""

PRESSURE_EXPONENT_SD: Final = 0.08
"""Doubt of the power of pressure in rolling resistance: 0.3 to 0.6 in the SAE J2452 form by tyre. Assumed."""


class Drawn(msgspec.Struct, frozen=True, kw_only=True):
    """A vehicle as draws (m,), with the energy in a cubic metre of its fuel at 15 degC (J/m3) and its density."""

    vehicle: GearVehicle
    energy_jpm3: FloatArray
    density_kgpm3: FloatArray

    @property
    def count(self) -> int:
        return self.vehicle.draws


def as_it_is(
    vehicle: Vehicle, draws: int, seed: int, known: tuple[VehicleModel, dict[str, FloatArray]] | None = None
) -> Drawn:
    """The vehicle of the build sheet; `known` what tests taught, as for `prior_of`."""
    return with_fuel(prior_of(vehicle, draws, seed, known=known), seed)


def as_it_would_be(now: Drawn, change: ImaginedChange, seed: int) -> Drawn:
    """The same draws of the same vehicle with the change. `seed` as for `as_it_is`."""
    return changed(now, change.vehicle, change.factors, seed)


def changed(now: Drawn, vehicle: Vehicle, factors: Sequence[tuple[str, float]], seed: int) -> Drawn:
    """The vehicle of a changed build sheet, with `factors` on parameters of the model besides."""
    plain = prior_of(vehicle, now.count, seed)
    fresh = standard_normal(now.count, len(plain.model.parameters) + 1, seed + 2)
    values = {
        p.key: _carried(p, now.vehicle.model.parameters[p.key], now.vehicle.values[p.key], own, fresh[:, i])
        for i, p in enumerate(plain.model.parameters.parameters)
        for own in (plain.values[p.key],)
    }
    _same_friction(values, now.vehicle.model, plain.model)
    for key, factor in factors:
        if key == "tyre_pressure":
            exponent = PRESSURE_EXPONENT + PRESSURE_EXPONENT_SD * fresh[:, -1]
            values["rolling_resistance"] = values["rolling_resistance"] * factor**-exponent
        else:
            column = plain.model.parameters.column(key)
            values[key] = values[key] * _factor(key, factor, fresh[:, column])
    return with_fuel(msgspec.structs.replace(plain, values=values), seed)


def _same_friction(values: dict[str, FloatArray], before: VehicleModel, after: VehicleModel) -> None:
    """Friction is stated at a share of the governed speed: another governor on the same engine leaves friction at every
    engine speed as it was."""
    moved = after.friction_reference_rps / before.friction_reference_rps
    same = (before.displacement_m3, before.strokes, before.engine_class) == (
        after.displacement_m3, after.strokes, after.engine_class,
    )  # fmt: skip
    if moved == 1 or not same:
        return
    level, slope = values["friction_mep"], values["friction_slope"]
    values["friction_mep"] = level * (1 + slope * (moved - 1))
    values["friction_slope"] = slope * moved * level / values["friction_mep"]


def _factor(key: str, factor: float, scores: FloatArray) -> FloatArray:
    size = math.log(factor)
    return np.asarray(np.exp(size + CHANGE_DOUBT.get(key, USUAL_CHANGE_DOUBT) * abs(size) * scores))


def _carried(new: Parameter, old: Parameter, values: FloatArray, own: FloatArray, fresh: FloatArray) -> FloatArray:
    """Draws of a parameter after the change, from its draws before."""
    if math.isclose(new.centre, old.centre) and new.spread == old.spread and new.shape == old.shape:
        return values
    if old.origin != "declared" and new.origin == "declared":
        return own
    if old.shape == new.shape == "log" and old.centre > 0 and old.spread > 0:
        scores = np.log(values / old.centre) / old.spread
        moved = new.centre * np.exp(new.spread * scores)
        if new.origin != "declared":  # another class: how it differs is in the spread of that class
            return np.asarray(moved)
        return np.asarray(moved * _factor(new.key, new.centre / old.centre, fresh) * (old.centre / new.centre))
    return own


def with_fuel(vehicle: GearVehicle, seed: int) -> Drawn:
    """With the fuel as it is sold: its energy and density, the same draws for the same kind."""
    fuel = fuel_properties(vehicle.model.fuel)
    scores = standard_normal(vehicle.draws, 2, seed + 1)
    heating = fuel.net_heating_value_jpkg + fuel.net_heating_value_sd_jpkg * scores[:, 0]
    density = fuel.density_15_kgpm3 + fuel.density_15_sd_kgpm3 * scores[:, 1]
    return Drawn(vehicle=vehicle, energy_jpm3=heating * density, density_kgpm3=density)


def thinned_drawn(drawn: Drawn, count: int) -> Drawn:
    """Fewer of the same draws, spread evenly."""
    from calmday.procedures.gears import thinned  # noqa: PLC0415

    rows = np.linspace(0, drawn.count - 1, min(count, drawn.count)).astype(np.int64)
    return Drawn(
        vehicle=thinned(drawn.vehicle, count),
        energy_jpm3=drawn.energy_jpm3[rows],
        density_kgpm3=drawn.density_kgpm3[rows],
    )
