"""The firmware on the emulated board: what the program's own serial link gets of what the converter converted."""

import subprocess
from itertools import pairwise

import msgspec
import numpy as np
import pytest

from acquire.decoders import Damage, Lines, Packet, decoder_for
from acquire.errors import LinkError, LinkFailure
from acquire.links.board import BoardLink
from acquire.sensor.profile import load_profile
from acquire.simulation import board as board_module
from acquire.simulation.board import build_board, missing_packages

pytestmark = pytest.mark.timeout(60)

PACKETS, LINES = load_profile("board-packets"), load_profile("board-lines")
CYCLES_PER_US = 16
COUNT_LIMITS = (-(2**23), 2**23 - 1)
SPEED = 40.0
# A rise, a swing and both limits of the converter, 4 s at 1 kHz.
TRACE = np.concatenate(
    [
        np.linspace(-4e6, 4e6, 1500),
        2e6 * np.sin(np.arange(1500) / 40.0),
        np.full(500, 9_000_000),
        np.full(500, -9_000_000),
    ]
).astype(np.int64)


def read_all(link):
    data = b""
    while not link.finished:
        link.wait(0.1)
        data += b"".join(chunk.data for chunk in link.chunks())
    return data


def played(profile, tmp_path, counts=TRACE, **options):
    """Play a trace to its end; return the events and the converter's log: cycles, counts, seconds of the trace."""
    log = tmp_path / "log.txt"
    with BoardLink(profile, counts, rate_hz=1000.0, speed=SPEED, log=log, **options) as link:
        events = decoder_for(profile).feed(read_all(link))
    return events, np.loadtxt(log, ndmin=2)


def received(profile, events):
    """Ticks in microseconds and counts of all samples; those of a packet are a period apart."""
    if profile.framing == "lines":
        return [
            (round(1e6 * tick), count)
            for run in events
            if isinstance(run, Lines)
            for tick, count in zip(run.tick_s, run.counts, strict=True)
        ]
    return [(packet.tick if i == 0 else None, count) for packet in events for i, count in enumerate(packet.counts)]


def only_packets(events):
    return [event for event in events if isinstance(event, Packet)]


@pytest.mark.parametrize("profile", [PACKETS, LINES], ids=lambda profile: profile.name)
def test_every_conversion_arrives_with_its_own_time(profile, tmp_path):
    events, log = played(profile, tmp_path, noise_counts=40.0, rate_error=-0.03)
    # the answer to the first command is text, and what packets begin with ends it: a partial first packet
    partial = [event for event in events if isinstance(event, Damage)]
    assert [damage.reason for damage in partial] == ["partial first packet"] * (profile.framing == "packets")
    samples = received(profile, [event for event in events if event not in partial])
    counts = [int(count) for _, count in samples]
    assert len(counts) > 280
    assert {min(counts), max(counts)} == set(COUNT_LIMITS)
    # The log begins earlier: while the converter settles, and until the host has asked. It ends later by what was
    # on its way, a sample or two.
    logged = log[:, 1].astype(int).tolist()
    start = next(at for at in range(len(logged)) if logged[at : at + 200] == counts[:200])
    assert counts == logged[start : start + len(counts)]
    assert len(logged) - start - len(counts) <= 2
    cycles = log[start : start + len(counts), 0]
    delays = [
        tick - cycle / CYCLES_PER_US for (tick, _), cycle in zip(samples, cycles, strict=True) if tick is not None
    ]
    assert max(delays) - min(delays) <= 1.0, "each conversion has its time, to the microsecond"


def test_converter_is_what_the_notes_say_it_is(tmp_path):
    """The emulation, held against numpy: the mean of four periods, rounded, at its own rate."""
    _, log = played(PACKETS, tmp_path, noise_counts=0.0, rate_error=0.02)
    cycles, counts, seconds = log.T
    period = 1.0 / (80.0 * 1.02)
    assert np.diff(cycles) / 16e6 == pytest.approx(period, abs=1e-6)
    edges = np.arange(len(TRACE) + 1) / 1000.0
    total = np.concatenate([[0], np.cumsum(TRACE)]) / 1000.0
    inside = (seconds > 4.0 * period) & (seconds < edges[-1])
    mean = (np.interp(seconds, edges, total) - np.interp(seconds - 4.0 * period, edges, total)) / (4.0 * period)
    wanted = np.clip(np.rint(mean), *COUNT_LIMITS)
    assert np.abs(counts - wanted)[inside].max() <= 1.0


