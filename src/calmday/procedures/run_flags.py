"""What a reader of a run must know: each flag says what we saw, why it matters, and what to do now.

Limits carry their source; "common practice, no source" where there is none. Nothing here blocks a result: a flag
weakens the claim, and `stop` says not to use it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from calmday.procedures import run_flags_driving, run_flags_fuel, run_flags_input
from calmday.procedures.flag import Flag, gravest_first
from calmday.procedures.weighed_run import WeighedRun

RULES: tuple[Callable[[WeighedRun], Iterator[Flag]], ...] = (
    *run_flags_fuel.RULES,
    *run_flags_driving.RULES,
    *run_flags_input.RULES,
)


def flags_of_run(weighed: WeighedRun) -> tuple[Flag, ...]:
    """All flags that a reduced run raises, the most serious first."""
    return gravest_first(flag for rule in RULES for flag in rule(weighed))
