# a script: its table is what it is for
"""What it costs to make trials of bytes: the whole pipeline against its decoder alone.

Run as ``python tests/bench/bench_pipeline.py``. A minute of seven efforts at 1 kHz, in packets and in lines, in chunks
of so many frames, as a reader that is more or less busy finds them. *Cut* chunks end in the middle of a line, as those
of a serial port do. Decoder and pipeline take turns in one process; the ratio is that of their fastest runs, in seconds
of this thread, so that a busy machine disturbs it little. The goal is 5 times the decoder for packets and lines of ten
samples, and 40 % of a core for 50,000 packets of one sample a second.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable
from functools import partial

import msgspec
import numpy as np

from acquire.decoders import decoder_for
from acquire.sensor.profile import Profile, load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.stream.pipeline import Pipeline
from acquire.values.records import Trial

SECONDS = 60
REPEATS = 7
RATE_HZ = 1000
EFFORTS = 7
Chunks = list[tuple[float, bytes]]

PACKETS = load_profile("packets-1k")
LINES = msgspec.structs.replace(load_profile("bridge-320"), name="lines-1k", rate_hz=float(RATE_HZ))


def stream(profile: Profile, *, samples_per_packet: int, frames_per_chunk: int) -> Chunks:
    """Return what a sensor sends in a minute, as chunks with their moment of arrival."""
    force = recording([Effort(rest_before_s=1.6, rest_after_s=1.4)] * EFFORTS, rate_hz=RATE_HZ).force
    force = np.resize(force, SECONDS * RATE_HZ)
    counts = np.rint(force * profile.counts_per_newton).astype(np.int32)
    frames = list(Device(profile, counts, samples_per_packet=samples_per_packet).frames())
    runs = [frames[at : at + frames_per_chunk] for at in range(0, len(frames), frames_per_chunk)]
    return [(run[-1].due, b"".join(frame.data for frame in run)) for run in runs]


def decode(profile: Profile, chunks: Chunks) -> None:
    decoder = decoder_for(profile)
    for _, data in chunks:
        decoder.feed(data)


def found(profile: Profile, chunks: Chunks) -> list[Trial]:
    pipeline = Pipeline(profile, profile.nominal_calibration())
    trials = [trial for arrival, data in chunks for trial in pipeline.feed(arrival, data)]
    return trials + pipeline.finish()


def cut_mid_line(chunks: Chunks) -> Chunks:
    """Return the same bytes with each chunk but the last ending four bytes earlier."""
    done, rest = [], b""
    for arrival, data in chunks:
        done.append((arrival, rest + data[:-4]))
        rest = data[-4:]
    return [*done[:-1], (done[-1][0], done[-1][1] + rest)]


def seconds(work: Callable[[], object]) -> float:
    gc.collect()
    gc.disable()
    begun = time.thread_time()
    work()
    taken = time.thread_time() - begun
    gc.enable()
    return taken


def report(name: str, profile: Profile, size: int, frames: int, *, mid_line: bool = False) -> None:
    """Print a row: packets of `size` samples, or lines of one, in chunks of so many."""
    chunks = stream(profile, samples_per_packet=size, frames_per_chunk=frames)
    chunks = cut_mid_line(chunks) if mid_line else chunks
    assert len(found(profile, chunks)) >= EFFORTS
    both = partial(found, profile, chunks), partial(decode, profile, chunks)
    whole, decoder = map(min, zip(*[[seconds(work) for work in both] for _ in range(REPEATS)], strict=True))
    sample_us = 1e6 * whole / SECONDS / RATE_HZ
    core = f"{5.0 * sample_us:>12.0f}" if size == 1 else ""
    chunk_us = 1e6 * whole / len(chunks)
    print(f"{name:<24}{size * frames:>8}{chunk_us:>10.1f}{whole / decoder:>10.1f}{sample_us:>12.2f}{core}")


def main() -> None:
    print(f"{'':<24}{'samples':>8}{'us':>10}{'times':>10}{'us':>12}{'% of a core':>12}")
    print(f"{'stream, 1 kHz':<24}{'a chunk':>8}{'a chunk':>10}{'decoder':>10}{'a sample':>12}{'at 50,000/s':>12}")
    for packets in (1, 2, 4, 10, 100):
        report("packets of 10", PACKETS, 10, packets)
    for packets in (1, 20, 500):
        report("packets of 1", PACKETS, 1, packets)
    for lines in (1, 10, 40, 100):
        report("lines, ms,counts", LINES, 1, lines)
    for lines in (10, 40):
        report("lines, ms,counts, cut", LINES, 1, lines, mid_line=True)


if __name__ == "__main__":
    main()
