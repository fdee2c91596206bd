"""What a rule may look at: shares of the plateau, moments of samples, and answers that are computed once."""

import pytest

from acquire.simulation.efforts import GOOD, simulate
from analysis.trial.protocol import load_protocol
from analysis.trial.rules.evidence import once
from analysis.trial.verdict import judge


@pytest.fixture(scope="module")
def evidence():
    return judge(simulate(GOOD, seed=1).trace, load_protocol()).evidence


def test_force_is_a_share_of_the_plateau(evidence):
    assert evidence.percent(evidence.phases.plateau_force) == 100.0
    assert evidence.percent(0.25 * evidence.phases.plateau_force) == pytest.approx(25.0)


def test_moment_of_a_sample_and_of_one_beyond_the_last(evidence):
    time = evidence.effort.time
    assert [evidence.at(0), evidence.at(7), evidence.at(len(time) - 1)] == [time[0], time[7], time[-1]]
    assert evidence.at(len(time)) == evidence.at(len(time) + 5) == time[-1]


def test_hold_begins_with_its_first_sample_and_ends_with_its_last(evidence):
    hold, time = evidence.phases.hold, evidence.effort.time
    assert evidence.hold_span == (time[hold.start], time[hold.stop - 1])


def test_nothing_is_lost_where_nothing_is_marked(evidence):
    assert evidence.effort.lost is None
    assert evidence.lost_in_hold() == 0


def test_what_two_rules_ask_is_computed_once_for_each_effort(evidence):
    asked = []

    @once
    def question(about):
        asked.append(about)

    assert [question(evidence), question(evidence)] == [None, None]
    assert len(asked) == 1
    question(judge(simulate(GOOD, seed=2).trace, load_protocol()).evidence)
    assert len(asked) == 2
