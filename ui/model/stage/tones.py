"""A short tone for every cue and verdict, each told from the others by its pitch and by its rhythm.

A tone is a few notes. Rising means more effort or good news, falling means less. All of them lie between 260 and
1320 Hz, where small loudspeakers and older ears are still good. Each note begins and ends in half a cosine, so that
nothing clicks. The pitches are those of the equal-tempered scale, the patterns are ours.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

RATES_HZ = (48_000, 44_100)
"""Sample rates that every sound device has one of."""

PEAK = 0.45
FADE_S = 0.012
"""How long a note takes to rise and to fall."""

OVERTONE = 0.2
"""Share of the octave above, for a tone that is less like a whistle."""


class Note(NamedTuple):
    """One note and the rest after it, in Hz and s."""

    hz: float
    seconds: float
    rest: float = 0.05


TONES: dict[str, tuple[Note, ...]] = {
    # two calm knocks: the examiner's turn
    "place": (Note(392.0, 0.14, 0.10), Note(392.0, 0.14)),
    # one short call
    "set": (Note(523.3, 0.12),),
    # the starting signal: long and high
    "go": (Note(784.0, 0.40),),
    # a single tick, for the person is working
    "build": (Note(659.3, 0.06),),
    # reached: a tick, then one that stays
    "hold": (Note(880.0, 0.07, 0.04), Note(880.0, 0.30)),
    # the end: a long fall
    "stop": (Note(440.0, 0.10, 0.0), Note(261.6, 0.50)),
    # one calm note, neither up nor down
    "paused": (Note(440.0, 0.26),),
    "rest": (Note(392.0, 0.20, 0.08), Note(349.2, 0.28)),
    # a call for help: four quick ones, high and low
    "lost": (Note(1174.7, 0.10, 0.03), Note(740.0, 0.08, 0.03), Note(1174.7, 0.10, 0.03), Note(740.0, 0.08)),
    # a small fanfare
    "done": (Note(659.3, 0.10, 0.02), Note(784.0, 0.10, 0.02), Note(1046.5, 0.10, 0.02), Note(1318.5, 0.36)),
    # while the person pushes: three that fall
    "slower": (Note(740.0, 0.08, 0.03), Note(659.3, 0.08, 0.03), Note(587.3, 0.20)),
    "accepted": (Note(659.3, 0.09, 0.03), Note(987.8, 0.20)),
    "rejected": (Note(440.0, 0.10, 0.06), Note(370.0, 0.10, 0.06), Note(311.1, 0.26)),
}
"""The tones by name: the cues of `ui.session.cues`, but for HALTED, which sounds as STOP, the verdicts,
and `slower`."""


@cache
def tone(name: str, rate_hz: int = RATES_HZ[0]) -> Samples:
    """Return the samples of a tone.

    Parameters
    ----------
    name : str
        One of `TONES`.
    rate_hz : int
        Sample rate, Hz.

    Returns
    -------
    ndarray of float32, shape (n,)
        Between -`PEAK` and `PEAK`; 0 at both ends. Not to be written to.

    Raises
    ------
    KeyError
        If there is no such tone.

    Examples
    --------
    >>> samples = tone("go", 48_000)
    >>> samples.dtype.name, float(samples[0]), float(samples[-1])
    ('float32', 0.0, 0.0)
    """
    notes = TONES[name]
    parts = [part for note in notes for part in (_sounding(note, rate_hz), np.zeros(round(note.rest * rate_hz)))]
    loose = np.concatenate(parts)
    samples: Samples = (PEAK / np.max(np.abs(loose)) * loose).astype(np.float32)
    samples.setflags(write=False)
    return samples


def _sounding(note: Note, rate_hz: int) -> NDArray[np.float64]:
    count = round(note.seconds * rate_hz)
    phase = 2.0 * np.pi * note.hz * np.arange(count) / rate_hz
    return _envelope(count, round(FADE_S * rate_hz)) * (np.sin(phase) + OVERTONE * np.sin(2.0 * phase))


def _envelope(count: int, fade: int) -> NDArray[np.float64]:
    """Return ones that rise from 0 and fall to 0 in half a cosine, shape (count,)."""
    level = np.ones(count)
    rise = 0.5 - 0.5 * np.cos(np.pi * np.arange(fade) / fade)
    level[:fade] = rise
    level[-fade:] = rise[::-1]
    return level


def as_bytes(samples: Samples, *, channels: int, whole: bool) -> bytes:
    """Return samples as a sound device takes them: interleaved, float32, or int16 when `whole`.

    Examples
    --------
    >>> as_bytes(np.array([0.0, 0.5], dtype=np.float32), channels=2, whole=True).hex()
    '00000000ff3fff3f'
    """
    values = (32767.0 * samples).astype("<i2") if whole else samples.astype("<f4")
    return np.repeat(values, channels).tobytes()
