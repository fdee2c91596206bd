"""The cues of one trial, on a clock of their own."""

import numpy as np
import pytest

from analysis.trial.protocol import load_protocol
from ui.session.cues import Cue, TrialCues

PROTOCOL = load_protocol()
FRAME = 0.016


def shown(knots, forces, *, until):
    """Return (time, cue) of each change while a force of straight pieces goes by, and the cues."""
    cues, changes = TrialCues(PROTOCOL), []
    for now in np.arange(0.0, until, FRAME):
        cue = cues.see(float(now), float(np.interp(now, knots, forces)))
        if not changes or changes[-1][1] is not cue:
            changes.append((float(now), cue))
    return changes, cues


def test_a_whole_trial_is_cued_in_order():
    changes, cues = shown([0, 2.0, 3.5, 9.2, 9.4, 10], [0, 0, 300, 300, 0, 0], until=10)
    assert [cue for _, cue in changes] == [Cue.SET, Cue.GO, Cue.BUILD, Cue.HOLD, Cue.STOP]
    times = {cue: now for now, cue in changes}
    assert times[Cue.GO] == pytest.approx(1.0, abs=0.1)
    assert times[Cue.BUILD] == pytest.approx(2.05, abs=0.05)
    assert times[Cue.HOLD] == pytest.approx(3.7, abs=0.2)
    assert times[Cue.STOP] - times[Cue.HOLD] == pytest.approx(PROTOCOL.instruction.hold_s, abs=0.05)
    assert cues.over


def test_release_is_seen_within_a_fifth_of_a_second():
    _, cues = shown([0, 2.0, 3.5, 9.0, 9.2], [0, 0, 300, 300, 0], until=9.0)
    assert not cues.over
    _, cues = shown([0, 2.0, 3.5, 9.0, 9.2], [0, 0, 300, 300, 0], until=9.0 + 0.2 + 0.2)
    assert cues.over


def test_a_push_without_the_cue_is_a_start():
    changes, _ = shown([0, 0.3, 1.8, 9], [0, 0, 300, 300], until=3.0)
    assert [cue for _, cue in changes][:2] == [Cue.SET, Cue.BUILD]


def test_no_go_while_the_force_is_unquiet():
    cues = TrialCues(PROTOCOL)
    for step in range(200):
        assert cues.see(step * FRAME, 4.0 * (step % 2)) is Cue.SET


def test_hold_begins_after_two_seconds_even_if_the_force_still_climbs():
    changes, _ = shown([0, 2.0, 9.0], [0, 0, 500], until=6.0)
    times = {cue: now for now, cue in changes}
    assert times[Cue.HOLD] - times[Cue.BUILD] == pytest.approx(PROTOCOL.instruction.ramp_most_s, abs=0.05)


def test_early_release_ends_the_trial_before_stop():
    changes, cues = shown([0, 2.0, 3.0, 4.5, 4.7], [0, 0, 200, 200, 0], until=6.0)
    assert Cue.STOP not in [cue for _, cue in changes]
    assert cues.over


def test_fraction_of_the_hold_goes_from_nothing_to_all():
    _, cues = shown([0, 2.0, 3.0, 20], [0, 0, 200, 200], until=3.0)
    assert cues.fraction(3.0) == 0.0
    _, cues = shown([0, 2.0, 3.0, 20], [0, 0, 200, 200], until=15.0)
    assert cues.fraction(15.0) == 1.0
