"""A session file that cannot be read is refused by name: cut, damaged, or written by a program with a mistake."""

import json
import random
from dataclasses import replace

import h5py
import numpy as np
import pytest
from sealed import changed, reindexed
from stored_session import PLAIN, SESSION, same_trial

from acquire.errors import ArchiveError
from acquire.storage import seal
from acquire.storage.session_file import (
    is_session_file,
    read_index,
    read_session,
    write_session,
)

# What cannot be read is refused by name.


def test_missing_file_is_named(tmp_path):
    with pytest.raises(ArchiveError, match=r"none\.h5: there is no such file"):
        read_session(tmp_path / "none.h5")


def test_folder_is_refused(tmp_path):
    with pytest.raises(ArchiveError, match="cannot be read: Is a directory"):
        read_session(tmp_path)


@pytest.mark.parametrize(
    "content",
    [b"", b"time_s,force_n\n0.0,1.0\n", b"\x89HDF", b"ramphold-session\n", b"ramphold-session x\n", b"x" * 999],
)
def test_file_of_another_kind_is_refused(tmp_path, content):
    (tmp_path / "s.h5").write_bytes(content)
    for read in (read_session, read_index):
        with pytest.raises(ArchiveError, match=r"s\.h5: is not a session file"):
            read(tmp_path / "s.h5")


def test_other_hdf5_is_refused(tmp_path):
    with h5py.File(tmp_path / "s.h5", "w") as file:
        file.attrs["format"] = "ramphold-session"
    with pytest.raises(ArchiveError, match=r"s\.h5: is not a session file"):
        read_session(tmp_path / "s.h5")


def test_newer_version_is_refused_whatever_else_it_holds(tmp_path):
    (tmp_path / "s.h5").write_bytes(b"ramphold-session 2\nall else is new")
    for read in (read_session, read_index):
        with pytest.raises(ArchiveError, match=r"s\.h5: was made by a newer program.*session format 2, .*reads 1\)"):
            read(tmp_path / "s.h5")
    assert is_session_file(tmp_path / "s.h5")


def test_cut_file_is_refused_wherever_it_is_cut(stored):
    whole = stored.read_bytes()
    for size in [19, 20, 100, 511, 2048, *range(4096, len(whole), 500), len(whole) - 1]:
        stored.write_bytes(whole[:size])
        with pytest.raises(ArchiveError, match=r"s\.h5: is damaged or cut short, restore it from a copy"):
            read_session(stored)


def test_longer_file_is_refused(stored):
    stored.write_bytes(stored.read_bytes() + b"\0")
    with pytest.raises(ArchiveError, match=r"s\.h5: is damaged or cut short"):
        read_session(stored)


def test_every_flipped_bit_is_noticed_or_does_not_matter(stored):
    whole = stored.read_bytes()
    rng = random.Random(7)
    for place in [*range(20, 700, 3), *(rng.randrange(700, len(whole)) for _ in range(300))]:
        hurt = bytearray(whole)
        hurt[place] ^= 1 << rng.randrange(8)
        stored.write_bytes(hurt)
        try:
            again = read_session(stored)
        except ArchiveError as error:
            assert str(error).startswith(f"{stored}: is damaged")  # noqa: PT017 - either end is right
        else:
            # Only what fills up the head has no meaning.
            assert whole[place] == 0
            assert all(map(same_trial, again.trials, SESSION.trials))


def test_damage_far_from_the_end_of_a_large_file_is_noticed(stored):
    large = replace(PLAIN, time=np.arange(200_000.0), counts=np.zeros(200_000))
    write_session(stored, replace(SESSION, trials=(large,)))
    hurt = bytearray(stored.read_bytes())
    assert len(hurt) > 3_000_000
    hurt[500_000] ^= 1
    stored.write_bytes(hurt)
    with pytest.raises(ArchiveError, match=r"s\.h5: is damaged or cut short"):
        read_session(stored)


def test_zeroed_page_is_noticed(stored):
    # As a copy to a stick pulled out too early leaves it: the right length, without the content.
    whole = stored.read_bytes()
    stored.write_bytes(whole[:4096] + bytes(len(whole) - 4096))
    with pytest.raises(ArchiveError, match=r"s\.h5: is damaged or cut short"):
        read_session(stored)


@pytest.mark.parametrize(
    "change", [{"block": 1 << 40}, {"index_bytes": -1}, {"index_bytes": 4096}, {"block": 2.5}, {"x": 1}]
)
def test_head_that_makes_no_sense_is_refused(stored, change):
    first, second, rest = stored.read_bytes().split(b"\n", 2)
    head = json.dumps(json.loads(second) | change).encode()
    stored.write_bytes(b"\n".join([first, head, rest]))
    for read in (read_session, read_index):
        with pytest.raises(ArchiveError, match=r"s\.h5: is damaged"):
            read(stored)


# With its seal in order, a file may still be the work of a program with a mistake.


