"""The program as a user and another program meet it: run it, read its lines, play a sensor to it."""

import contextlib
import json
import os
import select
import signal
import subprocess
import sys
import threading
import time
from collections import deque
from datetime import UTC, datetime
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from acquire.decoders import encode_packet
from acquire.sensor.profile import load_profile
from acquire.simulation.archives import ArchivePlan, Examiner, write_archive
from acquire.simulation.efforts import FAULTY, GOOD, recording, simulate
from acquire.simulation.pty import PseudoTerminal
from acquire.storage.session_file import write_session
from acquire.values.records import Person, Session, SessionContext, Trial, TrialContext
from analysis.trial.protocol import load_protocol
from ui.cli import main
from ui.model.audit.work import audit_archive

ROOT = Path(__file__).parents[2]
LIMIT_S = 60.0
"""Far above what anything here takes; a test that waits so long has failed."""


@pytest.fixture(autouse=True, scope="session")
def heeded_interrupt():
    """A run in the background of a shell is deaf to Ctrl-C, and so is whatever it starts: listen to it again."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)


class Result(NamedTuple):
    """What a command left behind."""

    code: int
    out: str
    err: str

    @property
    def json(self):
        return json.loads(self.out)

    @property
    def trials(self):
        """The trials of the one file that was asked for."""
        (file,) = self.json["files"]
        return file["trials"]


@pytest.fixture(autouse=True)
def own_state(monkeypatch, tmp_path):
    """Keep what is kept between starts in a folder of the test's own; return it."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    return tmp_path / "state" / "ramphold"


@pytest.fixture
def ramphold(capsys, monkeypatch):
    """Run a command in this process, so that a warning or an unforeseen error fails the test."""
    monkeypatch.setenv("COLUMNS", "110")  # a terminal of always the same width

    def run(*arguments, stdin=None):
        capsys.readouterr()
        with open(os.devnull) as nothing:  # noqa: PTH123 - a device, not a path of ours
            monkeypatch.setattr(sys, "stdin", stdin or nothing)
            try:
                code = main([str(argument) for argument in arguments])
            except SystemExit as stop:
                code = stop.code
        return Result(code, *capsys.readouterr())

    return run


class Lines:
    """The lines of a pipe as they come."""

    def __init__(self, pipe):
        self.seen = []
        self._changed = threading.Condition()
        self._ended = False
        self._pipe = pipe
        self._thread = threading.Thread(target=self._read, daemon=True)
        self._thread.start()

    def _read(self):
        for line in self._pipe:
            with self._changed:
                self.seen.append(line.rstrip("\n"))
                self._changed.notify_all()
        with self._changed:
            self._ended = True
            self._changed.notify_all()

    def until(self, text, times=1):
        """Wait until `text` was in so many lines, and return the last of them."""

        def found():
            return [line for line in list(self.seen) if text in line]

        with self._changed:
            self._changed.wait_for(lambda: len(found()) >= times or self._ended, LIMIT_S)
        assert len(found()) >= times, f"{text!r} did not come {times} times, but: {self.seen}"
        return found()[times - 1]

    def close(self):
        self._thread.join(LIMIT_S)
        self._pipe.close()


class Running:
    """The program in a process of its own, in a session of its own, as in a terminal of its own."""

    def __init__(self, *arguments, cwd, stdin=subprocess.DEVNULL, module="ui"):
        self.process = subprocess.Popen(
            [sys.executable, "-W", "error", "-m", module, *map(str, arguments)],
            cwd=cwd,
            stdin=stdin,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            # Buffered like for a user, whatever the tests themselves run under.
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": ""},
            start_new_session=True,
        )
        self.out = Lines(self.process.stdout)
        self.err = Lines(self.process.stderr)

    def press_ctrl_c(self):
        """Interrupt everything that the terminal holds, as a terminal does."""
        os.killpg(self.process.pid, signal.SIGINT)

    def kill(self):
        """Kill -9."""
        self.process.kill()

    def wait(self):
        """Wait for the end and return what it left behind."""
        code = self.process.wait(LIMIT_S)
        self.close()
        return Result(code, "\n".join(self.out.seen), "\n".join(self.err.seen))

    def close(self):
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        if self.process.stdin is not None:
            with contextlib.suppress(BrokenPipeError):
                self.process.stdin.close()
        self.out.close()
        self.err.close()


@pytest.fixture
def started(tmp_path):
    """Start the program in a process of its own; what still runs at the end of the test is killed."""
    running = []

    def start(*arguments, **options):
        running.append(Running(*arguments, **{"cwd": tmp_path, **options}))
        return running[-1]

    yield start
    for program in running:
        program.close()


@pytest.fixture
def device(started, tmp_path):
    """Start a simulated sensor at a path that a sensor which comes back has again; return its program."""
    numbers = iter(range(100))

    def start(profile, force, *options, link, speed=40):
        sensor = load_profile(profile)
        counts = np.rint(np.nan_to_num(force) * sensor.counts_per_newton + sensor.zero_counts).astype(np.int32)
        path = tmp_path / f"counts-{next(numbers)}.npy"
        np.save(path, counts)
        told = ("--profile", profile, "--counts", path, "--link", link, "--speed", speed)
        program = started(*told, *options, module="acquire.simulation", stdin=subprocess.PIPE)
        program.out.until(str(link))
        return program

    return start


def efforts(*codes, rate_hz=1000.0):
    """Return the force of efforts by the fault that they show, `good` ones too."""
    chosen = [FAULTY.get(code, GOOD) for code in codes]
    return recording(chosen, rate_hz=rate_hz, seed=3).force


