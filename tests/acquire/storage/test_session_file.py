"""A session file: what is written is what is read, by this program and by any reader of HDF5."""

import datetime as dt
import json
import resource
import signal
import zlib
from dataclasses import replace
from zoneinfo import ZoneInfo

import h5py
import msgspec
import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from stored_session import CALIBRATION, MORNING, PLAIN, SESSION, TRIAL, same_trial

from acquire.errors import ArchiveError
from acquire.storage import seal
from acquire.storage.session_file import (
    TrialRecord,
    is_session_file,
    read_index,
    read_session,
    write_session,
)
from acquire.values.outside_text import visible
from acquire.values.records import Note, Person, Session, SessionContext, SetAside, TrialContext

# What is written is what is read.


def test_session_reads_back_whole(stored):
    again = read_session(stored)
    assert again.context == SESSION.context
    assert len(again.trials) == 2
    assert all(map(same_trial, again.trials, SESSION.trials))


def test_session_without_trials_reads_back(tmp_path):
    write_session(tmp_path / "s.h5", Session(context=SESSION.context))
    assert read_session(tmp_path / "s.h5").trials == ()
    assert read_index(tmp_path / "s.h5").trials == ()


def test_trials_without_samples_or_with_one_read_back(tmp_path):
    none = replace(PLAIN, time=np.array([]), counts=np.array([], dtype=np.int32))
    one = replace(PLAIN, time=np.array([3.0]), counts=np.array([7], dtype=np.int32))
    write_session(tmp_path / "s.h5", replace(SESSION, trials=(none, one)))
    assert all(map(same_trial, read_session(tmp_path / "s.h5").trials, (none, one)))


def test_many_trials_keep_their_order(tmp_path):
    trials = tuple(replace(PLAIN, zero_counts=float(number)) for number in range(120))
    write_session(tmp_path / "s.h5", replace(SESSION, trials=trials))
    assert [trial.zero_counts for trial in read_session(tmp_path / "s.h5").trials] == list(range(120))


def test_long_metadata_fits(tmp_path):
    # An HDF5 attribute kept in place holds 64 KiB; texts of variable length lie outside.
    long = replace(PLAIN, verdict={"text": "x" * 300_000})
    write_session(tmp_path / "s.h5", replace(SESSION, trials=(long, long)))
    assert read_session(tmp_path / "s.h5").trials[1].verdict == long.verdict
    assert read_index(tmp_path / "s.h5").trials[1].verdict == long.verdict


def test_slices_of_larger_arrays_are_stored_as_they_look(tmp_path):
    ramp = np.arange(20.0)
    sliced = replace(PLAIN, time=ramp[::2], counts=ramp[::-2])
    write_session(tmp_path / "s.h5", replace(SESSION, trials=(sliced,)))
    assert same_trial(read_session(tmp_path / "s.h5").trials[0], sliced)


FIRST, LAST = dt.datetime(1990, 1, 2), dt.datetime(2199, 12, 30)  # noqa: DTZ001 - the zone is drawn
words = st.text(st.characters(codec="utf-8"), max_size=12).map(visible)
numbers = st.floats(allow_nan=False, allow_infinity=False)
json_values = st.recursive(
    st.none() | st.booleans() | st.integers(-(2**53), 2**53) | numbers | words,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(words, inner, max_size=3),
    max_leaves=8,
)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40)
@given(
    code=words,
    verdict=st.none() | st.dictionaries(words, json_values, max_size=4),
    damage=st.lists(words, max_size=3).map(tuple),
    started=st.datetimes(FIRST, LAST, timezones=st.timezones()),
    zero=st.floats(-1e15, 1e15),
    steps=st.lists(st.floats(1e-5, 10.0), max_size=20),
    data=st.data(),
)
def test_any_session_reads_back(tmp_path, *, code, verdict, damage, started, zero, steps, data):
    counts = data.draw(st.lists(st.integers(-(2**31), 2**31 - 1), min_size=len(steps), max_size=len(steps)))
    trial = replace(
        TRIAL,
        time=np.cumsum(steps),
        counts=np.array(counts, dtype=np.int32),
        verdict=verdict,
        damage=damage,
        zero_counts=zero,
    )
    context = msgspec.structs.replace(SESSION.context, started=started, person=Person(code=code))
    write_session(tmp_path / "s.h5", Session(context=context, trials=(trial,)))
    again = read_session(tmp_path / "s.h5")
    # Times are compared as text: in a repeated hour, Python has no time equal one of another zone (PEP 495).
    assert msgspec.json.encode(again.context) == msgspec.json.encode(context)
    assert same_trial(again.trials[0], trial)


@pytest.mark.parametrize(("fold", "offset"), [(0, "+02:00"), (1, "+01:00")])
def test_hour_that_a_clock_put_back_repeats_is_stored(tmp_path, fold, offset):
    started = dt.datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Oslo"), fold=fold)
    write_session(tmp_path / "s.h5", Session(context=SessionContext(session="s", started=started)))
    again = read_session(tmp_path / "s.h5").context.started
    assert again.isoformat() == f"2026-10-25T02:30:00{offset}"
    assert again.timestamp() == started.timestamp()


