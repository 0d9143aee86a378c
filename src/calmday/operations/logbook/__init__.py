"""The verbs that read or write the logbook: reduce, check, export, import, back up, restore, see where one stands."""

from calmday.operations.logbook.along import along_of
from calmday.operations.logbook.comparison import (
    compare_logged,
    comparison_is_stale,
    comparison_of_logbook,
    comparison_result_of,
)
from calmday.operations.logbook.dials import check_dials_logged, dials_of_logbook, keep_factor
from calmday.operations.logbook.gears import (
    newest_coastdowns,
    newest_weighed_run,
    study_logged,
    study_mark,
    study_of_tests,
    study_of_vehicle,
    vehicle_of_logbook,
)
from calmday.operations.logbook.guessing import guess_board_logged, seal_own_guess
from calmday.operations.logbook.ledger import cost_logged, newest_figure, published_logged, settings_logged
from calmday.operations.logbook.moving import backup, export_folder, find_run, home_radius_m, import_folder, restore
from calmday.operations.logbook.plans import plan_is_stale, plan_logged, plan_of_logbook, plan_result_of
from calmday.operations.logbook.pulls import (
    pull_result_of,
    pulls_are_stale,
    pulls_of_logbook,
    reduce_pulls_logged,
)
from calmday.operations.logbook.reducing import (
    check_logged,
    check_stored,
    inputs_of_run,
    reduce_logged,
    result_of,
    run_of_logbook,
    why_stale,
)
from calmday.operations.logbook.sounds import (
    NO_ENGINE,
    HeardEngine,
    hear_sound_logged,
    heard_engine,
    sound_is_stale,
    sound_picture_of,
    sound_result_of,
)
from calmday.operations.logbook.standing import (
    BuildDifference,
    FieldDoubt,
    Standing,
    changed_since_last_run,
    next_steps,
    standing,
    vehicle_doubts,
)
from calmday.operations.logbook.tracing import (
    chart_of_logbook,
    correct_point,
    trace_is_stale,
    trace_logged,
    trace_result_of,
    use_trace,
)
from calmday.operations.logbook.what_ifs import what_if_logged, what_if_of_logbook

__all__ = [
    "NO_ENGINE",
    "BuildDifference",
    "FieldDoubt",
    "HeardEngine",
    "Standing",
    "along_of",
    "backup",
    "changed_since_last_run",
    "chart_of_logbook",
    "check_dials_logged",
    "check_logged",
    "check_stored",
    "compare_logged",
    "comparison_is_stale",
    "comparison_of_logbook",
    "comparison_result_of",
    "correct_point",
    "cost_logged",
    "dials_of_logbook",
    "export_folder",
    "find_run",
    "guess_board_logged",
    "hear_sound_logged",
    "heard_engine",
    "home_radius_m",
    "import_folder",
    "inputs_of_run",
    "keep_factor",
    "newest_coastdowns",
    "newest_figure",
    "newest_weighed_run",
    "next_steps",
    "plan_is_stale",
    "plan_logged",
    "plan_of_logbook",
    "plan_result_of",
    "published_logged",
    "pull_result_of",
    "pulls_are_stale",
    "pulls_of_logbook",
    "reduce_logged",
    "reduce_pulls_logged",
    "restore",
    "result_of",
    "run_of_logbook",
    "seal_own_guess",
    "settings_logged",
    "sound_is_stale",
    "sound_picture_of",
    "sound_result_of",
    "standing",
    "study_logged",
    "study_mark",
    "study_of_tests",
    "study_of_vehicle",
    "trace_is_stale",
    "trace_logged",
    "trace_result_of",
    "use_trace",
    "vehicle_doubts",
    "vehicle_of_logbook",
    "what_if_logged",
    "what_if_of_logbook",
    "why_stale",
]
