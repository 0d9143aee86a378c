"""The command `calmday`: how its process begins and ends."""

from __future__ import annotations

import gc
import os

_SELDOM = 100_000
"""New objects between two searches for cycles. Reading the modules makes tens of thousands of lasting ones, and a
reduction next to no cycles: searches at the usual 700 find nothing, and take 3 % of a reduced run."""


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; the exit status is returned, never raised. See `exit_status` for its meaning."""
    _one_thread_for_linear_algebra()
    gc.set_threshold(_SELDOM)
    from calmday.cli.verbs import run  # noqa: PLC0415  (what it loads is not searched for cycles either)

    status = run(arguments)
    if arguments is None:
        gc.freeze()  # the interpreter ends now, and need not look for cycles first
    return status


def _one_thread_for_linear_algebra() -> None:
    """Said before numpy is loaded: its matrix products are many and small here, and sharing them out costs more than it
    saves, many times more where other programs want the processors too. Whoever sets these variables is obeyed."""
    for name in ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS", "VECLIB_MAXIMUM_THREADS"):
        os.environ.setdefault(name, "1")
