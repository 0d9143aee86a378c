"""What a recording of an engine gives: the result as `calmday sound --json` prints it. Names are a contract."""

from __future__ import annotations

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/sound/1"


class SpeedTrace(msgspec.Struct, frozen=True, kw_only=True):
    """Engine speed against time. `engine_speed_rpm` None where not known; `low_rpm`, `high_rpm` its 95 % interval.

    `confidence` 0 to 1 that the likeliest speed is right; `speed_kmh` on the road at that time, where known.
    """

    time_s: tuple[float, ...]
    engine_speed_rpm: tuple[float | None, ...]
    low_rpm: tuple[float | None, ...]
    high_rpm: tuple[float | None, ...]
    confidence: tuple[float, ...]
    speed_kmh: tuple[float | None, ...] = ()


class SteadyStretch(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch at one engine speed, seconds from the start of the recording. `engine_speed` its median, `spread` one
    standard deviation about it; `overall_ratio` engine turns for one of the wheel, where road speed is known."""

    number: int
    start_s: float
    end_s: float
    engine_speed: Figure
    spread: Figure
    firing_frequency: Figure
    speed: Figure | None = None
    overall_ratio: Figure | None = None
    gear: int | None = None


class GearHeard(msgspec.Struct, frozen=True, kw_only=True):
    """A gear that was held: for how long, what ratio the sound says and what the build sheet says. `difference` heard
    over declared, in percent; None where the build sheet states no ratio."""

    gear: int | None
    held: Figure
    turns_per_km: Figure
    overall_ratio: Figure | None
    declared_ratio: float | None
    difference: Figure | None


class Slip(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch in which the engine ran ahead of the road: seconds from the start, the gear, the most in percent."""

    start_s: float
    end_s: float
    gear: int | None
    excess: Figure


class Candidate(msgspec.Struct, frozen=True, kw_only=True):
    """One thing that would explain a difference: what, as the build sheet has it, and as it would have to be."""

    what: str
    declared: str
    would_be: str


class Silence(msgspec.Struct, frozen=True, kw_only=True):
    """A stretch in which engine speed is not known, and why."""

    start_s: float
    end_s: float
    why: str


class SoundResult(msgspec.Struct, frozen=True, kw_only=True):
    """Engine speed from sound. `share_known` of the recording; `clock_offset` seconds to add to recording time (from
    its start, or from `started`) to get the receiver's time."""

    schema: str = SCHEMA
    vehicle: str
    label: str
    sentence: str
    cylinders: int
    strokes: int
    searched_low: Figure
    searched_high: Figure
    duration: Figure
    share_known: Figure
    engine_speed: Figure | None
    lowest: Figure | None
    highest: Figure | None
    stretches: tuple[SteadyStretch, ...] = ()
    gears_heard: tuple[GearHeard, ...] = ()
    ratio_difference: Figure | None = None
    candidates: tuple[Candidate, ...] = ()
    slips: tuple[Slip, ...] = ()
    clock_offset: Figure | None = None
    not_known: tuple[Silence, ...] = ()
    trace: SpeedTrace
    listened_by: str = ""
    microphone: str = ""
    heard: str = ""
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
