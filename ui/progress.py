"""Say on standard error how far a long run has come; a run of less than a second says nothing."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Thing = TypeVar("Thing")

EVERY_S = 1.0


def say(text: str) -> None:
    """Say one line at once."""
    print(text, file=sys.stderr, flush=True)


def counted(things: Sequence[Thing], what: str, *, clock: Callable[[], float] = time.monotonic) -> Iterator[Thing]:
    """Yield each thing, and say every second how many have been done.

    Parameters
    ----------
    things : sequence
        What is worked through.
    what : str
        What they are called, in the plural.
    clock : callable
        Monotonic seconds.
    """
    said = clock()
    for done, thing in enumerate(things):
        if clock() - said >= EVERY_S:
            said = clock()
            say(f"{done} of {len(things)} {what}")
        yield thing
