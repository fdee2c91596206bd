"""Invented archives hold what their plan says."""

import numpy as np

from acquire.simulation.archives import BEGAN, ArchivePlan, Examiner, invented_sessions, write_archive
from acquire.storage.session_file import read_session
from acquire.storage.walk import session_paths

PLAN = ArchivePlan(
    examiners=(Examiner(code="EX-1"), Examiner(code="EX-2", limit_n=150.0)),
    sessions_each=3,
    trials_each=4,
    rate_hz=50.0,
)


def test_same_seed_gives_the_same_archive(tmp_path):
    one, other = (list(invented_sessions(tmp_path, PLAN, seed=5)) for _ in range(2))
    assert [path for path, _ in one] == [path for path, _ in other]
    for (_, first), (_, second) in zip(one, other, strict=True):
        assert first.context == second.context
        assert all(np.array_equal(a.counts, b.counts) for a, b in zip(first.trials, second.trials, strict=True))


def test_every_session_is_marked_as_invented_and_can_be_read(tmp_path):
    assert write_archive(tmp_path, PLAN) == 6
    sessions = [read_session(path) for path in session_paths(tmp_path)]
    assert len(sessions) == 6
    assert all(session.context.invented for session in sessions)
    assert {session.context.examiner for session in sessions} == {"EX-1", "EX-2"}
    assert all(session.context.started > BEGAN for session in sessions)


def test_hand_holds_no_more_than_the_examiner_can(tmp_path):
    for _, session in invented_sessions(tmp_path, PLAN, seed=2):
        if session.context.examiner == "EX-2":
            for trial in session.trials:
                assert trial.context.method == "hand"
                held = trial.trace().force
                assert float(np.median(held[held > 0.8 * held.max()])) < 165.0


def test_pairs_test_the_same_persons_and_actions(tmp_path):
    plan = ArchivePlan(examiners=(Examiner(code="A"), Examiner(code="B")), sessions_each=4, rate_hz=50.0, paired=True)
    seen = {}
    for _, session in invented_sessions(tmp_path, plan):
        tested = {(session.context.person.code, trial.context.action) for trial in session.trials}
        seen.setdefault(session.context.examiner, set()).update(tested)
    assert seen["A"] == seen["B"]
