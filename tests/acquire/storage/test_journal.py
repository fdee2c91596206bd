import datetime as dt
import os
import resource
import signal
import struct
import zlib

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from whole_journal import Journal, read_journal

from acquire.errors import ArchiveError
from acquire.storage import journal as module
from acquire.storage.journal import (
    MAGIC,
    ChunkRecord,
    EventRecord,
    JournalReader,
    JournalWriter,
    holds_nothing,
)
from acquire.values.records import TrialContext

HEADER = {"session": "s-1", "sensor": "demo"}
in_one_folder = settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)


@pytest.fixture
def path(tmp_path):
    return tmp_path / "s.journal"


@pytest.fixture
def syncs(monkeypatch):
    """Return the list of sizes at which a file was brought to the disk."""
    sizes = []

    def noted(handle):
        sizes.append(os.fstat(handle).st_size)

    monkeypatch.setattr(module, "_to_disk", noted)
    return sizes


def written(path, *records):
    """Write a journal; return where its header and each record end."""
    path.unlink(missing_ok=True)
    with JournalWriter(path, HEADER) as journal:
        ends = [path.stat().st_size]
        for record in records:
            if isinstance(record, ChunkRecord):
                journal.chunk(*record)
            else:
                journal.event(record.content)
            ends.append(path.stat().st_size)
    return ends


def framed(kind, payload, *, length=None):
    """Return one record, made without the module's help."""
    body = struct.pack("<I", len(payload) if length is None else length) + kind + payload
    return body + struct.pack("<I", zlib.crc32(body))


# The format is a contract.


def test_golden_journal(path):
    written(path, ChunkRecord(1.5, b"\x01\x00"), EventRecord({"saved": 1}))
    assert path.read_bytes().hex(" ") == (
        "72 61 6d 70 68 6f 6c 64 2d 6a 6f 75 72 6e 61 6c 20 31 0a"  # "ramphold-journal 1\n"
        " 21 00 00 00 48 7b 22 73 65 73 73 69 6f 6e 22 3a 22 73 2d 31 22 2c 22 73 65 6e 73 6f 72 22 3a 22 64 65 6d"
        " 6f 22 7d 95 27 05 08"  # 33 bytes, H
        " 0a 00 00 00 43 00 00 00 00 00 00 f8 3f 01 00 bb ac 88 8a"  # 10 bytes, C, 1.5 s
        " 0b 00 00 00 45 7b 22 73 61 76 65 64 22 3a 31 7d d2 5e 79 2d"  # 11 bytes, E
    )


def test_record_made_by_the_description_alone_is_read(path):
    path.write_bytes(
        MAGIC
        + framed(b"H", b'{"sensor": "x"}')
        + framed(b"C", struct.pack("<d", 2.25) + b"abc")
        + framed(b"E", b'{"trial": {"side": null}}')
    )
    assert read_journal(path) == Journal(
        header={"sensor": "x"},
        records=(ChunkRecord(2.25, b"abc"), EventRecord({"trial": {"side": None}})),
        torn=0,
    )


records = st.lists(
    st.builds(ChunkRecord, st.floats(0, 1e9), st.binary(max_size=80))
    | st.builds(EventRecord, st.dictionaries(st.text(max_size=5), st.integers(0, 9) | st.text(max_size=5), max_size=3)),
    max_size=8,
)


@in_one_folder
@given(records=records)
def test_any_records_read_back(path, records):
    written(path, *records)
    assert read_journal(path) == Journal(header=HEADER, records=tuple(records), torn=0)


def test_records_with_structs_and_times_come_back_as_plain_values(path):
    started = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
    context = TrialContext(action="knee-extension", side="left", started=started)
    with JournalWriter(path, context) as journal:
        journal.event({"trial": context})
    read = read_journal(path)
    assert read.header["started"] == "2026-03-02T09:30:00Z"
    assert msgspec.convert(read.records[0].content["trial"], TrialContext) == context


def test_large_and_empty_chunks(path):
    large = os.urandom(module.MAX_PAYLOAD - 8)
    written(path, ChunkRecord(0.0, b""), ChunkRecord(1.0, large))
    assert [len(record.data) for record in read_journal(path).records] == [0, len(large)]
    with (
        JournalWriter(path.with_name("2"), HEADER) as journal,
        pytest.raises(ValueError, match="a record must be 16777216 bytes at most, got 16777217 bytes"),
    ):
        journal.chunk(0.0, large + b"x")


# A tail that is torn or damaged.


@in_one_folder
@given(records=records, data=st.data())
def test_cut_anywhere_keeps_all_whole_records(path, records, data):
    ends = written(path, *records)
    whole = path.read_bytes()
    size = data.draw(st.integers(ends[0], len(whole)))
    path.write_bytes(whole[:size])
    kept = sum(end <= size for end in ends[1:])
    assert read_journal(path) == Journal(header=HEADER, records=tuple(records[:kept]), torn=size - ends[kept])


