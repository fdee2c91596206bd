"""An archive is measured once by each protocol, whatever else it is measured by."""

import os

import msgspec
import pytest

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.storage.measured_store import MeasuredStore
from acquire.storage.session_file import read_index
from analysis.audit import facts
from analysis.audit.archive import measure_archive, measured_sessions
from analysis.trial.protocol import load_protocol

STANDARD = load_protocol()
STRICTER = msgspec.structs.replace(STANDARD, hold=msgspec.structs.replace(STANDARD.hold, reject_below_s=30.0))


@pytest.fixture
def archive(tmp_path):
    plan = ArchivePlan(examiners=(Examiner(code="EX-1"),), sessions_each=3, trials_each=1, rate_hz=50.0)
    write_archive(tmp_path, plan, seed=1)
    return tmp_path


@pytest.fixture
def store(tmp_path):
    with MeasuredStore(tmp_path / "kept.sqlite") as opened:
        yield opened


def rejected(store, protocol):
    return [not trial.accepted for each in measured_sessions(store, protocol) for trial in each.facts.trials]


def test_going_back_to_a_protocol_measures_nothing_anew(archive, store):
    protocols = [STANDARD, STRICTER, STANDARD, STRICTER]
    assert [measure_archive(archive, protocol, store) for protocol in protocols] == [3, 3, 0, 0]
    assert rejected(store, STRICTER) == [True] * 3
    assert rejected(store, STANDARD) != [True] * 3


def test_file_that_is_gone_is_forgotten_by_every_protocol(archive, store):
    for protocol in (STANDARD, STRICTER):
        measure_archive(archive, protocol, store)
    next(archive.rglob("*.h5")).unlink()
    measure_archive(archive, STANDARD, store)
    assert len(list(measured_sessions(store, STRICTER))) == 2


def told(store):
    return {each.file: each.error for each in measured_sessions(store, STANDARD) if each.error}


def test_file_that_no_one_thought_of_costs_its_own_trials_only(archive, store, monkeypatch):
    real = facts.judge_session

    def judged(session, protocol):
        if session.context.session == odd:
            raise ZeroDivisionError("a mistake of ours")
        return real(session, protocol)

    paths = sorted(archive.rglob("*.h5"))
    odd = read_index(paths[1]).context.session
    monkeypatch.setattr(facts, "judge_session", judged)
    assert measure_archive(archive, STANDARD, store) == 3
    name = str(paths[1].relative_to(archive))
    assert told(store) == {name: f"{paths[1]}: cannot be judged: ZeroDivisionError: a mistake of ours"}
    assert measure_archive(archive, STANDARD, store) == 0, "it is remembered"


def test_name_that_is_no_text_is_told_and_the_others_are_measured(archive, store):
    one = next(archive.rglob("*.h5"))
    folder = archive / os.fsdecode(b"Pr\xfcfung")
    folder.mkdir()
    one.rename(folder / "a.h5")
    assert measure_archive(archive, STANDARD, store) == 2
    assert told(store) == {
        "Pr\\xfcfung/a.h5": f"{archive}/Pr\\xfcfung/a.h5: its name, or that of its folder, is not written in UTF-8: "
        "rename it"
    }
    assert len(list(measured_sessions(store, STANDARD))) == 3


def test_changed_file_is_measured_anew_by_each_protocol(archive, store):
    for protocol in (STANDARD, STRICTER):
        measure_archive(archive, protocol, store)
    one, other = sorted(archive.rglob("*.h5"))[:2]
    one.write_bytes(other.read_bytes())
    assert [measure_archive(archive, protocol, store) for protocol in (STANDARD, STRICTER, STANDARD)] == [1, 1, 0]
