"""The strongest tone in the noise of an unloaded sensor, and whether it is the mains.

The power spectrum is averaged over overlapping stretches of a second, each tapered (Hann), so that one line of
white noise hardly ever stands out. A tone above half the sample rate shows at another place, folded back; the
mains and its second and third harmonics are looked for where they would show.

References
----------
Welch, P. D. (1967), The use of fast Fourier transform for the estimation of power spectra, IEEE Transactions on
Audio and Electroacoustics 15, 70-73 (from memory).
IEC 60038:2009: 50 Hz and 60 Hz as standard frequencies (from memory).
"""

from __future__ import annotations

import math

import msgspec
import numpy as np

from acquire.values.arrays import FloatArray

SEGMENT_S = 1.0
LEAST_SEGMENT = 16
LEAST_SEGMENTS = 3
STANDS_OUT = 6.0
"""A tone has so many times the power of the median line."""
MAINS_HZ = (50.0, 60.0)
HARMONICS = (1, 2, 3)
NEAR_LINES = 1.5
"""A tone may be so many lines of the spectrum off: the grid wanders by 0.2 Hz, the sensor's clock by more."""
LEAKAGE = 2
"""Lines beside a tone that hold its power under the taper."""


class Tone(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A tone in the noise."""

    frequency_hz: float
    """Where it shows, to the nearest line of the spectrum."""
    rms_n: float
    """Root mean square, N."""
    mains_hz: float | None
    """50 or 60 Hz, when it is where that mains or one of its first harmonics shows; None when it is neither."""


def strongest_tone(force: FloatArray, rate_hz: float) -> Tone | None:
    """Return the tone that stands out most from the noise; None when none does, or the stretch is too short.

    Parameters
    ----------
    force : ndarray, shape (n,)
        N, evenly sampled, drift removed, no sample lost: with a NaN no tone is found.
    rate_hz : float
        True samples per second.

    Examples
    --------
    >>> time = np.arange(10_000) / 1000.0
    >>> hum = 0.2 * np.sin(2 * np.pi * 50.0 * time) + np.random.default_rng(1).normal(0.0, 0.1, 10_000)
    >>> tone = strongest_tone(hum, 1000.0)
    >>> tone.frequency_hz, round(tone.rms_n, 2), tone.mains_hz
    (50.0, 0.14, 50.0)
    """
    size = round(SEGMENT_S * rate_hz)
    if size < LEAST_SEGMENT or len(force) < LEAST_SEGMENTS * size:
        return None
    power = _spectrum(force, size)
    # the lowest lines hold what is left of drift
    lines = power[LEAKAGE:]
    top = int(np.argmax(lines)) + LEAKAGE
    floor = float(np.median(lines))
    if not power[top] > STANDS_OUT * floor > 0.0:
        return None
    part = power[max(0, top - LEAKAGE) : top + LEAKAGE + 1]
    frequency = top * rate_hz / size
    return Tone(
        frequency_hz=frequency,
        rms_n=math.sqrt(max(float(part.sum()) - floor * len(part), 0.0)),
        mains_hz=_mains(frequency, rate_hz, NEAR_LINES * rate_hz / size),
    )


def _spectrum(force: FloatArray, size: int) -> FloatArray:
    """Return the mean power of each line, scaled so that the lines add up to the variance."""
    taper = 0.5 - 0.5 * np.cos(2.0 * np.pi * np.arange(size) / size)
    starts = range(0, len(force) - size + 1, size // 2)
    parts = np.stack([force[at : at + size] for at in starts])
    parts = (parts - parts.mean(axis=1, keepdims=True)) * taper
    power = (np.abs(np.fft.rfft(parts, axis=1)) ** 2).mean(axis=0)
    power[1:] *= 2.0
    return np.asarray(power / (size * float((taper**2).sum())))


def _mains(frequency: float, rate_hz: float, near: float) -> float | None:
    """Return the mains whose lowest harmonic shows at a frequency."""
    found = [
        (harmonic, mains)
        for harmonic in HARMONICS
        for mains in MAINS_HZ
        if abs(folded(harmonic * mains, rate_hz) - frequency) <= near
    ]
    return min(found)[1] if found else None


def folded(frequency_hz: float, rate_hz: float) -> float:
    """Return where a frequency shows when it is sampled: at itself up to half the rate, else folded back.

    Examples
    --------
    >>> folded(50.0, 1000.0), folded(50.0, 80.0), folded(60.0, 80.0)
    (50.0, 30.0, 20.0)
    """
    rest = frequency_hz % rate_hz
    return min(rest, rate_hz - rest)
