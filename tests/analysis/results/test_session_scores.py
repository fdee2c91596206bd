"""The scores of a session, by hand."""

import msgspec
import pytest
from made_trials import DAY, PROTOCOL, judged, made_trial

from acquire.values.records import Person, SessionContext
from analysis.results.quantities import Unit
from analysis.results.session_scores import session_scores
from analysis.results.settings import ScoreOf, load_result_settings
from analysis.results.summary import summarise

CONTEXT = SessionContext(session="made", started=DAY, person=Person(code="P-1"), examiner="X-1")
STANDARD = load_result_settings()
OF_MEAN = msgspec.structs.replace(STANDARD, score=msgspec.structs.replace(STANDARD.score, of=ScoreOf.MEAN))


def scores(*trials, settings=STANDARD, examiners=None):
    summary = summarise(CONTEXT, judged(*trials), protocol=PROTOCOL, settings=settings)
    return {kind.unit: score for kind, score in session_scores(summary, examiners).items()}


def test_best_force_and_torque_with_the_lever_arm_of_their_trial():
    found = scores(made_trial(200.0, lever_arm_m=0.35), made_trial(210.0, lever_arm_m=0.3))
    force, torque = found[Unit.NEWTON], found[Unit.NEWTON_METRE]
    assert (force.value, force.lever_arm_m) == (pytest.approx(210.0), 0.3)
    # 200 N x 0.35 m = 70 N m, more than 210 N x 0.3 m = 63 N m
    assert (torque.value, torque.lever_arm_m) == (pytest.approx(70.0), 0.35)
    assert (force.person, force.when, force.method, force.side) == ("P-1", DAY, "belt", "right")


def test_mean_of_a_set_has_the_mean_lever_arm():
    found = scores(made_trial(200.0, lever_arm_m=0.3), made_trial(220.0, lever_arm_m=0.32), settings=OF_MEAN)
    assert found[Unit.NEWTON].value == pytest.approx(210.0)
    assert found[Unit.NEWTON].lever_arm_m == pytest.approx(0.31)


def test_no_lever_arm_no_torque():
    assert set(scores(made_trial(200.0))) == {Unit.NEWTON}
    assert scores(made_trial(200.0))[Unit.NEWTON].lever_arm_m is None


def test_set_without_a_trial_that_counts_has_no_score():
    assert scores(made_trial(200.0, ramp_s=0.3)) == {}


def test_action_without_a_name_has_no_score():
    assert scores(made_trial(200.0, action=None)) == {}


def test_force_that_is_all_weight_of_the_limb_is_no_score():
    assert scores(made_trial(200.0, resting_force_n=250.0)) == {}


def test_examiner_of_the_trial_comes_before_that_of_the_session():
    assert scores(made_trial(200.0))[Unit.NEWTON].examiner == "X-1"
    assert scores(made_trial(200.0), examiners={1: "X-2"})[Unit.NEWTON].examiner == "X-2"


def test_mean_of_two_examiners_is_of_none():
    both = (made_trial(200.0), made_trial(204.0))
    assert scores(*both, settings=OF_MEAN, examiners={1: "X-1", 2: "X-2"})[Unit.NEWTON].examiner is None


def test_two_sensors_on_one_effort_are_one_score():
    found = scores(made_trial(200.0, sensor="one"), made_trial(230.0, sensor="two"))
    assert found[Unit.NEWTON].value == pytest.approx(200.0)


def test_torque_below_one_newton_metre_is_a_score():
    assert scores(made_trial(60.0, lever_arm_m=0.015))[Unit.NEWTON_METRE].value == pytest.approx(0.9)


def test_no_force_is_no_score():
    assert scores(made_trial(0.0)) == {}
