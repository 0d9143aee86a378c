"""The verbs that read or write the logbook: reduce, check, export, import, back up, restore, see where one stands."""

from calmday.operations.logbook.along import along_of
from calmday.operations.logbook.comparison import (
    compare_logged,
    comparison_is_stale,
    comparison_of_logbook,
    comparison_result_of,
)
from calmday.operations.logbook.gears import (
    newest_weighed_run,
    study_logged,
    study_mark,
    study_of_vehicle,
    vehicle_of_logbook,
)
from calmday.operations.logbook.guessing import guess_board_logged, seal_own_guess
from calmday.operations.logbook.moving import backup, export_folder, find_run, home_radius_m, import_folder, restore
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
from calmday.operations.logbook.standing import (
    BuildDifference,
    FieldDoubt,
    Standing,
    changed_since_last_run,
    next_steps,
    standing,
    vehicle_doubts,
)

__all__ = [
    "BuildDifference",
    "FieldDoubt",
    "Standing",
    "along_of",
    "backup",
    "changed_since_last_run",
    "check_logged",
    "check_stored",
    "compare_logged",
    "comparison_is_stale",
    "comparison_of_logbook",
    "comparison_result_of",
    "export_folder",
    "find_run",
    "guess_board_logged",
    "home_radius_m",
    "import_folder",
    "inputs_of_run",
    "newest_weighed_run",
    "next_steps",
    "pull_result_of",
    "pulls_are_stale",
    "pulls_of_logbook",
    "reduce_logged",
    "reduce_pulls_logged",
    "restore",
    "result_of",
    "run_of_logbook",
    "seal_own_guess",
    "standing",
    "study_logged",
    "study_mark",
    "study_of_vehicle",
    "vehicle_doubts",
    "vehicle_of_logbook",
    "why_stale",
]
