"""Recordings killed at any instant: how much of the running trial is lost, and whether ever a finished one is.

Run as ``python tests/bench/bench_kills.py [KILLS]``, 1,000 without a number (about 30 minutes). Each is `ramphold
record` on a port of its own, on which a sensor sends efforts at 1 kHz in real time; it is killed with SIGKILL at a
random instant. Lost is what the sensor had sent until then and the journal does not hold: in the port, in the reading
thread, in a record that was being written. Then the session is recovered, and its finished trials are counted against
those that a pipeline of the bench's own finds in what was sent.
"""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import tempfile
import threading
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import msgspec
import numpy as np

from acquire.decoders import PacketDecoder
from acquire.errors import ArchiveError
from acquire.files.file_lock import RecordingLock
from acquire.sensor.profile import load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.simulation.pty import PseudoTerminal
from acquire.storage.journal import ChunkRecord, JournalReader
from acquire.storage.session_file import read_session
from acquire.stream.pipeline import Pipeline
from analysis.trial.protocol import load_protocol
from ui.session.crash import journal_path, recover_store

AT_ONCE = 2
PROFILE = msgspec.structs.replace(load_profile("packets-1k"), start="", stop="")
EFFORT = Effort(ramp_s=0.8, hold_s=1.2, rest_before_s=1.0, rest_after_s=0.5)
SERVER = """
import os, sys
import h5py, analysis.trial.verdict, ui.commands.record, acquire.links.serial
from ui.cli import main
for line in sys.stdin:
    port, out = line.split()
    child = os.fork()
    if child == 0:
        nothing = os.open(os.devnull, os.O_RDWR)
        for handle in (0, 1, 2):
            os.dup2(nothing, handle)
        sys.stdin, sys.stdout, sys.stderr = (open(os.devnull, mode) for mode in "rww")
        os._exit(main(["record", "--sensor", "packets-1k", "--port", port, "--out", out, "--person", "P-1"]))
    print(child, flush=True)
"""


class Recordings:
    """A program that is imported once and forked for each recording."""

    def __init__(self) -> None:
        self._server = subprocess.Popen(
            [sys.executable, "-c", SERVER], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )
        self._lock = threading.Lock()

    def start(self, port: str, out: Path) -> int:
        """Begin one and return its process."""
        with self._lock:
            self._server.stdin.write(f"{port} {out}\n")
            self._server.stdin.flush()
            return int(self._server.stdout.readline())

    def close(self) -> None:
        """End the program."""
        self._server.stdin.close()
        self._server.wait()


def efforts() -> list[tuple[float, bytes]]:
    """Return what the sensor sends, with the second of each frame."""
    force = recording([EFFORT] * 4, rate_hz=PROFILE.rate_hz, seed=1).force
    counts = np.rint(force * PROFILE.counts_per_newton).astype(np.int32)
    return [tuple(frame) for frame in Device(PROFILE, counts).frames()]


FRAMES = efforts()


def killed(recordings: Recordings, folder: Path, after_s: float) -> tuple[float, int]:
    """Return the seconds lost of one killed recording, and how many finished trials are missing."""
    folder.mkdir()
    port, path = folder / "ttySIM", folder / "s.h5"
    with PseudoTerminal(link=port) as terminal:
        process = recordings.start(str(port), path)
        while not journal_path(path).exists():
            if not alive(process):  # the name of a terminal that was just closed may be in use for a moment
                process = recordings.start(str(port), path)
            time.sleep(0.001)
        sent = send(terminal, after_s)
        os.kill(process, signal.SIGKILL)
        while alive(process) or locked(journal_path(path)):
            time.sleep(0.001)
    with JournalReader(journal_path(path)) as records:
        held = b"".join(each.data for each in records if isinstance(each, ChunkRecord))
    samples = sum(len(packet.counts) for packet in PacketDecoder().feed(held))
    recover_store(path, load_protocol())
    kept = len([t for t in read_session(path).trials if t.broken_off is None]) if path.exists() else 0
    return (10 * sent - samples) / PROFILE.rate_hz, max(0, finished(sent) - kept)


def alive(process: int) -> bool:
    """Tell whether a process still runs, and holds what it has locked."""
    try:
        return Path(f"/proc/{process}/stat").read_text(encoding="ascii").rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def locked(journal: Path) -> bool:
    """Tell whether a journal is still held: threads of a killed process end after it."""
    try:
        RecordingLock(journal).release()
    except ArchiveError:
        return True
    return False


def send(terminal: PseudoTerminal, after_s: float) -> int:
    """Send frames in real time, as long as told; return how many."""
    began, sent = time.monotonic(), 0
    while (now := time.monotonic() - began) < after_s:
        while sent < len(FRAMES) and FRAMES[sent][0] <= now:
            terminal.write(FRAMES[sent][1])
            sent += 1
        time.sleep(0.001)
    return sent


def finished(sent: int) -> int:
    """Return how many trials were over 0.2 s before the kill: later than that one may still be under way."""
    pipeline = Pipeline(PROFILE, PROFILE.nominal_calibration())
    return sum(len(pipeline.feed(*frame)) for frame in FRAMES[: max(0, sent - 20)])


def main(kills: int) -> None:
    """Kill so many recordings, a few at a time, and print what was lost."""
    chance = random.Random(20260302)
    instants = [chance.uniform(0.3, FRAMES[-1][0]) for _ in range(kills)]
    recordings = Recordings()
    with tempfile.TemporaryDirectory() as name, ThreadPoolExecutor(AT_ONCE) as pool:
        folders = [Path(name) / str(number) for number in range(kills)]
        results = list(pool.map(partial(killed, recordings), folders, instants))
    recordings.close()
    lost_ms = 1000.0 * np.array([lost for lost, _ in results])
    missing = sum(count for _, count in results)
    middle, late = np.percentile(lost_ms, [50, 95])
    print(f"{len(results)} recordings killed: {missing} finished trials lost")
    print(f"of the running one lost: median {middle:.0f} ms, p95 {late:.0f} ms, most {lost_ms.max():.0f} ms")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
