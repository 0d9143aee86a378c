"""Every verb a user has, one function each: the command line, the page and the Python interface call these.

One module per question; `calmday.operations` itself only knows where each verb stands, so that asking for one does not
load the others.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from calmday.operations.coastdown import CoastdownResult, read_coastdown, reduce_coastdown, reduce_coastdown_file
    from calmday.operations.comparison import check_claim, compare_file, compare_runs, sealed_order
    from calmday.operations.cost import cost_document, cost_file, cost_sheet_of
    from calmday.operations.dials import check_dials, check_dials_file
    from calmday.operations.gears import (
        GearStudy,
        conditions,
        reduce_pull_file,
        reduce_pulls,
        study_gears,
        study_gears_file,
    )
    from calmday.operations.guesses import board_of, guess_board_file, own_guess_file, own_guess_of, sealed_table
    from calmday.operations.imagined import what_if, what_if_file, what_if_of_factors, what_if_words
    from calmday.operations.knowledge import (
        Knowledge,
        KnowledgeResult,
        knowledge_result,
        known_vehicle,
        known_vehicle_file,
        read_evidence,
        read_tests,
    )
    from calmday.operations.plan import PlanResult, field_sheets_pdf, plan_file, plan_of_test, write_test_sheets
    from calmday.operations.published import published_file, published_of_figure
    from calmday.operations.schemas import schema, schema_names
    from calmday.operations.settings import runs_with_setting, settings_file, settings_of_log, settings_when
    from calmday.operations.sound import hear_sound, hear_sound_document, hear_sound_file
    from calmday.operations.sweep import sweep_file
    from calmday.operations.trace import full_load_csv, trace_chart, trace_file
    from calmday.operations.weighed_run import (
        DEFAULT_DRAWS,
        DEFAULT_SEED,
        Check,
        Reduction,
        check_file,
        demo_folder,
        read_run,
        reduce_file,
        reduce_run,
        warm_up,
    )

_STANDS_IN = {
    "Check": "weighed_run",
    "CoastdownResult": "coastdown",
    "DEFAULT_DRAWS": "weighed_run",
    "DEFAULT_SEED": "weighed_run",
    "GearStudy": "gears",
    "PlanResult": "plan",
    "Knowledge": "knowledge",
    "KnowledgeResult": "knowledge",
    "Reduction": "weighed_run",
    "board_of": "guesses",
    "check_dials": "dials",
    "check_dials_file": "dials",
    "check_claim": "comparison",
    "check_file": "weighed_run",
    "compare_file": "comparison",
    "compare_runs": "comparison",
    "conditions": "gears",
    "cost_document": "cost",
    "cost_file": "cost",
    "cost_sheet_of": "cost",
    "demo_folder": "weighed_run",
    "full_load_csv": "trace",
    "field_sheets_pdf": "plan",
    "plan_file": "plan",
    "plan_of_test": "plan",
    "knowledge_result": "knowledge",
    "known_vehicle": "knowledge",
    "known_vehicle_file": "knowledge",
    "guess_board_file": "guesses",
    "hear_sound": "sound",
    "hear_sound_document": "sound",
    "hear_sound_file": "sound",
    "own_guess_file": "guesses",
    "own_guess_of": "guesses",
    "published_file": "published",
    "published_of_figure": "published",
    "read_coastdown": "coastdown",
    "read_evidence": "knowledge",
    "read_run": "weighed_run",
    "read_tests": "knowledge",
    "reduce_coastdown": "coastdown",
    "reduce_coastdown_file": "coastdown",
    "reduce_file": "weighed_run",
    "reduce_pull_file": "gears",
    "reduce_pulls": "gears",
    "reduce_run": "weighed_run",
    "runs_with_setting": "settings",
    "schema": "schemas",
    "schema_names": "schemas",
    "sealed_order": "comparison",
    "sealed_table": "guesses",
    "settings_file": "settings",
    "settings_of_log": "settings",
    "settings_when": "settings",
    "study_gears": "gears",
    "study_gears_file": "gears",
    "trace_chart": "trace",
    "trace_file": "trace",
    "sweep_file": "sweep",
    "warm_up": "weighed_run",
    "write_test_sheets": "plan",
    "what_if": "imagined",
    "what_if_file": "imagined",
    "what_if_of_factors": "imagined",
    "what_if_words": "imagined",
}
"""The module of each verb. Those that need a logbook stand in `calmday.operations.logbook`."""

__all__ = [
    "DEFAULT_DRAWS",
    "DEFAULT_SEED",
    "Check",
    "CoastdownResult",
    "GearStudy",
    "Knowledge",
    "KnowledgeResult",
    "PlanResult",
    "Reduction",
    "board_of",
    "check_claim",
    "check_dials",
    "check_dials_file",
    "check_file",
    "compare_file",
    "compare_runs",
    "conditions",
    "cost_document",
    "cost_file",
    "cost_sheet_of",
    "demo_folder",
    "field_sheets_pdf",
    "full_load_csv",
    "guess_board_file",
    "hear_sound",
    "hear_sound_document",
    "hear_sound_file",
    "knowledge_result",
    "known_vehicle",
    "known_vehicle_file",
    "own_guess_file",
    "own_guess_of",
    "plan_file",
    "plan_of_test",
    "published_file",
    "published_of_figure",
    "read_coastdown",
    "read_evidence",
    "read_run",
    "read_tests",
    "reduce_coastdown",
    "reduce_coastdown_file",
    "reduce_file",
    "reduce_pull_file",
    "reduce_pulls",
    "reduce_run",
    "runs_with_setting",
    "schema",
    "schema_names",
    "sealed_order",
    "sealed_table",
    "settings_file",
    "settings_of_log",
    "settings_when",
    "study_gears",
    "study_gears_file",
    "sweep_file",
    "trace_chart",
    "trace_file",
    "warm_up",
    "what_if",
    "what_if_file",
    "what_if_of_factors",
    "what_if_words",
    "write_test_sheets",
]


def __getattr__(name: str) -> Any:
    """Load the module of a verb when the verb is first used."""
    if name not in _STANDS_IN:
        raise AttributeError(f"module 'calmday.operations' has no attribute {name!r}")
    return getattr(import_module(f"calmday.operations.{_STANDS_IN[name]}"), name)
