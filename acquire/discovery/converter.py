"""How wide the converter is, by the numbers it sends."""

from __future__ import annotations

import numpy as np

from acquire.discovery.findings import Confidence, Finding
from acquire.values.arrays import FloatArray

WIDTHS = (16, 24, 32)
AT_LIMIT = 3
"""So many samples on a limit are no chance."""
SMALL_WIDTHS = range(8, 16)
"""Converters inside of microcontrollers, which send counts from 0 up."""


def count_bits(counts: FloatArray, *, sent_as: int | None = None) -> Finding:
    """Return the width of the converter.

    Parameters
    ----------
    counts : ndarray, shape (n,)
        Whole counts; NaN is left out.
    sent_as : int, optional
        Bits a count takes in packets.

    Examples
    --------
    >>> count_bits(np.array([1200.0, 90_000.0])).value
    24
    """
    seen = counts[np.isfinite(counts)]
    low, high = (float(seen.min()), float(seen.max())) if len(seen) else (0.0, 0.0)
    for bits in WIDTHS:
        half = 2.0 ** (bits - 1)
        if np.sum(seen == half - 1.0) + np.sum(seen == -half) >= AT_LIMIT and -half <= low and high < half:
            return _finding(bits, Confidence.SURE, f"it stops at {half - 1.0 if high == half - 1.0 else -half:,.0f}")
    if sent_as is not None:
        return _finding(sent_as, Confidence.SURE, f"each count in a packet takes {sent_as} bits")
    fits = next((bits for bits in WIDTHS if -(2.0 ** (bits - 1)) <= low and high < 2.0 ** (bits - 1)), 32)
    told = f"counts from {low:,.0f} to {high:,.0f} were seen"
    if fits == 32:
        return _finding(32, Confidence.SURE, f"{told}, beyond 24 bits")
    if fits == 24:
        return _finding(24, Confidence.LIKELY, f"{told}, beyond 16 bits")
    return _finding(24, Confidence.LIKELY, f"{told}: any width fits, 24 bits are usual and take no count for damage")


def limit_of_small(counts: FloatArray) -> int | None:
    """Return the highest count of a converter that sends from 0 up and was seen to stop; None for others.

    Examples
    --------
    >>> limit_of_small(np.array([0.0, 512.0, 1023.0, 1023.0, 1023.0]))
    1023
    """
    seen = counts[np.isfinite(counts)]
    if not len(seen) or seen.min() < 0.0:
        return None
    tops = [2**bits - 1 for bits in SMALL_WIDTHS]
    return next((top for top in tops if seen.max() == top and np.sum(seen == top) >= AT_LIMIT), None)


def _finding(bits: int, confidence: Confidence, why: str) -> Finding:
    return Finding(key="count_bits", value=bits, confidence=confidence, why=why)
