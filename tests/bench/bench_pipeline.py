# a script: its table is what it is for
"""What it costs to make trials of bytes: the whole pipeline against its decoder alone.

Run as ``python tests/bench/bench_pipeline.py``. A minute of seven efforts at 1 kHz, in packets and in lines, in
chunks of so many frames, as a reader that is more or less busy finds them. The share of a core is what a live sensor
of 1 kHz takes.
"""

from __future__ import annotations

from functools import partial

import msgspec
import numpy as np
from ratios import ratio, seconds

from acquire.decoders import decoder_for
from acquire.sensor.profile import Profile, load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.stream.pipeline import Pipeline
from acquire.values.records import Trial

SECONDS = 60
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


def cut(profile: Profile, chunks: Chunks) -> list[Trial]:
    pipeline = Pipeline(profile, profile.nominal_calibration())
    trials = [trial for arrival, data in chunks for trial in pipeline.feed(arrival, data)]
    return trials + pipeline.finish()


def report(name: str, profile: Profile, samples_per_packet: int, frames_per_chunk: int) -> None:
    chunks = stream(profile, samples_per_packet=samples_per_packet, frames_per_chunk=frames_per_chunk)
    assert len(cut(profile, chunks)) >= EFFORTS
    times = ratio(partial(cut, profile, chunks), partial(decode, profile, chunks), repeats=7)
    taken = min(seconds(partial(cut, profile, chunks)) for _ in range(5))
    frames = SECONDS * RATE_HZ / samples_per_packet
    print(
        f"{name:<24}{samples_per_packet * frames_per_chunk:>8}{frames / taken:>12,.0f}{times:>10.1f}"
        f"{1e6 * taken / SECONDS / RATE_HZ:>12.2f}{100 * taken / SECONDS:>10.2f}"
    )


def main() -> None:
    print(f"{'':<24}{'samples':>8}{'frames':>12}{'times':>10}{'us':>12}{'% of':>10}")
    print(f"{'stream, 1 kHz':<24}{'a chunk':>8}{'a second':>12}{'decoder':>10}{'a sample':>12}{'a core':>10}")
    for size in (1, 10, 16):
        report(f"packets of {size}", PACKETS, size, 1)
    report("packets of 10", PACKETS, 10, 10)
    report("packets of 10", PACKETS, 10, 100)
    for run in (1, 10, 100):
        report("lines, ms,counts", LINES, 1, run)


if __name__ == "__main__":
    main()
