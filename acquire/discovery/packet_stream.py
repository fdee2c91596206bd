"""Packets: they say what they hold, so only the rate of their clock is to be found."""

from __future__ import annotations

import numpy as np

from acquire.decoders import Packet
from acquire.decoders.packets import CountBits, encode_packet, packet_body
from acquire.discovery.capture import Capture, Task
from acquire.discovery.counters import FASTEST_HZ, SLOWEST_HZ
from acquire.discovery.findings import Confidence, Finding
from acquire.discovery.framing import Packets
from acquire.discovery.push import answer
from acquire.discovery.rate import NEAR, USUAL_TICK_HZ, rate_by_clock, tick_rate, usual, usual_tick
from acquire.discovery.reading import Reading, rate_finding
from acquire.discovery.words import figures, said
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.sensor.clock_columns import COUNTER_WRAP
from acquire.values.arrays import FloatArray

USUAL_FIRST = (1e6, 32768.0, *USUAL_TICK_HZ)
"""The format's own clock first."""
WIDTHS: tuple[CountBits, ...] = (16, 24, 32)


def read_packet_stream(capture: Capture, found: Packets, *, rate_hz: float | None) -> Reading:
    """Return what the packets of a capture hold.

    Parameters
    ----------
    capture : Capture
        With the packets.
    found : Packets
        The good ones, three or more.
    rate_hz : float, optional
        What the user says.

    Raises
    ------
    DiscoveryError
        UNUSABLE, where the clock in them stands still; TOO_LITTLE, where there are too few.
    """
    packets = found.packets
    sizes = np.array([len(packet.counts) for packet in packets], dtype=np.float64)
    ticks = np.array([packet.tick for packet in packets], dtype=np.float64)
    ticks += COUNTER_WRAP * np.cumsum(np.diff(ticks, prepend=ticks[0]) < -0.5 * COUNTER_WRAP)
    values = np.concatenate([np.asarray(packet.counts, dtype=np.float64) for packet in packets])
    tick = _tick(ticks, sizes, found.arrivals if capture.timed else None, rate_hz)
    rate = rate_by_clock(ticks, tick.number, samples=sizes)
    if rate is None:
        raise DiscoveryError(_why_no_rate(ticks), reason=_reason(ticks))
    times = found.arrivals if capture.timed else ticks / tick.number
    each = np.repeat(np.maximum.accumulate(times), sizes.astype(np.int64))
    seen = answer(each, values, capture.told(Task.QUIET), capture.told(Task.PUSH))
    if seen is None:
        raise DiscoveryError(TOO_FEW, reason=DiscoveryFailure.TOO_LITTLE)
    return Reading(
        framing=_framing(found, sizes, capture),
        time=each,
        values=values,
        integer=True,
        answer=seen,
        rate=rate_finding(rate, rate_hz),
        more=(tick,),
        sent_as=_width(packets[0], capture),
    )


TOO_FEW = "too few packets came to tell what they hold: look for longer"


def _why_no_rate(ticks: FloatArray) -> str:
    if _stands_still(ticks):
        return "the clock in its packets stands still, and the program places samples by it: the firmware must set it"
    return TOO_FEW


def _reason(ticks: FloatArray) -> DiscoveryFailure:
    return DiscoveryFailure.UNUSABLE if _stands_still(ticks) else DiscoveryFailure.TOO_LITTLE


def _stands_still(ticks: FloatArray) -> bool:
    return bool((ticks == ticks[0]).all()) and len(ticks) > 1


def _framing(found: Packets, sizes: FloatArray, capture: Capture) -> Finding:
    bare = "bare, one a notification" if capture.datagrams else "with byte stuffing"
    why = f"{len(found.packets)} packets {bare}, with good checksums; {np.median(sizes):.0f} samples in each"
    return Finding(key="framing", value="packets", confidence=Confidence.SURE, why=why)


def _tick(ticks: FloatArray, sizes: FloatArray, arrivals: FloatArray | None, rate_hz: float | None) -> Finding:
    """Return the steps of the packets' clock a second."""
    measured = None if arrivals is None else tick_rate(ticks, arrivals)
    if measured is not None:
        meant = usual_tick(measured.hz)
        why = f"{said(measured.hz)} steps a second by {measured.how}"
        sure = Confidence.LIKELY if meant is None else Confidence.SURE
        return Finding(key="tick_hz", value=meant or figures(measured.hz, 4), confidence=sure, why=why)
    return _tick_by_rate(ticks, sizes, rate_hz)


def _tick_by_rate(ticks: FloatArray, sizes: FloatArray, rate_hz: float | None) -> Finding:
    """Return the usual clock by which the samples have a usual rate."""
    steps = np.diff(ticks) / sizes[:-1]
    period = float(np.median(steps)) if len(steps) else 0.0
    for tick in USUAL_FIRST if period > 0.0 else ():
        hz = tick / period
        wanted = rate_hz if rate_hz is not None else usual(hz)
        if wanted is not None and abs(hz / wanted - 1.0) < NEAR and SLOWEST_HZ <= hz <= FASTEST_HZ:
            why = f"by it there are {said(hz)} samples a second, a usual rate; arrivals are not known"
            return Finding(key="tick_hz", value=tick, confidence=Confidence.LIKELY, why=why)
    return Finding(
        key="tick_hz",
        value=USUAL_FIRST[0],
        confidence=Confidence.GUESS,
        why="the format's own; arrivals are not known, and no usual clock makes a usual rate",
    )


def _width(packet: Packet, capture: Capture) -> int:
    """Return the bits of a count in a packet, by finding its very bytes again."""
    return next(bits for bits in WIDTHS if _holds(capture, packet, bits))


def _holds(capture: Capture, packet: Packet, bits: CountBits) -> bool:
    encode = packet_body if capture.datagrams else encode_packet
    try:
        return encode(packet.sequence, packet.tick, packet.counts, count_bits=bits) in capture.data
    except ValueError:  # a count does not fit
        return False
