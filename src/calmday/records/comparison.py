"""A comparison as declared: which runs, what was changed, what was planned."""

from __future__ import annotations

from typing import Literal

import msgspec

from calmday.records.run import Run

Removed = Literal["order", "temperature"]
REMOVABLE: tuple[str, ...] = ("order", "temperature")


class Entry(msgspec.Struct, frozen=True, kw_only=True):
    """One run of a comparison.

    `run` the weighed drive, or None where only fuel and distance were noted (`fuel_kg`, `distance_m`).
    `order` its place in the order driven, from 1; None where it is not known. `block` runs of one pair, lap or morning.
    `setting` in `Comparison.setting_unit`. `control_kgpm` fuel per distance of a companion vehicle that was not
    changed. `with_` the changes fitted, of several. `left_out` why the run does not count, and `known_before` whether
    that was known before its fuel was weighed.
    """

    changed: bool
    label: str
    run: Run | None = None
    fuel_kg: float | None = None
    distance_m: float | None = None
    order: int | None = None
    block: str = ""
    setting: float | None = None
    temperature_k: float | None = None
    control_kgpm: float | None = None
    with_: tuple[str, ...] = ()
    left_out: str = ""
    known_before: bool | None = None
    file: str = ""


class Claim(msgspec.Struct, frozen=True, kw_only=True):
    """Something said about the result, as typed: `text`, whose it is."""

    text: str
    by: str = ""


class Comparison(msgspec.Struct, frozen=True, kw_only=True):
    """Runs before and after a change, or over a setting.

    `baseline_name`, `changed_name` what people call the groups; empty: nobody said. `planned_runs` all runs together,
    declared before the first. `smallest_change` that would matter, as a fraction. `run_scatter` known from earlier
    tests, as a fraction, one standard deviation; `scatter_belief` the centre of what is believed where it is not known.
    `removed` what is taken off besides the change; None: drift where the order is known and there are runs to spare.
    `sealed_order` digest of an order drawn by lot and sealed, `seal` what was sealed with it. `of_several` how many
    changes were tried before this one was reported.
    """

    label: str
    entries: tuple[Entry, ...]
    question: str = ""
    baseline_name: str = ""
    changed_name: str = ""
    planned_runs: int | None = None
    smallest_change: float | None = None
    run_scatter: float | None = None
    scatter_belief: float | None = None
    removed: tuple[Removed, ...] | None = None
    setting_unit: str = ""
    factors: tuple[str, ...] = ()
    blind: bool | None = None
    sealed_order: str = ""
    seal: str = ""
    of_several: int | None = None
    correct_for_weather: bool = True
    claims: tuple[Claim, ...] = ()
    file: str = ""
