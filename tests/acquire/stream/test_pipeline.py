"""From bytes to trials: what comes out is what the sensor measured, and what got lost is missing.

The bytes are those of `acquire.simulation.device`, for every serial sensor that the program comes with.
"""

from itertools import pairwise

import msgspec
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from acquire.sensor.profile import known_profiles, load_profile
from acquire.simulation.device import Device
from acquire.simulation.efforts import Effort, recording
from acquire.stream.pipeline import Pipeline
from acquire.stream.trial_detector import DetectionRule, Phase
from acquire.values.remarks import TrialEnd

SERIAL = {profile.name: profile for profile in known_profiles() if profile.link == "serial"}
ALL = pytest.mark.parametrize("profile", SERIAL.values(), ids=SERIAL)
TOLD = {name: profile for name, profile in SERIAL.items() if name != "bridge-80"}
CLOCKED = pytest.mark.parametrize("profile", TOLD.values(), ids=TOLD)
"""Those that say when, or in which order, they measured."""

PERSON = Effort(plateau_n=220.0, ramp_s=1.2, hold_s=2.0)
SIXTEEN = 16
"""Samples a packet."""


def measured(profile, *efforts, seed=1, zero=0):
    """Force in N, and the counts it makes."""
    force = recording(efforts or (PERSON,), rate_hz=profile.rate_hz, seed=seed).force
    return force, np.rint(force * profile.counts_per_newton + zero).astype(np.int32)


def sent(profile, counts):
    """Frames with their moment: (seconds, bytes)."""
    return list(Device(profile, counts, samples_per_packet=SIXTEEN).frames())


def played(pipeline, frames, *, late=0.004):
    """Feed frames one by one, a little after they were due."""
    return [trial for due, data in frames for trial in pipeline.feed(due + late, data)]


def fed(profile, frames, **kwargs):
    pipeline = Pipeline(profile, profile.nominal_calibration(), **kwargs)
    return played(pipeline, frames) + pipeline.finish(), pipeline


def place_in(counts, trial):
    """The number of a trial's first sample among all that was measured."""
    (starts,) = np.nonzero(counts == trial.counts[0])
    (found,) = [at for at in starts if np.array_equal(counts[at : at + len(trial.counts)], trial.counts)]
    return int(found)


def frame_size(profile):
    return SIXTEEN if profile.framing == "packets" else 1


