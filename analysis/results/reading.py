"""What one score rests on: the counts, the zero before and after, the calibration, the lever arm.

The force of a reading is free of the limb's weight where a resting force was recorded. Its noise is that of the
sensor at rest, carried to the mean over the stretch that is the score, and to the mean that is the zero; the swing of
the push itself is no error, since the score is what the person did.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from analysis.results.settings import TrialScore
from analysis.results.torque import limb_weight, torque
from analysis.results.trial_score import score_of
from analysis.trial.judged_trial import JudgedTrial
from analysis.trial.zero import zero_after


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One force, and what its uncertainty is made from."""

    force_n: float
    """The score without the limb's weight, N."""
    weight_n: float | None
    """What was taken off for the limb, N; None when no resting force was recorded."""
    calibrations: tuple[Calibration, ...]
    """The different ones its trials were measured with; one in all but odd sessions."""
    resolution_n: float
    """One step of the sensor, N."""
    zero_shift_n: float | None
    """Zero after the release against zero before, N; None when it could not be seen."""
    noise_n: float | None
    """Standard uncertainty of the force by the sensor's noise, N; None when the trace does not start quiet."""
    noise_dof: int
    lever_arm_m: float | None
    """None when it is not known."""

    @property
    def torque_nm(self) -> float | None:
        """Force times lever arm, N m; None when the lever arm is not known."""
        return None if self.lever_arm_m is None else torque(self.force_n, self.lever_arm_m)


def read(judged: JudgedTrial, score: TrialScore = TrialScore.PLATEAU) -> Reading | None:
    """Return the reading of a trial that counts; None where its effort is too short for the score that is wanted.

    Raises
    ------
    ValueError
        If the trial does not count, or its effort is not at hand.

    Examples
    --------
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.trial.judged_trial import judge_trial
    >>> from analysis.trial.protocol import load_protocol
    >>> protocol = load_protocol()
    >>> judged = judge_trial(read_trials("sample_traces/good.csv")[0], protocol, number=1)
    >>> reading = read(judged)
    >>> round(reading.force_n), round(reading.zero_shift_n, 2), reading.lever_arm_m
    (252, 0.05, None)
    """
    effort, phases = judged.judgement.effort, judged.judgement.phases
    if not judged.counts or effort is None or phases is None:
        raise ValueError(f"trial {judged.number} must be accepted and not set aside to be read")
    found = score_of(effort, phases, score)
    if found is None:
        return None
    context = judged.trial.context
    weight = None if context.resting_force_n is None else limb_weight(context.resting_force_n, effort.zero)
    after = zero_after(effort, phases)
    quiet = effort.quiet_stop
    share = 1.0 / found.samples + (1.0 / quiet if quiet else 0.0)
    return Reading(
        force_n=found.force_n - (weight or 0.0),
        weight_n=weight,
        calibrations=(judged.trial.calibration,),
        resolution_n=abs(judged.trial.calibration.newtons_per_count) * step_of(judged.trial.counts),
        zero_shift_n=None if after is None else after.shift_n,
        noise_n=effort.noise * math.sqrt(share) if quiet else None,
        noise_dof=max(1, quiet - 1),
        lever_arm_m=context.lever_arm_m if (context.lever_arm_m or 0.0) > 0.0 else None,
    )


def step_of(counts: NDArray[np.int32] | FloatArray) -> float:
    """Return the smallest step a sensor shows: one count, or the finest difference in a record of numbers.

    Parameters
    ----------
    counts : ndarray, shape (n,)
        Whole counts, or numbers as a file or a line of text gives them; NaN is left out.

    Returns
    -------
    float
        In counts; 0.0 when the record shows none.

    Examples
    --------
    >>> step_of(np.array([3, 9], dtype=np.int32)), step_of(np.array([0.5, 1.0, 2.0, np.nan]))
    (1.0, 0.5)
    """
    if np.issubdtype(counts.dtype, np.integer):
        return 1.0
    steps = np.diff(np.unique(counts[~np.isnan(counts)]))
    return float(steps.min()) if len(steps) else 0.0


def mean_reading(readings: Sequence[Reading]) -> Reading:
    """Return the reading that stands for the mean of several.

    Its errors are those of one of them: that of a calibration is the same in all, and what differs from trial to
    trial shows in their spread. A zero shift is the mean of the sizes. What one reading lacks, the mean lacks too.

    Examples
    --------
    >>> from dataclasses import replace
    >>> known = Calibration(newtons_per_count=0.1, rated_force_n=500.0)
    >>> first = Reading(
    ...     force_n=200.0,
    ...     weight_n=None,
    ...     calibrations=(known,),
    ...     resolution_n=0.1,
    ...     zero_shift_n=0.4,
    ...     noise_n=0.02,
    ...     noise_dof=99,
    ...     lever_arm_m=0.3,
    ... )
    >>> mean = mean_reading([first, replace(first, force_n=180.0, zero_shift_n=None)])
    >>> mean.force_n, mean.zero_shift_n
    (190.0, None)
    """
    first = readings[0]
    arms = [each.lever_arm_m for each in readings]
    shifts = [each.zero_shift_n for each in readings]
    noises = [each.noise_n for each in readings]
    weights = [each.weight_n for each in readings if each.weight_n is not None]
    return replace(
        first,
        force_n=_mean([each.force_n for each in readings]),
        weight_n=_mean(weights) if weights else None,
        calibrations=distinct(readings),
        resolution_n=max(each.resolution_n for each in readings),
        zero_shift_n=None if None in shifts else _mean([abs(shift or 0.0) for shift in shifts]),
        noise_n=None if None in noises else _mean([noise or 0.0 for noise in noises]),
        noise_dof=min(each.noise_dof for each in readings),
        lever_arm_m=None if None in arms else _mean([arm or 0.0 for arm in arms]),
    )


def distinct(readings: Sequence[Reading]) -> tuple[Calibration, ...]:
    """Return the different calibrations of some readings, in their order.

    Examples
    --------
    >>> from dataclasses import replace
    >>> known, later = Calibration(newtons_per_count=0.1, rated_force_n=500.0), Calibration(newtons_per_count=0.2)
    >>> first = Reading(
    ...     force_n=200.0,
    ...     weight_n=None,
    ...     calibrations=(known,),
    ...     resolution_n=0.1,
    ...     zero_shift_n=0.4,
    ...     noise_n=0.02,
    ...     noise_dof=99,
    ...     lever_arm_m=0.3,
    ... )
    >>> second = replace(first, calibrations=(later,))
    >>> [calibration.newtons_per_count for calibration in distinct([first, second, first])]
    [0.1, 0.2]
    """
    found: list[Calibration] = []
    for calibration in (each for reading in readings for each in reading.calibrations):
        if calibration not in found:
            found.append(calibration)
    return tuple(found)


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)
