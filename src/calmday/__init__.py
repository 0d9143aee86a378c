"""Calmday: weighed-fuel road tests, reduced to what the vehicle would use on a calm standard day.

>>> import calmday
>>> run = calmday.read_run("examples/fen-hauler/run.toml")  # doctest: +SKIP
>>> reduction = calmday.reduce_run(run)  # doctest: +SKIP
>>> reduction.result.calm_day.L_per_100km.value  # doctest: +SKIP
>>> reduction.draws["calm_day_L_per_100km"]  # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from calmday.operations import Reduction, check_file, read_run, reduce_file, reduce_run, warm_up

__version__ = "0.1.0"

__all__ = ["Reduction", "check_file", "read_run", "reduce_file", "reduce_run", "warm_up"]


def __getattr__(name: str) -> Any:
    """Load the interface when it is first used, so that `calmday --help` need not."""
    if name in __all__:
        from calmday import operations  # noqa: PLC0415

        return getattr(operations, name)
    raise AttributeError(f"module 'calmday' has no attribute {name!r}")
