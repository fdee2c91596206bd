"""How steady a hold is: coefficient of variation, trend, and the share of a band of frequencies."""

from __future__ import annotations

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.windows import slope

TAPERED = 0.1
"""Either end of a record is tapered over this share of it."""


def coefficient_of_variation(force: FloatArray) -> float:
    """Return the standard deviation of a record as a percentage of its mean.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Any unit; NaN is left out. At least two values.

    Returns
    -------
    float
        Per cent, with the sample standard deviation (n - 1).

    Raises
    ------
    ValueError
        If fewer than two values are real, or their mean is 0.

    Examples
    --------
    >>> round(coefficient_of_variation(np.array([9.0, 10.0, 11.0])), 9)
    10.0
    """
    real = force[~np.isnan(force)]
    if len(real) < 2:
        raise ValueError(f"force must hold at least 2 values, got {len(real)}")
    mean = float(real.mean())
    if mean == 0.0:
        raise ValueError("force must have a mean other than 0 N for a coefficient of variation")
    return float(100.0 * real.std(ddof=1) / abs(mean))


def fatigue_index_pct(force: FloatArray, width: int) -> float:
    """Return by how much a held force falls from its first stretch to its last, as a percentage of the first.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Newtons, no NaN; at least twice as long as a stretch.
    width : int
        Samples of a stretch.

    Returns
    -------
    float
        Per cent; negative where the force rises.

    Raises
    ------
    ValueError
        If the record is shorter than two stretches, or the mean of the first is not above 0.

    References
    ----------
    Decline of force as a share of what it was at first: common practice, no source.

    Examples
    --------
    >>> fatigue_index_pct(np.array([200.0, 200.0, 190.0, 180.0, 180.0]), 2)
    10.0
    """
    if len(force) < 2 * width:
        raise ValueError(f"force must hold at least {2 * width} values, got {len(force)}")
    first, last = float(force[:width].mean()), float(force[-width:].mean())
    if not first > 0.0:
        raise ValueError(f"the first stretch must have a mean above 0, got {first} N")
    return 100.0 * (first - last) / first


def trend_pct_per_s(time: FloatArray, force: FloatArray) -> float:
    """Return the least-squares slope of a record as a percentage of its mean, per second.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Seconds and newtons, no NaN, of a mean that is not 0.

    Returns
    -------
    float
        % per second; NaN for fewer than two samples.

    Examples
    --------
    >>> round(trend_pct_per_s(np.array([0.0, 1.0, 2.0]), np.array([90.0, 100.0, 110.0])), 9)
    10.0
    """
    return 100.0 * slope(time, force) / float(force.mean())


def band_rms(force: FloatArray, sample_rate: float, *, low_hz: float, high_hz: float) -> float:
    """Return the root mean square of the part of a record between two frequencies.

    The record is freed of its straight-line trend and tapered at both ends, so that slow drift does not leak into
    the band; the power is corrected for the taper. The middle counts in full: tremor comes and goes.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Any unit, evenly sampled, no NaN.
    sample_rate : float
        Samples per second, Hz.
    low_hz, high_hz : float
        The band, ends included.

    Returns
    -------
    float
        In the unit of `force`.

    Raises
    ------
    ValueError
        If the record is shorter than two periods of `low_hz`, or `high_hz` is not below half of `sample_rate`.

    References
    ----------
    Oppenheim and Schafer, Discrete-Time Signal Processing, ch. 10 (windowed periodogram), from memory.
    Bingham, Godfrey and Tukey 1967, IEEE Trans Audio Electroacoust 15:56-66 (tapered cosine), from memory.

    Examples
    --------
    >>> time = np.arange(2000) / 1000.0
    >>> round(band_rms(np.sin(2 * np.pi * 8.0 * time), 1000.0, low_hz=4.0, high_hz=12.0), 3)
    0.707
    """
    count = len(force)
    if count < 2.0 * sample_rate / low_hz:
        raise ValueError(f"force must last at least {2.0 / low_hz} s, got {count / sample_rate:.3g} s")
    if not high_hz < sample_rate / 2.0:
        raise ValueError(f"high_hz must be below half the sample rate, got {high_hz} Hz at {sample_rate} Hz")
    steps = np.arange(count) - (count - 1) / 2.0
    level = force - force.mean()
    level -= steps * (steps @ level / (steps @ steps))
    taper = 0.5 - 0.5 * np.cos(np.pi * np.minimum(1.0, (0.5 * count - np.abs(steps)) / (TAPERED * count)))
    spectrum = np.abs(np.fft.rfft(level * taper)) ** 2
    resolution = sample_rate / count
    low, high = round(np.ceil(low_hz / resolution)), round(np.floor(high_hz / resolution))
    power = 2.0 * float(spectrum[low : high + 1].sum()) / count**2
    return float(np.sqrt(power / np.mean(taper**2)))
