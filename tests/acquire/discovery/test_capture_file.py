"""What was captured is the same when it is read again, and journals of recordings serve as well."""

import pytest
from pushed import as_notifications, captured, force_of_push, frames_of, text_frames

from acquire.discovery import Asked, Capture, Task, discover
from acquire.discovery.capture_file import MOST_S, read_capture, write_capture
from acquire.errors import ArchiveError, TraceFileError
from acquire.sensor.profile import load_profile
from acquire.storage.journal import JournalWriter


def test_capture_is_read_again_as_it_was(tmp_path):
    kept = captured(text_frames(lambda row: f"{row.counts}"), every_s=0.1)
    write_capture(tmp_path / "a.journal", kept)
    read = read_capture(tmp_path / "a.journal")
    assert read == kept
    assert discover(read) == discover(kept)


def test_capture_of_a_bluetooth_sensor_keeps_its_notifications_apart(tmp_path):
    profile = load_profile("ble-packets")
    notified = as_notifications(frames_of(profile, force_of_push(500.0)))
    kept = captured(notified, datagrams=True, service=profile.service, characteristic=profile.characteristic)
    write_capture(tmp_path / "a.journal", kept)
    assert read_capture(tmp_path / "a.journal") == kept


def test_bytes_alone_have_no_times(tmp_path):
    (tmp_path / "a.bin").write_bytes(b"12\n13\n")
    read = read_capture(tmp_path / "a.bin")
    assert (read.data, read.timed, read.seconds) == (b"12\n13\n", False, 0.0)


def test_journal_of_a_recording_is_read_and_its_events_passed_over(tmp_path):
    with JournalWriter(tmp_path / "a.journal", {"session": {}, "profile": {"name": "x"}}) as journal:
        journal.chunk(3.0, b"12\n")
        journal.event({"plan": []})
        journal.chunk(3.5, b"13\n")
    read = read_capture(tmp_path / "a.journal")
    assert read == Capture.of([(3.0, b"12\n"), (3.5, b"13\n")])
    assert read.seconds == 0.5


def test_only_the_beginning_of_a_long_journal_is_read(tmp_path):
    with JournalWriter(tmp_path / "a.journal", {}) as journal:
        for second in range(200):
            journal.chunk(1000.0 + second, b"12\n")
    assert read_capture(tmp_path / "a.journal").seconds == MOST_S


def test_cut_journal_gives_what_is_whole(tmp_path):
    path = tmp_path / "a.journal"
    write_capture(path, Capture.of([(0.0, b"12\n"), (1.0, b"13\n")]))
    path.write_bytes(path.read_bytes()[:-3])
    assert read_capture(path).data == b"12\n"


def test_last_time_of_asking_counts():
    first, second = Asked(Task.PUSH, 1.0, 2.0), Asked(Task.PUSH, 5.0, 6.0)
    capture = Capture.of([], asked=(first, second))
    assert capture.told(Task.PUSH) == second
    assert capture.told(Task.WEIGHT) is None


@pytest.mark.parametrize(
    "content", [{"asked": 5}, {"asked": ["jump", 1.0, 2.0, 0.0]}, {"asked": ["push", "now", 2.0, 0.0]}]
)
def test_journal_that_asks_for_something_unknown_is_refused(tmp_path, content):
    with JournalWriter(tmp_path / "a.journal", {}) as journal:
        journal.event(content)
    with pytest.raises(ArchiveError, match=r"a\.journal: what was asked of the person cannot be understood"):
        read_capture(tmp_path / "a.journal")


def test_file_that_is_not_there(tmp_path):
    with pytest.raises(TraceFileError, match=r"none\.bin: there is no such file"):
        read_capture(tmp_path / "none.bin")


def test_folder_is_no_file(tmp_path):
    with pytest.raises(TraceFileError, match="cannot be read: Is a directory"):
        read_capture(tmp_path)


def test_kept_file_is_never_written_over(tmp_path):
    write_capture(tmp_path / "a.journal", Capture.of([(0.0, b"1\n")]))
    with pytest.raises(ArchiveError, match="is there already"):
        write_capture(tmp_path / "a.journal", Capture.of([]))
