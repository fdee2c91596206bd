"""Rate of force development: in fixed bands from the onset, and at its steepest."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from acquire.values.arrays import FloatArray

BANDS_MS = (50, 100, 150, 200, 250)
"""The bands run from the onset to these times."""

STEEPEST_S = 0.02
"""The window of the steepest rate."""


def rate_of_force_development(
    force: FloatArray, sample_rate: float, *, start: int, bands_ms: Iterable[int] = BANDS_MS
) -> dict[str, float]:
    """Return the mean slope of the force from `start` to the end of each band that lies within the record.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Newtons, evenly sampled, unfiltered; NaN at either end of a band gives NaN.
    sample_rate : float
        Samples per second, Hz.
    start : int
        The sample of the onset.
    bands_ms : iterable of int
        Lengths of the bands, ms.

    Returns
    -------
    dict
        Newtons per second by band, ``"0-50"`` and so on.

    Raises
    ------
    ValueError
        If `sample_rate` is not positive, or `start` is not a sample of the record.

    References
    ----------
    Haff et al. 2015, J Strength Cond Res 29:386-395 (fixed bands are reliable; peak over time to peak is not).
    Maffiuletti et al. 2016, Eur J Appl Physiol 116:1091-1116.

    Examples
    --------
    >>> rate_of_force_development(np.arange(200.0), 1000.0, start=0, bands_ms=[50, 100])
    {'0-50': 1000.0, '0-100': 1000.0}
    """
    if not sample_rate > 0.0:
        raise ValueError(f"sample_rate must be positive, got {sample_rate} Hz")
    if not 0 <= start < len(force):
        raise ValueError(f"start must be a sample of the record of {len(force)}, got {start}")
    ends = {band: start + round(band * sample_rate / 1000.0) for band in bands_ms}
    return {
        f"0-{band}": float(force[end] - force[start]) / (band / 1000.0)
        for band, end in ends.items()
        if end < len(force)
    }


def steepest_rate(force: FloatArray, sample_rate: float) -> float:
    """Return the largest least-squares slope of the force over any 20 ms.

    A slope by regression is some 1.4 times less noisy than the difference of the two ends.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Newtons, evenly sampled, no NaN.
    sample_rate : float
        Samples per second, Hz; at least 150, so that the window holds three samples.

    Returns
    -------
    float
        Newtons per second; NaN when the record is shorter than the window.

    References
    ----------
    Haff et al. 2015, J Strength Cond Res 29:386-395 (the window of 20 ms).

    Examples
    --------
    >>> round(steepest_rate(np.concatenate([np.zeros(50), np.arange(50.0)]), 1000.0))
    1000
    """
    weights = slope_weights(sample_rate)
    if len(force) < len(weights):
        return float("nan")
    return float(np.convolve(force, weights[::-1], mode="valid").max())


def slope_weights(sample_rate: float) -> FloatArray:
    """Return the weights whose dot product with a window of 20 ms is its least-squares slope, per second.

    Parameters
    ----------
    sample_rate : float
        Samples per second, Hz, at least 50.

    Returns
    -------
    ndarray, shape (n,)
        One weight for each sample of the window, 1/s.

    Examples
    --------
    A force that rises by 2 N a sample at 100 Hz rises by 200 N/s.

    >>> float(slope_weights(100.0) @ np.array([10.0, 12.0, 14.0]))
    200.0
    """
    count = round(STEEPEST_S * sample_rate) + 1
    centred = (np.arange(count) - (count - 1) / 2.0) / sample_rate
    return np.asarray(centred / (centred @ centred))


def slope_noise(noise: float, sample_rate: float) -> float:
    """Return the standard deviation of a 20 ms slope that comes from white noise alone.

    Parameters
    ----------
    noise : float
        Standard deviation of the force, N.
    sample_rate : float
        Samples per second, Hz, at least 50.

    Returns
    -------
    float
        N/s.

    Examples
    --------
    Noise of 1 N gives a sensor of 1 kHz slopes of 36 N/s.

    >>> round(slope_noise(1.0, 1000.0))
    36
    """
    weights = slope_weights(sample_rate)
    return float(noise * np.sqrt(weights @ weights))
