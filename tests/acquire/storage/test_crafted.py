"""Files that were made to fool: their seals hold, and what they hold is not what this program writes."""

import datetime as dt
import os

import h5py
import numpy as np
import pytest
from sealed import changed, reindexed, resealed

from acquire.errors import ArchiveError
from acquire.storage import seal
from acquire.storage.session_file import read_session, write_session
from acquire.values.calibration import Calibration
from acquire.values.records import Session, SessionContext, Trial

TRIAL = Trial(
    time=np.arange(6) * 0.001,
    counts=np.arange(6.0),
    calibration=Calibration(newtons_per_count=1.0),
    zero_counts=0.0,
)
MORNING = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
SESSION = Session(context=SessionContext(session="s-1", started=MORNING), trials=(TRIAL, TRIAL))
COUNTS = "trials/0001/counts"
SECRET = np.arange(1000.0)


@pytest.fixture
def stored(tmp_path):
    path = tmp_path / "s.h5"
    write_session(path, SESSION)
    return path


@pytest.fixture
def secret(tmp_path):
    """A file that the reader may read, and whoever sent the session may not."""
    path = tmp_path / "secret"
    path.write_bytes(SECRET.tobytes())
    return path


def replaced(stored, **made):
    """Put another dataset in place of the counts."""
    with changed(stored) as file:
        shape = file[COUNTS].shape
        del file[COUNTS]
        file.create_dataset(COUNTS, **{"shape": shape, "dtype": np.float64, **made})


def test_samples_that_are_stored_in_another_file_are_not_read(stored, secret):
    replaced(stored, external=[(str(secret), 0, h5py.h5f.UNLIMITED)])
    with pytest.raises(ArchiveError, match="counts is not stored as this program stores it: as one piece of this"):
        read_session(stored)


def test_samples_in_a_pipe_are_not_waited_for(stored, tmp_path):
    os.mkfifo(tmp_path / "pipe")
    replaced(stored, external=[(str(tmp_path / "pipe"), 0, h5py.h5f.UNLIMITED)])
    with pytest.raises(ArchiveError, match="is not stored as this program stores it"):
        read_session(stored)


@pytest.mark.parametrize(
    "more", [{"compression": "gzip"}, {"chunks": (1,)}, {"maxshape": (None,)}, {"shuffle": True}, {"fletcher32": True}]
)
def test_samples_in_pieces_or_through_a_filter_are_refused(stored, more):
    replaced(stored, **more)
    with pytest.raises(ArchiveError, match="is not stored as this program stores it"):
        read_session(stored)


def test_a_hundred_million_samples_that_are_not_there_are_not_asked_for(stored):
    with changed(stored) as file:
        for name in ("time_s", "counts"):
            del file[f"trials/0001/{name}"]
            file.create_dataset(f"trials/0001/{name}", shape=(100_000_000,), dtype=np.float64)
    with pytest.raises(ArchiveError, match="is not stored as this program stores it"):
        read_session(stored)


def test_samples_that_are_put_together_from_other_files_are_refused(stored, tmp_path):
    with h5py.File(tmp_path / "other.h5", "w") as other:
        other["x"] = SECRET
    with changed(stored) as file:
        shape = file[COUNTS].shape
        del file[COUNTS]
        layout = h5py.VirtualLayout(shape=shape, dtype=np.float64)
        layout[:] = h5py.VirtualSource(tmp_path / "other.h5", "x", shape=(1000,))[: shape[0]]
        file.create_virtual_dataset(COUNTS, layout)
    with pytest.raises(ArchiveError, match="is not stored as this program stores it"):
        read_session(stored)


@pytest.mark.parametrize("piece", ["trials", "trials/0001", "trials/0001/time_s", COUNTS])
@pytest.mark.parametrize("link", [h5py.ExternalLink("other.h5", "/x"), h5py.SoftLink("/elsewhere")])
def test_link_is_not_followed(stored, tmp_path, piece, link):
    with h5py.File(tmp_path / "other.h5", "w") as other:
        other["x"] = SECRET
    with changed(stored) as file:
        file.move(piece, "elsewhere")
        file[piece] = link
    name = piece.rsplit("/", 1)[-1]
    with pytest.raises(ArchiveError, match=rf"s\.h5.*: {name} is a link: a session file holds its samples itself"):
        read_session(stored)


