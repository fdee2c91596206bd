"""Preload: a near-constant force between rest and ramp, which the ramp starts from."""

from __future__ import annotations

import numpy as np

from analysis.trial.effort import Effort
from analysis.trial.onset import THRESHOLD_SDS, THRESHOLD_SHARE
from analysis.trial.protocol import Preload
from analysis.trial.windows import LEVEL_BLOCK_S, block_means, last_true

MOST_SHARE = 0.5
"""No preload is higher than this share of the plateau."""

RISING_SHARE = 0.5
"""A stretch that rises by more than this share of its own level is the toe of a slow ramp."""


def preload_level(effort: Effort, rule: Preload, *, plateau: float, stop: int) -> float:
    """Return the level of a near-constant stretch between rest and the ramp's foot; 0 when there is none.

    Parameters
    ----------
    effort : Effort
        A prepared trace.
    rule : Preload
        How constant, for how long.
    plateau : float
        The plateau force, N.
    stop : int
        The first sample of the effort at which the ramp is under way.

    Returns
    -------
    float
        Newtons above the zero.

    Examples
    --------
    >>> from acquire.values.records import Trace
    >>> from analysis.trial.effort import prepare
    >>> from analysis.trial.protocol import load_protocol
    >>> time = np.arange(0.0, 8.0, 0.001)
    >>> force = np.interp(time, [0.0, 1.0, 1.2, 2.5, 4.0, 8.0], [0.0, 0.0, 30.0, 30.0, 200.0, 200.0])
    >>> effort = prepare(Trace(time=time, force=force), smoothing_s=0.05)
    >>> round(preload_level(effort, load_protocol().preload, plateau=200.0, stop=3100))
    30
    """
    width = effort.samples(LEVEL_BLOCK_S)
    levels = block_means(effort.force[:stop], width)
    count = max(2, round(rule.constant_for_s / LEVEL_BLOCK_S))
    if len(levels) < count:
        return 0.0
    windows = np.lib.stride_tricks.sliding_window_view(levels, count)
    change = rule.constant_pct_per_s / 100.0 * rule.constant_for_s * plateau
    floor = max(THRESHOLD_SDS * effort.noise, THRESHOLD_SHARE * plateau)
    means = windows.mean(axis=1)
    constant = np.ptp(windows, axis=1) < change
    toe = np.ptp(windows, axis=1) >= RISING_SHARE * means
    level = constant & ~toe & (means > floor) & (means < MOST_SHARE * plateau)
    last = last_true(level, 0, len(level))
    rest = last_true(levels <= floor, 0, len(levels))
    left = -1 if rest is None else rest
    if last is None or last < left:
        return 0.0
    first = last_true(~level, 0, last)
    first = 0 if first is None else first + 1
    # a stall in a slow ramp is shorter than the climb to it
    return float(means[last]) if last + count - first >= first - left else 0.0
