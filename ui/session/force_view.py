"""What is seen of a stream while it is recorded: the force now, and the curve of the last seconds."""

from __future__ import annotations

import numpy as np

from acquire.stream.pipeline import Pipeline
from acquire.values.arrays import FloatArray
from acquire.values.time_stamps import GAP_STEPS

FORCE_S = 0.05
"""The number shown is the mean of this long."""


class ForceView:
    """Reads the ring of a pipeline; it changes nothing of it."""

    def __init__(self, pipeline: Pipeline) -> None:
        self._pipeline = pipeline
        self._lost_at = 0
        """How many samples there were when the link was last lost: what came before is not the force now."""

    def lose(self) -> None:
        """Take it that the link was lost: what came so far is not the force now."""
        self._lost_at = self._pipeline.ring.written

    def now_n(self) -> float:
        """Return the mean of the last samples, N; 0 before there are any, also after the link was lost."""
        pipeline = self._pipeline
        count = max(1, round(FORCE_S * pipeline.profile.rate_hz))
        part = pipeline.ring.since(max(pipeline.ring.written - count, self._lost_at))
        force = pipeline.calibration.force(part.counts, zero_counts=pipeline.zero_counts)
        return float(np.mean(force)) if len(force) else 0.0

    def recent(self, seconds: float) -> tuple[FloatArray, FloatArray]:
        """Return time (0 is now) and force of the last `seconds` of the stream; a NaN where samples are lost."""
        pipeline = self._pipeline
        # by count first, not by time: the ring holds minutes, and this is asked for with every frame
        part = pipeline.ring.since(pipeline.ring.written - round(seconds * pipeline.profile.rate_hz))
        time = part.time - (part.time[-1] if len(part.time) else 0.0)
        late = int(np.searchsorted(time, -seconds))
        time, counts = time[late:], part.counts[late:]
        force = pipeline.calibration.force(counts, zero_counts=pipeline.zero_counts)
        # one for each gap, however long: it only breaks the line
        gaps = np.flatnonzero(np.diff(time) * pipeline.profile.rate_hz > GAP_STEPS) + 1
        if not len(gaps):
            return time, force
        return np.insert(time, gaps, (time[gaps - 1] + time[gaps]) / 2.0), np.insert(force, gaps, np.nan)
