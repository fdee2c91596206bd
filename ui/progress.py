"""Say on standard error how far a long run has come; a run of less than a second says nothing."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import TypeVar

from acquire.files.atomic import LEFT_BEHIND_S, clear_left_behind

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


def clear_parts(*paths: Path, older_than_s: float = LEFT_BEHIND_S) -> None:
    """Remove what killed runs left half written beside files that are about to be made, and say so.

    Parameters
    ----------
    *paths : Path
        The files.
    older_than_s : float
        As of `acquire.files.atomic.clear_left_behind`.
    """
    for path in paths:
        for part in clear_left_behind(path, older_than_s=older_than_s):
            say(f"removed {part}, which an earlier run left half written")
