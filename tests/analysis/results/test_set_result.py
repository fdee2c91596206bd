"""What the trials of a set come to, and why some do not count."""

from dataclasses import replace

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_trials import DAY, PROTOCOL, judged, made_trial

from acquire.values.records import SetAside
from analysis.results.set_result import set_result
from analysis.results.spread import spread
from analysis.trial.judged_trial import Exclusion, JudgedTrial
from analysis.trial.withheld import Reason, Why

RULE = PROTOCOL.set


def test_best_mean_and_spread_by_hand():
    found = set_result(judged(*(made_trial(force) for force in (190.0, 210.0, 200.0))), RULE)
    plateau = found.plateau
    assert (plateau.best, plateau.best_trial) == (pytest.approx(210.0), 2)
    assert (plateau.mean, plateau.sd, plateau.cv_pct, plateau.range) == pytest.approx((200.0, 10.0, 5.0, 20.0))
    assert plateau.trials == (1, 2, 3)
    assert found.peak.best == pytest.approx(210.0)
    assert found.agreement_pct == pytest.approx(100.0 * 10.0 / 210.0)
    assert (found.used, found.unused, found.complete) == ((1, 2, 3), (), True)


def test_measures_of_how_it_was_made_have_no_best():
    found = set_result(judged(made_trial(190.0, ramp_s=1.4), made_trial(210.0, ramp_s=1.6)), RULE)
    ramp = found.measures["ramp_time_s"]
    assert (ramp.best, ramp.best_trial) == (None, None)
    assert ramp.range == pytest.approx(0.9 * 0.2, abs=0.02), "90 % of the ramps"
    assert found.measures["hold_trend_pct_per_s"].cv_pct is None, "a share of a mean about 0 means nothing"
    assert "onset_s" not in found.measures, "moments are not summed up"


def test_each_trial_that_does_not_count_says_why():
    trials = judged(
        made_trial(200.0),
        made_trial(205.0, ramp_s=0.2),
        made_trial(210.0, aside="talked"),
        made_trial(150.0, ramp_s=0.2, aside="the phone rang"),
    )
    found = set_result(trials, RULE)
    assert found.used == (1,)
    rejected, aside, both = found.unused
    assert (rejected.trial, rejected.why) == (2, Exclusion.REJECTED)
    assert "fast-ramp" in rejected.codes
    assert (aside.trial, aside.why, aside.codes, aside.reason, aside.by) == (3, "set-aside", (), "talked", "X-1")
    assert (both.why, both.reason) == (Exclusion.SET_ASIDE, "the phone rang")
    assert "fast-ramp" in both.codes, "a trial that was set aside says too what the protocol found"


def test_trial_taken_back_counts_again():
    back = made_trial(200.0, aside="talked")
    back = replace(back, set_aside=(*back.set_aside, SetAside(aside=False, reason="it was quiet", by="X-1", at=DAY)))
    assert set_result(judged(back), RULE).used == (1,)


def test_plateau_that_was_withheld_is_left_out_with_its_reason():
    (good,) = judged(made_trial(200.0))
    judgement = replace(
        good.judgement,
        measures=msgspec.structs.replace(good.judgement.measures, plateau_force_n=None),
        withheld={"plateau_force_n": Reason(Why.NO_EFFORT)},
    )
    withheld = JudgedTrial(number=7, trial=good.trial, judgement=judgement)
    assert withheld.excluded is Exclusion.WITHHELD
    assert np.isnan(withheld.plateau_n)
    (unused,) = set_result([withheld], RULE).unused
    assert (unused.trial, unused.why, unused.codes, unused.reason) == (7, Exclusion.WITHHELD, (), "")
    assert unused.withheld == Reason(Why.NO_EFFORT)


def test_measure_that_a_trial_lacks_is_named_with_its_reason():
    found = set_result(judged(made_trial(200.0, noise_n=1.0)), RULE)
    assert "rfd_n_per_s.0-100" not in found.measures
    assert found.withheld["rfd_n_per_s.0-100"][1].why is Why.UNSURE_ONSET
    still = set_result(judged(made_trial(200.0)), RULE)
    assert still.measures["peak_rfd_n_per_s"].best == pytest.approx(200.0 / 1.5, rel=0.02)
    cut = made_trial(200.0, rest_after_s=0.0)
    short = replace(cut, time=cut.time[:-150], counts=cut.counts[:-150])
    lacking = set_result(judged(made_trial(200.0), short), RULE)
    assert lacking.withheld["impulse_n_s"] == {2: Reason(Why.NO_RELEASE)}
    assert lacking.measures["impulse_n_s"].trials == (1,)


def test_set_without_a_trial_that_counts_has_no_numbers():
    found = set_result(judged(made_trial(200.0, ramp_s=0.2), made_trial(180.0, aside="slipped")), RULE)
    assert (found.used, found.plateau, found.peak, found.agreement_pct) == ((), None, None, None)
    assert (found.measures, found.complete) == ({}, False)


def test_one_trial_has_no_spread():
    plateau = set_result(judged(made_trial(200.0)), RULE).plateau
    assert (plateau.sd, plateau.cv_pct, plateau.range) == (None, None, 0.0)


def test_trials_set_aside_are_not_among_those_tried():
    five = [made_trial(force) for force in (200.0, 170.0, 140.0)]
    aside = [made_trial(200.0, aside="slipped")] * 2
    assert not set_result(judged(*five, *aside), RULE).complete, "two more may be tried"


def test_spread_of_nothing_is_refused():
    with pytest.raises(ValueError, match="values must be one for each trial, got 0 for 0 trials"):
        spread([], [])
    with pytest.raises(ValueError, match="got 2 for 1 trials"):
        spread([1], [1.0, 2.0])


VALUES = st.lists(st.floats(1.0, 1000.0), min_size=2, max_size=6)


@given(values=VALUES, factor=st.floats(0.01, 100.0))
def test_spread_scales_with_its_values(values, factor):
    numbers = range(len(values))
    plain, scaled = spread(numbers, values), spread(numbers, [factor * value for value in values])
    assert scaled.best == pytest.approx(factor * plain.best)
    assert scaled.sd == pytest.approx(factor * plain.sd, abs=1e-9 * factor * plain.best)
    assert scaled.cv_pct == pytest.approx(plain.cv_pct, abs=1e-9)
