"""What a weighed run gives: the result as `calmday reduce --json` prints it. Names are a contract."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.metrology.figure import Figure

SCHEMA = "calmday/run/1"

Severity = Literal["note", "caution", "stop"]


class Flag(msgspec.Struct, frozen=True, kw_only=True):
    """Something the reader must know. `saw` what we saw, `why` why it matters, `remedy` what to do now.

    `message` is the three in one line. Severity: `note` for the record, `caution` widens or weakens the claim, `stop`
    the result must not be used.
    """

    code: str
    severity: Severity
    message: str
    saw: str
    why: str
    remedy: str


class Consumption(msgspec.Struct, frozen=True, kw_only=True):
    """One consumption in every usual unit. Litres and gallons at 15 degC. `cost_per_km` only where a price is known."""

    L_per_100km: Figure
    mpg_us: Figure
    mpg_imp: Figure
    km_per_L: Figure
    g_per_km: Figure
    MJ_per_km: Figure
    co2_g_per_km: Figure
    cost_per_km: Figure | None = None


class CruisePoint(msgspec.Struct, frozen=True, kw_only=True):
    """Steady speed on the level on the calm standard day. `sustainable` share of draws whose engine holds it."""

    speed: Figure
    L_per_100km: Figure
    mpg_us: Figure
    mpg_imp: Figure
    engine_speed: Figure | None = None
    sustainable: float = 1.0


class Penalties(msgspec.Struct, frozen=True, kw_only=True):
    """What each condition of the day cost, in percent of the calm-day figure; they add up to the difference."""

    wind: Figure
    air_density: Figure
    cold_engine: Figure
    cold_tyres: Figure


class EnergyShare(msgspec.Struct, frozen=True, kw_only=True):
    """Where a part of the fuel's energy went. `share` is a fraction of the fuel energy."""

    to: str
    energy: Figure
    share: Figure


class BudgetLine(msgspec.Struct, frozen=True, kw_only=True):
    """One source of doubt: its standard uncertainty in the figure, and its share of the variance."""

    source: str
    contribution: Figure
    share: float


class Lap(msgspec.Struct, frozen=True, kw_only=True):
    """One lap found in the track."""

    number: int
    start_s: float
    end_s: float
    distance: Figure
    moving_time: Figure
    speed: Figure
    fuel_share: Figure
    L_per_100km: Figure


class Leg(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch in one direction to the wind. Wind components at vehicle height; along is positive from ahead."""

    number: int
    start_s: float
    end_s: float
    heading_deg: float
    wind_along: Figure
    wind_across: Figure
    distance: Figure
    speed: Figure
    fuel_share: Figure
    L_per_100km: Figure


class ParameterEstimate(msgspec.Struct, frozen=True, kw_only=True):
    """What the run says about one parameter of the vehicle, beside what was assumed or declared before it."""

    value: float
    standard_uncertainty: float
    low: float
    high: float
    unit: str
    before: Figure
    origin: str
    source: str


class Quality(msgspec.Struct, frozen=True, kw_only=True):
    """How good the conditioning is. `effective_draws` after weighting (Kish), of `draws`; `sound` when it suffices."""

    draws: int
    effective_draws: float
    sound: bool
    surprise: float
    """Weighed fuel against what the model expected before the weighing, in standard deviations."""


class Provenance(msgspec.Struct, frozen=True, kw_only=True):
    """What produced the result."""

    program: str
    version: str
    seed: int
    inputs_sha256: str
    files: tuple[str, ...]


class ReferenceConditions(msgspec.Struct, frozen=True, kw_only=True):
    """The calm standard day."""

    wind: str = "0 m/s"
    temperature: str = "20 degC"
    pressure: str = "100 kPa"
    relative_humidity: str = "50 %"


class RunResult(msgspec.Struct, frozen=True, kw_only=True):
    """The result of one weighed run. Fields are None where the input does not allow them; a flag says why.

    `fuel`: kind of fuel, empty where nobody named one. `notes`: what was assumed or put right on the way, in words, for
    the record.
    """

    schema: str = SCHEMA
    label: str
    vehicle: str
    sentence: str
    distance: Figure
    moving_time: Figure | None
    fuel_mass: Figure
    fuel_volume: Figure
    fuel_volume_60F: Figure
    fuel_density_15C: Figure
    as_driven: Consumption
    calm_day: Consumption | None
    level_cruise: tuple[CruisePoint, ...] = ()
    penalties: Penalties | None = None
    energy: tuple[EnergyShare, ...] = ()
    budget: tuple[BudgetLine, ...] = ()
    budget_as_driven: tuple[BudgetLine, ...] = ()
    laps: tuple[Lap, ...] = ()
    legs: tuple[Leg, ...] = ()
    estimates: dict[str, ParameterEstimate] = {}
    reference: ReferenceConditions = ReferenceConditions()
    quality: Quality | None = None
    flags: tuple[Flag, ...] = ()
    notes: tuple[str, ...] = ()
    fuel: str = ""
    provenance: Provenance
