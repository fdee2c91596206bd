"""Efforts played into the bridge of the emulated board come out of the program with the measures they went in with."""

import msgspec
import numpy as np
import pytest

from acquire.links.board import BoardLink
from acquire.sensor.profile import load_profile
from acquire.simulation.efforts import FAULTY, GOOD, recording, simulate
from acquire.stream.pipeline import Pipeline
from acquire.stream.recorder import Finished, Recorder, TrialRecorded
from acquire.values.records import Trace
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge

pytestmark = pytest.mark.timeout(100)

PROFILE, PROTOCOL = load_profile("board-packets"), load_protocol()
PLAYED_HZ, SPEED = 1000.0, 40.0
FILTER_PERIODS = 4
NAMES = (
    "good",
    "preload",
    "fast-ramp",
    "stepped-ramp",
    "short-hold",
    "fading",
    "overshoot",
    "examiner-pushed",
    "gave-way",
)
EFFORTS = [
    msgspec.structs.replace({"good": GOOD, **FAULTY}[name], plateau_n=plateau, noise_n=0.0)
    for name, plateau in zip(NAMES, (250.0, 90.0, 180.0, 310.0, 45.0, 640.0, 150.0, 420.0, 275.0), strict=True)
]


@pytest.fixture(scope="module")
def played(tmp_path_factory):
    """The recorded trials, and for each the same moments of the force that was played, without any counts."""
    log = tmp_path_factory.mktemp("log") / "log.txt"
    force = recording(EFFORTS, rate_hz=PLAYED_HZ, seed=3).force
    counts = np.rint(force * PROFILE.counts_per_newton).astype(int)
    options = {"rate_hz": PLAYED_HZ, "speed": SPEED, "log": log, "noise_counts": 0.0, "rate_error": 0.02}
    trials = []
    with BoardLink(PROFILE, counts, **options) as link:
        recorder = Recorder(link, Pipeline(PROFILE, PROFILE.nominal_calibration()))
        recorder.start()
        while not isinstance(event := recorder.next_event(20.0), Finished):
            assert event is not None
            trials += [event.trial] if isinstance(event, TrialRecorded) else []
    return [(trial, moments(trial, force, np.loadtxt(log))) for trial in trials]


def moments(trial, force, log):
    """What the converter should have seen of the force played, at the moments of a trial's samples."""
    seen = log[:, 1].astype(int).tolist()
    counts = trial.counts.tolist()
    start = next(at for at in range(len(seen)) if seen[at : at + len(counts)] == counts)
    seconds = log[start : start + len(counts), 2]
    edges = np.arange(len(force) + 1) / PLAYED_HZ
    total = np.concatenate([[0.0], np.cumsum(force)]) / PLAYED_HZ
    width = FILTER_PERIODS / (1.02 * PROFILE.rate_hz)
    mean = (np.interp(seconds, edges, total) - np.interp(seconds - width, edges, total)) / width
    return Trace(time=seconds - seconds[0], force=mean)


@pytest.mark.slow
def test_every_effort_is_recorded_whole(played):
    assert len(played) == len(EFFORTS)
    for trial, _ in played:
        assert trial.damage == ()
        assert trial.trace().lost == 0


@pytest.mark.parametrize("at", range(len(EFFORTS)), ids=NAMES)
def test_measures_are_those_of_the_force_played(played, at):
    trial, wanted = played[at]
    found, true = judge(trial.trace(), PROTOCOL), judge(wanted, PROTOCOL)
    newton = 1.0 / PROFILE.counts_per_newton
    assert np.abs(trial.trace().force - (wanted.force - wanted.force[0])).max() < 5 * newton + 0.01
    assert found.measures.plateau_force_n == pytest.approx(true.measures.plateau_force_n, abs=0.02)
    assert found.measures.peak_force_n == pytest.approx(true.measures.peak_force_n, abs=0.02)
    # times to a sample or so, where a count tips a threshold
    for name in ("onset_s", "time_to_peak_s", "ramp_time_s", "plateau_start_s", "plateau_end_s", "release_s"):
        assert getattr(found.measures, name) == pytest.approx(getattr(true.measures, name), abs=0.013)
    assert found.measures.ramp_slope_n_per_s == pytest.approx(true.measures.ramp_slope_n_per_s, rel=1e-3)
    assert found.measures.hold_cv_pct == pytest.approx(true.measures.hold_cv_pct, abs=0.01)
    assert found.verdict == true.verdict
    assert [fault.code for fault in found.faults] == [fault.code for fault in true.faults]


@pytest.mark.parametrize("at", range(len(EFFORTS)), ids=NAMES)
def test_verdict_is_that_of_the_effort_at_a_thousand_hertz(played, at):
    """Against the invented effort itself: what 80 Hz and the converter's filter cost."""
    trial, _ = played[at]
    found = judge(trial.trace(), PROTOCOL)
    true = judge(simulate(EFFORTS[at], rate_hz=PLAYED_HZ, seed=3 + at).trace, PROTOCOL)
    assert found.verdict == true.verdict
    assert {fault.code for fault in found.faults if fault.severity.value == "reject"} == {
        fault.code for fault in true.faults if fault.severity.value == "reject"
    }
    assert found.measures.plateau_force_n == pytest.approx(true.measures.plateau_force_n, rel=0.003)
    assert found.measures.peak_force_n == pytest.approx(true.measures.peak_force_n, rel=0.03)
    assert found.measures.ramp_time_s == pytest.approx(true.measures.ramp_time_s, abs=0.06)
