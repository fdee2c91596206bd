"""What the serial link costs, against the barest loop that gets the same bytes: select and os.read, nothing else.

Run it as a script. The device is a process of its own; the figures are the reading process's. The link is
drained sixty times a second, as the window does; *placed* is all of it but drawing: link, decoder, time base, ring and
trial detector.
"""

import contextlib
import os
import select
import statistics
import struct
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from acquire.links import SerialLink
from acquire.sensor.profile import load_profile
from acquire.simulation.pty import PseudoTerminal
from acquire.stream.pipeline import Pipeline

ROOT = Path(__file__).resolve().parents[2]
LOADS = ((100, 10), (1_000, 1), (5_000, 10), (50_000, 1))
"""Packets a second and samples in each; the last one is more than a sensor sends, and shows how many can be placed."""
SECONDS = 4.0
ROUNDS = 3
STAMPS = 2_000
STAMP_PERIOD_S = 0.002
PROFILE = """
name = "bench"
title = "packets"
framing = "packets"
rate_hz = {rate}
rated_force_n = 1000
counts_per_newton = 100
"""


@contextlib.contextmanager
def program(*arguments):
    """A device in a process of its own, held until it gets a line; gives the port and the process."""
    command = [sys.executable, *arguments]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT) as process:
        try:
            yield process.stdout.readline().strip(), process
        finally:
            process.stdin.close()


def release(process):
    process.stdin.write("\n")
    process.stdin.flush()


def bare_chunks(port, end):
    """Yield (arrival, bytes) by the barest loop."""
    fd = os.open(port, os.O_RDWR | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        while time.monotonic() < end:
            ready, _, _ = select.select([fd], [], [], 0.1)
            if ready:
                data = os.read(fd, 65_536)
                yield time.monotonic(), data
    finally:
        os.close(fd)


def bare_load(port, process, _profile):
    release(process)
    end = time.monotonic() + SECONDS
    return sum(len(data) for _, data in bare_chunks(port, end))


def link_load(port, process, _profile):
    return sum(len(chunk.data) for chunk in drained(port, process))


def placed_load(port, process, profile):
    pipeline = Pipeline(profile, profile.nominal_calibration())
    received = 0
    for arrival, data in drained(port, process):
        pipeline.feed(arrival, data)
        received += len(data)
    assert pipeline.ring.written
    return received


def drained(port, process):
    """Yield what the link brings, sixty times a second."""
    with SerialLink(port) as link:
        release(process)
        end = time.monotonic() + SECONDS
        while time.monotonic() < end:
            time.sleep(1 / 60)
            yield from link.chunks()


def load(read, packets, size, folder):
    """Return the CPU share of one core, and packets per second, of one reader."""
    (folder / "sensor.toml").write_text(PROFILE.format(rate=packets * size))
    profile = load_profile(folder / "sensor.toml")
    np.save(folder / "counts.npy", np.arange(10_000))
    arguments = ["-m", "acquire.simulation", "--held", "--overrun", "--loop", "--samples-per-packet", str(size)]
    files = ["--profile", str(folder / "sensor.toml"), "--counts", str(folder / "counts.npy")]
    with program(*arguments, *files) as (port, process):
        began = time.process_time()
        received = read(port, process, profile)
        return (time.process_time() - began) / SECONDS, received / (12 + 3 * size) / SECONDS


def bare_latencies(port, process):
    release(process)
    end = time.monotonic() + 1.5 * STAMPS * STAMP_PERIOD_S
    waits, pending = [], b""
    for arrival, data in bare_chunks(port, end):
        pending, found = stamps(pending + data)
        waits += [arrival - stamp for stamp in found]
        if len(waits) == STAMPS:
            break
    return waits, waits


def link_latencies(port, process):
    """Return seconds from write to arrival, and from write to the hands of who waits for it."""
    arrived, taken, pending = [], [], b""
    with SerialLink(port) as link:
        release(process)
        end = time.monotonic() + 1.5 * STAMPS * STAMP_PERIOD_S
        while len(arrived) < STAMPS and time.monotonic() < end:
            link.wait(0.1)
            for arrival, data in link.chunks():
                pending, found = stamps(pending + data)
                arrived += [arrival - stamp for stamp in found]
                taken += [time.monotonic() - stamp for stamp in found]
    return arrived, taken


def stamps(data):
    whole = len(data) // 8 * 8
    return data[whole:], [stamp for (stamp,) in struct.iter_unpack("<d", data[:whole])]


def send_stamps():
    """Be the device: write the second of each write."""
    with PseudoTerminal() as terminal:
        sys.stdout.write(f"{terminal.port}\n")
        sys.stdout.flush()
        sys.stdin.readline()
        for _ in range(STAMPS):
            time.sleep(STAMP_PERIOD_S)
            terminal.write(struct.pack("<d", time.monotonic()))
        sys.stdin.readline()


def tell_load(folder):
    columns = ("packets/s", "samples", "bare", "CPU", "link", "CPU", "/ bare", "placed", "CPU", "/ bare")
    sys.stdout.write("".join(f"{name:>10}" for name in columns) + "\n")
    for packets, size in LOADS:
        readers = (bare_load, link_load, placed_load)
        rounds = [[load(read, packets, size, folder) for read in readers] for _ in range(ROUNDS)]
        (bare, taken), *others = (
            tuple(statistics.median(values) for values in zip(*of_one, strict=True))
            for of_one in zip(*rounds, strict=True)
        )
        line = f"{packets:>10}{size:>10}{taken:>10.0f}{bare:>10.1%}"
        line += "".join(f"{count:>10.0f}{share:>10.1%}{share / bare:>10.2f}" for share, count in others)
        sys.stdout.write(line + "\n")


def tell_latency():
    sys.stdout.write("\nwritten to ...      p50 ms   p99 ms\n")
    for name, measure in (("bare", bare_latencies), ("link", link_latencies)):
        with program(__file__, "send-stamps") as (port, process):
            arrived, taken = measure(port, process)
        for what, seconds in ((f"{name}, read", arrived), (f"{name}, handed over", taken)):
            p50, p99 = np.percentile(np.array(seconds) * 1e3, [50, 99])
            sys.stdout.write(f"{what:18s} {p50:7.3f} {p99:8.3f}\n")


if __name__ == "__main__":
    if sys.argv[1:] == ["send-stamps"]:
        send_stamps()
    else:
        with tempfile.TemporaryDirectory() as temporary:
            tell_load(Path(temporary))
        tell_latency()
