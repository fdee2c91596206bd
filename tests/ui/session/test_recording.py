"""What is saved of a recording, and where one that is recorded hands-free stands; without a sensor."""

from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import pytest

from acquire.errors import ArchiveError
from acquire.sensor.profile import load_profile
from acquire.storage.session_file import read_session
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Failed, Finished, TrialRecorded
from acquire.values.records import Session, SessionContext, TrialContext
from acquire.values.remarks import TrialEnd
from analysis.trial.judged_trial import judge_trial
from analysis.trial.protocol import load_protocol
from ui.session.cues import Cue
from ui.session.engine import Engine
from ui.session.events import Verdict
from ui.session.live import LiveSession
from ui.session.recording import events_of, every_effort
from ui.session.store import SessionStore


class Played:
    """A recorder that tells what it was given, one thing after the other."""

    def __init__(self, *events, left=()):
        self.events = list(events)
        self.left = list(left)
        profile = load_profile("packets-1k")
        self.pipeline = Pipeline(profile, profile.nominal_calibration())

    def start(self):
        pass

    def plan(self, *contexts):
        self.planned = contexts

    def next_event(self, _timeout):
        return self.events.pop(0) if self.events else None

    def stop(self):
        return self.left


class TestEventsOf:
    """What is saved of a recording, without a sensor."""

    @pytest.fixture
    def trials(self, session_file):
        return read_session(session_file).trials

    @pytest.fixture
    def store(self, tmp_path):
        context = SessionContext(session="s", started=datetime(2026, 3, 2, tzinfo=UTC))
        return SessionStore(tmp_path / "new.h5", Session(context=context), load_protocol())

    def test_effort_after_the_last_one_asked_for_is_not_saved(self, store, trials):
        recorder = Played(TrialRecorded(trials[0]), TrialRecorded(trials[1]), TrialRecorded(trials[0]), left=trials[2:])
        engine = Engine([TrialContext()], store.protocol, hands_free=True, count=2)
        events = list(events_of(LiveSession(recorder, store, engine)))
        verdicts = [event.judged.judgement.verdict for event in events if isinstance(event, Verdict)]
        assert verdicts == ["accepted", "rejected"]
        assert len(read_session(store.path).trials) == 2

    def test_trial_under_way_at_the_end_of_the_link_is_saved(self, store, trials):
        recorder = Played(TrialRecorded(trials[0]), Finished(), left=trials[1:2])
        assert sum(isinstance(event, Verdict) for event in every_effort(recorder, store)) == 2
        assert len(read_session(store.path).trials) == 2

    def test_failure_is_raised_after_what_there_was_is_saved(self, store, trials):
        recorder = Played(Failed(ArchiveError("the disk is full")), left=trials[:1])
        with pytest.raises(ArchiveError, match="the disk is full"):
            list(every_effort(recorder, store))
        assert len(read_session(store.path).trials) == 1

    def test_saved_trial_carries_its_verdict_and_protocol(self, store, trials):
        events = every_effort(Played(TrialRecorded(trials[0]), Finished()), store)
        (verdict,) = [event.judged for event in events if isinstance(event, Verdict)]
        (saved,) = read_session(store.path).trials
        assert saved.verdict == verdict.trial.verdict
        assert saved.verdict["protocol"] == {"name": "ramp-and-hold", "hash": load_protocol().hash}
        assert saved.verdict["plateau_force_n"] == verdict.judgement.measures.plateau_force_n


class TestHandsFree:
    """Where a battery stands that is recorded hands-free, without a sensor."""

    KNEE = TrialContext(action="knee-extension", side="left")
    HIP = TrialContext(action="hip-abduction", side="left")

    @pytest.fixture
    def rule(self):
        return msgspec.structs.replace(load_protocol().set, trials=2, most_trials=3)

    @pytest.fixture
    def trial(self, session_file):
        good, bad, _ = read_session(session_file).trials

        def make(context, *, accepted=True):
            one = replace(good if accepted else bad, context=context)
            return one.judged(judge_trial(one, load_protocol()).as_json())

        return make

    @pytest.fixture
    def take(self, trial):
        def take(engine, context, *, accepted=True):
            engine.take(judge_trial(trial(context, accepted=accepted), load_protocol()).judgement)

        return take

    def engine(self, *items, rule=None, count=None):
        return Engine(items, load_protocol(), hands_free=True, rule=rule, count=count)

    def test_set_of_accepted_trials_that_agree_goes_on_to_the_next_item(self, rule, take):
        engine = self.engine(self.KNEE, self.HIP, rule=rule)
        take(engine, self.KNEE)
        assert engine.item.context == self.KNEE
        take(engine, self.KNEE)
        assert (engine.item.context, engine.cue) == (self.HIP, Cue.RECORD)

    def test_one_side_is_completed_before_the_other(self, rule, take):
        other = msgspec.structs.replace(self.KNEE, side="right")
        engine, order = self.engine(self.KNEE, other, rule=rule), []
        while engine.cue is not Cue.DONE:
            order.append(engine.item.context.side)
            take(engine, engine.item.context)
        assert order == ["left", "left", "right", "right"]

    def test_most_trials_end_a_set_of_rejected_ones(self, rule, take):
        engine, cues = self.engine(self.KNEE, rule=rule), []
        for _ in range(3):
            take(engine, self.KNEE, accepted=False)
            cues.append(engine.cue)
        assert cues == [Cue.RECORD, Cue.RECORD, Cue.DONE]

    def test_count_ends_whatever_the_verdict(self, take):
        engine = self.engine(self.KNEE, count=2)
        take(engine, self.KNEE, accepted=False)
        assert (engine.cue, engine.view().set) == (Cue.RECORD, None)
        take(engine, self.KNEE, accepted=False)
        assert engine.cue is Cue.DONE

    def test_earlier_trials_of_something_else_are_passed_over(self, rule, trial):
        engine = self.engine(self.KNEE, self.HIP, rule=rule)
        engine.resume([trial(self.HIP), trial(self.KNEE), trial(TrialContext()), trial(self.KNEE)])
        assert (engine.item.context, engine.cue) == (self.HIP, Cue.RECORD)

    def test_trials_that_the_session_has_are_counted(self, trial, take):
        engine = self.engine(self.KNEE, count=2)
        whole = trial(self.KNEE)
        engine.resume([whole, replace(whole, damage=(TrialEnd.CRASHED,)), replace(whole, verdict=None)])
        assert engine.cue is Cue.RECORD
        take(engine, self.KNEE)
        assert engine.cue is Cue.DONE
