"""A published figure and what sets it apart: the result as `calmday published --json` prints it. A contract."""

from __future__ import annotations

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Consumption, Flag, Provenance

SCHEMA = "calmday/published/1"


class PublishedLine(msgspec.Struct, frozen=True, kw_only=True):
    """One figure as printed, in every unit; the interval is that of its rounding. `laboratory_mpg` before the label's
    adjustment, US gallons, null where the rule has no equation."""

    kind: str
    as_entered: str
    L_per_100km: Figure
    mpg_us: Figure
    mpg_imp: Figure
    laboratory_mpg: Figure | None


class CombinedCheck(msgspec.Struct, frozen=True, kw_only=True):
    """City and highway put together as the label does it. `printed` null where no combined figure is printed;
    `arithmetic` the plain mean of both, which is wrong; `agrees` whether rounding explains the difference."""

    unit: str
    computed: Figure
    printed: float | None
    arithmetic: float
    agrees: bool | None
    how: str


class RuleReading(msgspec.Struct, frozen=True, kw_only=True):
    """What the same laboratory figures would read under another rule, miles per US gallon."""

    rule: str
    city: Figure
    highway: Figure
    combined: Figure


class NamedDifference(msgspec.Struct, frozen=True, kw_only=True):
    """One thing in which the published figure and the weighed drive are not alike. `matters` what it does, with its
    direction where that is known; `origin` who says so."""

    what: str
    theirs: str
    ours: str
    matters: str
    origin: str


class OurSide(msgspec.Struct, frozen=True, kw_only=True):
    """The weighed drive beside it: which figure, and how it was driven."""

    label: str
    vehicle: str
    figure: str
    consumption: Consumption
    average_speed: Figure | None


class PublishedResult(msgspec.Struct, frozen=True, kw_only=True):
    """A published figure, and where a drive is named, every difference between them. Nothing here is a score."""

    schema: str = SCHEMA
    label: str
    sentence: str
    vehicle: str
    rule: str
    rule_words: str
    adjusted: str
    rule_source: str
    model_year: int | None
    source: str
    lines: tuple[PublishedLine, ...]
    combined: CombinedCheck | None
    other_rules: tuple[RuleReading, ...]
    ours: OurSide | None
    differences: tuple[NamedDifference, ...]
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
