"""What a change of the build sheet touches: which parameters of the vehicle are no longer as they were, and how much
of what was known of them still holds.

A number is the correlation that stays between before and after: 0 nothing known carries over, 1 nothing changed.
Assumed throughout, by how much of a part is replaced.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from calmday.records.vehicle import Vehicle

Kept = dict[str, float]

_ENGINE: Final[Kept] = {
    "indicated_efficiency": 0.0, "friction_mep": 0.0, "friction_slope": 0.3, "pumping_mep": 0.0,
    "accessory_power": 0.5, "full_load_scale": 0.0,
}  # fmt: skip
_BODY: Final[Kept] = {"drag_area": 0.6, "yaw_growth": 0.6}
_TYRES: Final[Kept] = {
    "rolling_resistance": 0.0, "rolling_growth": 0.3, "rolling_temperature": 0.3, "gearing_scale": 0.3,
}  # fmt: skip
_AXLE: Final[Kept] = {"gearing_scale": 0.7, "driveline_efficiency": 0.6, "driveline_drag": 0.6}
_GEARBOX: Final[Kept] = {
    "gearing_scale": 0.7, "driveline_efficiency": 0.4, "driveline_drag": 0.4, "driveline_thickening": 0.4,
}  # fmt: skip
_FUELLING: Final[Kept] = {"indicated_efficiency": 0.8, "full_load_scale": 0.5}

TOUCHED_BY_KEY: Final[dict[str, Kept]] = {
    "test_mass_kg": {"test_mass": 0.0},
    "body": _BODY,
    "frontal_area_m2": _BODY,
    "width_m": _BODY,
    "height_m": _BODY,
    "drag_coefficient": _BODY,
    "rolling_resistance": {"rolling_resistance": 0.0},
    "tyre": _TYRES,
    "rolling_circumference_m": {"gearing_scale": 0.0},
    "tyre_pressure_pa": {"rolling_resistance": 0.9},
    "gear_ratios": _GEARBOX,
    "final_drive": _AXLE,
    "driveline_efficiency": {"driveline_efficiency": 0.0},
    "engine.displacement_m3": _ENGINE,
    "engine.strokes": _ENGINE,
    "engine.cylinders": _ENGINE,
    "engine.fuel": _ENGINE,
    "engine.injection": {"indicated_efficiency": 0.3, "friction_mep": 0.8, "pumping_mep": 0.5},
    "engine.induction": {"indicated_efficiency": 0.3, "friction_mep": 0.8, "full_load_scale": 0.0},
    "engine.full_load": {"full_load_scale": 0.0},
}
"""Keys of the build sheet, by the record's own names, and what a new value touches."""

TOUCHED_BY_WORD: Final[tuple[tuple[tuple[str, ...], Kept], ...]] = (
    (("tyre", "tire"), _TYRES),
    (("axle", "final drive", "differential", "diff "), _AXLE),
    (("gearbox", "transmission", "clutch", "overdrive"), _GEARBOX),
    (("timing", "pump", "injector", "nozzle", "carb", "jet", "ignition", "boost", "turbo", "mixture"), _FUELLING),
    (("engine rebuilt", "new engine", "engine swap", "head gasket"), _ENGINE),
    (("oil",), {"friction_mep": 0.8, "driveline_drag": 0.7, "driveline_thickening": 0.3}),
    (("brake", "wheel bearing", "alignment", "toe"), {"rolling_resistance": 0.7}),
    (
        ("tailgate", "cover", "cap", "canopy", "mirror", "spoiler", "air dam", "roof", "rack", "bonnet", "hood",
         "bumper", "belly", "underbody", "skirt", "body", "hubcap", "wheel cover", "window", "fairing"),
        {"drag_area": 0.7, "yaw_growth": 0.7},
    ),
    (("seat", "mass", "weight", "load", "battery"), {"test_mass": 0.7}),
)  # fmt: skip
"""Words in the description of a change, for those that name no key."""

UNTOLD: Final[Kept] = {
    "drag_area": 0.9, "rolling_resistance": 0.9, "indicated_efficiency": 0.9, "friction_mep": 0.9, "test_mass": 0.9,
}  # fmt: skip
"""A change of which neither a key nor a word says what it touches: everything a little."""


def changed_keys(before: Vehicle, after: Vehicle) -> tuple[str, ...]:
    """Keys of the build sheet whose values differ between two states."""
    found = [
        key for key in Vehicle.__struct_fields__
        if key not in ("name", "engine", "since", "changes", "file") and getattr(before, key) != getattr(after, key)
    ]  # fmt: skip
    engine = before.engine.__struct_fields__
    found += [f"engine.{key}" for key in engine if getattr(before.engine, key) != getattr(after.engine, key)]
    return tuple(found)


def kept_of(before: Vehicle, after: Vehicle) -> Kept:
    """What of each touched parameter is kept from one state to a later one; nothing where the states are one."""
    kept: Kept = {}
    for key in changed_keys(before, after):
        _touch(kept, TOUCHED_BY_KEY.get(key, {}))
    for what in after.changes[len(before.changes) :]:
        said = what.lower()
        hits = [touched for words, touched in TOUCHED_BY_WORD if any(word in said for word in words)]
        for touched in hits:
            _touch(kept, touched)
        if not hits and not kept:
            _touch(kept, UNTOLD)
    return kept


def untold(before: Vehicle, after: Vehicle) -> bool:
    """Whether a change says nothing of what it touches."""
    return kept_of(before, after) == UNTOLD


def _touch(kept: Kept, touched: Kept) -> None:
    """The stronger change holds."""
    for key, r in touched.items():
        kept[key] = min(kept.get(key, 1.0), r)


def ordered_states(vehicles: Sequence[Vehicle]) -> list[Vehicle]:
    """The different states among vehicles, oldest first: one without a date stands before all dates."""
    found: list[Vehicle] = []
    for vehicle in vehicles:
        if not any(_same(vehicle, state) for state in found):
            found.append(vehicle)
    return sorted(found, key=lambda v: (v.since is not None, v.since or 0))


def state_of(vehicle: Vehicle, states: Sequence[Vehicle]) -> int:
    """Which of the states a vehicle is."""
    return next(i for i, state in enumerate(states) if _same(vehicle, state))


def _same(a: Vehicle, b: Vehicle) -> bool:
    return a.since == b.since and a.changes == b.changes and not changed_keys(a, b)
