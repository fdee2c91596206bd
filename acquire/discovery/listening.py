"""Listen to an open link: for some seconds, and at one baud rate after the other until the bytes read.

A rate is judged by how much of what came is lines of numbers or whole packets (`legibility`): noise of a wrong rate
is neither. The search ends with the first rate that leaves no doubt, and else takes the best.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple, Protocol

from acquire.discovery.capture import Capture
from acquire.discovery.framing import Legibility, legibility
from acquire.discovery.refusal import fixed_frame, unreadable
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.links.base import Chunk, Link

USUAL_BAUD = (
    *(115_200, 9_600, 57_600, 38_400, 19_200, 230_400, 460_800, 921_600),
    *(1_000_000, 500_000, 250_000, 4_800, 2_400),
)
"""In the order of how often boards come with them (common practice, no source)."""
WAKE_S = 3.0
"""Many boards begin anew when their port is opened, and need so long until they speak."""
HEAR_S = 1.2
"""Ten lines of the slowest sensors."""
WAIT_S = 0.05
HOPELESS_BYTES = 400
"""Of which nothing could be read."""


class TunableLink(Link, Protocol):
    """A link whose baud rate can be changed while it is open."""

    def retune(self, baud: int) -> None:
        """Go on at another baud rate; what came before is thrown away."""


class Attempt(NamedTuple):
    """What a baud rate gave."""

    baud: int
    heard: Capture
    legible: Legibility

    @property
    def size(self) -> int:
        """Bytes that came."""
        return len(self.heard.data)


def listen(
    link: Link, seconds: float, clock: Callable[[], float], *, enough: Callable[[list[Chunk]], bool] | None = None
) -> list[Chunk]:
    """Return what comes within some seconds, or until it is enough.

    Raises
    ------
    LinkError
        If the link ends with an error.
    """
    heard: list[Chunk] = []
    until = clock() + seconds
    while (left := until - clock()) > 0:
        if link.ended:
            return heard + link.chunks()  # raises what ended it
        if link.wait(min(WAIT_S, left)):
            heard += link.chunks()
            if enough is not None and heard and enough(heard):
                break
    return heard


def find_baud(
    link: TunableLink,
    *,
    starts: bool,
    clock: Callable[[], float],
    rates: Sequence[int] = USUAL_BAUD,
    told: Callable[[Attempt], None] = lambda _: None,
) -> tuple[Attempt, ...]:
    """Try baud rates until the bytes read; the link is left at the best, which is the last returned.

    Parameters
    ----------
    link : TunableLink
        Open at the first of the rates.
    starts : bool
        Whether the link has a start command; without any, a sensor that is silent at first is silent at all rates.
    clock : callable
        Seconds.
    rates : sequence of int
        Bits per second, in the order to try.
    told : callable
        Told of each attempt.

    Raises
    ------
    DiscoveryError
        SILENT, if nothing came; else why nothing of it can be read.
    LinkError
        If the link ends with an error.
    """
    attempts: list[Attempt] = []
    for baud in rates:
        if attempts:
            link.retune(baud)
        attempts.append(_attempt(link, baud, HEAR_S if attempts else WAKE_S, clock))
        told(attempts[-1])
        if attempts[-1].legible.conclusive or not (attempts[0].size or starts):
            break
    if not any(attempt.size for attempt in attempts):
        raise DiscoveryError(_silent(starts=starts), reason=DiscoveryFailure.SILENT)
    best = max(attempts, key=lambda each: each.legible.share)
    if not best.legible.usable:
        raise _why_unreadable(attempts)
    if attempts[-1] is not best:
        link.retune(best.baud)
        attempts.append(best)
    return tuple(attempts)


def _attempt(link: Link, baud: int, patience: float, clock: Callable[[], float]) -> Attempt:
    first = listen(link, patience, clock, enough=lambda _: True)
    heard = first + (listen(link, HEAR_S, clock, enough=_decided) if first else [])
    capture = Capture(chunks=tuple(heard))
    return Attempt(baud, capture, legibility(capture))


def _why_unreadable(attempts: Sequence[Attempt]) -> DiscoveryError:
    """Return what the bytes look like, at the rate at which they look like something."""
    tried = tuple(attempt.baud for attempt in attempts)
    framed = sorted(attempts, key=lambda attempt: fixed_frame(attempt.heard.data) is None)
    errors = [unreadable(attempt.heard, tried=tried, baud=attempt.baud) for attempt in framed if attempt.size]
    telling = (DiscoveryFailure.NO_NUMBERS, DiscoveryFailure.WRONG_BAUD)
    return next((error for error in errors if error.reason in telling), errors[0])


def _decided(heard: list[Chunk]) -> bool:
    """Tell whether more bytes would change nothing."""
    capture = Capture(chunks=tuple(heard))
    if len(capture.data) < HOPELESS_BYTES:
        return False
    legible = legibility(capture)
    return legible.conclusive or legible.share == 0.0


def _silent(*, starts: bool) -> str:
    if starts:
        return "nothing came, also after the start command: check that the sensor is switched on, and the command"
    return (
        "nothing came: check that the sensor is switched on; if its manual names a command that starts it, give it "
        "with --start"
    )
