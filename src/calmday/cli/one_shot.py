"""What a process that reduces one run and ends can do without."""

from __future__ import annotations

import sys

_KEPT_BYTES = 31 << 20


def keep_freed_memory() -> None:
    """Let freed memory stay with the process, which is about to end.

    The allocator of most Linux systems hands every large freed block back to the system and asks for it again page by
    page, until it has seen a larger one freed: it is shown one that was never touched and so takes no memory.
    """
    if sys.platform == "linux":
        bytes(_KEPT_BYTES)
