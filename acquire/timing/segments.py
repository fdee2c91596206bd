"""Unbroken segments of counted samples, and where each lies on the computer's clock.

Within a segment sample follows sample, lost ones included in the count, so that one skew line leads from index to
arrival (`acquire.timing.clock_skew`). A restart or a pause ends a segment. Of an ended segment only its line is kept; a
short one takes its slope from the last that was long enough to show the rate.

A pause has two explanations. Either the sensor rested, or lost what it measured: then the line of the new segment lies
higher by the pause. Or the link stalled: then everything comes in a burst, and the arrivals are soon back on their old
line. In that case the two segments are *joined*, and one line goes through both.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

import numpy as np

from acquire.timing.clock_skew import ENOUGH_S, Arrivals, SkewLine
from acquire.values.arrays import FloatArray

KEPT = 1000
KNOWN_S = 10.0
"""A segment shorter than this borrows the slope of an earlier one that is longer."""
BURST_S = 0.25
"""What a link held back arrives within this."""
LATE_S = 0.05
LATE_SHARE = 0.03
"""Samples were late, not lost, when they lie off the old line by less than this and this part of the pause: a sensor
that loses anything in half a second loses more, and the true rate may differ from the nominal one by that part."""


class RateEstimate(NamedTuple):
    """True sample rate by this computer's clock."""

    rate_hz: float
    uncertainty_hz: float
    """Standard uncertainty, from how steady the lowest delays are."""


@dataclass(slots=True)
class _Run:
    """A segment, or several that are joined: one line goes through it."""

    arrivals: Arrivals
    line: SkewLine | None = None
    """Once it has ended."""


@dataclass(slots=True)
class _Segment:
    began_s: float
    """Placed seconds of sample 0."""
    run: _Run
    first: int = 0
    """Index of sample 0 in the run."""
    next: int = 0
    """Number of the sample to come."""
    pause_s: float = 0.0
    """How long nothing arrived before it; 0 after a restart, and once it is joined."""
    skipped: int | None = None
    """Samples that are missing before it, where a counter tells."""


