"""Which force of a trial is its score.

==============  ==================================================================================
`plateau`       mean of the best stretch inside the hold, as long as the protocol says
                (Caldwell et al. 1974, Chaffin 1975: 3 s of steady exertion)
`best-1s`       highest mean over one second between onset and release (common practice, no source)
`best-0.5s`     the same over half a second (common practice, no source)
`peak`          highest mean over 20 ms between onset and release: what is published most often
==============  ==================================================================================

A shorter stretch finds a higher force: plateau <= best second <= best half second <= peak, but for rounding.
"""

from __future__ import annotations

from typing import NamedTuple

from analysis.results.settings import TrialScore
from analysis.trial.effort import FINE_S, Effort
from analysis.trial.phases import Phases
from analysis.trial.windows import best_window

SECONDS = {TrialScore.BEST_SECOND: 1.0, TrialScore.BEST_HALF_SECOND: 0.5}


class Stretch(NamedTuple):
    """A stretch of an effort, and its mean force above the zero."""

    force_n: float
    samples: int
    """How many the mean is of."""


def score_of(effort: Effort, phases: Phases, score: TrialScore) -> Stretch | None:
    """Return the score of a trial; None where the effort is shorter than the stretch that is asked for.

    Parameters
    ----------
    effort : Effort
        The prepared trace.
    phases : Phases
        Where its phases lie.
    score : TrialScore
        Which force is wanted.

    Examples
    --------
    >>> from analysis.stored.traces import read_trials
    >>> from analysis.trial.judged_trial import judge_trial
    >>> from analysis.trial.protocol import load_protocol
    >>> judged = judge_trial(read_trials("sample_traces/good.csv")[0], load_protocol()).judgement
    >>> [round(score_of(judged.effort, judged.phases, each).force_n) for each in TrialScore]
    [252, 253, 254, 256]
    """
    if score is TrialScore.PLATEAU:
        return Stretch(phases.plateau_force, phases.score_stop - phases.score_start)
    if score is TrialScore.PEAK:
        return Stretch(float(effort.fine[phases.peak_index]), effort.samples(FINE_S))
    pushed = effort.force[phases.onset_index : phases.release_index]
    width = effort.samples(SECONDS[score])
    return Stretch(best_window(pushed, width)[1], width) if width <= len(pushed) else None
