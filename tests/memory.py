"""The most memory that a piece of work holds, as in a process of its own."""

from __future__ import annotations

import gc
import tracemalloc
from collections.abc import Callable


def peak_bytes(work: Callable[[], object]) -> int:
    """The most that is held while ``work`` runs.

    What other tests hold is set aside meanwhile: it would make each collection slow, and put many of them
    off.
    """
    gc.collect()
    gc.freeze()
    gc.collect()
    tracemalloc.start()
    try:
        work()
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
        gc.unfreeze()
