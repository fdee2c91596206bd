"""When things happened in an effort, and over which samples its impulse is taken, against knots and by hand."""

import numpy as np
import pytest

from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

PROTOCOL = load_protocol()
KNOTS = [2.0, 3.5, 3.7, 3.9, 8.0, 8.2, 10.0]
FORCES = [0.0, 300.0, 330.0, 300.0, 300.0, 0.0, 0.0]


@pytest.fixture(scope="module")
def judged():
    """Up to 300 N in a second and a half, a peak of 330 N at 3.7 s, a hold to 8 s, a release of 0.2 s."""
    time = np.arange(10_000) / 1000.0
    return judge(Trace(time=time, force=np.interp(time, KNOTS, FORCES)), PROTOCOL)


def test_times_count_from_the_onset(judged):
    found = judged.measures
    assert found.onset_s == pytest.approx(2.0, abs=0.003)
    assert found.time_to_peak_s == pytest.approx(1.7, abs=0.004)
    # some of the peak is in the plateau force, which is up to 1 % above 300 N
    assert found.ramp_time_s == pytest.approx(1.35, abs=0.015)
    assert found.time_to_50_pct_s == pytest.approx(0.75, abs=0.01)
    assert found.rise_10_90_s == pytest.approx(0.8 * 1.5, abs=0.015)


def test_impulse_is_over_every_sample_from_the_onset_to_the_release(judged):
    effort, phases = judged.effort, judged.phases
    force = effort.force[phases.onset_index : phases.release_index + 1]
    assert judged.measures.impulse_n_s == pytest.approx((force[:-1] + force[1:]).sum() / 2.0 / 1000.0, rel=1e-12)
    assert effort.time[phases.release_index] == pytest.approx(8.1, abs=0.002)


def test_hold_lasts_from_its_first_sample_to_the_end_of_its_last(judged):
    hold, found = judged.phases.hold, judged.measures
    assert found.hold_time_s == pytest.approx((hold.stop - hold.start) / 1000.0, abs=1e-9)
    assert found.plateau_start_s == judged.effort.time[hold.start]
    assert found.plateau_end_s == judged.effort.time[hold.stop - 1]


def test_relative_rates_are_shares_of_the_plateau(judged):
    found = judged.measures
    for band, rate in found.rfd_n_per_s.items():
        share = found.rfd_pct_per_s[band]
        assert (share is None) == (rate is None)
        assert share is None or share == pytest.approx(100.0 * rate / found.plateau_force_n)