@in_one_folder
@given(records=records, data=st.data())
def test_flipped_bit_stops_the_reading_before_its_record(path, records, data):
    ends = written(path, *records)
    whole = bytearray(path.read_bytes())
    if len(whole) == ends[0]:
        return
    place = data.draw(st.integers(ends[0], len(whole) - 1))
    whole[place] ^= 1 << data.draw(st.integers(0, 7))
    path.write_bytes(whole)
    kept = sum(end <= place for end in ends[1:])
    assert read_journal(path) == Journal(header=HEADER, records=tuple(records[:kept]), torn=len(whole) - ends[kept])


@pytest.mark.parametrize(
    "tail",
    [
        pytest.param(bytes(4096), id="zeros, as a power cut may leave"),
        pytest.param(framed(b"C", b"1234567"), id="chunk without room for its time"),
        pytest.param(framed(b"X", b"{}"), id="unknown kind"),
        pytest.param(framed(b"H", b"{}"), id="second header"),
        pytest.param(framed(b"E", b"[1]"), id="event that is no object"),
        pytest.param(framed(b"E", b"{"), id="event that is no JSON"),
        pytest.param(framed(b"E", b'{"\xff": 1}'), id="event that is no UTF-8"),
        pytest.param(framed(b"E", b"", length=0xFFFFFFFF), id="impossible length"),
    ],
)
def test_damaged_record_ends_the_reading(path, tail):
    first, last = ChunkRecord(1.0, b"a"), framed(b"C", bytes(8) + b"after")
    written(path, first)
    path.write_bytes(path.read_bytes() + tail + last)
    assert read_journal(path) == Journal(header=HEADER, records=(first,), torn=len(tail) + len(last))


def test_impossible_length_is_not_read_into_memory(path, monkeypatch):
    written(path)
    path.write_bytes(path.read_bytes() + struct.pack("<IB", module.MAX_PAYLOAD + 1, ord("C")) + bytes(100))
    asked = []
    read = JournalReader._read

    def noted(self, size):
        asked.append(size)
        return read(self, size)

    with JournalReader(path) as reader:
        monkeypatch.setattr(JournalReader, "_read", noted)
        assert list(reader) == []
    assert asked == [5]


# Reading piece by piece.


def test_reader_yields_one_by_one_and_then_knows_what_is_torn(path):
    written(path, ChunkRecord(1.0, b"a"), ChunkRecord(2.0, b"b"))
    path.write_bytes(path.read_bytes() + b"torn")
    with JournalReader(path) as reader:
        assert reader.header == HEADER
        each = iter(reader)
        assert next(each) == ChunkRecord(1.0, b"a")
        assert reader.torn == 0
        assert next(each) == ChunkRecord(2.0, b"b")
        assert next(each, None) is None
        assert reader.torn == 4
        assert list(reader) == []
        assert reader.torn == 4


def test_reader_follows_a_journal_that_is_still_written(path):
    with JournalWriter(path, HEADER) as journal, JournalReader(path) as reader:
        for number in range(5):
            journal.chunk(float(number), b"x" * number)
            assert list(reader) == [ChunkRecord(float(number), b"x" * number)]
            assert reader.torn == 0


# Files that are no journals.


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"", "is not a journal"),
        (b"time_s,force_n\n0.0,1.0\n", "is not a journal"),
        (b"ramphold-journal x\n", "is not a journal"),
        (b"ramphold-journal 2\nall else is new", r"was made by a newer program.*journal version 2, .*reads 1\)"),
        (MAGIC, "its header is damaged, so nothing in it can be understood"),
        (MAGIC + framed(b"H", b"{}")[:-1], "its header is damaged"),
        (MAGIC + framed(b"H", b"[]"), "its header is damaged"),
        (MAGIC + framed(b"C", bytes(9)), "its header is damaged"),
    ],
)
def test_other_file_is_refused(path, content, message):
    path.write_bytes(content)
    with pytest.raises(ArchiveError, match=rf"s\.journal: {message}"):
        read_journal(path)


def test_empty_header_is_a_header(path):
    path.write_bytes(MAGIC + framed(b"H", b"{}"))
    assert read_journal(path) == Journal(header={}, records=(), torn=0)


def test_missing_file_and_folder_are_named(tmp_path):
    with pytest.raises(ArchiveError, match=r"none\.journal: there is no such file"):
        read_journal(tmp_path / "none.journal")
    with pytest.raises(ArchiveError, match="cannot be read: Is a directory"):
        read_journal(tmp_path)
    with pytest.raises(ArchiveError, match=r"none/s\.journal: cannot be written: No such file or directory"):
        JournalWriter(tmp_path / "none" / "s.journal", HEADER)


