"""What is promised of a stream over a bad link, on random scenarios of all that can go wrong.

packets
    No sample that was not sent, none twice, none out of place; each loss is a gap in the trace and `lost-samples` in
    the verdict; time within a microsecond of the sensor's own.
lines with a number or a clock (of steps up to half a sample period), no byte changed
    The same; time by the sensor's clock to its digit, by a number alone within 2 ms after 20 s (30 ms of jitter, stalls
    of 2 s, 200 ppm, a rate 2 % off).
such lines with changed bytes
    A line has no checksum: at most as many samples are wrong as frames were damaged.
bare lines
    Nothing invented while none is lost; a loss of over half a second is a gap of the right length within 3 samples.
anything, noise too
    No crash, no hang; what is held back is bounded.

One damaged packet in 65,536 has a good checksum; a test counts that too. ``RAMPHOLD_SCENARIOS=20`` tries twenty times
as many scenarios, ``--hypothesis-seed`` others. `test_soak.py` plays minutes of a stream with flat memory,
``tests/bench/bench_soak.py`` eight hours.
"""

import math
import os
import random
from datetime import UTC, datetime
from itertools import pairwise

import msgspec
import numpy as np
import pytest
from bad_links import EFFORT, SENSORS, fed, play, received, sent_by
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from acquire.decoders import Damage, Packet, PacketDecoder, frame_body, packet_body
from acquire.decoders.lines import MAX_LINE
from acquire.decoders.packets import MAX_PACKET
from acquire.simulation.disturbance import (
    Burst,
    Corrupt,
    Delay,
    Disturbance,
    Drift,
    Drop,
    Duplicate,
    Reorder,
    Split,
    Stall,
)
from acquire.storage.journal import JournalWriter
from acquire.storage.session_file import read_session, write_session
from acquire.stream.pipeline import Pipeline
from acquire.stream.recovery import JournalHeader, recover
from acquire.timing.sequence_gaps import BEHIND_FRAMES
from acquire.timing.timebase import KEPT_GAPS
from acquire.values.records import Session, SessionContext
from analysis.trial.protocol import load_protocol
from analysis.trial.verdict import judge
from ui.commands.replay import WHOLE
from ui.commands.replay import play as replayed

PROTOCOL = load_protocol()
MORNING = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)
TIMES = float(os.environ.get("RAMPHOLD_SCENARIOS", "1"))
LENGTH_S = EFFORT.rest_before_s + EFFORT.ramp_s + EFFORT.hold_s + EFFORT.fall_s + EFFORT.rest_after_s

pytestmark = [pytest.mark.slow, pytest.mark.timeout(600 * max(1.0, TIMES))]  # what fails is made small first, and told


def scenarios(number):
    return settings(
        max_examples=round(number * TIMES), deadline=None, suppress_health_check=[HealthCheck.too_slow], database=None
    )


# What can go wrong

RATES = st.sampled_from([0.0, 0.001, 0.003, 0.01, 0.03, 0.1])
SELDOM = st.sampled_from([0.0, 0.0, 0.001])
AT_S = st.lists(st.floats(0.0, LENGTH_S - 1.0).map(lambda at: round(at, 2)), max_size=2).map(tuple)
SOME = {"rate": RATES, "at_s": AT_S}
KINDS = {
    "split": st.builds(Split, **SOME),
    "drop": st.builds(Drop, **SOME, run=st.sampled_from([1, 1, 2, 5, 20, 60])),
    "corrupt": st.builds(Corrupt, **SOME, changes=st.integers(1, 5)),
    "duplicate": st.builds(Duplicate, **SOME, reach=st.integers(0, 5)),
    "reorder": st.builds(Reorder, **SOME, reach=st.integers(1, 8)),
    "delay": st.builds(Delay, **SOME, up_to_s=st.sampled_from([0.01, 0.05, 0.3])),
    "stall": st.builds(Stall, rate=SELDOM, at_s=AT_S, for_s=st.sampled_from([0.3, 0.6, 1.5, 4.0])),
    "burst": st.builds(Burst, rate=RATES, at_s=AT_S, pieces=st.integers(2, 30)),
    "drift": st.builds(Drift, ppm=st.floats(-200.0, 200.0), wander_ppm=st.floats(0.0, 20.0)),
}
HELD_BACK = ("delay", "stall", "burst", "drift")
"""Kinds that lose, double, change and swap nothing."""
LATE = ("split", *HELD_BACK)
WHOLE_LINES = ("drop", "duplicate", "reorder", *HELD_BACK)
"""Kinds that leave every line as it is, or take all of it."""
ALL = ("corrupt", "split", *WHOLE_LINES)


