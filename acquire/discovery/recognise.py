"""Which of the known profiles fits what a sensor sends: nobody needs to be asked, and nobody needs to push.

A profile fits when nearly all bytes are samples by it and they come about as often as it says. Profiles that differ in
nothing but their sensitivity cannot be told apart by this; the one that was used last is taken then.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from acquire.decoders import Damage, decoder_for
from acquire.decoders.events import PARTIAL_FIRST
from acquire.links.base import Chunk
from acquire.sensor.profile import Profile
from acquire.values.arrays import FloatArray

MOST_DAMAGED = 0.1
"""Of the bytes: even a bad cable loses less."""
FASTEST, SLOWEST = 1.5, 0.6
"""Times the nominal rate; oscillators differ by hundredths, settings of one sensor by a factor of two and more."""
LEAST_SAMPLES = 8
LEAST_S = 0.5
"""A shorter stretch says nothing of the rate."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitting:
    """A profile that fits, and what was read by it."""

    profile: Profile
    rate_hz: float
    """Samples a second, by their arrivals."""
    counts: FloatArray
    """Shape (n,), one a sample; newtons for a sensor that sends newtons."""


def recognise(chunks: Sequence[Chunk], profiles: Iterable[Profile], *, first: Profile | None = None) -> Fitting | None:
    r"""Return the profile that fits a stream; None where none does.

    Parameters
    ----------
    chunks : sequence of Chunk
        What came, with its arrivals, s.
    profiles : iterable of Profile
        Those to choose from.
    first : Profile, optional
        Taken wherever it fits: the one that was used last.

    Examples
    --------
    >>> from acquire.sensor.profile import known_profiles
    >>> chunks = [Chunk(k / 80.0, b"%d\n" % (1000 + k % 3)) for k in range(80)]
    >>> recognise(chunks, known_profiles()).profile.name
    'bridge-80'
    """
    own = None if first is None else _fitting(first, chunks)
    if own is not None:
        return own
    found = [fitting for profile in profiles if (fitting := _fitting(profile, chunks)) is not None]
    return min(found, key=lambda each: abs(math.log(each.rate_hz / each.profile.rate_hz)), default=None)


def _fitting(profile: Profile, chunks: Sequence[Chunk]) -> Fitting | None:
    decoder = decoder_for(profile)
    counts: list[float] = []
    wasted = since_first = 0
    for number, chunk in enumerate(chunks):
        for event in decoder.feed(chunk.data):
            if isinstance(event, Damage):
                wasted += 0 if event.reason in PARTIAL_FIRST else event.length
            else:
                counts += event.counts
        if number == 0:
            since_first = len(counts)
    seconds = chunks[-1].arrival - chunks[0].arrival if chunks else 0.0
    received = sum(len(chunk.data) for chunk in chunks)
    if seconds < LEAST_S or len(counts) < LEAST_SAMPLES or wasted > MOST_DAMAGED * received:
        return None
    rate = (len(counts) - since_first) / seconds
    if not SLOWEST <= rate / profile.rate_hz <= FASTEST:
        return None
    return Fitting(profile=profile, rate_hz=rate, counts=np.asarray(counts, dtype=np.float64))
