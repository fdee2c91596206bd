"""Sixteen minutes of a stream as fast as it goes: every effort found, nothing lost, memory flat.

Eight hours are `tests/bench/bench_soak.py`.
"""

import pytest
from long_stream import PROFILE, long_stream, resident_mb

from acquire.stream.pipeline import Pipeline

MINUTES = 16
WARM_MINUTES = 12
"""The ring, which holds eleven minutes, is full by then."""
GROWTH_MB = 8.0


@pytest.mark.slow
def test_memory_stays_flat_and_every_effort_is_found():
    pipeline, efforts, warm = Pipeline(PROFILE, PROFILE.nominal_calibration()), 0, None
    for arrival, data in long_stream(60.0 * MINUTES):
        efforts += len(pipeline.feed(arrival, data))
        if warm is None and arrival > 60.0 * WARM_MINUTES:
            warm = resident_mb()
    assert efforts == MINUTES
    assert (pipeline.timebase.lost, pipeline.damaged) == (0, 0)
    assert resident_mb() - warm < GROWTH_MB
