"""An archive is measured once by each protocol, whatever else it is measured by."""

import msgspec
import pytest

from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.storage.measured_store import MeasuredStore
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


def test_changed_file_is_measured_anew_by_each_protocol(archive, store):
    for protocol in (STANDARD, STRICTER):
        measure_archive(archive, protocol, store)
    one, other = sorted(archive.rglob("*.h5"))[:2]
    one.write_bytes(other.read_bytes())
    assert [measure_archive(archive, protocol, store) for protocol in (STANDARD, STRICTER, STANDARD)] == [1, 1, 0]