def disturbances(kinds):
    chosen = st.sets(st.sampled_from(kinds), min_size=1).flatmap(
        lambda some: st.fixed_dictionaries({kind: KINDS[kind] for kind in sorted(some)})
    )
    return st.builds(lambda seed, chosen: Disturbance(seed=seed, **chosen), st.integers(0, 2**32 - 1), chosen)


# What is promised


def check_bounds(pipeline):
    """Nothing piles up, whatever came."""
    assert pipeline.decoder.pending <= max(MAX_LINE, MAX_PACKET)
    assert pipeline._gaps.held < BEHIND_FRAMES
    assert len(pipeline.timebase.gaps) <= KEPT_GAPS + 1
    assert len(pipeline._found) == 0


def check_samples(outcome, trial, *, touched=0):
    """Each sample is one that was sent, in order; return the numbers of those that were, and where they are."""
    numbers = outcome.sent.numbers(trial.counts)
    assert np.count_nonzero(numbers < 0) <= touched
    assert (np.diff(trial.time) > 0).all()
    (where,) = np.nonzero(numbers >= 0)
    genuine = numbers[where]
    if not touched:
        assert (np.diff(genuine) > 0).all()
    return genuine, where


def check_gaps(trial, genuine):
    """In the trace every sample stands at its place, and all places that were lost are empty.

    How long a long gap is, is told by the clock and the rate of the samples that are left: to one in a hundred.
    """
    steps = np.diff(genuine)
    if np.count_nonzero(steps == 1) <= 0.5 * len(steps):
        event("more than half of the steps are broken: what a gap is cannot be told from time stamps")
        return
    (filled,) = np.nonzero(~np.isnan(trial.trace().force))
    assert (np.abs(np.diff(filled) - steps) <= steps // 100).all()


def check_times(outcome, trial, genuine, where, *, within_s, slow=0.0):
    """Samples lie as they were taken, but for a constant."""
    error = trial.time[where] - genuine * (1.0 + slow) / outcome.sent.sensor.rate_hz
    assert np.abs(error - np.median(error)).max() <= within_s


def check_verdict(outcome, trial, genuine):
    """Whatever was lost between a third of the ramp and the end of the hold is seen in the verdict."""
    judgement = judge(trial.trace(), PROTOCOL)
    if judgement.verdict == "rejected":
        return
    rate_hz = outcome.sent.sensor.rate_hz
    onset_s, level_s = EFFORT.rest_before_s, EFFORT.rest_before_s + EFFORT.ramp_s
    first = np.ceil((onset_s + EFFORT.ramp_s / 3.0) * rate_hz)
    last = np.floor((level_s + EFFORT.hold_s - 0.1) * rate_hz)
    lost = last - first + 1 - np.count_nonzero((genuine >= first) & (genuine <= last))
    codes = {fault.code for fault in judgement.faults}
    assert "lost-samples" in codes or lost == 0
    gone = np.setdiff1d(np.arange(genuine[0], genuine[-1] + 1), genuine)
    assert len(gone) or "lost-samples" not in codes
    assert np.diff(genuine[(genuine >= first) & (genuine <= last)]).max(initial=1) <= 0.1 * rate_hz + 1


def check_all(outcome, *, within_s=math.inf):
    check_bounds(outcome.pipeline)
    seen = []
    for trial in outcome.trials:
        genuine, where = check_samples(outcome, trial)
        check_gaps(trial, genuine)
        check_times(outcome, trial, genuine, where, within_s=within_s)
        check_verdict(outcome, trial, genuine)
        seen.append(genuine)
    # two trials may meet in one sample
    assert all(one[-1] <= other[0] for one, other in pairwise(seen))


SENT_PACKETS = {event for _, data in sent_by("packets").frames for event in PacketDecoder().feed(data)}


def let_through(outcome):
    """Whether the checksum, as it must for one damaged packet in 65,536, let one through."""
    if "corrupt" not in outcome.done:
        return False
    came = PacketDecoder().feed(b"".join(data for _, data in outcome.chunks))
    return any(isinstance(packet, Packet) and packet not in SENT_PACKETS for packet in came)


@pytest.mark.parametrize("name", ["packets", "datagrams"])
@given(disturbance=disturbances(ALL))
@scenarios(60)
def test_packets_over_any_bad_link(name, disturbance):
    outcome = play(sent_by(name), disturbance)
    if let_through(outcome):
        event("a damaged packet with a good checksum")
        check_bounds(outcome.pipeline)
        return
    check_all(outcome, within_s=1e-6)


@pytest.mark.parametrize("name", ["seq-lines", "ms-lines", "seq-ms-lines"])
@given(disturbance=disturbances(WHOLE_LINES))
@scenarios(40)
def test_numbered_lines_of_which_no_byte_is_changed(name, disturbance):
    outcome = play(sent_by(name), disturbance)
    if "ms" in SENSORS[name].columns:
        check_all(outcome, within_s=0.001)
    else:
        check_all(outcome)


@pytest.mark.parametrize("kind", ["drop", "duplicate"])
@given(data=st.data())
@scenarios(25)
def test_numbered_lines_cut_over_notifications_that_get_lost_or_come_twice(kind, data):
    """Either or; where both happen close together, a line can be glued in a way that nobody sees."""
    check_all(play(sent_by("radio-lines"), data.draw(disturbances((kind, *HELD_BACK)))))


@pytest.mark.parametrize("name", ["seq-lines", "ms-lines", "seq-ms-lines", "radio-lines"])
@given(disturbance=disturbances(ALL))
@scenarios(25)
def test_numbered_lines_with_changed_bytes(name, disturbance):
    """There is no checksum: a line of which bytes were changed or lost may look good, and is in no order then."""
    outcome = play(sent_by(name), disturbance)
    check_bounds(outcome.pipeline)
    touched = sum(outcome.done.get(kind, 0) for kind in ("corrupt", "split", "drop", "duplicate", "reorder"))
    for trial in outcome.trials:
        genuine, _ = check_samples(outcome, trial, touched=touched + 1)
        swapped = np.count_nonzero(np.diff(genuine) <= 0)
        assert swapped <= touched
        judge(trial.trace(), PROTOCOL)


@pytest.mark.parametrize("name", ["packets", "datagrams", "ms-lines", "seq-ms-lines"])
@given(disturbance=disturbances(LATE))
@scenarios(20)
def test_link_that_only_delays_changes_nothing(name, disturbance):
    """A sensor with a clock gives the very same trial over a link that loses nothing."""
    if SENSORS[name].radio:  # a notification comes whole
        disturbance = msgspec.structs.replace(disturbance, split=Split())
    (good,), _ = fed(SENSORS[name].profile, received(sent_by(name), Disturbance())[0])
    (trial,) = play(sent_by(name), disturbance).trials
    assert np.array_equal(trial.counts, good.counts)
    assert np.array_equal(trial.time, good.time)
    assert trial.damage == ()


# A sensor that neither counts nor stamps


@given(disturbance=disturbances(LATE))
@scenarios(25)
def test_bare_lines_of_which_none_is_lost(disturbance):
    outcome = play(sent_by("bare-lines"), disturbance)
    check_bounds(outcome.pipeline)
    for trial in outcome.trials:
        genuine, _ = check_samples(outcome, trial)
        assert (np.diff(genuine) == 1).all()


@given(disturbance=disturbances(ALL))
@scenarios(25)
def test_bare_lines_over_any_bad_link(disturbance):
    """Nobody can tell which line is which: what is promised is that the program goes on, in order and in bounds."""
    outcome = play(sent_by("bare-lines"), disturbance)
    check_bounds(outcome.pipeline)
    for trial in outcome.trials:
        assert (np.diff(trial.time) > 0).all()
        judge(trial.trace(), PROTOCOL)


@given(at_s=st.floats(2.0, 8.0), lost=st.integers(60, 200), seed=st.integers(0, 1000))
@scenarios(25)
def test_bare_lines_lost_for_over_half_a_second_are_a_gap(at_s, lost, seed):
    jitter = Delay(rate=0.3, up_to_s=0.02)
    outcome = play(sent_by("bare-lines"), Disturbance(seed=seed, drop=Drop(at_s=(at_s,), run=lost), delay=jitter))
    trial = outcome.trials[0]
    genuine, _ = check_samples(outcome, trial)
    missing = genuine[-1] - genuine[0] + 1 - len(genuine)
    assert missing in (0, lost), "within the trial or outside of it"
    assert trial.trace().lost == pytest.approx(missing, abs=3)


# How near to the truth, for a sensor without a clock

LONG = msgspec.structs.replace(EFFORT, rest_before_s=20.0, rest_after_s=3.0)


HELD_UP = st.builds(
    Disturbance,
    seed=st.integers(0, 2**32 - 1),
    delay=st.builds(Delay, rate=st.floats(0.0, 1.0), up_to_s=st.floats(0.0, 0.03)),
    stall=st.builds(Stall, at_s=st.lists(st.floats(2.0, 27.0), max_size=2).map(tuple), for_s=st.floats(0.1, 2.0)),
    burst=st.builds(Burst, rate=st.floats(0.0, 0.02), pieces=st.integers(2, 10)),
    drift=st.builds(Drift, ppm=st.floats(-200.0, 200.0), wander_ppm=st.floats(0.0, 20.0)),
)


@pytest.mark.parametrize("slow", [-0.02, 0.0, 0.02])
@pytest.mark.parametrize("name", ["seq-lines", "bare-lines"])
@given(disturbance=HELD_UP)
@scenarios(8)
def test_time_by_the_host_alone_is_within_two_milliseconds(name, slow, disturbance):
    """Twenty seconds after the sensor was switched on, on the clock of the host, whatever the sensor's rate."""
    sent = sent_by(name, LONG, slow=slow)
    (trial,) = play(sent, disturbance).trials
    numbers, stamp = sent.numbers(trial.counts), disturbance.drift.stamp
    taken = np.array([stamp(number * (1.0 + slow) / sent.sensor.rate_hz) for number in numbers.tolist()])
    error = trial.time - taken
    assert np.abs(error - np.median(error)).max() < 0.002


# The same everywhere


@pytest.mark.parametrize("name", SENSORS)
@given(disturbance=disturbances(ALL))
@scenarios(5)
def test_recorded_recovered_stored_and_replayed_trials_are_the_same(name, disturbance, tmp_path_factory):
    folder, profile = tmp_path_factory.mktemp("journal"), SENSORS[name].profile
    outcome = play(sent_by(name), disturbance)
    session = SessionContext(session="bad", started=MORNING)
    header = JournalHeader(session=session, profile=profile, calibration=profile.nominal_calibration(), began=MORNING)
    with JournalWriter(folder / "bad.journal", header) as journal:
        for arrival, data in outcome.chunks:
            journal.chunk(arrival, data)
    recovered = recover(folder / "bad.journal").trials
    write_session(folder / "bad.h5", Session(context=session, trials=recovered))
    stored = read_session(folder / "bad.h5").trials
    again = [next(replayed(trial, math.inf, rule=WHOLE), trial) for trial in stored]
    assert len(recovered) == len(stored) == len(outcome.trials)
    for recorded, *others in zip(outcome.trials, recovered, stored, again, strict=True):
        expected = judge(recorded.trace(), PROTOCOL).as_json()
        for trial in others:
            assert np.array_equal(trial.counts, recorded.counts)
            assert judge(trial.trace(), PROTOCOL).as_json() == expected


# Checksums


def test_one_damaged_packet_in_65536_has_a_good_checksum():
    """As is to be expected of sixteen bits where any bytes may be wrong; damage of one byte is always seen."""
    body = packet_body(7, 1000, range(8), count_bits=24)
    wrong = np.random.default_rng(1).integers(0, 256, size=(200_000, len(body) - 10), dtype=np.uint8)
    decoder = PacketDecoder()
    taken = sum(
        isinstance(event, Packet)
        for damage in wrong
        for event in decoder.feed(frame_body(body[:10] + damage.tobytes()))
    )
    assert 0 < taken < 12  # three expected, five standard deviations of Poisson's distribution
    single = [body[:at] + bytes([byte]) + body[at + 1 :] for at in range(len(body)) for byte in range(256)]
    assert all(
        isinstance(event, Damage)
        for damaged in single
        if damaged != body
        for event in decoder.feed(frame_body(damaged))
    )


# What is no stream at all


@pytest.mark.parametrize("name", SENSORS)
@given(noise=st.lists(st.binary(max_size=600), max_size=60), seed=st.integers(0, 2**32 - 1))
@scenarios(20)
def test_noise_is_survived(name, noise, seed):
    """Bytes of a wrong baud rate, among those of the sensor."""
    chance, frames = random.Random(seed), sent_by(name).frames
    trials, arrival, pipeline = [], 0.0, Pipeline(SENSORS[name].profile, SENSORS[name].profile.nominal_calibration())
    for data in noise:
        arrival += chance.choice([0.0, 0.01, 3.0])
        trials += pipeline.feed(arrival, data)
        trials += pipeline.feed(arrival, chance.choice(frames)[1])
    check_bounds(pipeline)
    for trial in trials + pipeline.finish():
        assert (np.diff(trial.time) > 0).all()
        judge(trial.trace(), PROTOCOL)
