"""The JSON Schema of every result that `--json` prints."""

from __future__ import annotations

import importlib
from typing import Any

import msgspec

from calmday.errors import InputError

__all__ = ["schema", "schema_names"]

_SCHEMAS: dict[str, str] = {
    "check": "calmday.procedures.lay_by_check:Check",
    "comparison": "calmday.procedures.comparison_result:ComparisonResult",
    "cost": "calmday.procedures.cost_result:CostResult",
    "coastdown": "calmday.procedures.coastdown_result:CoastdownResult",
    "dials": "calmday.procedures.dials_result:DialsResult",
    "knowledge": "calmday.procedures.knowledge_result:KnowledgeResult",
    "gears": "calmday.procedures.gears_result:GearsResult",
    "plan": "calmday.procedures.plan_result:PlanResult",
    "guesses": "calmday.procedures.guess_result:GuessBoard",
    "own-guess": "calmday.procedures.guess_result:OwnGuess",
    "published": "calmday.procedures.published_result:PublishedResult",
    "pull": "calmday.procedures.pull_result:PullResult",
    "trace": "calmday.procedures.chart_trace_result:TraceResult",
    "run": "calmday.procedures.weighed_run_result:RunResult",
    "sound": "calmday.procedures.sound_result:SoundResult",
    "sweep": "calmday.procedures.sweep_result:SweepResult",
    "whatif": "calmday.procedures.what_if_result:WhatIfResult",
    "settings": "calmday.procedures.settings_result:SettingsResult",
}
"""Where the type of each result stands; it is loaded when it is asked for."""


def schema_names() -> tuple[str, ...]:
    """Names of the results whose JSON Schema can be had."""
    return tuple(sorted(_SCHEMAS))


def schema(name: str) -> dict[str, Any]:
    """JSON Schema (2020-12) of a result. Raises InputError for an unknown name."""
    if name not in _SCHEMAS:
        known = ", ".join(schema_names())
        raise InputError.one("schema", name, "there is no result of this name", f"one of {known}")
    module, _, member = _SCHEMAS[name].partition(":")
    made = msgspec.json.schema(getattr(importlib.import_module(module), member))
    for field in made["$defs"].get("Figure", {}).get("properties", {}).values():
        if field.get("type") == "number":
            field["type"] = ["number", "null"]  # what cannot be known is printed as null
    return made
