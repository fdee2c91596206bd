"""Unbroken stretches of counted samples, and where each lies on the host's clock.

Within a stretch sample follows sample, lost ones counted in, so that one line from index to arrival holds
(`acquire.least_delay`). A restart or a pause ends it. Of an ended stretch only the line of its last minute is
kept; a short one borrows its slope from the last that was long enough to know the rate.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from acquire.least_delay import ENOUGH_S, Arrivals, Line

FloatArray = NDArray[np.float64]

KEPT = 1000
KNOWN_S = 10.0
"""A stretch shorter than this borrows the slope of an earlier one."""


class RateEstimate(NamedTuple):
    """True sample rate on the host's clock."""

    rate_hz: float
    uncertainty_hz: float
    """Standard uncertainty, from how steady the least delays are."""


@dataclass(slots=True)
class _Stretch:
    began_s: float
    """Placed seconds of sample 0."""
    arrivals: Arrivals
    next: int = 0
    """Index of the sample to come."""
    line: Line | None = None
    """Once it has ended."""


class Stretches:
    """The stretches of one stream, the last of which is growing.

    Parameters
    ----------
    nominal_s : float
        Nominal seconds a sample, by which samples are placed.
    """

    def __init__(self, nominal_s: float) -> None:
        self._nominal_s = nominal_s
        self._known_s: float | None = None
        self._first_arrival: float | None = None
        self._all: list[_Stretch] = []

    @property
    def end_s(self) -> float:
        """Placed seconds of the last sample."""
        last = self._all[-1]
        return last.began_s + (last.next - 1) * self._nominal_s

    @property
    def duration_s(self) -> float:
        """Seconds from the first to the last arrival of the last stretch."""
        return self._all[-1].arrivals.seconds

    def begin(self, at_s: float) -> None:
        """End the last stretch and begin one at the given placed seconds."""
        if self._all:
            self._end(self._all[-1])
        self._all.append(_Stretch(began_s=at_s, arrivals=Arrivals()))
        del self._all[:-KEPT]

    def _end(self, stretch: _Stretch) -> None:
        stretch.line = self._line(stretch)
        if self._known_s is None or stretch.arrivals.seconds >= KNOWN_S:
            measured = math.isfinite(stretch.line.period_uncertainty_s)
            self._known_s = stretch.line.period_s if measured else self._known_s
        stretch.arrivals = Arrivals()

    def advance(self, samples: int, arrival: float, *, frames: int = 1) -> None:
        """Count samples that have arrived in so many packets or lines."""
        last = self._all[-1]
        last.next += samples
        last.arrivals.add(last.next - 1, arrival, frames=frames)
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
        """Return how many samples fit between the last two stretches, and the placed end of the first."""
        left, right = self._all[-2:]
        line = self._line(right)
        step_s = line.at(0) - self._line(left).at(left.next - 1)
        missing = max(round(step_s / line.period_s) - 1, 0)
        return missing, left.began_s + (left.next - 1) * self._nominal_s

    def refine(self, seconds: FloatArray) -> FloatArray:
        """Return placed seconds as seconds of the host's clock since the first arrival, increasing."""
        starts = [stretch.began_s for stretch in self._all]
        which = np.maximum(np.searchsorted(starts, seconds, side="right") - 1, 0)
        refined = np.empty(len(seconds))
        end = -math.inf
        for at in np.unique(which):
            here = which == at
            part = self._refine_in(self._all[at], seconds[here])
            if part[0] <= end:  # two lines may disagree by a millisecond
                part += end + self._nominal_s - part[0]
            refined[here] = part
            end = part[-1]
        return refined

    def _refine_in(self, stretch: _Stretch, seconds: FloatArray) -> FloatArray:
        index = (seconds - stretch.began_s) / self._nominal_s
        line = self._line(stretch, first=float(index[0]), last=float(index[-1]))
        return line.at(index) - (self._first_arrival or 0.0)

    def rate(self) -> RateEstimate | None:
        """Return the true rate of the last stretch long enough to tell; None if there is none yet."""
        for stretch in reversed(self._all):
            line = self._line(stretch)
            if math.isfinite(line.period_uncertainty_s):
                return RateEstimate(1 / line.period_s, line.period_uncertainty_s / line.period_s**2)
        return None

    def _line(self, stretch: _Stretch, *, first: float = math.inf, last: float = math.inf) -> Line:
        if stretch.line is not None:
            return stretch.line
        return stretch.arrivals.line(
            default_period_s=self._known_s or self._nominal_s,
            enough_s=KNOWN_S if self._known_s else ENOUGH_S,
            first=first,
            last=last,
        )
