"""What a settings log says: the result as `calmday settings --json` prints it. Names are a contract."""

from __future__ import annotations

import msgspec

from calmday.metrology.figure import Figure
from calmday.procedures.weighed_run_result import Flag, Provenance

SCHEMA = "calmday/settings/1"


class SettingChange(msgspec.Struct, frozen=True, kw_only=True):
    """One visit. `found`, `set`, `tightened` in the unit of the history; `step` against what stood before the visit;
    `moved_by_tightening` tightened less set. `advance` crank degrees against the first reading, `advance_step` of this
    visit, both null without a lift curve. `start` from where the screw was turned, `temperature` degC."""

    date: str
    by: str
    found: float | None
    set: float | None
    tightened: float | None
    step: float | None
    moved_by_tightening: float | None
    moved_since: float | None
    advance: Figure | None
    advance_step: Figure | None
    temperature: float | None
    screw: str
    direction: str
    turn: str
    start: str
    runs: tuple[str, ...]
    note: str


class SettingHistory(msgspec.Struct, frozen=True, kw_only=True):
    """One setting through time. `first` what it was before anybody touched it, null where nobody read it; `now` what
    it stands at."""

    what: str
    cylinder: int | None
    unit: str
    first: float | None
    first_date: str
    first_by: str
    now: float | None
    now_date: str
    changes: tuple[SettingChange, ...]


class LiftTiming(msgspec.Struct, frozen=True, kw_only=True):
    """What the pump's own lift curve says. `per_degree` millimetres of lift for one degree of crank where the pump
    stands now; `lowest_lift`, `highest_lift` what was measured; `universal` is always false: no pump speaks for
    another."""

    points: int
    lowest_lift: float
    highest_lift: float
    per_degree: Figure | None
    dial: Figure
    protractor: Figure
    universal: bool = False


class ColdStartLine(msgspec.Struct, frozen=True, kw_only=True):
    """One cold start beside what the others would have let expect."""

    date: str
    temperature: float
    time: float
    expected: Figure | None
    setting: str


class ColdStarts(msgspec.Struct, frozen=True, kw_only=True):
    """Starter seconds against temperature. `growth` percent more seconds for each degree colder; `at_freezing` seconds
    of one more start at 0 degC; both null with fewer than three starts. `weak` is always true."""

    starts: tuple[ColdStartLine, ...]
    growth: Figure | None
    at_freezing: Figure | None
    words: str
    weak: bool = True


class LimitCheck(msgspec.Struct, frozen=True, kw_only=True):
    """A limit that the owner drew, and whether the setting keeps to it; null where nothing was read."""

    what: str
    lowest: float | None
    highest: float | None
    unit: str
    by: str
    now: float | None
    keeps: bool | None


class RunSettings(msgspec.Struct, frozen=True, kw_only=True):
    """What was set when a run was driven, by name of the setting (with its cylinder) and in its unit."""

    run: str
    values: dict[str, float]
    units: dict[str, str]


class SettingsResult(msgspec.Struct, frozen=True, kw_only=True):
    """A settings log, read."""

    schema: str = SCHEMA
    label: str
    sentence: str
    settings: tuple[SettingHistory, ...]
    timing: LiftTiming | None
    cold_starts: ColdStarts | None
    limits: tuple[LimitCheck, ...]
    runs: tuple[RunSettings, ...]
    flags: tuple[Flag, ...] = ()
    provenance: Provenance