@pytest.mark.parametrize(
    ("piece", "message"),
    [
        ("trials", "is damaged or cut short"),
        ("trials/0001", "is damaged: 2 trials in the index, 1 stored"),
        ("trials/0002/time_s", "is damaged: trials/0002 has no dataset time_s"),
        ("trials/0001/counts", "is damaged: trials/0001 has no dataset counts"),
    ],
)
def test_missing_piece_is_named(stored, piece, message):
    with changed(stored) as file:
        del file[piece]
    with pytest.raises(ArchiveError, match=rf"s\.h5: {message}"):
        read_session(stored)


def test_foreign_group_among_the_trials_is_refused(stored):
    with changed(stored) as file:
        file.create_group("trials/notes")
    with pytest.raises(ArchiveError, match=r"s\.h5: is damaged or cut short"):
        read_session(stored)


@pytest.mark.parametrize(
    ("name", "values", "message"),
    [
        ("time_s", np.array([1, 2, 3]), "/time_s must be one column of float64, got int64"),
        ("time_s", np.zeros((3, 1)), r"/time_s must be one column of float64, got float64 of shape \(3, 1\)"),
        ("counts", np.array([1, 2, 3]), "/counts must be one column of int32 or float64, got int64"),
        ("counts", np.float64(1.0), r"/counts must be one column of int32 or float64, got float64 of shape \(\)"),
        ("counts", np.zeros(4), r": time_s and counts must be 1-D and alike, got \(3,\) and \(4,\)"),
        ("time_s", np.array([0.0, np.nan, 1.0]), ": time_s must be finite and increase"),
        ("time_s", np.array([0.0, 1.0, 1.0]), ": time_s must be finite and increase"),
    ],
)
def test_wrong_samples_are_named(stored, name, values, message):
    with changed(stored) as file:
        del file[f"trials/0001/{name}"]
        file[f"trials/0001/{name}"] = values
    with pytest.raises(ArchiveError, match=rf"s\.h5: is damaged: trials/0001{message}"):
        read_session(stored)


def test_trial_of_impossible_length_is_refused(stored):
    with changed(stored) as file:
        del file["trials/0001/time_s"]
        file.create_dataset("trials/0001/time_s", shape=(10**12,), dtype="f8", chunks=(1024,))
    with pytest.raises(ArchiveError, match=r"trials/0001/time_s must be one column .* shape \(1000000000000,\)"):
        read_session(stored)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda trial: trial.update(mood=1), r"unknown field `mood` - at `\$\.trials\[1\]`"),
        (lambda trial: trial["context"].update(mood=1), r"unknown field `mood` - at `\$\.trials\[1\]\.context`"),
        (lambda trial: trial["calibration"].update(k=1), r"unknown field `k` - at `\$\.trials\[1\]\.calibration`"),
        (lambda trial: trial.pop("zero_counts"), r"missing required field `zero_counts` - at `\$\.trials\[1\]`"),
        (lambda trial: trial.update(zero_counts="8"), r"Expected `float`, got `str` - at `.*\.zero_counts`"),
        (lambda trial: trial["context"].update(side="up"), r"Invalid enum value 'up' - at `.*\.context\.side`"),
        (lambda trial: trial["context"].update(started="2026-03-02T09:30:00"), "started must carry its zone"),
        (lambda trial: trial["calibration"].update(newtons_per_count=0), "newtons_per_count must be finite, not 0"),
    ],
)
def test_wrong_key_of_a_trial_is_named(stored, change, message):
    reindexed(stored, lambda index: change(index["trials"][1]))
    for read in (read_session, read_index):
        with pytest.raises(ArchiveError, match=rf"s\.h5: cannot be understood: .*{message}"):
            read(stored)


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (lambda index: index.update(mood=1), "unknown field `mood`"),
        (lambda index: index.pop("trials"), "missing required field `trials`"),
        (lambda index: index["context"]["person"].update(name="x"), r"unknown field `name` - at `\$\.context\.person`"),
        (lambda index: index["context"].pop("session"), "missing required field `session`"),
        (lambda index: index["context"].update(started="now"), r"Invalid RFC3339 encoded datetime - at `.*\.started`"),
        (
            lambda index: index["context"].update(cautions_acknowledged="2026-03-02T09:30:00"),
            "cautions_acknowledged must carry its zone",
        ),
    ],
)
def test_wrong_key_of_the_session_is_named(stored, change, message):
    reindexed(stored, change)
    for read in (read_session, read_index):
        with pytest.raises(ArchiveError, match=rf"s\.h5: cannot be understood: .*{message}"):
            read(stored)


@pytest.mark.parametrize(
    ("index", "message"), [(b'{"context": ', "Input data was truncated"), (b'{"\xff":1}', "'utf-8' codec can't decode")]
)
def test_index_that_is_no_json_is_refused(stored, index, message):
    seal.seal_file(stored, index)
    with pytest.raises(ArchiveError, match=rf"s\.h5: cannot be understood: {message}"):
        read_index(stored)
