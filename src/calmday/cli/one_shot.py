"""What a process that reduces one run and ends can do without."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager

_KEPT_BYTES = 31 << 20


@contextmanager
def one_shot() -> Iterator[None]:
    """Within it nothing is collected and freed memory is kept: the process is about to end, which clears everything.

    A reduction leaves next to no cycles, so collecting finds nothing. The allocator of most Linux systems hands every
    large freed block back to the system and asks for it again page by page, until it has seen a larger one freed: it
    is shown one that was never touched and so takes no memory.
    """
    collecting = gc.isenabled()
    gc.disable()
    if sys.platform == "linux":
        bytes(_KEPT_BYTES)
    try:
        yield
    finally:
        if collecting:
            gc.enable()
