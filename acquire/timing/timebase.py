"""Seconds for samples: never the time at which they arrived.

A sensor says at best when it measured (a device clock), else at least in which order (a line counter), else
only that it measured at some steady rate. Each sample gets its seconds at once from what its sensor says;
these are the *placed* seconds. Zero is the first sample.

**Device clock** (packets; lines with a `ms`, `us` or `s` column). The clock is unwrapped at its 2**32 steps
and is the time. The samples within a packet are spaced by the period between unbroken packets, learnt as
they come, beginning with the nominal one. The clock also says how many samples a gap cost; the sequence
number, which wraps, says that nothing was lost, or that a packet came twice.

**Line counter.** Placed at counter / nominal rate, so a lost line leaves its place empty.

**Nothing.** Placed at index / nominal rate. A bad line takes its place in the count. Arrivals that pause for
more than half a second (or ten samples) end the stretch, and the next one is moved by that pause.

What comes a second time, or late and out of order, is dropped and counted. A clock or counter that otherwise
goes back is a device that was restarted: a new stretch, set off from the last by the arrivals, with a gap.
Seconds always increase. No sample is ever made up, and what is known to be lost is counted and leaves a gap.

**Refining.** Placed seconds of a sensor without a clock run at the nominal rate, which an on-chip oscillator
misses by per cents. When a trial is cut, `refine` maps them to the host's clock by the least-delay line of
each unbroken stretch (see `acquire.timing.clock_skew`), in seconds since the first arrival. Device clocks are
better than that within a trial and are left as they are.

The same line gives the true sample rate of any sensor, and so shows what its clock is worth.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from acquire.timing.device_clock import DeviceClock
from acquire.timing.segments import RateEstimate
from acquire.timing.timestamping import ByClock, ByCounter, ByIndex, Gap, Placement
from acquire.values.arrays import FloatArray

if TYPE_CHECKING:
    from acquire.decoders import Event
    from acquire.sensor.profile import Profile

__all__ = ["Gap", "RateEstimate", "TimeBase"]


CLOCK_TURN = 2**32
"""Steps after which a device clock starts again."""
LINE_CLOCK_STEP_S = {"ms": 1e-3, "us": 1e-6, "s": None}
"""Step of the clock of a line; seconds are told as a number of any fineness, and never start again."""


class TimeBase:
    """Places the samples of one stream on a time base.

    Parameters
    ----------
    profile : Profile
        Framing, columns, rate, tick and counter width of the sensor.

    Examples
    --------
    >>> from acquire.decoders import Packet
    >>> from acquire.sensor.profile import load_profile
    >>> base = TimeBase(load_profile("simulated"))
    >>> base.place(Packet(sequence=0, tick=5_000_000, counts=(1, 2)), 10.0).tolist()
    [0.0, 0.001]
    >>> base.place(Packet(sequence=2, tick=5_004_000, counts=(5, 6)), 10.1).tolist()
    [0.004, 0.005]
    >>> base.lost
    2
    """

    def __init__(self, profile: Profile) -> None:
        self._placement = _placement(profile)

    def place(self, event: Event, arrival: float) -> FloatArray:
        """Return when the samples of an event were taken.

        Parameters
        ----------
        event : Packet, Lines or Damage
            As it came from the decoder, in order.
        arrival : float
            When the chunk came that completed the event, s on any steady clock; the same number for all
            events of a chunk.

        Returns
        -------
        ndarray, shape (n_samples,) or (0,)
            Seconds since the first sample of the stream, each above all before. Empty for damage and for a
            packet that came before; NaN for each line that came before.
        """
        return self._placement.place(event, arrival)

    def drop(self, frames: int) -> None:
        """Count packets or lines that came before, or late, and are known to before they are placed."""
        self._placement.duplicates += frames

    def refine(self, seconds: FloatArray) -> FloatArray:
        """Return placed seconds on the host's clock.

        Parameters
        ----------
        seconds : ndarray, shape (n,)
            Placed seconds of one trial, increasing.

        Returns
        -------
        ndarray, shape (n,)
            The same array for a sensor with a clock. Otherwise seconds since the first arrival, increasing,
            by the least-delay line of each stretch. The constant part of the delay cannot be seen and stays
            in.
        """
        if isinstance(self._placement, ByClock) or not self._placement.started or not len(seconds):
            return seconds
        return self._placement.stretches.refine(seconds)

    @property
    def rate(self) -> RateEstimate | None:
        """The true sample rate on the host's clock; None before about two seconds of data."""
        return self._placement.stretches.rate()

    @property
    def lost(self) -> int:
        """Samples known to be lost so far.

        A sensor that neither counts nor stamps has lost as many as a pause was long; fewer, once what seemed
        lost turns out to have been late.
        """
        return self._placement.lost

    @property
    def unsettled(self) -> bool:
        """Whether what seems lost in a pause may still prove late: then refined seconds may still change by it."""
        return self._placement.unsettled

    @property
    def duplicates(self) -> int:
        """Packets or lines dropped because they came before, or came late and out of order."""
        return self._placement.duplicates

    @property
    def gap_count(self) -> int:
        """How many gaps there were so far."""
        return self._placement.gap_count

    @property
    def gaps(self) -> tuple[Gap, ...]:
        """The last thousand gaps, in order."""
        return self._placement.gaps


def _placement(profile: Profile) -> Placement:
    counter = {"rate_hz": profile.rate_hz, "sequence_turn": 2**profile.sequence_bits}
    if profile.framing == "packets":
        clock = DeviceClock(steps_per_s=profile.tick_hz, turn=CLOCK_TURN, rate_hz=profile.rate_hz)
        return ByClock(clock=clock, **counter)
    for name in profile.columns:
        if name in LINE_CLOCK_STEP_S:
            return ByClock(clock=_line_clock(LINE_CLOCK_STEP_S[name], profile.rate_hz), **counter)
    return ByCounter(**counter) if "seq" in profile.columns else ByIndex(**counter)


def _line_clock(step_s: float | None, rate_hz: float) -> DeviceClock:
    if step_s is None:
        return DeviceClock(steps_per_s=1.0, turn=None, rate_hz=rate_hz, resolution=0.0)
    return DeviceClock(steps_per_s=1.0, turn=CLOCK_TURN * step_s, rate_hz=rate_hz, resolution=step_s)
