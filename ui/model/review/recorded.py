"""Which protocol the trials of a file were recorded under, and where it is found again.

With each verdict a session stores the name of its protocol and a hash of the limits. The protocol itself is looked for
among those that come with the program and the user's own files; equal hashes are equal limits.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from acquire.values.records import Trial
from analysis.errors import ProtocolError
from analysis.trial.protocol import Protocol, known_protocols, load_protocol


@dataclass(frozen=True, slots=True)
class Recorded:
    """What a session says of the protocol its trials were judged by when they were recorded."""

    name: str
    hash: str


def recorded_under(trials: Iterable[Trial]) -> Recorded | None:
    """Return the protocol that most trials were recorded under, the later one of two; None where none is stored.

    Examples
    --------
    >>> recorded_under([]) is None
    True
    """
    stored = [found for trial in trials if (found := recorded_of(trial)) is not None]
    counted = Counter(stored)
    return max(reversed(stored), key=lambda each: counted[each], default=None)


def recorded_of(trial: Trial) -> Recorded | None:
    """Return the protocol that is stored with the verdict of a trial; None without one."""
    kept: Any = trial.verdict
    named = (kept or {}).get("protocol") or {}
    return Recorded(str(named["name"]), str(named["hash"])) if {"name", "hash"} <= set(named) else None


def found_again(recorded: Recorded, own: Iterable[str] = ()) -> Protocol | None:
    """Return the protocol with the same limits, None where it is not on this computer.

    Parameters
    ----------
    recorded : Recorded
        What the session says.
    own : iterable of str
        Paths of the user's own protocol files; one that cannot be read is passed over.

    Examples
    --------
    >>> standard = load_protocol()
    >>> found_again(Recorded("ramp-and-hold", standard.hash)) == standard
    True
    >>> found_again(Recorded("ramp-and-hold", "0123456789abcdef")) is None
    True
    """
    names = sorted(known_protocols(), key=lambda name: name != recorded.name)
    for name in (*names, *own):
        with suppress(ProtocolError):
            protocol = load_protocol(name)
            if protocol.hash == recorded.hash:
                return protocol
    return None