def test_noise_is_white_and_as_strong_as_asked(tmp_path):
    _, log = played(PACKETS, tmp_path, counts=np.zeros(30_000, dtype=int), noise_counts=100.0)
    noise = log[:, 1]
    assert noise.std() == pytest.approx(100.0, rel=0.05)
    assert abs(np.corrcoef(noise[:-1], noise[1:])[0, 1]) < 0.06


def test_packets_are_numbered_without_a_gap(tmp_path):
    events, _ = played(PACKETS, tmp_path)
    numbers = [packet.sequence for packet in only_packets(events)]
    assert numbers == list(range(len(numbers)))
    assert {len(packet.counts) for packet in only_packets(events)} == {2}


class Spoken:
    """A board that is talked to."""

    def __init__(self, *, profile=LINES, level=0, **options):
        quiet = msgspec.structs.replace(profile, start="", stop="")
        self.link = BoardLink(quiet, np.full(100_000, level), rate_hz=1000.0, speed=SPEED, **options)
        self.data = b""

    def say(self, *commands):
        self.link.send(b"".join(f"{command}\n".encode() for command in commands))

    def heard(self):
        self.data += b"".join(chunk.data for chunk in self.link.chunks())
        return self.data

    def remarks(self):
        """What the board has said of itself, as whole lines."""
        return [line.strip().decode() for line in self.heard().split(b"\n")[:-1] if line.startswith(b"# ")]

    def close(self):
        self.link.close()


@pytest.fixture
def spoken():
    made = []

    def speak(**options):
        made.append(Spoken(**options))
        return made[-1]

    yield speak
    for each in made:
        each.close()


def test_board_is_silent_until_it_is_told_to_start(spoken, until):
    board = spoken()
    board.say("stop", "")
    assert not board.link.wait(0.1), "four seconds of the board's time"
    board.say("start lines")
    until(lambda: board.heard().count(b"\n") > 20)
    assert board.remarks() == ["# columns=us,counts"]


def test_identify_says_what_it_is(spoken, until):
    board = spoken()
    board.say("identify")
    until(lambda: len(board.remarks()) == 6)
    assert board.remarks() == [
        "# board=avr",
        "# firmware=1",
        "# bits=24",
        "# tick_hz=1000000",
        "# rate=80",
        "# converter=ready",
    ]


def test_remarks_fit_the_smallest_bluetooth_notification(spoken, until):
    board = spoken(noise_counts=2e6)
    board.say("identify", "zero", "nonsense")
    until(lambda: "# spread=" in "".join(board.remarks()))
    assert max(len(remark) for remark in board.remarks()) + 1 <= 20


def test_board_without_a_converter_says_so(spoken, until):
    board = spoken(options=["--no-converter"])
    board.say("start lines")

    def silent():
        board.say("identify")
        board.link.wait(0.1)
        return "# converter=silent" in board.remarks()

    until(silent)  # for a second of its time it may still come
    assert all(line.startswith(b"#") for line in board.heard().splitlines()), "and sends nothing it did not measure"


def test_zero_is_told_and_changes_no_count(spoken, until):
    board = spoken(level=123_456, noise_counts=50.0)
    board.say("start lines", "zero")
    until(lambda: len(board.remarks()) == 3)
    told = dict(remark[2:].split("=") for remark in board.remarks())
    assert int(told["zero"]) == pytest.approx(123_456, abs=5 * 50 / np.sqrt(80))
    assert 2 * 50 < int(told["spread"]) < 8 * 50
    after = board.heard().rindex(b"# spread")
    until(lambda: board.heard()[after:].count(b"\n") > 20)
    assert int(board.heard().splitlines()[-2].split(b",")[1]) == pytest.approx(123_456, abs=300)


def test_zero_under_way_begins_anew_with_the_rate(spoken, until):
    board = spoken(rate_error=0.0)
    board.say("start lines", "zero")
    board.say("rate 10")
    until(lambda: len(board.remarks()) == 4)
    lines = board.heard().splitlines()
    told = next(at for at, line in enumerate(lines) if line.startswith(b"# zero"))
    slow = [line for line in lines[lines.index(b"# rate=10") : told] if not line.startswith(b"#")]
    assert 9 <= len(slow) <= 10, "a second at ten a second; the tenth is sent after it was told"


def test_slow_rate_gives_ten_samples_a_second(spoken, until):
    board = spoken(rate_error=0.0)
    board.say("rate 10", "start lines")
    until(lambda: board.heard().count(b"\n") > 12)
    assert board.remarks() == ["# rate=10", "# columns=us,counts"]
    ticks = [int(line.split(b",")[0]) for line in board.heard().splitlines()[2:-1]]
    assert np.diff(ticks) == pytest.approx(100_000, abs=2)


