# a script: its table is what it is for
"""Reading a CSV trace against ``np.loadtxt`` on the same file.

Run as ``python tests/bench/bench_csv.py``. The goal is 1.0 at most (design, section 12). ``np.loadtxt`` reads no
lost samples, checks no times and names no column; where it can't read the text at all, it gets one it can.
"""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

import numpy as np
from ratios import ratio, seconds

from acquire.storage.csv_trace import CsvTrace, read_csv_trace, write_csv_trace

RATE_HZ = 1000
LENGTHS_S = (6, 60)
GOAL = 1.0


def pull(length_s: int) -> CsvTrace:
    """Return an invented ramp and hold, with noise that uses all digits."""
    time = np.arange(length_s * RATE_HZ) / RATE_HZ
    force = 250 * np.clip(time / 1.5, 0, 1) + np.random.default_rng(1).normal(0, 2, len(time))
    return CsvTrace(time=time, force=force)


def all_digits(path: Path, trace: CsvTrace) -> None:
    write_csv_trace(path, trace)


def three_decimals(path: Path, trace: CsvTrace) -> None:
    table = np.column_stack([trace.time, trace.force])
    np.savetxt(path, table, fmt="%.3f", delimiter=",", header="time_s,force_n", comments="")


def a_comment_in_the_middle(path: Path, trace: CsvTrace) -> None:
    all_digits(path, trace)
    lines = path.read_text().splitlines(keepends=True)
    lines.insert(len(lines) // 2, "# the person coughed\n")
    path.write_text("".join(lines))


def a_lost_sample_in_a_hundred(path: Path, trace: CsvTrace) -> None:
    force = trace.force.copy()
    force[::100] = np.nan
    write_csv_trace(path, CsvTrace(time=trace.time, force=force))


def bare(path: Path) -> np.ndarray:
    return np.loadtxt(path, delimiter=",", skiprows=1)


def report(folder: Path, make: Callable[[Path, CsvTrace], None], length_s: int) -> None:
    path, plain = folder / "trace.csv", folder / "plain.csv"
    trace = pull(length_s)
    make(path, trace)
    lost = make is a_lost_sample_in_a_hundred
    all_digits(plain, trace)
    candidate, reference = partial(read_csv_trace, path), partial(bare, plain if lost else path)
    if not lost:
        read = candidate()
        assert np.array_equal(np.column_stack([read.time, read.force]), reference())
    times = ratio(candidate, reference)
    each = min(seconds(candidate) for _ in range(5))
    met = "" if times <= GOAL else f"  over {GOAL}"
    print(f"{make.__name__.replace('_', ' '):<28}{length_s:>6}{each * 1e3:>8.2f}{times:>8.2f}{met}")


def main() -> None:
    print(f"{'file':<28}{'s':>6}{'ms':>8}{'times':>8}")
    with tempfile.TemporaryDirectory() as folder:
        for make in (all_digits, three_decimals, a_lost_sample_in_a_hundred, a_comment_in_the_middle):
            for length_s in LENGTHS_S:
                report(Path(folder), make, length_s)


if __name__ == "__main__":
    main()