class Segments:
    """The segments of one stream, the last of which is growing.

    Parameters
    ----------
    nominal_s : float
        Nominal seconds a sample, by which samples are placed.
    """

    def __init__(self, nominal_s: float) -> None:
        self._nominal_s = nominal_s
        self._known_s: float | None = None
        self._known_span_s = ENOUGH_S
        self._first_arrival: float | None = None
        self._all: list[_Segment] = []

    @property
    def end_s(self) -> float:
        """Placed seconds of the last sample."""
        last = self._all[-1]
        return last.began_s + (last.next - 1) * self._nominal_s

    @property
    def duration_s(self) -> float:
        """Seconds from the first to the last arrival since the last restart or pause, or of what is joined."""
        return self._all[-1].run.arrivals.seconds

    def begin(self, at_s: float, *, pause_s: float = 0.0, skipped: int | None = None) -> None:
        """End the last segment and begin one.

        Parameters
        ----------
        at_s : float
            Placed seconds of its first sample.
        pause_s : float
            How long nothing arrived; 0 where the sensor was restarted.
        skipped : int, optional
            Samples that are missing between the two, where a counter tells.
        """
        if self._all:
            if self._all[-1].pause_s and (self._is_late() or self._may_be_late()):
                self._join()
            self._end(self._all[-1].run)
        if len(self._all) > 1 and self._all[-2].run is not self._all[-1].run:
            self._all[-2].run.arrivals = Arrivals()  # nothing can be joined to it any more
        self._all.append(_Segment(began_s=at_s, run=_Run(Arrivals()), pause_s=pause_s, skipped=skipped))
        del self._all[:-KEPT]

    def _end(self, run: _Run) -> None:
        run.line = self._line(run)
        span_s = min(run.arrivals.seconds, KNOWN_S)
        if span_s >= self._known_span_s and math.isfinite(run.line.period_uncertainty_s):
            self._known_s, self._known_span_s = run.line.period_s, span_s

    def join_if_late(self) -> bool:
        """Join the last segment to the one before if what seemed lost was only late; return whether it was."""
        if not self._all[-1].pause_s or self.duration_s < BURST_S or not self._is_late():
            return False
        self._join()
        return True

    def _join(self) -> None:
        before, last = self._all[-2:]
        last.first = self._first_if_late()
        before.run.arrivals.join(last.run.arrivals, at=last.first)
        before.run.line = None
        last.run, last.pause_s = before.run, 0.0

    def _is_late(self) -> bool:
        """Say whether the arrivals since the last pause are back on the line that they had."""
        before, last = self._all[-2:]
        late_by_s = last.run.arrivals.lowest_delay(self._line(before.run), first=self._first_if_late())
        most_s = LATE_S + LATE_SHARE * last.pause_s
        # nothing comes before it was sent; but all of a short segment may have been late
        early = late_by_s < -most_s and before.run.arrivals.seconds >= KNOWN_S
        return late_by_s <= most_s and not early

    def _may_be_late(self) -> bool:
        """Say whether the last pause may still prove to be the link's, as most are, and not the sensor's."""
        return self.duration_s < ENOUGH_S and (self._all[-1].skipped is not None or self._is_late())

    def _first_if_late(self) -> int:
        before, last = self._all[-2:]
        return before.first + before.next + (last.skipped or 0)

    def advance(self, samples: int, arrival: float, *, frames: int = 1) -> None:
        """Count samples that have arrived in so many packets or lines."""
        last = self._all[-1]
        last.next += samples
        last.run.arrivals.add(last.first + last.next - 1, arrival, frames=frames)
        if self._first_arrival is None:
            self._first_arrival = arrival

    def skip(self, samples: int) -> None:
        """Count samples that are lost."""
        self._all[-1].next += samples

    def place(self, samples: int, arrival: float) -> FloatArray:
        """Count samples, one a line, and return their placed seconds at the nominal rate."""
        last = self._all[-1]
        index = np.arange(last.next, last.next + samples, dtype=np.float64)
        self.advance(samples, arrival, frames=samples)
        return last.began_s + index * self._nominal_s

    def missing_before_last(self) -> tuple[int, float]:
        """Return how many samples fit between the last two segments, and the placed end of the first."""
        left, right = self._all[-2:]
        missing = 0
        if right.pause_s and not self._is_late():
            line = self._line(right.run)
            step_s = line.at(0) - self._line(left.run).at(left.first + left.next - 1)
            missing = max(round(step_s / line.period_s) - 1, 0)
        return missing, left.began_s + (left.next - 1) * self._nominal_s

    def refine(self, seconds: FloatArray) -> FloatArray:
        """Return placed seconds on this computer's clock, counted from the first arrival, increasing.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            Placed seconds of one trial, increasing, without NaN, n > 0.
        """
        self.join_if_late()
        starts = [segment.began_s for segment in self._all]
        which = np.maximum(np.searchsorted(starts, seconds, side="right") - 1, 0)
        runs = {at: self._run_of(at) for at in np.unique(which).tolist()}
        refined = np.empty(len(seconds))
        end = -math.inf
        for _, members in groupby(runs, key=lambda at: id(runs[at][0])):
            parts = [(which == at, at) for at in members]
            index = np.concatenate([self._index(at, runs[at][1], seconds[here]) for here, at in parts])
            line = self._line(runs[parts[0][1]][0], first=float(index[0]), last=float(index[-1]))
            part = line.at(index) - (self._first_arrival or 0.0)
            if part[0] <= end:  # two lines may disagree by a millisecond
                part += end + self._nominal_s - part[0]
            refined[np.any([here for here, _ in parts], axis=0)] = part
            end = part[-1]
        return refined

    def _run_of(self, at: int) -> tuple[_Run, int]:
        """Return the run that a segment lies in, and the index of its sample 0 there."""
        segment = self._all[at]
        if segment.pause_s and segment is self._all[-1] and self._may_be_late():
            return self._all[at - 1].run, self._first_if_late()
        return segment.run, segment.first

    def _index(self, at: int, first: int, seconds: FloatArray) -> FloatArray:
        return first + (seconds - self._all[at].began_s) / self._nominal_s

    def rate(self) -> RateEstimate | None:
        """Return the true rate of the last segment long enough to tell; None if there is none yet."""
        for segment in reversed(self._all):
            if not segment.next:  # it has just begun
                continue
            line = self._line(segment.run)
            if math.isfinite(line.period_uncertainty_s):
                return RateEstimate(1 / line.period_s, line.period_uncertainty_s / line.period_s**2)
        return None

    def _line(self, run: _Run, *, first: float = math.inf, last: float = math.inf) -> SkewLine:
        if run.line is not None:
            return run.line
        return run.arrivals.line(
            default_period_s=self._known_s or self._nominal_s,
            enough_s=self._known_span_s,
            first=first,
            last=last,
        )
