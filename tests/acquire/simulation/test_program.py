import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import serial

import acquire
from acquire.decoders import PacketDecoder
from acquire.simulation.program import BUFFER_BYTES, Outbox, main
from acquire.simulation.pty import PseudoTerminal

ROOT = Path(acquire.__path__[0]).parent
PROFILE = """
name = "test-packets"
title = "packets for tests"
framing = "packets"
rate_hz = 1000.0
rated_force_n = 1000.0
counts_per_newton = 100.0
"""

pytestmark = pytest.mark.timeout(60)


@pytest.fixture
def files(tmp_path):
    (tmp_path / "sensor.toml").write_text(PROFILE)
    np.save(tmp_path / "counts.npy", np.arange(1000))
    return ["--profile", str(tmp_path / "sensor.toml"), "--counts", str(tmp_path / "counts.npy")]


@pytest.fixture
def run(files):
    """Start the program; it has ended when the test has."""
    started = []

    def begin(*options):
        program = subprocess.Popen(
            [sys.executable, "-m", "acquire.simulation", *files, *options],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        started.append(program)
        return program

    yield begin
    for program in started:
        program.stdin.close()
        program.wait(10)
        program.stdout.close()


def test_program_tells_its_port_plays_and_tells_that_it_is_done(run):
    program = run("--held", "--speed", "inf")
    with serial.Serial(program.stdout.readline().strip(), timeout=10) as host:
        program.stdin.write("\n")
        program.stdin.flush()
        decoder, events = PacketDecoder(), []
        while len(events) < 100:
            events += decoder.feed(host.read(max(1, host.in_waiting)))
        word, sent, dropped = program.stdout.readline().split()
    assert [count for event in events for count in event.counts] == list(range(1000))
    assert (word, int(dropped)) == ("done", 0)
    assert int(sent) > 3000


def test_program_ends_when_its_input_ends(run):
    program = run("--loop")
    program.stdout.readline()
    program.stdin.close()
    assert program.wait(10) == 0


def test_program_ends_and_takes_its_link_away_when_unplugged(run, tmp_path):
    program = run("--unplug-after", "0.05", "--link", str(tmp_path / "port"))
    assert program.stdout.readline().strip() == str(tmp_path / "port")
    assert program.wait(10) == 0
    assert not (tmp_path / "port").is_symlink()


def test_full_outbox_waits():
    with PseudoTerminal() as terminal:
        outbox = Outbox(terminal, overrun=False)
        while outbox.open:
            outbox.put(bytes(1000))
        outbox.flush()
        assert outbox.sent > 0
        assert outbox.dropped == 0
        assert not outbox.empty


def test_overrun_outbox_drops_whole_frames():
    frame = b"x" * 999 + b"\n"
    with PseudoTerminal() as terminal:
        outbox = Outbox(terminal, overrun=True)
        for _ in range(200):
            outbox.put(frame)
        assert outbox.dropped == 200 - BUFFER_BYTES // 1000
        with serial.Serial(terminal.port, timeout=10) as host:
            received = bytearray()
            while not outbox.empty or len(received) < outbox.sent:
                outbox.flush()
                received += host.read(host.in_waiting)
        assert bytes(received) == frame * (200 - outbox.dropped)


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        (["--profile", "no-such-sensor"], "no-such-sensor"),
        (["--counts", "no-such-file.npy"], "no-such-file.npy"),
        (["--samples-per-packet", "0"], "samples_per_packet must be at least 1"),
        (["--speed", "0"], "speed must be positive"),
    ],
)
def test_wrong_choice_is_one_sentence(files, capsys, wrong, message):
    assert main([*files, *wrong]) == 1
    told = capsys.readouterr()
    assert message in told.err
    assert told.err.count("\n") == 1
    assert told.out == ""


def test_help_names_every_option(capsys):
    with pytest.raises(SystemExit, match="0"):
        main(["--help"])
    assert "--unplug-after S" in capsys.readouterr().out