def test_same_session_gives_the_same_bytes(stored):
    first = stored.read_bytes()
    write_session(stored, SESSION)
    assert stored.read_bytes() == first
    with h5py.File(stored) as file:  # nor does HDF5 note the second it was made in
        assert h5py.h5g.get_objinfo(file.id, b"trials/0001/time_s").mtime == 0


def test_nan_in_a_verdict_becomes_null(tmp_path):
    write_session(tmp_path / "s.h5", replace(SESSION, trials=(replace(PLAIN, verdict={"peak": float("nan")}),)))
    assert read_session(tmp_path / "s.h5").trials[0].verdict == {"peak": None}


def test_index_tells_all_but_the_samples(stored):
    index = read_index(stored)
    assert index.context == SESSION.context
    assert [record.context for record in index.trials] == [TRIAL.context, TrialContext()]
    assert index.trials[0] == TrialRecord(
        context=TRIAL.context,
        calibration=CALIBRATION,
        zero_counts=TRIAL.zero_counts,
        damage=TRIAL.damage,
        verdict=TRIAL.verdict,
        set_aside=TRIAL.set_aside,
        notes=TRIAL.notes,
    )


def test_index_says_what_the_attributes_say(stored):
    index = json.loads(seal.read_index(stored))
    with h5py.File(stored) as file:
        assert json.loads(file.attrs["context"]) == index["context"]
        assert [json.loads(trial.attrs["context"]) for trial in file["trials"].values()] == index["trials"]


def test_index_needs_no_more_than_the_head(stored):
    with h5py.File(stored) as file:
        block = file.userblock_size
    stored.write_bytes(stored.read_bytes()[:block])
    assert read_index(stored).context == SESSION.context


@pytest.mark.parametrize("length", [0, 255, 256, 257, 767, 768, 769, 300_000])
def test_block_has_room_for_the_head_and_is_a_power_of_two(length):
    block = seal.block_for(bytes(length))
    assert block >= max(512, length + 256)
    assert block.bit_count() == 1
    assert block == 512 or block // 2 < length + 256


def test_contacts_read_back_beside_the_trials_and_h5py_sees_them(tmp_path):
    contact = replace(TRIAL, verdict=None, set_aside=())
    path = tmp_path / "s.h5"
    write_session(path, SESSION.with_contact(contact).with_contact(PLAIN))
    again = read_session(path)
    assert len(again.trials) == len(SESSION.trials)
    assert [(c.context, c.verdict, c.counts.tolist()) for c in again.contacts] == [
        (c.context, None, pytest.approx(c.counts.tolist(), nan_ok=True)) for c in (contact, PLAIN)
    ]
    assert [record.context for record in read_index(path).contacts] == [contact.context, PLAIN.context]
    with h5py.File(path) as file:
        assert list(file["contacts"]) == ["0001", "0002"]
        assert json.loads(file["contacts/0001"].attrs["context"])["zero_counts"] == TRIAL.zero_counts


def test_session_without_contacts_has_no_word_of_them(stored):
    with h5py.File(stored) as file:
        assert list(file) == ["trials"]
    assert b"contacts" not in stored.read_bytes()


def test_bad_contact_is_named_and_not_written(tmp_path):
    with pytest.raises(ValueError, match="contact 1: time_s and counts must be"):
        write_session(tmp_path / "s.h5", SESSION.with_contact(replace(PLAIN, counts=np.zeros(5))))
    assert not (tmp_path / "s.h5").exists()


# The format is a contract: h5py alone reads it.


def test_h5py_alone_gives_newtons(stored):
    with h5py.File(stored) as file:
        assert file.attrs["format"] == "ramphold-session"
        assert file.attrs["format_version"] == 1
        assert list(file["trials"]) == ["0001", "0002"]
        trial = file["trials/0001"]
        about = json.loads(trial.attrs["context"])
        seconds, counts = trial["time_s"][:], trial["counts"][:]
    force = (counts - about["zero_counts"]) * about["calibration"]["newtons_per_count"]
    assert (seconds.dtype, counts.dtype) == (np.float64, np.int32)
    assert force.tolist() == [(n - 8120.25) * -0.002451 for n in (-(2**31), 0, 2**31 - 1)]
    assert force.tolist() == CALIBRATION.force(TRIAL.counts, zero_counts=TRIAL.zero_counts).tolist()


def test_a_reader_of_text_finds_what_it_is(stored):
    first, second, index = stored.read_bytes().split(b"\n", 3)[:3]
    assert first == b"ramphold-session 1"
    body = stored.read_bytes()[json.loads(second)["block"] :]
    assert json.loads(second) == {
        "block": len(stored.read_bytes()) - len(body),
        "index_bytes": len(index),
        "index_crc32": zlib.crc32(index),
        "body_bytes": len(body),
        "body_crc32": zlib.crc32(body),
    }
    assert body.startswith(b"\x89HDF\r\n\x1a\n")
    assert sorted(json.loads(index)) == ["context", "trials"]


def test_a_reader_of_hdf5_finds_the_formula(stored):
    with h5py.File(stored) as file:
        assert "(counts - zero_counts) * calibration.newtons_per_count" in file.attrs["about"]


