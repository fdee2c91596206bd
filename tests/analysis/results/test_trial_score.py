"""Which force of a trial counts: by hand where one stretch is higher, the same where none is, and against numpy."""

import dataclasses

import msgspec
import numpy as np
import pytest
from made_trials import DAY, EXACT, PROTOCOL, judged, made_trial

from acquire.values.records import Person, SessionContext
from analysis.results.missing import Missing
from analysis.results.session_scores import session_scores
from analysis.results.settings import ScoreOf, TrialScore, load_result_settings
from analysis.results.summary import summarise
from analysis.results.trial_score import score_of

CONTEXT = SessionContext(session="made", started=DAY, person=Person(code="P-1"))
ALL = tuple(TrialScore)


def raised(seconds, by_n, *, begin_s=3.0):
    """Return a trial of 200 N that is higher for a while."""
    flat = made_trial(200.0, calibration=EXACT)
    there = (flat.time >= begin_s) & (flat.time < begin_s + seconds)
    return dataclasses.replace(flat, counts=flat.counts + np.int32(100 * by_n) * there.astype(np.int32))


def forces(trial):
    (found,) = judged(trial)
    assert found.counts
    return {each: score_of(found.judgement.effort, found.judgement.phases, each).force_n for each in ALL}


def test_half_a_second_of_ten_newtons_more():
    found = forces(raised(0.5, 10))
    # the windows of half a second, one second and three seconds hold 0.5 s of 10 N more
    assert found[TrialScore.BEST_HALF_SECOND] == pytest.approx(210.0, abs=0.05)
    assert found[TrialScore.BEST_SECOND] == pytest.approx(205.0, abs=0.05)
    assert found[TrialScore.PLATEAU] == pytest.approx(200.0 + 10.0 * 0.5 / 3.0, abs=0.05)
    assert found[TrialScore.PEAK] == pytest.approx(210.0, abs=0.05)


def test_flat_hold_has_one_score():
    assert list(forces(made_trial(200.0, calibration=EXACT)).values()) == pytest.approx([200.0] * 4, abs=0.02)


@pytest.mark.parametrize("seed", range(5))
def test_best_windows_are_those_of_numpy(seed):
    trial = made_trial(200.0, calibration=EXACT)
    swing = np.cumsum(np.random.default_rng(seed).normal(0.0, 3.0, len(trial.time)))
    swing = 300.0 * np.sin(2.0 * np.pi * (0.3 + 0.1 * seed) * trial.time) + (swing - swing.mean())
    moved = dataclasses.replace(trial, counts=trial.counts + np.rint(swing * (trial.counts > 15_000)).astype(np.int32))
    force, found = 0.01 * moved.counts.astype(float), forces(moved)
    for score, samples in ((TrialScore.BEST_SECOND, 1000), (TrialScore.BEST_HALF_SECOND, 500), (TrialScore.PEAK, 20)):
        windows = np.lib.stride_tricks.sliding_window_view(force, samples)
        assert found[score] == pytest.approx(windows.mean(axis=1).max(), abs=0.1)
    assert found[TrialScore.PLATEAU] <= found[TrialScore.BEST_SECOND] <= found[TrialScore.BEST_HALF_SECOND]
    assert found[TrialScore.BEST_HALF_SECOND] <= found[TrialScore.PEAK] + 0.05


def scored(trial, of):
    standard = load_result_settings()
    score = msgspec.structs.replace(standard.score, trial=trial, of=of)
    settings = msgspec.structs.replace(standard, score=score)
    trials = judged(raised(0.5, 10), made_trial(202.0, calibration=EXACT), made_trial(203.0, calibration=EXACT))
    return summarise(CONTEXT, trials, protocol=PROTOCOL, settings=settings)


@pytest.mark.parametrize(
    ("trial", "of", "force"),
    [
        (TrialScore.PEAK, ScoreOf.BEST, 210.0),
        (TrialScore.PEAK, ScoreOf.MEAN, 205.0),
        (TrialScore.PEAK, ScoreOf.MEDIAN, 203.0),
        (TrialScore.BEST_SECOND, ScoreOf.BEST, 205.0),
        (TrialScore.PLATEAU, ScoreOf.BEST, 203.0),
        (TrialScore.PLATEAU, ScoreOf.MEDIAN, 202.0),
    ],
)
def test_score_of_the_set(trial, of, force):
    (score,) = session_scores(scored(trial, of)).values()
    assert score.value == pytest.approx(force, abs=0.05)
    assert (score.trial, score.of, score.kind.trial, score.kind.of) == (trial, of, trial, of)


def test_effort_shorter_than_the_score_has_none():
    (found,) = judged(raised(0.5, 10))
    phases = dataclasses.replace(found.judgement.phases, release_index=found.judgement.phases.onset_index + 700)
    assert score_of(found.judgement.effort, phases, TrialScore.BEST_SECOND) is None
    assert score_of(found.judgement.effort, phases, TrialScore.BEST_HALF_SECOND) is not None
    short = dataclasses.replace(found, judgement=dataclasses.replace(found.judgement, phases=phases))
    standard = load_result_settings("mean-of-best-second")
    (result,) = summarise(CONTEXT, [short], protocol=PROTOCOL, settings=standard).actions
    assert result.mean is None
    assert Missing.LONG_EFFORT in result.missing
