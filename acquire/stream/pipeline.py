"""From chunks of bytes to trials: decoder, sequence gaps, time base, ring, trial detector, in this order.

The one path that every stream takes: live, simulated, replayed, or read back from a journal after a
crash. It opens nothing and reads no clock, so the same chunks give the same trials.

What a chunk holds goes through each stage in one step, as columns and arrays. Newtons are made, and the detector is
asked, only when a block of the detector is complete: until then nothing would change.
"""

from __future__ import annotations

import math
from collections import deque
from itertools import chain
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.decoders import PARTIAL_FIRST, Damage, Decoder, Packets, Reason, decoder_for, packets_together
from acquire.sensor.profile import Profile
from acquire.stream.ring import Ring
from acquire.stream.stream_fit import Counts, StreamFit, Unfit
from acquire.stream.trial_detector import DetectionRule, EffortSpan, Phase, TrialDetector
from acquire.timing.clock_skew import HostTime
from acquire.timing.segments import RateEstimate
from acquire.timing.selection import time_base_for
from acquire.timing.sequence_gaps import Arrived, Late, SequenceGaps
from acquire.values.arrays import FloatArray
from acquire.values.calibration import Calibration
from acquire.values.records import Trial
from acquire.values.remarks import TrialEnd

KEPT_S = 60.0
"""The ring keeps the longest effort and this much more."""

PIECE_S = KEPT_S / 2
"""The most that goes to the ring and the detector at a time: a chunk that is read from a file may hold hours."""

WAIT_S = 10.0
"""A trial waits no longer than this for the time base to settle."""

KEPT_DAMAGE = 1000

RATE_EACH_S = 2.0
"""How often the true rate is found anew once it is known: it takes a line through a minute of arrivals ..."""
NO_RATE_EACH_S = 0.25
"""... and before it is known, when there are few of them."""


class Flow(NamedTuple):
    """How a stream flows."""

    rate: RateEstimate | None = None
    """The true sample rate; None before it is known."""
    lost: int = 0
    """Samples lost so far."""