def test_json_layout_is_as_documented(stored):
    with h5py.File(stored) as file:
        session, trial = json.loads(file.attrs["context"]), json.loads(file["trials/0001"].attrs["context"])
    assert sorted(trial) == [
        "calibration",
        "context",
        "damage",
        "notes",
        "resting_n",
        "set_aside",
        "verdict",
        "zero_counts",
    ]
    assert trial["context"]["started"] == session["started"] == "2026-03-02T09:30:00.250000+01:00"
    assert trial["calibration"]["date"] == "2026-01-31"
    assert trial["calibration"]["points"][1] == {"load_n": 98.0665, "counts": -31880.5}
    assert session["person"] == {
        "code": "P\u00e4",
        "sex": "female",
        "age_years": 31.5,
        "mass_kg": 64.0,
        "height_m": 1.7,
        "dominant_side": "left",
        "affected_side": None,
    }


# What could not be read back is not written.


@pytest.mark.parametrize(
    ("trial", "message"),
    [
        (replace(PLAIN, counts=np.zeros(3)), r"time_s and counts must be 1-D and alike, got \(2,\) and \(3,\)"),
        (replace(PLAIN, time=np.zeros((2, 1)), counts=np.zeros((2, 1))), "must be 1-D"),
        (replace(PLAIN, time=np.array([1.0, 1.0])), "time_s must be finite and increase"),
        (replace(PLAIN, time=np.array([1.0, np.inf])), "time_s must be finite and increase"),
        (replace(PLAIN, time=np.array([np.nan]), counts=np.zeros(1)), "time_s must be finite and increase"),
        (replace(PLAIN, counts=np.array([1, 2])), "counts int32 or float64, got float64 and int64"),
        (replace(PLAIN, time=np.array([1, 2])), "time_s must be float64"),
        (replace(PLAIN, zero_counts=float("nan")), r"Expected `float`, got `null` - at `\$\.zero_counts`"),
        (replace(PLAIN, context=TrialContext(lever_arm_m=float("inf"))), "context holds a NaN or infinite number"),
        (replace(PLAIN, context=TrialContext(side="up")), "Invalid enum value 'up'"),
        (replace(PLAIN, verdict={"peak": object()}), "cannot be stored: Encoding objects of type object"),
    ],
)
def test_trial_that_could_not_be_read_is_not_written(stored, trial, message):
    before = stored.read_bytes()
    with pytest.raises(ValueError, match=f"trial 2.*{message}"):
        write_session(stored, replace(SESSION, trials=(TRIAL, trial)))
    assert stored.read_bytes() == before


def test_times_without_zone_are_not_written(tmp_path):
    naive = MORNING.replace(tzinfo=None)
    late = replace(PLAIN, context=TrialContext(started=naive))
    aside = replace(PLAIN, set_aside=(SetAside(aside=True, reason="", by="", at=naive),))
    noted = replace(PLAIN, notes=(Note(text="", by="", at=naive),))
    with pytest.raises(ValueError, match=r"started must carry its zone, got 2026-03-02T09:30:00\.250000"):
        write_session(tmp_path / "s.h5", replace(SESSION, trials=(late,)))
    with pytest.raises(ValueError, match="at must carry its zone"):
        write_session(tmp_path / "s.h5", replace(SESSION, trials=(aside,)))
    with pytest.raises(ValueError, match="at must carry its zone"):
        write_session(tmp_path / "s.h5", replace(SESSION, trials=(noted,)))
    with pytest.raises(ValueError, match="started must carry its zone"):
        write_session(tmp_path / "s.h5", Session(context=SessionContext(session="s", started=naive)))
    assert list(tmp_path.iterdir()) == []


def test_missing_folder_is_named(tmp_path):
    with pytest.raises(ArchiveError, match=r"none/s\.h5: cannot be written: .*[Nn]o such file or directory"):
        write_session(tmp_path / "none" / "s.h5", SESSION)


def test_full_disk_leaves_the_old_file(stored):
    before = stored.read_bytes()
    big = replace(PLAIN, time=np.arange(200_000.0), counts=np.zeros(200_000))
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1_000_000, hard))
    try:
        with pytest.raises(ArchiveError, match=r"s\.h5: cannot be written: File too large\Z"):
            write_session(stored, replace(SESSION, trials=(big,)))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
        signal.signal(signal.SIGXFSZ, handler)
    assert stored.read_bytes() == before
    assert [path.name for path in stored.parent.iterdir()] == ["s.h5"]


# Knowing and finding session files.


@pytest.mark.usefixtures("stored")
def test_session_file_is_known_from_others(tmp_path):
    (tmp_path / "text.h5").write_text("time_s,force_n\n")
    (tmp_path / "empty.h5").touch()
    with h5py.File(tmp_path / "other.h5", "w") as file:
        file.attrs["format"] = "another"
    found = {path.name: is_session_file(path) for path in [*tmp_path.iterdir(), tmp_path, tmp_path / "none.h5"]}
    assert found.pop("s.h5")
    assert not any(found.values())
    assert len(found) == 5