def test_failing_disk_is_named(path, monkeypatch):
    written(path, ChunkRecord(1.0, b"a"))

    class FailingFile:
        def read(self, _):
            raise OSError(5, "Input/output error")

        def tell(self):
            return 0

    with JournalReader(path) as reader, monkeypatch.context() as patched:
        patched.setattr(reader, "_file", FailingFile())
        with pytest.raises(ArchiveError, match=r"s\.journal: cannot be read: Input/output error"):
            list(reader)


# Writing.


def test_existing_journal_is_never_overwritten(path):
    written(path, ChunkRecord(1.0, b"precious"))
    before = path.read_bytes()
    with pytest.raises(ArchiveError, match=r"s\.journal: is there already, recover or move it first"):
        JournalWriter(path, HEADER)
    assert path.read_bytes() == before


def test_header_is_on_the_disk_before_the_first_record(path, syncs):
    with JournalWriter(path, HEADER):
        assert syncs == [path.stat().st_size]


def test_record_is_with_the_system_as_soon_as_it_is_written(path):
    with JournalWriter(path, HEADER) as journal:
        journal.chunk(1.0, b"a")
        assert read_journal(path).records == (ChunkRecord(1.0, b"a"),)


def test_sync_is_due_after_a_tenth_of_a_second(path, syncs):
    with JournalWriter(path, HEADER) as journal:
        syncs.clear()
        done = []
        for now in (10.0, 10.05, 10.125, 10.2, 10.25, 20.0):
            journal.chunk(now, b"a")
            done.append(journal.sync_if_due(now))
        assert done == [True, False, True, False, True, True]
        assert len(syncs) == 4
        assert syncs[-1] == path.stat().st_size


def test_sync_is_due_at_the_very_tenth_of_a_second(path):
    with JournalWriter(path, HEADER) as journal:
        done = []
        for now in (0.0, 0.0999, 0.1):
            journal.chunk(now, b"a")
            done.append(journal.sync_if_due(now))
        assert done == [True, False, True]


def test_nothing_new_is_not_synced(path, syncs):
    with JournalWriter(path, HEADER) as journal:
        syncs.clear()
        assert not journal.sync_if_due(10.0)
        journal.sync()
        journal.chunk(1.0, b"a")
        journal.sync()
        journal.sync()
        assert not journal.sync_if_due(20.0)
    assert len(syncs) == 1


def test_close_syncs_once(path, syncs):
    journal = JournalWriter(path, HEADER)
    journal.event({"saved": 1})
    journal.close()
    journal.close()
    assert syncs[1:] == [path.stat().st_size]


def test_failed_sync_is_named_and_tried_again(path, monkeypatch):
    def fails(_):
        raise OSError(5, "Input/output error")

    with JournalWriter(path, HEADER) as journal:
        journal.chunk(1.0, b"a")
        with monkeypatch.context() as patched:
            patched.setattr(module, "_to_disk", fails)
            with pytest.raises(ArchiveError, match=r"s\.journal: cannot be written: Input/output error"):
                journal.sync()
        assert journal.sync_if_due(5.0)


@pytest.fixture
def small_disk():
    """Let no file grow beyond 1,000 bytes until called."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    handler = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, hard))

    def enlarge():
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))

    yield enlarge
    enlarge()
    signal.signal(signal.SIGXFSZ, handler)


def test_full_disk_leaves_no_half_record_in_the_way_of_later_ones(path, small_disk):
    with JournalWriter(path, HEADER) as journal:
        journal.chunk(1.0, b"a" * 400)
        size = path.stat().st_size
        with pytest.raises(ArchiveError, match=r"s\.journal: cannot be written: File too large"):
            journal.chunk(2.0, b"b" * 700)
        assert path.stat().st_size == size
        small_disk()
        journal.chunk(3.0, b"c" * 700)
    read = read_journal(path)
    assert [record.arrival for record in read.records] == [1.0, 3.0]
    assert read.torn == 0


def test_journal_that_cannot_be_begun_leaves_no_file_in_the_way_of_the_next(path, small_disk):
    with pytest.raises(ArchiveError, match=r"s\.journal: cannot be written: File too large"):
        JournalWriter(path, {"note": "x" * 2000})
    assert not path.exists()
    small_disk()
    JournalWriter(path, HEADER).close()
    assert read_journal(path).header == HEADER


def test_every_journal_cut_in_its_head_holds_nothing_and_no_other_does(path):
    end, whole = written(path, ChunkRecord(1.0, b"some bytes"))
    data = path.read_bytes()
    assert whole == len(data)
    for length in range(whole + 1):
        path.write_bytes(data[:length])
        assert holds_nothing(path) is (length < end)


@pytest.mark.parametrize("content", [b"my notes", b"ramphold-journal 2\nsomething", MAGIC + b"\xff" * 50])
def test_file_that_is_something_else_is_no_empty_journal(path, content):
    path.write_bytes(content)
    assert not holds_nothing(path)