class Pipeline:
    """Turn one sensor's bytes into trials.

    Parameters
    ----------
    profile : Profile
        What the sensor sends.
    calibration : Calibration
        What its counts mean.
    rule : DetectionRule, optional
        When an effort begins and ends.
    epoch : float, optional
        A second of the clock of the arrivals, from which the times of trials count. Streams of several sensors with one
        epoch are on one clock; without it a stream counts from its first sample.
    zero_counts : float, optional
        The counts of no load, when they are known and must stay: a replay, which begins with a whole line. Else the
        quiet sensor's are taken.
    """

    def __init__(
        self,
        profile: Profile,
        calibration: Calibration,
        *,
        rule: DetectionRule | None = None,
        epoch: float | None = None,
        zero_counts: float | None = None,
    ) -> None:
        self.profile = profile
        self.calibration = calibration
        self.timebase = time_base_for(profile)
        self.host = HostTime()
        """The stream's seconds on the clock of the arrivals."""
        self._epoch = epoch
        rule = rule or DetectionRule()
        self.ring = Ring(round(profile.rate_hz * (min(rule.longest_s, 600.0) + KEPT_S)) + 1)
        self._piece = max(1, round(profile.rate_hz * PIECE_S))
        self._fixed_zero = zero_counts
        self._decoder = decoder_for(profile)
        self._opened = zero_counts is None  # in the middle of a line, perhaps, whose end may look like a whole one
        self._gaps = SequenceGaps(profile)
        self._detector = TrialDetector(rule)
        self._whole_counts = profile.sends_counts
        self._detected = 0  # samples of the ring that the detector has seen
        self._damage: deque[tuple[float, Reason | TrialEnd]] = deque(maxlen=KEPT_DAMAGE)
        self._found: deque[EffortSpan] = deque()
        self._now = 0.0
        self._flow, self._rate_found = Flow(), -math.inf
        self.damaged = 0
        """Bad lines or packets so far, the partial first one not counted."""
        self._received = self._wasted = 0  # bytes
        self._fit = StreamFit(profile.rate_hz)

    @property
    def unfit(self) -> Unfit | None:
        """What of the stream does not fit the profile now; None while all does."""
        return self._fit.unfit

    @property
    def flow(self) -> Flow:
        """How the stream flows, as it was a moment ago; may be asked from any thread."""
        return self._flow

    @property
    def now(self) -> float:
        """The seconds of the last sample."""
        return self._now

    @property
    def phase(self) -> Phase:
        """Whether an effort is awaited or under way."""
        return self._detector.phase

    @property
    def effort_began(self) -> float | None:
        """When the effort under way began to be kept, s; None when none is under way."""
        return self._detector.began

    @property
    def decoder(self) -> Decoder:
        """The decoder, for its counts of damage."""
        return self._decoder

    @property
    def zero_counts(self) -> float:
        """The counts that are 0 N now."""
        if self._fixed_zero is not None:
            return self._fixed_zero
        return self.calibration.zero_counts + self._detector.zero / self.calibration.newtons_per_count

    def feed(self, arrival: float, data: bytes) -> list[Trial]:
        """Take a chunk of bytes and return the trials that it completes.

        Parameters
        ----------
        arrival : float
            Seconds, when the chunk came.
        data : bytes
            What came.
        """
        trials: list[Trial] = []
        seam = self._opened or self._decoder.pending > 0
        for event in packets_together(self._decoder.feed(data)):
            for arrived in self._gaps.feed(event, arrival, seam=seam):
                trials += self._take(arrived)
            seam = self._opened = False
        self._received += len(data)
        self._fit.see(arrival, Counts(self._received, self._wasted, self.ring.written, self.timebase.lost))
        if self.ring.written:
            self.host.add(self._now, arrival)
            self._note_flow(arrival)
        return trials

    def _note_flow(self, arrival: float) -> None:
        rate, lost = self._flow
        since = arrival - self._rate_found
        if since >= RATE_EACH_S or (rate is None and since >= NO_RATE_EACH_S):
            self._rate_found = arrival
            self._flow = Flow(rate=self.timebase.rate, lost=self.timebase.lost)
        elif self.timebase.lost != lost:
            self._flow = Flow(rate=rate, lost=self.timebase.lost)

    def finish(self, why: TrialEnd | None = None) -> list[Trial]:
        """Return the trial under way, because the stream has ended; `why`, as its damage if the force was on."""
        trials = [trial for arrived in self._gaps.finish() for trial in self._take(arrived)]
        trials += self._detect()
        found = self._detector.finish()
        if found and found[-1].broken_off and why is not None:
            self._damage.append((self._now, why))
        trials += [self._trial(span) for span in (*self._found, *found)]
        self._found.clear()
        return trials

    def age(self, trial: Trial) -> float:
        """Return how long before the last sample a trial began, s on the trial's own time base."""
        return float(self._on_clock(np.array([self._now]))[0] - trial.time[0])

    def on_host(self, trial: Trial) -> float:
        """Return when a trial began, s on the clock of the arrivals."""
        now = np.array([self._now])
        return float(self.host.at(now)[0] - self._on_clock(now)[0] + trial.time[0])

    def reconnected(self) -> None:
        """Begin anew at a boundary of lines or packets, after the link was lost and came back."""
        self._decoder = decoder_for(self.profile)
        self._opened = True

    def _take(self, arrived: Arrived) -> list[Trial]:
        event, arrival = arrived
        if isinstance(event, Late):
            self.timebase.drop(event.frames)
            return []
        duplicates = self.timebase.duplicates
        seconds = self.timebase.place(event, arrival)
        if isinstance(event, Damage):
            if event.reason not in PARTIAL_FIRST:
                self.damaged += 1
                self._wasted += event.length
                self._damage.append((self._now, event.reason))
            return []
        if not len(seconds):
            return []
        sent = chain.from_iterable(event.counts) if isinstance(event, Packets) else event.counts
        counts: FloatArray = np.array([*sent], dtype=np.float64)
        if self.timebase.duplicates != duplicates:  # some came before
            fresh = ~np.isnan(seconds)
            seconds, counts = seconds[fresh], counts[fresh]
        return self._append(seconds, counts) if len(seconds) else []

    def _append(self, seconds: FloatArray, counts: FloatArray) -> list[Trial]:
        trials: list[Trial] = []
        for at in range(0, len(seconds), self._piece):
            time, part = seconds[at : at + self._piece], counts[at : at + self._piece]
            self._now = float(time[-1])
            self.ring.append(time, part)
            if self._now >= self._detector.decides_at:
                trials += self._detect()
        return trials

    def _detect(self) -> list[Trial]:
        """Hand the detector what it has not seen, and return the trials that are complete."""
        time, counts, self._detected = self.ring.since(self._detected)
        self._found += self._detector.feed(time, self.calibration.force(counts, zero_counts=self._fixed_zero))
        trials: list[Trial] = []
        while self._found and not self._waits(self._found[0]):
            trials.append(self._trial(self._found.popleft()))
        return trials

    def _waits(self, span: EffortSpan) -> bool:
        return self.timebase.unsettled and self._now - span.stop < WAIT_S

    def _trial(self, span: EffortSpan) -> Trial:
        kept = self.ring.between(span.start, span.stop)
        zero = self._fixed_zero
        if zero is None:
            zero = self.calibration.zero_counts + span.zero / self.calibration.newtons_per_count
        counts: NDArray[np.int32] | FloatArray = kept.counts
        if self._whole_counts:
            counts = np.rint(kept.counts).astype(np.int32)
        return Trial(
            time=self._on_clock(kept.time),
            counts=counts,
            calibration=self.calibration,
            zero_counts=zero,
            resting_n=span.resting,
            damage=self._take_damage(span),
        )

    def _on_clock(self, seconds: FloatArray) -> FloatArray:
        """Return placed seconds as the times of a trial."""
        refined = self.timebase.refine(seconds)
        if self._epoch is None:
            return refined
        began = float(self.host.at(seconds)[0]) - self._epoch
        return np.asarray(refined - refined[0] + began)

    def _take_damage(self, span: EffortSpan) -> tuple[str, ...]:
        """Return what went wrong within a trial; what lies before its end is of no later one."""
        damage: list[Reason | TrialEnd] = []
        while self._damage and self._damage[0][0] <= span.stop:
            at, reason = self._damage.popleft()
            damage += [reason] if at >= span.start else []
        return tuple(damage)