def test_rate_changed_on_the_way_leaves_out_what_has_not_settled(spoken, until):
    board = spoken(profile=PACKETS, rate_error=0.0)
    board.say("start")
    until(lambda: len(board.heard()) > 400)
    board.say("rate 10")
    seen = len(board.data)
    until(lambda: len(board.heard()) > seen + 200)
    events = decoder_for(PACKETS).feed(board.data)
    assert all(isinstance(event, Packet) for event in events), "an answer among packets is no damage"
    last_fast = max(at for at, packet in enumerate(events) if len(packet.counts) == 2)
    fast, slow = events[last_fast], events[last_fast + 1 :]
    assert {len(packet.counts) for packet in slow} == {1}
    # at least four slow conversions were left out
    assert slow[-2].tick - fast.tick > 400_000
    assert np.diff([packet.tick for packet in slow[2:]]) == pytest.approx(100_000, abs=2)


def test_stop_and_start_go_on_counting(spoken, until):
    board = spoken(profile=PACKETS)
    board.say("start")
    until(lambda: len(board.heard()) > 200)
    board.say("stop")
    until(lambda: board.heard() and not board.link.wait(0.1))  # what was on its way has come, and no more comes
    board.say("start", "start packets")
    seen = len(board.data)
    until(lambda: len(board.heard()) > seen + 200)
    events = decoder_for(PACKETS).feed(board.data)
    assert all(isinstance(event, Packet) for event in events)
    assert {later.sequence - earlier.sequence for earlier, later in pairwise(events)} == {1}
    jumps = np.diff([packet.tick for packet in events])
    assert jumps.max() > 10 * np.median(jumps), "and the pause is seen"


@pytest.mark.parametrize("command", ["begin", "start fast", "rate 81", "rate", "x" * 200])
def test_unknown_command_is_answered_and_changes_nothing(spoken, until, command):
    board = spoken()
    board.say(command, "identify")
    until(lambda: len(board.remarks()) == 7)
    assert board.remarks()[0] == "# error=command"
    assert "# rate=80" in board.remarks()


def test_start_is_said_again_to_a_board_in_its_boot_loader():
    # SerialLink says it each second of its clock, here the device's, until the first byte comes.
    with BoardLink(LINES, TRACE, rate_hz=1000.0, speed=5.0, options=["--boot", "1.7"]) as link:
        data = read_all(link)
    assert data.startswith(b"# rate=80\r\n# columns=us,counts\r\n")
    first = int(data.splitlines()[2].split(b",")[0])
    assert first > 1_700_000


def test_baud_rate_that_is_not_the_firmwares_is_noticed():
    wrong = msgspec.structs.replace(LINES, baud=115_200)
    with BoardLink(wrong, TRACE, rate_hz=1000.0, speed=SPEED) as link:
        assert link._process.wait(20) == 1
        errors = link._errors()
    assert "the firmware speaks at 38462 bit/s, not at 115200" in errors


def test_trace_that_is_none(tmp_path, board):
    (tmp_path / "trace.txt").write_text("1 2 three")
    done = subprocess.run(
        [board.program, board.firmware, tmp_path / "trace.txt"],
        check=False,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 1
    assert "is not a file of numbers" in done.stderr


def test_board_is_built_once(board):
    assert build_board() == board


def test_what_is_missing_is_said_with_what_to_install(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    assert missing_packages() == ("make", "gcc", "libc6-dev", "libsimavr-dev", "libelf-dev", "gcc-avr", "avr-libc")
    with pytest.raises(LinkError, match=r"without make, .*\(apt-get install make .* avr-libc\)") as caught:
        build_board(tmp_path / "cache")
    assert caught.value.reason is LinkFailure.NOT_FOUND
    assert not (tmp_path / "cache").exists()


def test_firmware_that_does_not_compile_is_said(tmp_path, monkeypatch):
    broken = tmp_path / "firmware"
    for part in ("avr", "emulator"):
        (broken / part).mkdir(parents=True)
        for path in (board_module.FIRMWARE / part).iterdir():
            (broken / part / path.name).write_bytes(path.read_bytes())
    (broken / "avr" / "wire.c").write_text("int wrong(void) { }\n")
    monkeypatch.setattr(board_module, "FIRMWARE", broken)
    with pytest.raises(LinkError, match=r"cannot be built \(wire.c:1.*error.*return"):
        build_board(tmp_path / "cache")
    assert not list((tmp_path / "cache").glob("*")), "nothing half built is left"


def test_program_without_its_firmware_says_so(tmp_path, monkeypatch):
    monkeypatch.setattr(board_module, "FIRMWARE", tmp_path)
    with pytest.raises(LinkError, match="run it from a checkout"):
        build_board(tmp_path)