@pytest.mark.parametrize("value", [np.inf, -np.inf])
def test_infinite_counts_are_damage(stored, value):
    with changed(stored) as file:
        counts = file["trials/0002/counts"]
        counts[0] = value
    with pytest.raises(ArchiveError, match=r"trials/0002: counts must be finite, or NaN where a sample was lost"):
        read_session(stored)


def test_jump_of_thirty_years_is_damage(stored):
    with changed(stored) as file:
        time = file["trials/0001/time_s"]
        time[-1] = time[-1] + 1e9
    with pytest.raises(ArchiveError, match=r"trials/0001: time_s spans 1e\+09 s for 6 samples: no trial lasts so long"):
        read_session(stored)


def test_index_that_is_nested_a_thousand_deep_is_refused(stored):
    deep = b'{"a":' * 5000 + b"{}" + b"}" * 5000
    resealed(stored, seal.read_index(stored).replace(b'"verdict":null', b'"verdict":' + deep, 1))
    with pytest.raises(ArchiveError, match=r"s\.h5: cannot be understood: its index is nested too deeply"):
        read_session(stored)


def test_pipe_is_no_session_file(tmp_path):
    os.mkfifo(tmp_path / "s.h5")
    with pytest.raises(ArchiveError, match=r"s\.h5: cannot be read: it is no ordinary file, but a pipe"):
        read_session(tmp_path / "s.h5")


def test_one_dataset_under_many_names_is_no_more_samples_than_the_file_holds(tmp_path):
    path, long = tmp_path / "s.h5", np.arange(20_000) * 0.001
    trial = Trial(time=long, counts=long.copy(), calibration=TRIAL.calibration, zero_counts=0.0)
    write_session(path, Session(context=SESSION.context, trials=(trial, TRIAL, TRIAL)))
    with changed(path) as file:
        for number in ("0002", "0003"):
            for name in ("time_s", "counts"):
                del file[f"trials/{number}/{name}"]
                file[f"trials/{number}/{name}"] = file[f"trials/0001/{name}"]
    whole = path.read_bytes()
    with h5py.File(path) as file:
        assert len(whole) - file.userblock_size < 3 * 2 * long.nbytes, "else there is nothing to see"
    with pytest.raises(ArchiveError, match="would make more samples than the file has bytes for"):
        read_session(path)


IMPOSSIBLE = {
    "mass": (("context", "person", "mass_kg"), -1.0, "mass_kg"),
    "lever arm": (("trials", 0, "context", "lever_arm_m"), 1e308, "lever_arm_m"),
    "year": (("context", "started"), "9999-12-31T00:00:00+00:00", "started must be from 1990 to 2199"),
    "code": (("context", "person", "code"), "x" * 100_000, "length <= 200"),
    "examiner": (("trials", 0, "context", "examiner"), "x" * 100_000, "length <= 200"),
    "sensitivity": (("trials", 0, "calibration", "newtons_per_count"), 1e300, "a count must be 1e-12 to 1e\\+06 N"),
    "zero": (("trials", 0, "zero_counts"), 1e300, "the zero must be 1e\\+15 counts at most"),
}


@pytest.mark.parametrize(("place", "value", "limit"), IMPOSSIBLE.values(), ids=IMPOSSIBLE)
def test_what_cannot_be_true_is_refused_with_its_limit(stored, place, value, limit):
    def change(index):
        for step in place[:-1]:
            index = index[step]
        index[place[-1]] = value

    reindexed(stored, change)
    with pytest.raises(ArchiveError, match=limit) as caught:
        read_session(stored)
    assert len(str(caught.value)) < 500


@pytest.mark.parametrize(
    ("time", "counts", "limit"),
    [
        (np.arange(6) * 1e-300, np.zeros(6), "steps of less than 1e-06 s"),
        (np.array([0.0, 1.0, 2.0, 3.0, 4.0, 1e9]), np.zeros(6), "no trial lasts so long"),
        (np.arange(6.0), np.full(6, 1e300), "counts must be 1e\\+15 at most"),
        (np.arange(6.0), np.full(6, np.inf), "counts must be finite"),
    ],
    ids=["times", "jump", "counts", "infinity"],
)
def test_samples_that_cannot_be_true_are_refused(stored, time, counts, limit):
    with changed(stored) as file:
        file["trials/0001/time_s"][:], file[COUNTS][:] = time, counts
    with pytest.raises(ArchiveError, match=limit):
        read_session(stored)
