"""The MicroPython firmware, run by MicroPython, with the world around it played to it."""

import os
import subprocess
import sys
import time
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import wire_vectors
from bluez import Peer

from acquire.decoders import PacketDecoder, decoder_for, frame_body
from acquire.links.bluetooth import BluetoothLink
from acquire.sensor.profile import load_profile
from acquire.simulation.board import FIRMWARE
from acquire.simulation.efforts import GOOD, simulate
from acquire.stream.pipeline import Pipeline
from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

pytestmark = pytest.mark.timeout(60)

SOURCE = FIRMWARE / "micropython"
WORLD = Path(__file__).parent / "micropython_world"
MICROPYTHON = Path(sys.executable).parent / "micropython"
PACKETS, LINES = load_profile("board-radio-packets"), load_profile("board-radio-lines")
COUNTS = [0, 1, -1, 2**23 - 1, -(2**23), *range(-4000, 4000, 37)]


class Played:
    """The firmware under way; the host's side of the radio, and of time."""

    def __init__(self, folder, counts=COUNTS, *, rate_error=0.0, began_us=2**30 - 2_000_000):
        (folder / "world.txt").write_text(" ".join(map(str, (rate_error, began_us, *counts))))
        self._process = subprocess.Popen(
            [MICROPYTHON, SOURCE / "main.py"],
            cwd=folder,
            env={**os.environ, "MICROPYPATH": str(WORLD)},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.missed = self.misread = None
        assert self._answer() == []

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._process.stdin.close()
        self._process.stdout.close()
        assert self._process.wait(20) == 0

    def say(self, *words):
        """Say a line; return the notifications that came before the next one was asked for."""
        self._process.stdin.write(" ".join(map(str, words)) + "\n")
        self._process.stdin.flush()
        return self._answer()

    def write(self, *commands):
        """Write commands to the characteristic."""
        return self.say("write", b"".join(command.encode() + b"\n" for command in commands).hex())

    def run(self, ms):
        """Let time pass."""
        return self.say("run", ms)

    def _answer(self):
        notified = []
        while True:
            word, *more = self._process.stdout.readline().split()
            if word == "ok":
                self.missed, self.misread = map(int, more[1:])
                return notified
            notified.append(bytes.fromhex(more[0]))


@pytest.fixture
def played(tmp_path):
    made = []

    def play(*arguments, **options):
        made.append(Played(tmp_path, *arguments, **options))
        return made[-1]

    yield play
    for each in made:
        with each:
            pass


def packets(notifications):
    """What the program's decoder makes of notifications, framed as its Bluetooth link frames them."""
    return PacketDecoder().feed(b"".join(map(frame_body, notifications)))


def test_it_is_micropython_that_runs_it(tmp_path):
    (tmp_path / "who.py").write_text("import sys\nprint(sys.implementation.name)\n")
    done = subprocess.run([MICROPYTHON, tmp_path / "who.py"], capture_output=True, text=True, check=True)
    assert done.stdout == "micropython\n"


def run_wire(script, interpreter, tmp_path):
    """Run some lines with the firmware's module `wire`, and return what they print."""
    path = tmp_path / "script.py"
    path.write_text(f"import sys\nsys.path.insert(0, {str(SOURCE)!r})\nimport wire\n{script}")
    return subprocess.run(
        [interpreter, path],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONDONTWRITEBYTECODE": "1"},
    ).stdout.splitlines()


@pytest.mark.parametrize("interpreter", [MICROPYTHON, sys.executable], ids=["micropython", "cpython"])
def test_frames_are_those_of_the_specification(interpreter, tmp_path):
    fitting = [vector for vector in wire_vectors.VECTORS["packet"] if vector["width"] == 3]
    lines = [vector for vector in wire_vectors.VECTORS["line"] if vector["columns"] == ["us", "counts"]]
    remarks = [vector["text"].split("=") for vector in wire_vectors.VECTORS["remark"]]
    script = ["def say(data): print(' '.join('%02x' % byte for byte in data))"]
    script += [f"say(wire.packet({v['sequence']}, {v['tick']}, {v['counts']}))" for v in fitting]
    script += [f"say(wire.line({round(v['tick_s'] * 1e6)}, {v['counts']}))" for v in lines]
    script += [f"say(wire.remark({key!r}, {value!r}))" for key, value in remarks]
    script += ["print('%04x' % wire.checksum(b'123456789'))"]
    wanted = [v["body"] for v in fitting] + [v["wire"] for v in lines]
    wanted += [v["body"] for v in wire_vectors.VECTORS["remark"]] + [wire_vectors.VECTORS["crc_check"]]
    assert run_wire("\n".join(script), interpreter, tmp_path) == wanted


def test_it_is_silent_until_it_is_told_to_start(played):
    firmware = played()
    firmware.say("connect", 247)
    assert firmware.run(500) == []
    assert firmware.write("start") == []
    assert firmware.run(500)


def test_every_conversion_arrives_in_its_order(played):
    firmware = played()
    firmware.say("connect", 23)
    firmware.write("start")
    events = packets(firmware.run(2000))
    counts = [count for packet in events for count in packet.counts]
    settled = COUNTS[4:]  # the first four show what was before
    assert counts == settled[: len(counts)]
    assert len(counts) > 150
    assert {later.sequence - earlier.sequence for earlier, later in pairwise(events)} == {1}
    assert {later.tick - earlier.tick for earlier, later in pairwise(events)} == {25_000}
    assert (firmware.missed, firmware.misread) == (0, 0)


def test_limits_of_the_converter_arrive(played):
    firmware = played([0] * 4 + [-(2**23), 2**23 - 1, -1, 0, 1] * 4)
    firmware.say("connect", 23)
    firmware.write("start lines")
    text = b"".join(firmware.run(500)).decode().splitlines()
    assert text[0] == "# columns=us,counts"
    assert [int(line.split(",")[1]) for line in text[1:6]] == [-8388608, 8388607, -1, 0, 1]


def test_lines_longer_than_a_notification_go_over_several(played):
    # Its clock begins at 0, and a line of it grows to 19 bytes: 20 is the smallest notification.
    firmware = played([-8_388_608] * 1000)
    firmware.say("connect", 12)
    firmware.write("start lines")
    notifications = firmware.run(3000)
    assert max(map(len, notifications)) == 9
    events = decoder_for(LINES).feed(b"".join(notifications))
    assert sum(len(run.counts) for run in events) > 200
    assert {count for run in events for count in run.counts} == {-8_388_608}


def test_clock_goes_on_over_the_boards_own_turn(played):
    # MicroPython's microseconds turn over at 2**30; two seconds after the beginning here.
    firmware = played()
    firmware.say("connect", 247)
    firmware.write("start")
    ticks = [packet.tick for packet in packets(firmware.run(4000))]
    assert np.diff(ticks).tolist() == [25_000] * (len(ticks) - 1)


@pytest.mark.parametrize("turn", [2**29, 2**30, 2**32, 2**62])
def test_clock_turns_over_at_32_bits(turn, tmp_path):
    stub = tmp_path / "machine.py"
    stub.write_text("class Pin: pass\n")
    steps = [0, 5, 2**28, 2**29 - 7, 2**29 - 1, 2**31 % turn, 3]
    script = f"""
sys.path.insert(0, {str(tmp_path)!r})
from converter import Clock
clock, now = Clock(100, {turn}), 100
for step in {steps}:
    now = (now + step) % {turn}
    print(clock.at(now))
"""
    assert list(map(int, run_wire(script, MICROPYTHON, tmp_path))) == [
        total % 2**32 for total in np.cumsum(steps).tolist()
    ]


def test_commands_are_answered_by_remarks_that_a_host_skips(played):
    firmware = played()
    firmware.say("connect", 23)
    firmware.write("start")
    firmware.run(200)
    firmware.write("identify", "zero", "nonsense", "rate 80")
    notifications = firmware.run(1500)
    remarks = [data.decode().strip() for data in notifications if data.startswith(b"#")]
    assert remarks[:8] == [
        "# board=micropython",
        "# firmware=1",
        "# bits=24",
        "# tick_hz=1000000",
        "# rate=80",
        "# converter=ready",
        "# error=command",
        "# rate=80",
    ]
    assert [remark.split("=")[0] for remark in remarks[8:]] == ["# zero", "# spread"]
    assert max(map(len, notifications)) <= 20
    assert len(packets(notifications)) == len(notifications) - len(remarks)


def test_zero_is_the_mean_of_a_second(played):
    firmware = played([0] * 4 + [1000, 1004] * 200)
    firmware.say("connect", 23)
    firmware.write("zero")
    assert firmware.run(1200) == [b"# zero=1002\n", b"# spread=4\n"]


def test_slow_rate_gives_ten_a_second_one_a_packet(played):
    firmware = played()
    firmware.say("connect", 23)
    firmware.write("rate 10", "start")
    first, *events = firmware.run(3000)
    assert first == b"# rate=10\n"
    made = packets(events)
    assert {len(packet.counts) for packet in made} == {1}
    assert np.diff([packet.tick for packet in made]).tolist() == [100_000] * (len(made) - 1)


def test_converter_that_says_nothing_is_said(played):
    firmware = played([])
    firmware.say("connect", 23)
    firmware.run(1500)
    firmware.write("identify")
    assert firmware.run(10)[-1] == b"# converter=silent\n"


def test_packet_that_finds_no_room_is_seen_by_its_number(played):
    firmware = played()
    firmware.say("connect", 23)
    firmware.write("start")
    before = packets(firmware.run(500))
    firmware.say("full", 3)
    after = packets(firmware.run(500))
    assert after[0].sequence - before[-1].sequence == 4
    assert after[0].tick - before[-1].tick == 4 * 25_000


def test_host_that_goes_stops_it_and_the_next_one_starts_it(played):
    firmware = played()
    firmware.say("connect", 23)
    firmware.write("start")
    assert firmware.run(100)
    firmware.say("disconnect")
    firmware.run(100)
    firmware.say("connect", 23)
    assert firmware.run(200) == []
    firmware.write("start lines")
    assert firmware.run(200)[0] == b"# columns=us,counts\n"


def test_it_advertises_its_service_and_its_name(played):
    (advertised,) = played().say("advertised")
    packet, _, name = advertised.partition(b"|")
    uuid = bytes(reversed(bytes.fromhex(PACKETS.service.replace("-", ""))))
    assert packet == b"\x02\x01\x06\x11\x07" + uuid
    assert name == b"\x09\x09Force-01"


def test_profiles_name_the_firmwares_characteristic():
    text = (SOURCE / "radio.py").read_text()
    for profile in (PACKETS, LINES):
        assert f'SERVICE = "{profile.service}"' in text
        assert f'CHARACTERISTIC = "{profile.characteristic}"' in text


@pytest.mark.parametrize("profile", [PACKETS, LINES], ids=lambda profile: profile.name)
def test_effort_goes_through_firmware_and_radio_into_the_program(profile, played, air):
    """Firmware under MicroPython -> notifications -> bleak -> the program's link, pipeline and verdict."""
    done = simulate(GOOD, rate_hz=80.0, seed=4)
    counts = np.rint(done.trace.force * profile.counts_per_newton).astype(int)
    firmware = played([0] * 40 + counts.tolist())
    peer = air.bluez.add(Peer("Force-01", profile.service, profile.characteristic))
    pipeline, trials = Pipeline(profile, profile.nominal_calibration()), []
    with BluetoothLink("Force-01", profile) as link:
        firmware.say("connect", 23)
        for written in peer.written:
            firmware.say("write", bytes(written).hex())
        for _ in range(140):
            air.bluez.notify(peer, *firmware.run(100))
        end = time.monotonic() + 20.0
        while time.monotonic() < end and not trials:
            link.wait(0.1)
            for chunk in link.chunks():
                trials += pipeline.feed(*chunk)
    assert peer.written[0] == profile.start.encode()
    (trial,) = trials
    assert trial.damage == ()
    assert trial.trace().lost == 0
    start = counts.tolist().index(max(counts)) - trial.counts.tolist().index(max(counts))
    assert trial.counts.tolist() == counts[start : start + len(trial.counts)].tolist()
    same = slice(start, start + len(trial.counts))
    wanted = Trace(time=done.trace.time[same] - done.trace.time[start], force=done.trace.force[same])
    found, true = judge(trial.trace(), load_protocol()), judge(wanted, load_protocol())
    assert found.verdict == true.verdict == "accepted"
    assert found.measures.plateau_force_n == pytest.approx(true.measures.plateau_force_n, abs=0.01)
    assert found.measures.peak_force_n == pytest.approx(true.measures.peak_force_n, abs=0.01)
    assert found.measures.ramp_time_s == pytest.approx(true.measures.ramp_time_s, abs=0.013)
