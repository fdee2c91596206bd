"""Write the sample traces: `python -m acquire.simulation.samples sample_traces`.

One good effort, one for each fault, and one continuous recording with several efforts, as CSV with a line
on what each shows. The same seed gives the same files.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from acquire.simulation.efforts import ABOUT, FAULTY, GOOD, recording, simulate
from acquire.storage.csv_trace import write_csv_trace
from acquire.values.records import Trace

SEED = 7
RATE_HZ = 250.0
SLOW_HZ = 8.0
DECIMALS = 3
"""Forces are written to a millinewton."""

CONTINUOUS = ("fast-ramp", "short-hold", "examiner-pushed")
"""The faults of the continuous recording, each followed by a good effort."""


def sample_traces() -> Iterator[tuple[str, str, Trace]]:
    """Yield name, line and trace of each sample."""
    yield "good", "a good effort", simulate(GOOD, rate_hz=RATE_HZ, seed=SEED).trace
    for code, effort in FAULTY.items():
        rate = SLOW_HZ if code == "slow-sensor" else RATE_HZ
        yield code, ABOUT[code], simulate(effort, rate_hz=rate, seed=SEED).trace
    efforts = [effort for code in CONTINUOUS for effort in (FAULTY[code], GOOD)]
    about = "one recording of six efforts: " + ", ".join(f"{code}, good" for code in CONTINUOUS)
    yield "continuous", about, recording(efforts, rate_hz=RATE_HZ, seed=SEED)


def write_samples(folder: Path) -> None:
    """Write every sample trace into a folder."""
    for name, about, trace in sample_traces():
        rounded = Trace(time=np.round(trace.time, 6), force=np.round(trace.force, DECIMALS))
        write_csv_trace(folder / f"{name}.csv", rounded, comments=(f"Invented: {about}.",))


if __name__ == "__main__":
    write_samples(Path(sys.argv[1]))
