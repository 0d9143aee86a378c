"""What is known of a comparison when its reasoning is checked. None: not known, and then no rule fires on it."""

from __future__ import annotations

import msgspec


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """Facts of a comparison. Percentages are of the baseline's fuel; "before" and "after" are means of the groups.

    `order` letters such as A-B-B-A; `order_tie` correlation of the change with the order; `in_step` settings or
    changes that went up or down with the order driven; `effect`, `low`, `high` the change; `raw_effect`, `raw_low`,
    `raw_high` the same as driven; `correction` how far the corrections moved the difference, `taken_off` what they are;
    `left_sealed_order` the order sealed and the one driven, where they differ; `loop_penalty` what the wind cost over
    the round trip.
    """

    modelled: bool | None = None
    before_runs: int | None = None
    after_runs: int | None = None
    planned_runs: int | None = None
    order: str = ""
    order_tie: float | None = None
    in_step: tuple[str, ...] = ()
    days: int | None = None
    days_shared: bool | None = None
    effect: float | None = None
    low: float | None = None
    high: float | None = None
    raw_effect: float | None = None
    raw_low: float | None = None
    raw_high: float | None = None
    correction: float | None = None
    taken_off: str = ""
    detectable: float | None = None
    smallest_change: float | None = None
    wind_before_mps: float | None = None
    wind_after_mps: float | None = None
    loop_penalty: float | None = None
    air_before_c: float | None = None
    air_after_c: float | None = None
    speed_before_kmh: float | None = None
    speed_after_kmh: float | None = None
    driving: float | None = None
    batches_before: tuple[str, ...] = ()
    batches_after: tuple[str, ...] = ()
    gearing_changed: str = ""
    odometer_stale: bool = False
    mass_difference: float | None = None
    pressure_difference: float | None = None
    sheet_differences: tuple[str, ...] = ()
    tied: tuple[str, ...] = ()
    left_out_late: tuple[str, ...] = ()
    left_out_unsaid: tuple[str, ...] = ()
    of_several: int | None = None
    blind: bool | None = None
    seal_fits: bool | None = None
    left_sealed_order: tuple[str, str] | None = None
    odd: tuple[str, ...] = ()
    odd_baseline_decides: bool = False
    same_readings: tuple[str, ...] = ()
    scatter_matters: bool = False
    scatter_worth_words: str = ""
    published_kind: str = ""
    published_differs: float | None = None
    mixed_arrangements: tuple[str, ...] = ()
