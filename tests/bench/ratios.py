"""How many times as long one thing takes as another, on a machine that is busy with other things too."""

from __future__ import annotations

import gc
import statistics
import time
from collections.abc import Callable


def seconds(work: Callable[[], object]) -> float:
    """Return how long a piece of work takes, with the garbage collector out of the way."""
    gc.collect()
    gc.disable()
    try:
        begun = time.perf_counter()
        work()
        return time.perf_counter() - begun
    finally:
        gc.enable()


def ratio(candidate: Callable[[], object], reference: Callable[[], object], repeats: int = 15) -> float:
    """Return the candidate's time over the reference's: the median over pairs that ran side by side.

    Each pair meets the same weather (clock speed, neighbours), and the order within a pair alternates.
    One pair more is run first, to warm up, and not counted.
    """
    ratios = []
    for turn in range(repeats + 1):
        if turn % 2:
            slow, fast = seconds(candidate), seconds(reference)
        else:
            fast, slow = seconds(reference), seconds(candidate)
        ratios.append(slow / fast)
    return statistics.median(ratios[1:])
