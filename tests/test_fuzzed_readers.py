"""Whatever is in a file, its reader gives a value or one sentence of the program's own; nothing else.

Each reader is fed with sound files and with what was found before (`tests/fakes/corpus.py`), changed at random:
bytes flipped, taken out, doubled, put in from another. Session files and journals are sealed again after the change, so
that what lies behind the checksums is tried too. ``RAMPHOLD_FUZZ=100`` tries a hundred times as many.
"""

import copy
import datetime as dt
import json
import os
from importlib.resources import files

import numpy as np
import pytest
from corpus import SETTINGS, TABLES, TRACES
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from journals import MORNING, PERSON, chunks, header, measured, profile
from sealed import resealed

from acquire.discovery.capture_file import read_capture
from acquire.errors import AcquireError
from acquire.sensor.calibration_file import load_calibration
from acquire.sensor.profile import load_profile
from acquire.simulation.disturbance import load_disturbance
from acquire.storage import seal
from acquire.storage.csv_trace import read_trace
from acquire.storage.journal import JournalWriter
from acquire.storage.session_file import read_session, write_session
from acquire.stream.recovery import recover
from acquire.values.calibration import Calibration
from acquire.values.records import Session, SessionContext, Trial
from analysis.battery.actions import load_actions
from analysis.errors import AnalysisError
from analysis.references.tables import load_table
from analysis.trial.protocol import load_protocol

TIMES = float(os.environ.get("RAMPHOLD_FUZZ", "1"))
LONGEST_SENTENCE = 1500

fuzzed = settings(
    max_examples=round(25 * TIMES),
    deadline=None,
    database=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)


def shipped(package, folder):
    return tuple(each.read_bytes() for each in (files(package) / "data" / folder).iterdir() if each.is_file())


READERS = {
    "profile": (lambda path: load_profile(str(path)), "x.toml", (*shipped("acquire", "sensors"), *SETTINGS)),
    "calibration": (load_calibration, "x.toml", SETTINGS),
    "protocol": (lambda path: load_protocol(str(path)), "x.toml", (*shipped("analysis", "protocols"), *SETTINGS)),
    "actions": (lambda path: load_actions(str(path)), "x.toml", (*shipped("analysis", "actions"), *SETTINGS)),
    "disturbance": (
        lambda path: load_disturbance(str(path)),
        "x.toml",
        (*shipped("acquire", "disturbances"), *SETTINGS),
    ),
    "trace": (read_trace, "x.csv", TRACES),
    "references": (lambda path: load_table(str(path)), "x.csv", (*shipped("analysis", "references"), *TABLES)),
    "capture": (read_capture, "x.bin", (*TRACES, b"ramphold-journal 1\n" + bytes(50))),
}


@st.composite
def changed_bytes(draw, seeds):
    """One of the seeds, changed in a few places."""
    data = bytearray(draw(st.sampled_from(seeds)))
    for _ in range(draw(st.integers(0, 6))):
        at = draw(st.integers(0, len(data)))
        length = draw(st.integers(0, 40))
        match draw(st.sampled_from(["flip", "out", "double", "in", "other"])):
            case "flip" if at < len(data):
                data[at] ^= 1 << draw(st.integers(0, 7))
            case "out":
                del data[at : at + length]
            case "double":
                data[at:at] = data[at : at + length] * draw(st.integers(1, 50))
            case "in":
                data[at:at] = draw(st.sampled_from([b"\n", b"[", b'"', b"=", b",", b"e999", b"-", b"\xc3", b"nan"]))
            case _:
                data[at:at] = draw(st.sampled_from(seeds))[:length]
    return bytes(data)


def tried(read, path):
    """Read a file; fail where the reader does anything but give a value or a sentence."""
    try:
        read(path)
    except (AcquireError, AnalysisError) as error:
        sentence = str(error)
        assert sentence
        assert len(sentence) < LONGEST_SENTENCE


@pytest.mark.parametrize("kind", READERS)
def test_reader_gives_a_value_or_a_sentence(tmp_path, kind):
    read, name, seeds = READERS[kind]
    for number, seed in enumerate(seeds):
        (tmp_path / name).write_bytes(seed)
        tried(read, tmp_path / name)
        assert number < len(seeds)

    @fuzzed
    @given(data=changed_bytes(seeds))
    def any_change(data):
        (tmp_path / name).write_bytes(data)
        tried(read, tmp_path / name)

    any_change()


@pytest.fixture(scope="module")
def session(tmp_path_factory):
    """A sound session file."""
    path = tmp_path_factory.mktemp("fuzz") / "s.h5"
    samples = np.arange(40) * 0.01
    trial = Trial(time=samples, counts=samples, calibration=Calibration(newtons_per_count=1.0), zero_counts=0.0)
    began = dt.datetime(2026, 3, 2, tzinfo=dt.UTC)
    write_session(path, Session(context=SessionContext(session="s-1", started=began), trials=(trial, trial)))
    return path


def test_sealed_session_with_any_index_and_body(tmp_path, session):
    whole, index = session.read_bytes(), seal.read_index(session)
    values = st.sampled_from(
        [None, -1, 1e308, 10**40, "x" * 300, [], {}, "9999-12-31T00:00:00Z", [[[[]]]], True, "\x1b"]
    )

    @fuzzed
    @given(data=st.data())
    def any_change(data):
        path = tmp_path / "s.h5"
        path.write_bytes(whole)
        content = json.loads(index)
        for _ in range(data.draw(st.integers(0, 3))):
            where = content
            while isinstance(where, dict | list) and where:
                keys = list(where) if isinstance(where, dict) else list(range(len(where)))
                key = data.draw(st.sampled_from(keys))
                if not isinstance(where[key], dict | list) or data.draw(st.booleans()):
                    where[key] = copy.deepcopy(data.draw(values))
                    break
                where = where[key]
        resealed(path, json.dumps(content).encode())
        tried(read_session, path)

    any_change()


def test_journal_with_true_checksums_and_any_records(tmp_path):
    sensor = profile("packets-1k")
    arrived = chunks(sensor, measured(sensor, PERSON)[:1500])
    odd = st.sampled_from([float("nan"), float("inf"), -1e308, 1e300, 0.0, -1.0, 1e9])
    events = st.sampled_from([{"plan": 5}, {"plan": [{}] * 9}, {"link": "lost"}, {"link": []}, {"link": "back"}, {}])

    @fuzzed
    @given(data=st.data())
    def any_records(data):
        path = tmp_path / "s.journal"
        path.unlink(missing_ok=True)
        with JournalWriter(path, header(sensor)) as journal:
            for arrival, sent in arrived[:: data.draw(st.integers(1, 9))]:
                what = data.draw(st.sampled_from(["as it is"] * 8 + ["odd", "event", "noise"]))
                if what == "event":
                    journal.event(data.draw(events))
                journal.chunk(
                    data.draw(odd) if what == "odd" else arrival,
                    data.draw(st.binary(max_size=60)) if what == "noise" else sent,
                )
        for trial in recover(path).trials:
            assert abs(trial.context.started - MORNING) < dt.timedelta(days=20_000)

    any_records()
