"""Small evidence: one cheap measurement that says something of the vehicle."""

from __future__ import annotations

import datetime as dt
from typing import Literal, get_args

import msgspec

from calmday.records.declared import Declared
from calmday.records.vehicle import Vehicle

EvidenceKind = Literal[
    "held speed", "roll-down", "tow force", "hill roll", "weighbridge", "weighed litre", "roll-out", "idle burn"
]
EVIDENCE_KINDS: tuple[str, ...] = get_args(EvidenceKind)


class SmallEvidence(msgspec.Struct, frozen=True, kw_only=True):
    """One measurement with its repeats in SI: m/s, s, N, kg or m by kind.

    `instrument` half width of 95 % of the instrument in the same unit. `from_mps`, `to_mps` of a roll-down; `gear` of a
    held speed, 1 first; `headwind_mps` and `grade` as met in the direction driven; `both_ways`: the readings are from
    both directions alike; `turns` of the wheel of a roll-out; `duration_s` and `idle_rps` of an idle burn; `volume_m3`
    and `temperature_k` of a weighed litre.
    """

    kind: EvidenceKind
    label: str
    vehicle: Vehicle
    readings: tuple[float, ...]
    date: dt.date | None = None
    instrument: float | None = None
    from_mps: float | None = None
    to_mps: float | None = None
    gear: int | None = None
    headwind_mps: Declared | None = None
    grade: Declared | None = None
    both_ways: bool = False
    turns: int | None = None
    duration_s: float | None = None
    idle_rps: float | None = None
    volume_m3: Declared | None = None
    temperature_k: float | None = None
    payload_kg: float = 0.0
    file: str = ""