def frames_at(profile, *seconds):
    """Numbers of the frames that hold the sample of these seconds."""
    return [int(at * profile.rate_hz) // frame_size(profile) for at in seconds]


def spoilt(frame):
    """The same frame with a wrong byte in it."""
    middle = (len(frame.data) - 1) // 2
    wrong = b"?" if frame.data.endswith(b"\n") else bytes([frame.data[middle] ^ 0x55 or 0xAA])
    return frame._replace(data=frame.data[:middle] + wrong + frame.data[middle + 1 :])


def same(one, other):
    """Whether two trials are alike; without a clock, all that arrives at once is told by its end."""
    return (
        np.array_equal(one.counts, other.counts)
        and np.allclose(one.time - one.time[0], other.time - other.time[0], rtol=0, atol=1e-9)
        and one.zero_counts == other.zero_counts
        and one.damage == other.damage
    )


# what went in comes out


@ALL
def test_force_that_went_in_comes_out(profile):
    force, counts = measured(profile, zero=1500)
    (trial,), pipeline = fed(profile, sent(profile, counts))
    at = place_in(counts, trial)
    trace = trial.trace()
    assert trial.counts.dtype == np.int32
    assert trial.damage == ()
    assert trace.lost == 0
    true = force[at : at + len(trace.force)]
    resolution = 0.5 / profile.counts_per_newton
    off = trial.zero_counts / profile.counts_per_newton - 1500 / profile.counts_per_newton
    np.testing.assert_allclose(trace.force, true - off, rtol=0, atol=resolution + 1e-9)
    assert abs(off) < 0.15  # the noise in half a second of rest
    assert not trace.clipped.any()
    assert pipeline.damaged == 0


@ALL
def test_time_that_went_in_comes_out(profile):
    _, counts = measured(profile)
    (trial,), _ = fed(profile, sent(profile, counts))
    at = place_in(counts, trial)
    true = (at + np.arange(len(trial.counts))) / profile.rate_hz
    step = 1e-3 if "ms" in profile.columns else 1e-6
    lag = np.median(trial.time - true)
    assert abs(lag) < 0.005
    np.testing.assert_allclose(trial.time - lag, true, rtol=0, atol=step)


def test_sensor_that_is_slower_than_it_says_gets_its_true_time():
    """A sensor without a clock, 3 % slow: its trial lies where the host saw it, and so does its age."""
    profile = load_profile("bridge-80")
    slow = msgspec.structs.replace(profile, rate_hz=77.6)
    _, counts = measured(slow, msgspec.structs.replace(PERSON, rest_before_s=120.0))
    frames = sent(slow, counts)
    (trial,), pipeline = fed(profile, frames)
    at = place_in(counts, trial)
    true = (at + np.arange(len(trial.counts))) / 77.6
    np.testing.assert_allclose(trial.time, true, rtol=0, atol=0.01)
    assert pipeline.age(trial) == pytest.approx(frames[-1].due - true[0], abs=0.02)


@ALL
def test_counts_of_a_falling_sensor_are_a_rising_force(profile):
    falling = msgspec.structs.replace(profile, counts_per_newton=-profile.counts_per_newton)
    force, counts = measured(falling, zero=-700)
    (trial,), _ = fed(falling, sent(falling, counts))
    at = place_in(counts, trial)
    np.testing.assert_allclose(trial.trace().force, force[at : at + len(trial.counts)], rtol=0, atol=0.15)


def test_sensor_that_sends_newtons_keeps_its_fractions():
    profile = msgspec.structs.replace(load_profile("bridge-320"), columns=("ms", "n"), counts_per_newton=1.0)
    time = np.arange(round(9.0 * 320)) / 320
    force = np.interp(time, [3.0, 4.0, 6.0, 6.2], [0.125, 90.125, 90.125, 0.125])
    lines = [f"{round(1e3 * at)},{newtons:.3f}\n".encode() for at, newtons in zip(time, force, strict=True)]
    pipeline = Pipeline(profile, profile.nominal_calibration())
    (trial,) = [trial for at, line in zip(time, lines, strict=True) for trial in pipeline.feed(at, line)]
    assert trial.counts.dtype == np.float64
    assert trial.trace().force.max() == pytest.approx(90.0, abs=1e-9)
    assert trial.zero_counts == pytest.approx(0.125, abs=1e-9)


def test_sensor_that_sends_both_keeps_its_counts():
    profile = msgspec.structs.replace(load_profile("bridge-320"), columns=("ms", "counts", "n"))
    _, counts = measured(profile)
    (trial,), _ = fed(profile, sent(profile, counts))
    assert trial.counts.dtype == np.int32
    place_in(counts, trial)


@ALL
def test_several_efforts_are_several_trials(profile):
    _, counts = measured(profile, PERSON, PERSON, PERSON)
    trials, pipeline = fed(profile, sent(profile, counts))
    starts = [place_in(counts, trial) for trial in trials]
    assert len(trials) == 3
    assert all(len(counts) // 3 * n < start < len(counts) // 3 * (n + 1) for n, start in enumerate(starts))
    assert pipeline.phase is Phase.ARMED


@ALL
def test_trial_is_told_as_soon_as_it_is_over(profile):
    _, counts = measured(profile)
    pipeline = Pipeline(profile, profile.nominal_calibration())
    for due, data in sent(profile, counts):
        if trials := pipeline.feed(due, data):
            break
    # a block of the detector, and a packet
    assert pipeline.now - trials[0].time[-1] < 0.05 + SIXTEEN / profile.rate_hz + 0.005
    assert pipeline.ring.written / profile.rate_hz == pytest.approx(pipeline.now, abs=0.02)


# zero


@ALL
def test_zero_is_that_of_the_quiet_sensor(profile):
    _, counts = measured(profile, zero=30_000)
    (trial,), pipeline = fed(profile, sent(profile, counts))
    assert trial.zero_counts == pytest.approx(30_000, abs=0.15 * profile.counts_per_newton)
    assert pipeline.zero_counts == pytest.approx(30_000, abs=0.15 * profile.counts_per_newton)


@ALL
def test_zero_of_a_calibration_is_where_the_search_begins(profile):
    calibration = msgspec.structs.replace(profile.nominal_calibration(), zero_counts=12_345.0)
    assert Pipeline(profile, calibration).zero_counts == 12_345.0


@ALL
def test_fixed_zero_stays(profile):
    force, counts = measured(profile, zero=30_000)
    (trial,), pipeline = fed(profile, sent(profile, counts), zero_counts=29_000.0)
    assert trial.zero_counts == pipeline.zero_counts == 29_000.0
    at = place_in(counts, trial)
    np.testing.assert_allclose(
        trial.trace().force,
        force[at : at + len(trial.counts)] + 1000 / profile.counts_per_newton,
        rtol=0,
        atol=0.5 / profile.counts_per_newton + 1e-9,
    )


# damage, loss, repeats


@ALL
def test_damage_is_noted_in_the_trial_it_fell_in(profile):
    _, counts = measured(profile, PERSON, PERSON)
    frames = sent(profile, counts)
    length = len(counts) / profile.rate_hz / 2
    for number in frames_at(profile, 3.0, 3.5, length + 4.0):
        frames[number] = spoilt(frames[number])
    (first, second), pipeline = fed(profile, frames)
    why = {"bad checksum"} if profile.framing == "packets" else {"not a number", "wrong number of columns"}
    assert [len(trial.damage) for trial in (first, second)] == [2, 1]
    assert why.issuperset({*first.damage, *second.damage})
    assert pipeline.damaged == 3


@ALL
def test_damage_in_the_rest_is_of_no_trial(profile):
    _, counts = measured(profile, msgspec.structs.replace(PERSON, rest_before_s=6.0))
    frames = sent(profile, counts)
    (number,) = frames_at(profile, 2.0)
    frames[number] = spoilt(frames[number])
    (trial,), pipeline = fed(profile, frames)
    assert trial.damage == ()
    assert pipeline.damaged == 1


@ALL
def test_partial_first_frame_is_no_damage(profile):
    _, counts = measured(profile)
    frames = sent(profile, counts)
    (trial,), pipeline = fed(profile, [frames[0]._replace(data=frames[0].data[1:]), *frames[1:]])
    assert trial.damage == ()
    assert pipeline.damaged == 0


@ALL
def test_spoilt_frames_are_missing_and_nothing_is_invented(profile):
    _, counts = measured(profile)
    frames = sent(profile, counts)
    lost = frames_at(profile, 3.0, 4.0, 4.2)
    for number in lost:
        frames[number] = spoilt(frames[number])
    (trial,), _ = fed(profile, frames)
    check_missing(profile, counts, trial, lost)


@CLOCKED
@pytest.mark.parametrize("share", [0.02, 0.2])
def test_lost_frames_are_missing_and_nothing_is_invented(profile, share):
    _, counts = measured(profile)
    frames = sent(profile, counts)
    gone = np.random.default_rng(11).random(len(frames)) < share
    gone[0] = False  # the first one is where the time begins
    gone[len(gone) // 2] = True  # one at least, however few frames there are
    (trial,), pipeline = fed(profile, [frame for frame, lost in zip(frames, gone, strict=True) if not lost])
    check_missing(profile, counts, trial, np.flatnonzero(gone))
    size = frame_size(profile)
    assert pipeline.timebase.lost == size * gone[: np.flatnonzero(~gone)[-1]].sum()


def check_missing(profile, counts, trial, lost_frames):
    """Hold each sample of the trial's trace to the one that was measured then, and the lost ones to NaN."""
    size = frame_size(profile)
    trace = trial.trace()
    kept = np.ones(len(counts), dtype=bool)
    for number in lost_frames:
        kept[number * size : (number + 1) * size] = False
    # all that was not lost, from the first to the last sample, and nothing else
    near = round(trial.time[0] * profile.rate_hz)
    first = next(at for at in range(near - 2, near + 3) if at >= 0 and counts[at] == trial.counts[0])
    kept = kept[first : first + len(trace.force)]
    expected = np.where(kept, counts[first : first + len(trace.force)], np.nan)
    newtons = (expected - trial.zero_counts) / profile.counts_per_newton
    np.testing.assert_allclose(trace.force, newtons, rtol=0, atol=1e-9)
    assert trace.lost == (~kept).sum() > 0
    np.testing.assert_allclose(trace.time, np.arange(len(trace.time)) / profile.rate_hz, rtol=0, atol=0.0035)


@CLOCKED
def test_repeated_frames_are_dropped(profile):
    _, counts = measured(profile)
    frames = sent(profile, counts)
    twice = [again for frame in frames for again in (frame, frame)]
    (once,), _ = fed(profile, frames)
    (trial,), pipeline = fed(profile, twice)
    assert same(trial, once)
    # of lines the very first waits for the next, which is itself again, and is taken for the end of one
    assert pipeline.timebase.duplicates == len(frames) - (profile.framing == "lines")


@CLOCKED
def test_late_frames_are_dropped_and_missing(profile):
    _, counts = measured(profile)
    frames = sent(profile, counts)
    (late,) = frames_at(profile, 4.0)
    frames.insert(late + 2, frames.pop(late)._replace(due=frames[late + 1].due))
    (trial,), pipeline = fed(profile, frames)
    check_missing(profile, counts, trial, [late])
    assert pipeline.timebase.duplicates == 1


# the end of a stream, and going on after it


@ALL
def test_finish_returns_the_trial_under_way_and_why(profile):
    _, counts = measured(profile)
    frames = [frame for frame in sent(profile, counts) if frame.due < 4.0]
    pipeline = Pipeline(profile, profile.nominal_calibration())
    assert played(pipeline, frames) == []
    assert pipeline.phase is Phase.EFFORT
    began = pipeline.effort_began
    (trial,) = pipeline.finish(TrialEnd.LINK_LOST)
    assert trial.damage == ("the link to the sensor was lost during the trial",)
    at = place_in(counts, trial)
    assert at + len(trial.counts) == sum(frame_size(profile) for _ in frames)
    assert trial.time[0] == pytest.approx(began, abs=1 / profile.rate_hz + 0.005)
    assert pipeline.effort_began is None
    assert pipeline.finish(TrialEnd.STOPPED) == []


@ALL
def test_finish_in_the_rest_is_nothing_to_the_next_trial(profile):
    """A sensor that was unplugged between two efforts has damaged neither."""
    _, counts = measured(profile, PERSON, PERSON)
    frames = sent(profile, counts)
    (pulled,) = frames_at(profile, len(counts) / profile.rate_hz / 2 + 1.5)
    pipeline = Pipeline(profile, profile.nominal_calibration())
    (first,) = played(pipeline, frames[:pulled])
    at = pipeline.now
    assert pipeline.finish(TrialEnd.LINK_LOST) == []
    (second,) = played(pipeline, frames[pulled:])
    assert place_in(counts, second) / profile.rate_hz < at - 0.1
    assert first.damage == second.damage == ()


@ALL
def test_damage_of_a_trial_cut_short_is_not_told_again_in_the_next(profile):
    _, counts = measured(profile)
    frames = sent(profile, counts)
    within = [frame for frame in frames if frame.due < 4.0]
    pipeline = Pipeline(profile, profile.nominal_calibration())
    played(pipeline, within)
    (first,) = pipeline.finish(TrialEnd.LINK_LOST)
    pipeline.reconnected()
    # it goes on 0.6 s later and less than 2 s before the next effort, so that this begins where the last ended
    again = frames_at(profile, 1.5)[0]
    (second,) = played(pipeline, [frame._replace(due=frame.due + 3.1) for frame in frames[again:]])
    assert first.damage == (TrialEnd.LINK_LOST,)
    assert second.damage == ()
    assert second.time[0] == pytest.approx(first.time[-1], abs=0.01)
    lost = 0.6 * profile.rate_hz
    assert second.trace().lost == pytest.approx(lost, abs=max(0.1 * lost, frame_size(profile)))


@ALL
def test_stream_that_comes_back_begins_at_a_boundary(profile):
    """Half a frame from before the plug was pulled is not glued to the first one after."""
    _, counts = measured(profile)
    frames = sent(profile, counts)
    pipeline = Pipeline(profile, profile.nominal_calibration())
    pipeline.feed(0.0, frames[0].data + frames[1].data[:3])
    pipeline.reconnected()
    (trial,) = played(pipeline, [frame._replace(due=frame.due + 10.0) for frame in frames])
    assert pipeline.damaged == 0
    assert trial.damage == ()
    place_in(counts, trial)


def test_end_of_a_line_that_looks_like_a_whole_one_is_no_sample():
    """A link is opened in the middle of "112,...": "2,..." has the right columns, and is not the second sample."""
    profile = load_profile("ble-lines")
    _, counts = measured(profile)
    frames = sent(profile, counts)
    tail = frames[112].data[2:]
    assert tail.startswith(b"2,")
    (trial,), pipeline = fed(profile, [frames[112]._replace(data=tail), *frames[113:]])
    assert pipeline.damaged == 0
    assert np.diff(trial.time).max() < 1.5 / profile.rate_hz
    assert pipeline.timebase.lost == 0
    assert trial.counts[0] != counts[112]


# chunks


RULE = DetectionRule(before_s=1.0, after_s=1.0)


def stream(profile):
    _, counts = measured(profile, PERSON, PERSON, seed=5)
    frames = sent(profile, counts)
    for number in frames_at(profile, 4.0, 11.5):
        frames[number] = spoilt(frames[number])
    return b"".join(frame.data for frame in frames)


STREAMS = {name: stream(profile) for name, profile in SERIAL.items()}


def in_chunks(profile, edges):
    """Feed the profile's stream in chunks that all arrive together, as from a file."""
    data = STREAMS[profile.name]
    pipeline = Pipeline(profile, profile.nominal_calibration(), rule=RULE)
    edges = [0, *sorted(edges), len(data)]
    trials = [trial for begin, end in pairwise(edges) for trial in pipeline.feed(3.0, data[begin:end])]
    return trials + pipeline.finish()


@ALL
@given(cuts=st.lists(st.floats(0.0, 1.0), max_size=40))
@settings(max_examples=8, deadline=None)
def test_trials_do_not_depend_on_chunks(profile, cuts):
    whole = in_chunks(profile, [])
    cut = in_chunks(profile, [round(share * len(STREAMS[profile.name])) for share in cuts])
    assert [len(trial.damage) for trial in whole] == [1, 1]
    assert all(same(one, other) for one, other in zip(whole, cut, strict=True))


@ALL
@pytest.mark.parametrize("length", [1, 4095])
def test_trials_are_the_same_in_even_chunks(profile, length):
    even = in_chunks(profile, range(0, len(STREAMS[profile.name]), length))
    assert all(same(one, other) for one, other in zip(in_chunks(profile, []), even, strict=True))


@pytest.mark.parametrize("name", ["bridge-80", "bridge-320"])
def test_chunk_longer_than_the_ring_loses_no_trial(name):
    """As when a recording is read at once: an effort at its beginning, a long rest, and one at its end."""
    profile = msgspec.structs.replace(load_profile(name), rate_hz=80.0)
    _, counts = measured(profile, msgspec.structs.replace(PERSON, rest_after_s=400.0), PERSON)
    data = b"".join(frame.data for frame in sent(profile, counts))
    pipeline = Pipeline(profile, profile.nominal_calibration(), rule=DetectionRule(longest_s=20.0))
    first, second = pipeline.feed(0.0, data) + pipeline.finish()
    assert place_in(counts, first) < 80 < len(counts) - 800 < place_in(counts, second)
    assert len(first.counts) / 80.0 == pytest.approx(6.9, abs=0.2)


@pytest.mark.parametrize(("longest_s", "kept_s"), [(20.0, 80), (600.0, 660), (3600.0, 660)])
def test_longest_effort_is_kept_with_a_minute_to_spare_but_no_more_than_ten_minutes_of_it(longest_s, kept_s):
    profile = msgspec.structs.replace(SERIAL["bridge-80"], rate_hz=80.0)
    ring = Pipeline(profile, profile.nominal_calibration(), rule=DetectionRule(longest_s=longest_s)).ring
    for start in range(0, 700, 10):
        time = start + np.arange(800) / 80.0
        ring.append(time, time)
    assert len(ring.since(0).time) == kept_s * 80 + 1
