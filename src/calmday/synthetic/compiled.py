"""Machine code for the inner loops where numba is installed, plain Python where not: the same figures."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar, cast

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile with numba and keep the machine code on disk; without numba the function itself."""
    try:
        import numba  # noqa: PLC0415  # heavy and optional
    except ImportError:
        return function
    return cast(Function, numba.njit(cache=True)(function))
