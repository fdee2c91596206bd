"""A stored session in numbers: what was recorded is what is summed up."""

import msgspec
import pytest
from made_trials import DAY, PROTOCOL, made_trial

from acquire.storage.session_file import read_session, write_session
from acquire.values.records import Person, Session, SessionContext
from analysis.results.missing import Missing
from analysis.results.settings import ScoreOf, load_result_settings
from analysis.stored.results import summarise_session
from analysis.trial.judged_trial import Exclusion

PERSON = Person(code="P-1", sex="male", age_years=31.0, mass_kg=80.0, height_m=1.8, dominant_side="left")
TRIALS = (
    made_trial(160.0, action="elbow-flexion", side="left", method="hand", lever_arm_m=0.25, resting_force_n=4.0),
    made_trial(164.0, action="elbow-flexion", side="left", method="hand", lever_arm_m=0.25, resting_force_n=4.0),
    made_trial(170.0, action="elbow-flexion", side="left", method="hand", lever_arm_m=0.25, aside="cheered on"),
    made_trial(120.0, action="elbow-extension", side="left", method="hand", lever_arm_m=0.25),
)


@pytest.fixture
def stored(tmp_path):
    """A session as a file gives it back."""
    path = tmp_path / "made.h5"
    write_session(path, Session(context=SessionContext(session="made", started=DAY, person=PERSON), trials=TRIALS))
    return read_session(path)


def test_stored_session_by_hand(stored):
    found = summarise_session(stored, PROTOCOL)
    flexion, extension = found.actions
    assert flexion.best.force_n == pytest.approx(160.0)  # 164 N less the 4 N of the limb
    assert flexion.best.torque_nm == pytest.approx(40.0)
    assert flexion.best.body.nm_per_kg == pytest.approx(0.5)
    (aside,) = flexion.set.unused
    assert (aside.trial, aside.why, aside.reason) == (3, Exclusion.SET_ASIDE, "cheered on")
    assert extension.missing == (Missing.SECOND_TRIAL,)
    (elbow,) = found.ratios
    assert (elbow.key, elbow.side, elbow.value) == ("elbow", "left", pytest.approx(40.0 / 30.0))
    assert elbow.fitting == ()
    assert [side.missing for side in found.sides] == [(Missing.OTHER_SIDE,)] * 2
    assert found.context == stored.context


def test_settings_of_ones_own_are_used(stored):
    standard = load_result_settings()
    mean = msgspec.structs.replace(standard, score=msgspec.structs.replace(standard.score, of=ScoreOf.MEAN))
    found = summarise_session(stored, PROTOCOL, settings=mean)
    assert found.ratios[0].value == pytest.approx((158.0 * 0.25) / 30.0)
    assert found.settings.score.of is ScoreOf.MEAN