@pytest.fixture
def force():
    return efforts


@pytest.fixture
def session_file(tmp_path):
    """Write a session of three invented trials, raw counts of 1 kHz; return its path."""
    profile = load_profile("simulated")
    plan = (("good", "knee-extension"), ("fast-ramp", "elbow-flexion"), ("lost-samples", "hip-abduction"))
    trials = tuple(_stored(profile, code, action, seed) for seed, (code, action) in enumerate(plan))
    context = SessionContext(
        session="0123456789abcdef",
        started=datetime(2026, 3, 2, 10, 0, tzinfo=UTC),
        person=Person(code="P-1"),
        examiner="X-1",
        sensor=profile.name,
        invented=True,
    )
    path = tmp_path / "session.h5"
    write_session(path, Session(context=context, trials=trials))
    return path


def _stored(profile, code, action, seed):
    trace = simulate(FAULTY.get(code, GOOD), rate_hz=profile.rate_hz, seed=seed).trace
    there = ~np.isnan(trace.force)
    return Trial(
        time=20.0 * seed + trace.time[there],
        counts=np.rint(trace.force[there] * profile.counts_per_newton + 77.0).astype(np.int32),
        calibration=profile.nominal_calibration(),
        zero_counts=77.0,
        context=TrialContext(action=action, side="left", method="belt"),
    )


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """Run the demo once, from a folder that is not the program's, and note what there was at each line."""
    folder = tmp_path_factory.mktemp("elsewhere")
    program = Running("demo", "--out", "results", "--speed", 100, cwd=folder)
    first = program.out.until("  accepted")
    early = {path.name for path in (folder / "results").iterdir()}
    result = program.wait()
    return Demo(folder=folder / "results", result=result, first=first, early=early)


class Demo(NamedTuple):
    """The demo once run."""

    folder: Path
    result: Result
    first: str
    """The first line with a verdict."""
    early: set[str]
    """The files there were when that line came."""


ARCHIVE = ArchivePlan(
    examiners=(
        Examiner(code="EX-1", habits={"fast-ramp": 0.5}),
        Examiner(code="EX-2"),
        Examiner(code="EX-3"),
        Examiner(code="EX-10"),
    ),
    sessions_each=8,
    trials_each=6,
    rate_hz=100.0,
)
FEW = ArchivePlan(examiners=(Examiner(code="EX-4"),), sessions_each=2, trials_each=4, rate_hz=100.0)


@pytest.fixture(scope="session")
def archive(tmp_path_factory):
    """An invented archive, measured already: a habit, one examiner with too little to tell, one broken file."""
    folder = tmp_path_factory.mktemp("made") / "invented"
    write_archive(folder, ARCHIVE, seed=7)
    write_archive(folder, FEW, seed=8)
    (folder / "EX-4" / "00009.h5").write_bytes(b"not a session")
    audit_archive(folder, load_protocol(), mapper=map)
    return folder


class Sensor:
    """A sensor that sends packets without end; the load on it is the test's to set, `seconds` its own time.

    Parameters
    ----------
    profile : str
        Whose packets.
    speed : float
        Times as fast as its own clock says.
    noise_n : float
        Standard deviation.
    skip : set of int
        Numbers of the packets that are never sent.
    """

    SAMPLES = 10

    def __init__(self, profile="packets-1k", *, speed=1.0, noise_n=0.0, skip=(), load_n=0.0):
        self.profile = load_profile(profile)
        self.load_n = load_n
        self.drift_n_per_s = 0.0
        self.seconds = 0.0
        self.silent = False
        self._speed = speed
        self._skip = set(skip)
        self._noise = deque(np.random.default_rng(5).normal(0.0, noise_n, 997).tolist())
        self._terminal = PseudoTerminal()
        self.port = self._terminal.port
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def close(self):
        self._stopping.set()
        self._thread.join(LIMIT_S)
        self._terminal.close()

    def _run(self):
        heard = b""
        while b"start" not in heard and not self._stopping.is_set():
            heard += self._terminal.read()
            self._stopping.wait(0.002)
        began, number = time.monotonic(), 0
        period = self.SAMPLES / self.profile.rate_hz / self._speed
        while not self._stopping.is_set():
            while not self._stopping.is_set() and began + (number + 1) * period <= time.monotonic():
                if not self.silent and number not in self._skip:
                    self._send(self._packet(number))
                number += 1
                self.seconds = number * self.SAMPLES / self.profile.rate_hz
            self._stopping.wait(0.001)

    def _packet(self, number):
        self._noise.rotate(-self.SAMPLES)
        seconds = number * self.SAMPLES / self.profile.rate_hz
        load = self.load_n + self.drift_n_per_s * seconds
        forces = [load + self._noise[i] for i in range(self.SAMPLES)]
        counts = [round(f * self.profile.counts_per_newton + self.profile.zero_counts) for f in forces]
        return encode_packet(number % 65536, round(seconds * self.profile.tick_hz) % 2**32, counts, count_bits=24)

    def _send(self, data):
        while data and not self._stopping.is_set():
            data = data[self._terminal.write(data) :]
            if data:
                select.select([], [self._terminal], [], 0.05)


@pytest.fixture
def sensor():
    """Start a sensor under the test's control."""
    running = []

    def start(*arguments, **options):
        running.append(Sensor(*arguments, **options))
        return running[-1]

    yield start
    for one in running:
        one.close()
