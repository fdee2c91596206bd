"""From bytes to a proposed profile: what is sent, which of it is force, and how sure that is.

1. Packets or text (`framing`); what is neither is refused with what it looks like (`refusal`).
2. The one row of forces in it, with what counts and ticks beside it (`text`, `packet_stream`).
3. What its numbers mean (`scale`, `converter`).
4. The profile is tried on the very bytes, by the decoder and the time base that a recording uses.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from acquire.decoders import frame_body
from acquire.discovery.capture import Capture, Task
from acquire.discovery.converter import count_bits, limit_of_small
from acquire.discovery.findings import Confidence, Finding, ProfileValue, Proposal
from acquire.discovery.framing import PACKETS, legibility, read_packets
from acquire.discovery.packet_stream import read_packet_stream
from acquire.discovery.reading import Reading, load_of
from acquire.discovery.refusal import unreadable
from acquire.discovery.scale import Scale, rated, scale, slope
from acquire.discovery.text import read_text
from acquire.discovery.words import figures, said
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.sensor.profile import FIELDS, Profile
from acquire.stream.pipeline import Pipeline
from acquire.values.units import ForceUnit

FULL_LINE = 0.8
BITS_A_BYTE = 10
"""8N1: a start bit, eight data bits, a stop bit."""
MUCH_DAMAGE = 0.02
STRONG = 20.0
"""A push so many times the noise is no wish for a better one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What is known before: by the link, and by the user."""

    name: str = "new-sensor"
    title: str = ""
    """Made up from what is found, where empty."""
    link: tuple[Finding, ...] = field(default=())
    """Of `link`, `baud`, `service`, `characteristic`, `start` and `stop`."""
    tried: tuple[int, ...] = ()
    """Baud rates at which the sensor was listened to."""
    rate_hz: float | None = None
    counts_per_newton: float | None = None
    rated_force_n: float | None = None
    unit: ForceUnit | None = None
    """Of numbers with a point."""


def discover(capture: Capture, known: Known | None = None) -> Proposal:
    r"""Return a profile for what a sensor sends.

    Parameters
    ----------
    capture : Capture
        What it sent, best with a quiet stretch and a push of three seconds after it.
    known : Known, optional
        What is known already.

    Raises
    ------
    DiscoveryError
        If the bytes make no profile; says in one sentence what they look like and what to do.

    Examples
    --------
    >>> time = [0.0125 * n for n in range(800)]
    >>> lines = [f"{n % 256},{90_000 if 400 < n < 640 else n % 7}\n".encode() for n in range(800)]
    >>> proposal = discover(Capture.of(zip(time, lines)))
    >>> proposal.profile.columns, proposal.profile.sequence_bits, proposal.profile.rate_hz
    (('seq', 'counts'), 8, 80.0)
    """
    known = known or Known()
    reading = _read(capture, known)
    load = load_of(capture, reading.time, reading.values, reading.answer.quiet)
    newtons = _newtons_beside(reading)
    size = scale(
        integer=reading.integer,
        answer=reading.answer,
        load=load,
        given=known.counts_per_newton,
        unit=reading.unit,
        unit_why=reading.unit_why,
        beside=newtons,
    )
    findings = tuple(_findings(reading, size, known, asked=capture.told(Task.QUIET) is not None))
    profile = _profile(findings, known)
    read, measured = _tried(profile, capture)
    return Proposal(
        profile=profile,
        findings=findings,
        measured=(*_seen(reading, profile), *measured),
        advice=tuple(_advice(reading, profile, read, size)),
        push_seen=reading.answer.pushed is not None,
    )


def _read(capture: Capture, known: Known) -> Reading:
    legible = legibility(capture)
    if not legible.usable:
        raise unreadable(capture, tried=known.tried)
    if legible.what == PACKETS:
        return read_packet_stream(capture, read_packets(capture), rate_hz=known.rate_hz)
    return read_text(capture, rate_hz=known.rate_hz, unit=known.unit)


def _newtons_beside(reading: Reading) -> float | None:
    """Return how many counts go with one of the column beside that has a point."""
    if reading.beside is None:
        return None
    both = np.isfinite(reading.beside) & np.isfinite(reading.values)
    return slope(reading.values[both], reading.beside[both]) or None


def _findings(reading: Reading, size: Scale, known: Known, *, asked: bool) -> Iterable[Finding]:
    yield from known.link
    yield reading.framing
    for finding in reading.columns:
        if finding.key == "columns":
            names = tuple(size.name if name == "counts" else name for name in finding.value)  # type: ignore[union-attr]
            yield replace(finding, value=names)
        else:
            yield finding
    width = None
    if size.name == "counts":
        yield (width := count_bits(reading.values, sent_as=reading.sent_as))
    yield from reading.more
    yield reading.rate
    most = rated(
        known.rated_force_n,
        counts_per_newton=size.counts_per_newton.number,
        limit_counts=None if width is None else 2 ** (int(width.number) - 1) - 1,
    )
    yield most
    if most.confidence is Confidence.GUESS:
        why = "nobody told: no force counts as beyond it, and no weight is refused"
        yield Finding(key="rating", value="unknown", confidence=Confidence.SURE, why=why)
    yield size.counts_per_newton
    if not size.known:
        why = "nobody told, and no weight was hung: every newton is a guess until then"
        yield Finding(key="sensitivity", value="unknown", confidence=Confidence.SURE, why=why)
    yield _zero(reading, asked=asked)


def _zero(reading: Reading, *, asked: bool) -> Finding:
    seen = reading.answer
    zero = float(round(seen.quiet)) if reading.integer else figures(seen.quiet, 5)
    sure = Confidence.SURE if asked and not seen.drift else Confidence.LIKELY
    why = "what it sent when left alone" if asked else "what it sent at first, taken as unloaded"
    return Finding(key="zero_counts", value=zero, confidence=sure, why=f"{why}{', drifting' if seen.drift else ''}")


def _profile(findings: Iterable[Finding], known: Known) -> Profile:
    values: dict[str, ProfileValue] = {finding.key: finding.value for finding in findings}
    values |= {"name": known.name, "title": known.title or _title(values)}
    try:
        return Profile(**{key: values[key] for key in FIELDS if key in values})  # type: ignore[arg-type] # by its keys
    except ValueError as error:
        raise DiscoveryError(f"what was found makes no profile: {error}", reason=DiscoveryFailure.UNUSABLE) from error


def _title(values: dict[str, ProfileValue]) -> str:
    sends = "packets" if values["framing"] == "packets" else "text lines"
    way = "over Bluetooth" if values.get("link") == "bluetooth" else "by cable"
    return f"Sensor of unknown make, {values['rate_hz']:g} Hz, {sends} {way}"


@dataclass(frozen=True, slots=True)
class _Read:
    samples: int
    damaged: int
    lost: int
    bytes_per_s: float


def _tried(profile: Profile, capture: Capture) -> tuple[_Read, tuple[tuple[str, str], ...]]:
    """Read the capture as a recording would, and tell what came of it."""
    pipeline = Pipeline(profile, profile.nominal_calibration())
    for chunk in capture.chunks:
        data = frame_body(chunk.data) if capture.datagrams and profile.framing == "packets" else chunk.data
        pipeline.feed(chunk.arrival, data)
    pipeline.finish()
    samples, damaged, lost = pipeline.ring.written, pipeline.damaged, pipeline.timebase.lost
    frames = "packets" if profile.framing == "packets" else "lines"
    told = [("read with this profile", f"{samples:,} samples, {damaged} damaged {frames}")]
    if capture.timed:
        told.append(("lost samples", f"{lost:,}"))
    span = capture.seconds
    bytes_per_s = len(capture.data) / span if span > 0.0 else 0.0
    return _Read(samples, damaged, lost if capture.timed else 0, bytes_per_s), tuple(told)


def _seen(reading: Reading, profile: Profile) -> Iterable[tuple[str, str]]:
    seen, unit = reading.answer, "counts" if reading.integer else "as sent"
    newtons = (
        ""
        if profile.sensitivity == "unknown"
        else f", {said(figures(seen.noise / abs(profile.counts_per_newton), 2))} N"
    )
    yield "noise", f"{said(seen.noise)} {unit} (standard deviation){newtons}"
    if seen.pushed is None:
        yield "push", "none was seen"
    else:
        yield (
            "push",
            f"{said(seen.change, sign=True)} {unit} for {seen.push_s:.1f} s{'' if seen.came_back else ', not let go'}",
        )


FINEST_BY_MS_HZ = 500.0
"""A step of the clock is half a sample period then."""


def _advice(reading: Reading, profile: Profile, read: _Read, size: Scale) -> Iterable[str]:
    yield from reading.advice
    if "ms" in profile.columns and "seq" not in profile.columns and profile.rate_hz > FINEST_BY_MS_HZ:
        yield (
            f"Milliseconds cannot tell {profile.rate_hz:.0f} samples a second apart where the sensor runs a "
            "little fast or slow: some then count as lost or as doubled. Let it send a line number, or microseconds."
        )
    seen = reading.answer
    if seen.pushed is None:
        yield "No push was seen, so the force column and its sign are not certain: look again, and push firmly."
    elif seen.strength < STRONG:
        yield "The push was hardly more than the noise: look again, and push harder."
    if seen.drift:
        yield "The sensor drifted while it was left alone: let it warm up, and see that nothing touches it."
    if read.damaged + read.lost > MUCH_DAMAGE * (read.samples + read.lost):
        yield (
            f"{read.damaged} lines or packets were damaged and {read.lost} samples lost: check the cable, the baud "
            "rate and the ground, or bring a Bluetooth sensor nearer."
        )
    if profile.link == "serial" and (part := read.bytes_per_s * BITS_A_BYTE / profile.baud) > FULL_LINE:
        yield f"The line is {part:.0%} full at {profile.baud} bit/s: raise the baud rate, or samples will be lost."
    if reading.integer and (top := limit_of_small(reading.values)) is not None:
        yield f"It stops at {top}, the end of a small converter; the program cannot mark this as its limit."
    if not size.known:
        yield "Its newtons are a guess until known weights were hung on it."
