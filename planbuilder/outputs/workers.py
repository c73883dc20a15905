"""The same work for many runners: on all cores, answers in order, never more than a few at hand.

Receives: a function of a shared state and an item, the state, the items.
Gives: the answers in the order of the items, whatever the number of workers. Ctrl-C ends the workers first;
whoever kills the parent ends them too.
"""

from __future__ import annotations

import multiprocessing
import os
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable
from typing import Any, Final, TypeVar

State = TypeVar("State")
Item = TypeVar("Item")
Answer = TypeVar("Answer")

HANDFUL: Final = 8  # below it, starting workers costs more than they save
_AHEAD: Final = 4  # items a worker may be ahead of the reader

_held: Any = None  # in a worker: the function and the state that all items share


def cores() -> int:
    """Cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def jobs_for(items: int) -> int:
    """Processes worth starting for so many items."""
    return cores() if items > HANDFUL else 1


def in_order(
    work: Callable[[State, Item], Answer], state: State, items: Iterable[Item], *, jobs: int
) -> Generator[Answer, None, None]:
    """``work(state, item)`` for every item. An exception of one is raised here, and the rest is dropped."""
    if jobs <= 1:
        for item in items:
            yield work(state, item)
        return
    from concurrent.futures import Future, ProcessPoolExecutor

    pool = ProcessPoolExecutor(jobs, initializer=_hold, initargs=(work, state))
    waiting: deque[Future[Answer]] = deque()
    try:
        for item in items:
            waiting.append(pool.submit(_one, item))
            if len(waiting) >= jobs * _AHEAD:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()
    finally:
        pool.shutdown(wait=True, cancel_futures=True)


def _hold(work: Callable[[Any, Any], Any], state: Any) -> None:
    global _held
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent hears it and ends the pool
    _held = work, state
    threading.Thread(target=_end_with_the_parent, daemon=True).start()


def _end_with_the_parent() -> None:
    """A worker whose parent was killed would wait for work for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        parent.join()
        os._exit(1)


def _one(item: Any) -> Any:
    work, state = _held
    return work(state, item)
