"""Where an effort begins, and how surely.

Two rules place the onset.

*Threshold.* Going backward from the ramp, the last sample at or below the baseline plus the larger of
five standard deviations of the noise and 2 % of the plateau. It never fires on noise and it is always
late: by 20 ms on a straight ramp of a second, by 200 ms on a slow toe.

*Toe.* Rest and early ramp together, up to 15 % of the plateau, are taken as a baseline that a power law
leaves at t0: ``force = b + a max(0, t - t0)**p``. For each t0 and p of a grid, a and b follow by linear
regression; the grid is refined around the best t0 of each p, and the pair with the least squared error is kept.
The exponent lets the toe be what it is: 1 a straight ramp, 2 a parabola, 3 a toe of least jerk. The rest
before the onset takes part, since the eye too sees an onset by what is not yet there.

The onset reported is t0. Its uncertainty is how far the first sign of the effort lies from it: going backward from
the threshold, the last sample at or below the larger of five standard deviations and 0.5 % of the plateau. An
uncertainty that is a good part of a band says that the early rate of force development would be a property of the
rule, not of the person.

All of it is done on the force as it came: a mean of 20 ms begins to rise 10 ms before the force does.

References
----------
Maffiuletti et al. 2016, Eur J Appl Physiol 116:1091-1116 (thresholds in baseline SD).
Tillin et al. 2010, 2013 and Dotan et al. 2016 (thresholds are late, the more so in slow people), from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from acquire.values.arrays import FloatArray
from analysis.trial.windows import block_means, first_true, last_true

THRESHOLD_SDS = 5.0
THRESHOLD_SHARE = 0.02
"""The threshold above the baseline: SDs of the noise, or share of the plateau, whichever is larger."""

SIGN_SHARE = 0.005
"""The first sign of an effort: a force above the noise and this share of the plateau."""

TOE_TOP = 0.15
"""The toe ends at this share of the plateau."""

EXPONENTS = np.array([1.0, 1.4, 1.7, 2.0, 2.3, 2.6, 3.0])

STRAIGHT_IS_LIKELIER = 0.9
"""A straight ramp is believed unless a toe fits better by more than this: chance alone does a little."""

REACH_S = 0.4
"""The toe is never carried back further than this from the threshold."""

REST_S = 0.2
"""So much rest before that takes part in the fit."""

GRID = 17
FINER = 8
POINTS = 70
"""Onsets that are tried for each exponent, how much finer they are tried again around the best one, and on how
many means of the force."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Onset:
    """The beginning of an effort."""

    time: float
    """Seconds, by the toe rule."""
    threshold_time: float
    """Seconds, by the threshold rule."""
    sign_time: float
    """Seconds, by the first sign of it."""

    @property
    def uncertainty(self) -> float:
        """How far the first sign of the effort is from the onset, s."""
        return abs(self.sign_time - self.time)


def threshold_onset(force: FloatArray, threshold: float, *, before: int) -> int | None:
    """Return the sample after the last one at or below `threshold`, going backward from `before`.

    Parameters
    ----------
    force : ndarray, shape (n,)
        Newtons, no NaN.
    threshold : float
        Newtons.
    before : int
        Where to begin going backward; a sample of the ramp.

    Returns
    -------
    int or None
        None when the force never was that low before.

    Examples
    --------
    >>> threshold_onset(np.array([0.0, 0.0, 5.0, 10.0]), 1.0, before=3)
    2
    """
    last = last_true(force <= threshold, 0, before)
    return None if last is None else last + 1


def find_onset(
    time: FloatArray,
    force: FloatArray,
    *,
    baseline: float,
    plateau: float,
    noise: float,
    before: int,
    sample_rate: float,
) -> Onset | None:
    """Return the onset of the effort whose ramp holds sample `before`.

    Parameters
    ----------
    time, force : ndarray, shape (n,)
        Seconds and newtons, unfiltered, no NaN.
    baseline : float
        The level that the ramp leaves, N.
    plateau : float
        The level that the ramp reaches, N, above `baseline`.
    noise : float
        Standard deviation of the noise, N.
    before : int
        A sample well up the ramp.
    sample_rate : float
        Samples per second, Hz.

    Returns
    -------
    Onset or None
        None when the trace begins above the threshold.

    Examples
    --------
    A ramp of 1.5 s from 2 s on: the threshold is passed 30 ms late, the fit finds the beginning.

    >>> time = np.arange(0.0, 11.0, 0.01)
    >>> force = np.interp(time, [2.0, 3.5, 7.5, 7.7], [0.0, 200.0, 200.0, 0.0])
    >>> onset = find_onset(time, force, baseline=0.0, plateau=200.0, noise=0.0, before=270, sample_rate=100.0)
    >>> round(onset.threshold_time, 3), round(onset.time, 3)
    (2.03, 2.0)
    """
    rise = plateau - baseline
    threshold = baseline + max(THRESHOLD_SDS * noise, THRESHOLD_SHARE * rise)
    start = threshold_onset(force, threshold, before=before)
    if start is None:
        return None
    latest = float(time[start])
    top = first_true(force >= max(baseline + TOE_TOP * rise, threshold), start, before + 1) or before
    first = max(0, start - round((REACH_S + REST_S) * sample_rate))
    dip = last_true(force < 2.0 * baseline - threshold, first, start)
    first = first if dip is None else dip + 1
    toe = _toe(time[first:top] - latest, force[first:top])
    sign = threshold_onset(force, baseline + max(THRESHOLD_SDS * noise, SIGN_SHARE * rise), before=start)
    seen = latest if sign is None else float(time[sign])
    return Onset(time=latest + min(0.0, toe), threshold_time=latest, sign_time=seen)


def _toe(time: FloatArray, force: FloatArray) -> float:
    """Return where the best-fitting power law leaves its baseline, in seconds of `time`; see the module."""
    width = max(1, len(time) // POINTS)
    time, force = block_means(time, width), block_means(force, width)
    if len(time) < 6:
        return 0.0
    grid = np.linspace(max(-REACH_S, float(time[1])), 0.0, GRID)
    nearest = grid[_misfit(time, force, grid[None]).argmin(axis=1)]
    starts = np.minimum(nearest[:, None] + (grid[1] - grid[0]) / FINER * np.arange(-FINER, FINER + 1), 0.0)
    misfit = _misfit(time, force, starts)
    misfit[0] *= STRAIGHT_IS_LIKELIER
    power, place = np.unravel_index(int(np.argmin(misfit)), misfit.shape)
    return _lowest(starts[power], misfit[power], int(place))


def _lowest(starts: FloatArray, misfit: FloatArray, place: int) -> float:
    """Return the lowest point of the parabola through the least misfit and its two neighbours."""
    if not 0 < place < len(starts) - 1:
        return float(starts[place])
    before, least, after = misfit[place - 1 : place + 2]
    bend = before - 2.0 * least + after
    share = 0.0 if bend <= 0.0 else 0.5 * (before - after) / bend
    return float(starts[place] + share * (starts[place + 1] - starts[place]))


def _misfit(time: FloatArray, force: FloatArray, starts: FloatArray) -> FloatArray:
    """Return the squared error of each power law's best line, for starts of shape (exponents or 1, starts)."""
    since = np.log(np.maximum(time - starts[:, :, None], 1e-9))
    law = np.exp(EXPONENTS[:, None, None] * since)
    law -= law.mean(axis=2, keepdims=True)
    level = force - force.mean()
    shared, spread = law @ level, np.einsum("psn,psn->ps", law, law)
    return np.asarray(level @ level - np.maximum(shared, 0.0) ** 2 / np.maximum(spread, 1e-30))
