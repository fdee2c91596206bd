# a script: its table is what it is for
"""A minute at 10 kHz made short for drawing, against pyqtgraph's own peak downsampling of the same points.

Run as ``python tests/bench/bench_columns.py``. pyqtgraph takes blocks of equal count, puts both extremes at the
middle of a block, and lets a lost sample swallow its whole block; here every point stays where it was measured.
A third column is the barest code with the same two extremes and no places: two `reduceat`.
"""

from __future__ import annotations

import os
from functools import partial

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

import numpy as np
import pyqtgraph as pg
from ratios import ratio, seconds

from ui.model.columns import columns

RATE_HZ, LENGTH_S, WIDTH = 10_000, 60, 1200
COUNT = RATE_HZ * LENGTH_S


def pull(lost_share: float) -> tuple[np.ndarray, np.ndarray]:
    """Return an invented ramp and hold of a minute, with noise, and with lost samples."""
    rng = np.random.default_rng(1)
    time = np.arange(COUNT) / RATE_HZ
    force = 250.0 * np.clip(time / 1.5, 0.0, 1.0) + rng.normal(0.0, 2.0, COUNT)
    force[rng.random(COUNT) < lost_share] = np.nan
    return time, force


def library(item: pg.PlotDataItem) -> object:
    """Let the library make its points anew, as after each change of what is shown."""
    item._datasetDisplay = None
    return item._getDisplayDataset()


def bare(force: np.ndarray, begins: np.ndarray) -> object:
    return np.minimum.reduceat(force, begins), np.maximum.reduceat(force, begins)


def report(name: str, lost_share: float) -> None:
    time, force = pull(lost_share)
    item = pg.PlotDataItem(time, force)
    item.setDownsampling(ds=COUNT // WIDTH, method="peak")
    begins = np.arange(0, COUNT, COUNT // WIDTH)
    ours = partial(columns, time, force, start=0.0, stop=float(LENGTH_S), width=WIDTH)
    theirs = partial(library, item)
    assert len(ours()[0]) >= 2 * WIDTH
    assert len(theirs().x) == 2 * WIDTH
    each = min(seconds(ours) for _ in range(9))
    print(f"{name:<24}{each * 1e3:>8.2f}{ratio(ours, theirs):>12.2f}{ratio(ours, partial(bare, force, begins)):>8.2f}")


def main() -> None:
    pg.mkQApp()
    print(f"{COUNT} points to {WIDTH} columns\n{'trace':<24}{'ms':>8}{'x library':>12}{'x bare':>8}")
    report("whole", 0.0)
    report("one in a thousand lost", 0.001)


if __name__ == "__main__":
    main()
