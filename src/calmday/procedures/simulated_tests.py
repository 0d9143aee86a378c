"""What a planned test will be worth, found by driving it many times on paper and reducing each drive.

For each possible day the forward model gives, for every draw i of the vehicle and every number of laps, the fuel of the
drive and of the calm day. A simulated test takes one draw as the truth, burns its fuel times the run-to-run factor,
weighs it with the errors of the scale and the rig, and is reduced as a weighed run is: the draws that agree with what
was weighed are kept, and the interval of the calm-day figure is read off them. The mean of these intervals is what the
test may be expected to give (preposterior analysis: Raiffa and Schlaifer 1961, Applied Statistical Decision Theory
[memory]).

With z_e, the score of the indicated efficiency, taken out (ln fuel = h_i - b z_e exactly), draws are weighted by
N(w; h_i, b^2 + s^2) at five points of the weighed mass w (Gauss-Hermite): the same densities as in
model/conditioning, over one set of draws instead of draws tied to each weighing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import msgspec
import numpy as np

from calmday.metrology.draws import FloatArray, standard_normal
from calmday.metrology.fuels import fuel_properties
from calmday.model.basis import AS_DRIVEN, CALM_DAY, Conditions, build_basis, coefficients
from calmday.model.conditioning import BETWEEN_DAYS_SD, RUN_TO_RUN_SD
from calmday.model.drive import Drive
from calmday.model.kernel import indicated_energy_j
from calmday.model.parameters import Values
from calmday.model.vehicle_model import VehicleModel, build
from calmday.procedures.planned_days import Day
from calmday.records.plan import Plan

REACH: Final = 1.959963984540054
_TAILS: Final = (0.025, 0.975)
_NODES, _SHARES = np.polynomial.hermite_e.hermegauss(5)
_SHARES = _SHARES / _SHARES.sum()

OF_THE_DAY: Final = (
    *("cold_friction", "cold_time", "cold_enrichment", "tyre_warmup", "tyre_time"),
    *("wind_factor", "wind_direction", "wind_offset_east", "wind_offset_north", "turbulence", "air_density"),
)
"""Parameters that each day draws anew, whatever earlier runs taught."""


class DrawnDay(msgspec.Struct, frozen=True, kw_only=True):
    """One possible day for every draw and number of laps, arrays (m, l): `log_fuel` as driven with `log_ratio` calm
    over as driven, ln kg; `values` the parameters behind them, (m,) each. `eased_sd` spread of the efficiency that is
    taken out of `log_fuel`, 0 where it is not; `run_sd` what the fuel of a run scatters about such a vehicle."""

    log_fuel: FloatArray
    log_ratio: FloatArray
    values: dict[str, FloatArray]
    eased_sd: float
    run_sd: float
    model: VehicleModel


class Accuracy(msgspec.Struct, frozen=True, kw_only=True):
    """What a test gives, as relative 95 % half widths of the calm-day volume per distance: mean over simulated tests,
    and the tests between which nine in ten lie. `covered` share of simulated tests whose interval holds the truth.
    `wind_penalty` mean of what the wind cost, relative."""

    half_width: float
    low: float
    high: float
    covered: float
    tests: int


class Instruments(msgspec.Struct, frozen=True, kw_only=True):
    """Relative standard uncertainties of one test: fuel mass, distance, density."""

    mass: float
    distance: float
    density: float

    @property
    def as_driven(self) -> float:
        """Relative 95 % half width of volume per distance as driven."""
        return REACH * math.hypot(self.mass, self.distance, self.density)


def model_of(plan: Plan, drive: Drive) -> VehicleModel:
    """The vehicle of a plan on a drive. A start nobody described is a warm one: that is what is advised."""
    return build(
        plan.vehicle,
        drive,
        run_fuel=plan.fuel.kind,
        payload=plan.payload_kg,
        start=plan.engine_start or "warm",
        tyre_pressure_pa=plan.tyre_pressure_pa.value if plan.tyre_pressure_pa else None,
    )


def draw_day(
    plan: Plan,
    day: Day,
    lap_weights: FloatArray,
    scores: FloatArray,
    known: Mapping[str, FloatArray] | None = None,
) -> DrawnDay:
    """Fuel of every draw on one day. `lap_weights` (n, l) seconds that each number of laps counts of each sample.

    `scores` (m, k) standard normal; `known` draws (m,) of parameters that earlier evidence taught.
    """
    drive = day.drive
    model = model_of(plan, drive)
    values = model.parameters.values(scores)
    own = model.parameters["indicated_efficiency"]
    if known:
        values |= {key: found for key, found in known.items() if key in values and key not in OF_THE_DAY}
    if known and "indicated_efficiency" in known:
        eased, run_sd = 0.0, _scatter_about(known["indicated_efficiency"], own.spread)
    else:
        eased, run_sd = own.spread, RUN_TO_RUN_SD
        values = values | {"indicated_efficiency": np.full(len(scores), own.centre)}
    driven = log_fuel(model, drive, values, lap_weights, AS_DRIVEN)
    calm = log_fuel(model, drive, values, lap_weights, CALM_DAY)
    return DrawnDay(log_fuel=driven, log_ratio=calm - driven, values=values, eased_sd=eased, run_sd=run_sd, model=model)


def _scatter_about(efficiency: FloatArray, class_spread: float) -> float:
    """What the fuel of a day scatters about what other days taught [ln].

    The doubt of an engine's class holds what days differ by; as far as tests have narrowed it, that stands beside it.
    """
    left = float(np.std(np.log(efficiency))) / class_spread
    return math.hypot(RUN_TO_RUN_SD, BETWEEN_DAYS_SD * math.sqrt(max(0.0, 1.0 - left**2)))


def log_fuel(model: VehicleModel, drive: Drive, values: Values, lap_weights: FloatArray, on: Conditions) -> FloatArray:
    """ln of the fuel mass (kg) of every draw and number of laps, (m, l)."""
    basis = build_basis(model, drive)
    c = coefficients(model, basis, values, on)
    laps = lap_weights.shape[1]
    both = np.concatenate([lap_weights, lap_weights * basis.decay[:, None]], axis=1)
    sums = indicated_energy_j(basis, c, both)
    energy = sums[:, :laps] + c.enrichment[:, None] * sums[:, laps:]
    heating = fuel_properties(model.fuel).net_heating_value_jpkg
    return np.asarray(np.log(np.maximum(energy / (values["indicated_efficiency"][:, None] * heating), 1e-9)))


def simulate_tests(
    days: Sequence[DrawnDay],
    laps: int,
    instruments: Instruments,
    seed: int,
    tests_each: int = 4,
    narrower: Mapping[str, float] | None = None,
) -> Accuracy:
    """Drive and reduce the test with column `laps` many times over.

    `narrower`: parameters that a further test will have told by then, with the share of their spread it leaves.
    """
    halves, inside = [], []
    for k, day in enumerate(days):
        found = _tests_of_day(day, laps, instruments, seed + 1000 + k, tests_each, narrower or {})
        halves += [half for half, _ in found]
        inside += [hit for _, hit in found]
    widths = np.array(halves)
    low, high = np.quantile(widths, (0.05, 0.95))
    return Accuracy(
        half_width=float(widths.mean()),
        low=float(low),
        high=float(high),
        covered=float(np.mean(inside)),
        tests=len(halves),
    )


def _tests_of_day(
    day: DrawnDay, laps: int, instruments: Instruments, seed: int, tests: int, narrower: Mapping[str, float]
) -> list[tuple[float, bool]]:
    modelled, ratio = day.log_fuel[:, laps], day.log_ratio[:, laps]
    scatter = math.hypot(day.eased_sd, day.run_sd)
    log_prior = _narrowed(day, narrower)
    prior = np.exp(log_prior - log_prior.max())
    prior /= prior.sum()
    generator = np.random.Generator(np.random.PCG64([seed, laps]))
    errors = standard_normal(max(tests, 2), 4, seed)[:tests]
    truths = generator.choice(len(modelled), size=tests, p=prior)
    outside = math.hypot(instruments.distance, instruments.density)
    found = []
    for truth, (spread, scale, other, _) in zip(truths, errors, strict=True):
        burnt = modelled[truth] + scatter * spread
        read = burnt + instruments.mass * scale
        masses = read + instruments.mass * _NODES
        log_weight = log_prior - 0.5 * (masses[:, None] - modelled) ** 2 / scatter**2
        weight = np.exp(log_weight - log_weight.max(axis=1, keepdims=True))
        weight *= (_SHARES / weight.sum(axis=1))[:, None]
        values = (masses[:, None] + ratio).ravel()
        low, middle, high = _weighted_quantiles(values, weight.ravel())
        half = math.hypot((high - low) / 2, REACH * outside)
        error = middle + outside * other - (burnt + ratio[truth])
        found.append((math.sinh(half), abs(error) <= half))
    return found


def _narrowed(day: DrawnDay, narrower: Mapping[str, float]) -> FloatArray:
    """ln weight of each draw once a further test has told some parameters about their centre.

    A normal of spread 1 reweighted to spread q: exp(-z^2 (1/q^2 - 1)/2).
    """
    total = np.zeros(len(day.log_fuel))
    for key, left in narrower.items():
        logs = np.log(np.maximum(day.values[key], 1e-12))
        spread = logs.std()
        if spread > 0 and left < 1:
            total -= 0.5 * ((logs - logs.mean()) / spread) ** 2 * (1 / left**2 - 1)
    return total


def _weighted_quantiles(values: FloatArray, weight: FloatArray) -> tuple[float, float, float]:
    """Bounds of the 95 % interval of weighted values, and their mean in the middle."""
    order = np.argsort(values)
    reached = np.cumsum(weight[order])
    reached -= 0.5 * weight[order]
    low, high = np.interp(_TAILS, reached / reached[-1] if reached[-1] > 1 else reached, values[order])
    return float(low), float(values @ weight), float(high)
