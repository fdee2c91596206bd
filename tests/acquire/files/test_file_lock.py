"""One program at a time writes a recording: by the system's own locks, which end with the program."""

import subprocess
import sys
import threading

import pytest

from acquire.errors import ArchiveError
from acquire.files.file_lock import RecordingLock

HOLD = """
import sys
from acquire.files.file_lock import RecordingLock
lock = RecordingLock(sys.argv[1])
print("held", flush=True)
sys.stdin.read()
"""


@pytest.fixture
def path(tmp_path):
    return tmp_path / "s.h5.journal"


@pytest.fixture
def other(path):
    """Another program that holds the lock."""
    with subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as program:
        assert program.stdout.readline() == "held\n"
        yield program
        program.kill()


@pytest.mark.usefixtures("other")
def test_another_program_is_refused_and_told_why(path):
    with pytest.raises(ArchiveError, match=r"s\.h5\.journal: another program is recording into it right now; end"):
        RecordingLock(path)


def test_lock_ends_with_a_killed_program_and_its_file_is_taken_over(path, other):
    other.kill()
    other.wait()
    assert path.with_name("s.h5.journal.lock").exists()
    with RecordingLock(path):
        pass
    assert list(path.parent.iterdir()) == []


def test_second_lock_of_the_same_program_is_refused(path):
    with RecordingLock(path), pytest.raises(ArchiveError, match="another program is recording"):
        RecordingLock(path)


def test_lock_can_be_had_again_after_its_release(path):
    for _ in range(2):
        lock = RecordingLock(path)
        lock.release()
        lock.release()
    assert list(path.parent.iterdir()) == []


def test_another_thread_may_release_it(path):
    lock = RecordingLock(path)
    thread = threading.Thread(target=lock.release)
    thread.start()
    thread.join()
    with RecordingLock(path):
        pass


def test_recording_can_be_read_while_it_is_locked(path):
    path.write_bytes(b"what was recorded")
    with RecordingLock(path):
        assert path.read_bytes() == b"what was recorded"
    assert path.read_bytes() == b"what was recorded"


def test_file_system_without_locks_lets_everybody_record(path, monkeypatch):
    def none(_self):
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr("filelock.FileLock._acquire", none)
    with RecordingLock(path), RecordingLock(path):
        pass


def test_folder_that_is_not_there_is_not_made(tmp_path):
    RecordingLock(tmp_path / "none" / "s.journal").release()
    assert list(tmp_path.iterdir()) == []
