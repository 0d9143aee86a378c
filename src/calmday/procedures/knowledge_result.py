"""What is known of a vehicle: the result as `calmday know --json` prints it. Names are a contract."""

from __future__ import annotations

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, ParameterEstimate, Provenance

SCHEMA = "calmday/knowledge/1"


class Rung(msgspec.Struct, frozen=True, kw_only=True):
    """A parameter after one more test, in the order in which they went in; the first rung is the build sheet."""

    after: str
    figure: Figure


class KnownParameter(msgspec.Struct, frozen=True, kw_only=True):
    """One parameter of the vehicle. `narrowed_to` share of its spread that all tests leave; `told_most_by` the test
    that took most of it, empty where none did; `off_prior` how far it lies from where the build sheet has it, in
    standard deviations that would be expected."""

    key: str
    group: str
    estimate: ParameterEstimate
    source: str
    narrowed_to: float
    told_most_by: str
    off_prior: float
    ladder: tuple[Rung, ...]


class TestTold(msgspec.Struct, frozen=True, kw_only=True):
    """One test. `off_others` standard deviations by which it lies off what all others predict; `weight` 1 where it is
    believed as it stands, less where it was widened for lying off."""

    label: str
    kind: str
    state: str
    off_others: float
    weight: float
    odd: bool


class Entangled(msgspec.Struct, frozen=True, kw_only=True):
    """Two parameters that the tests cannot tell apart: their correlation, and what that means in words."""

    first: str
    second: str
    correlation: float
    words: str


class NextMeasurement(msgspec.Struct, frozen=True, kw_only=True):
    """A measurement worth making. Half widths of the consumption at 80 km/h on the calm day, now and then."""

    code: str
    what: str
    minutes: float
    half_width_now: float
    half_width_then: float
    unit: str
    bits_per_hour: float
    tells_of: str


class PoolQuality(msgspec.Struct, frozen=True, kw_only=True):
    """How the draws were got: effective number after weighting, rounds of moves, share of moves taken."""

    draws: int
    effective_draws: float
    moves: int
    accepted: float
    sound: bool


class KnowledgeResult(msgspec.Struct, frozen=True, kw_only=True):
    """A vehicle after its tests. `level_cruise_80` consumption at a steady 80 km/h on the calm standard day, and the
    same from the build sheet alone; `correlations` of `keys`, row by row; `densities` of weighed litres, kg/m3."""

    schema: str = SCHEMA
    vehicle: str
    sentence: str
    level_cruise_80: Figure
    level_cruise_80_before: Figure
    parameters: tuple[KnownParameter, ...]
    tests: tuple[TestTold, ...]
    left_out: tuple[str, ...]
    keys: tuple[str, ...]
    correlations: tuple[tuple[float, ...], ...]
    entangled: tuple[Entangled, ...]
    next_measurements: tuple[NextMeasurement, ...]
    densities: tuple[Figure, ...]
    quality: PoolQuality
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
