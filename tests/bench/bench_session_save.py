# a script: its table is what it is for
"""Saving and reading sessions against the barest h5py code for the same arrays and texts.

Run as ``python tests/bench/bench_session_save.py [FOLDER]``; FOLDER chooses the disk, and with it what a sync
costs. The bare code writes in place and syncs once; it checks nothing, has no index, and a crash leaves half a
file. The bare reader returns the same arrays and texts, undecoded.
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import tempfile
from collections.abc import Callable
from functools import partial
from pathlib import Path

import h5py
import msgspec
import numpy as np
from ratios import ratio, seconds

from acquire.storage.session_file import read_index, read_session, write_session
from acquire.values.calibration import Calibration
from acquire.values.records import Session, SessionContext, Trial, TrialContext

TRIALS = (1, 20, 80)
SAMPLES = 6000
START = dt.datetime(2026, 3, 2, 9, 30, tzinfo=dt.UTC)
# About as much as a judged trial carries.
VERDICT = {
    "measures": {f"measure_{number}_n": 123.456 + number for number in range(20)},
    "verdict": "rejected",
    "faults": [
        {"code": "jerk", "severity": "reject", "measured": 321.0, "limit": 300.0, "text": "the ramp was not even"}
    ],
    "protocol": {"name": "ramp-and-hold", "hash": "0" * 64},
}


def invented(trials: int) -> Session:
    calibration = Calibration(newtons_per_count=0.0025, rated_force_n=1000.0, date=START.date())
    context = TrialContext(action="knee-extension", side="left", started=START)
    rng = np.random.default_rng(1)
    force = 250 * np.clip(np.arange(SAMPLES) / 1500, 0, 1)
    return Session(
        context=SessionContext(session="s", started=START, invented=True),
        trials=tuple(
            Trial(
                time=60.0 * number + np.arange(SAMPLES) / 1000,
                counts=((force + rng.normal(0, 1, SAMPLES)) / 0.0025).astype(np.int32),
                calibration=calibration,
                zero_counts=12.5,
                context=context,
                verdict=VERDICT,
            )
            for number in range(trials)
        ),
    )


def bare_write(path: Path, session: Session, texts: list[str]) -> None:
    with h5py.File(path, "w") as file:
        for number, (trial, text) in enumerate(zip(session.trials, texts, strict=True), start=1):
            group = file.create_group(f"trials/{number:04d}")
            group["time_s"], group["counts"] = trial.time, trial.counts
            group.attrs["context"] = text
    with path.open("rb") as written:
        os.fsync(written.fileno())


def bare_read(path: Path) -> list[tuple[np.ndarray, np.ndarray, str]]:
    with h5py.File(path) as file:
        return [(trial["time_s"][:], trial["counts"][:], trial.attrs["context"]) for trial in file["trials"].values()]


def row(what: str, trials: int, candidate: Callable[[], object], reference: Callable[[], object]) -> None:
    times = ratio(candidate, reference, repeats=25)
    ours, bare = (min(seconds(work) for _ in range(5)) for work in (candidate, reference))
    print(f"{what:<16}{trials:>7}{ours * 1e3:>10.2f}{bare * 1e3:>10.2f}{times:>8.2f}")


def report(folder: Path, trials: int) -> None:
    path, plain = folder / "s.h5", folder / "bare.h5"
    session = invented(trials)
    texts = [msgspec.json.encode({"context": trial.context, "verdict": VERDICT}).decode() for trial in session.trials]
    row("write, sync", trials, partial(write_session, path, session), partial(bare_write, plain, session, texts))
    row("read", trials, partial(read_session, path), partial(bare_read, plain))
    row("read the index", trials, partial(read_index, path), partial(bare_read, plain))
    print(f"{'size':<16}{trials:>7}{path.stat().st_size / 1e6:>7.2f} MB{plain.stat().st_size / 1e6:>7.2f} MB")


def main() -> None:
    print(f"{'':<16}{'trials':>7}{'ms':>10}{'bare ms':>10}{'times':>8}")
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as folder:
        for trials in TRIALS:
            report(Path(folder), trials)


if __name__ == "__main__":
    main()
