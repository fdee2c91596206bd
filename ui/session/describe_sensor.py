"""Look at a sensor that nobody has described: open it, find its baud rate, and let a person push on it.

Who leads the person through it is a `Guide`: the terminal has one, and so has the window.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

from acquire.discovery import (
    Asked,
    Capture,
    Confidence,
    Finding,
    Known,
    Legibility,
    Proposal,
    Task,
    discover,
    legibility,
)
from acquire.discovery.listening import USUAL_BAUD, Attempt, find_baud, listen
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.links.base import Chunk, Link
from acquire.links.serial import SerialLink
from acquire.sensor.profile import Profile
from acquire.values.gravity import STANDARD_GRAVITY, weight
from acquire.values.units import ForceUnit

if TYPE_CHECKING:
    from acquire.links.bluetooth_services import Notifier

QUIET_S = 4.0
PUSH_S = 5.0
"""For a push of three seconds, and for hearing that it is wanted."""
LET_GO_S = 2.0
WEIGHED_S = 2.5
LISTEN_S = 2.0
"""To hear what a characteristic notifies."""
TRIES = 3
"""Pushes that may be missed."""


class Guide(Protocol):
    """Leads a person through it; what asks returns the answer, None for none."""

    silent: bool
    """Nobody is asked: a script runs the program."""

    def attempted(self, attempt: Attempt) -> None:
        """Say what a baud rate gave."""

    def notified(self, notifier: Notifier, heard: Legibility) -> None:
        """Say what a characteristic gave."""

    def lay_down(self) -> None:
        """Ask to leave the sensor alone, and wait until it is."""

    def quiet(self, seconds: float) -> None:
        """Say that the unloaded sensor is looked at for so long."""

    def push(self) -> None:
        """Ask for a push."""

    def let_go(self) -> None:
        """Ask to let go."""

    def again(self) -> None:
        """Say that no push was seen."""

    def weight(self) -> float | None:
        """Ask for the mass of a known weight, kg."""

    def hang(self, mass_kg: float) -> None:
        """Ask to hang a weight, and wait until it hangs."""

    def rated(self) -> float | None:
        """Ask for the most the sensor may carry, N."""

    def unit(self) -> ForceUnit | None:
        """Ask for the unit of the numbers that are sent."""


@dataclass(kw_only=True)
class Observation:
    """A sensor under way: its link, what it has sent, and what was asked meanwhile."""

    link: Link
    guide: Guide
    clock: Callable[[], float] = time.monotonic
    known: Known
    """Before anything was heard of it."""
    chunks: list[Chunk] = field(default_factory=list)
    asked: list[Asked] = field(default_factory=list)

    @property
    def capture(self) -> Capture:
        """All of it so far."""
        link = {finding.key: str(finding.value) for finding in self.known.link}
        return Capture(
            chunks=tuple(self.chunks),
            datagrams=link.get("link") == "bluetooth",
            asked=tuple(self.asked),
            service=link.get("service", ""),
            characteristic=link.get("characteristic", ""),
        )

    def listen(self, seconds: float) -> tuple[float, float]:
        """Listen for some seconds; return when it began and ended."""
        start = self.clock()
        self.chunks += listen(self.link, seconds, self.clock)
        return start, self.clock()

    def watch_push(self) -> None:
        """Ask for a quiet stretch and a push, and listen to both."""
        self.guide.lay_down()
        self.guide.quiet(QUIET_S)
        self.asked.append(Asked(Task.QUIET, *self.listen(QUIET_S)))
        self.guide.push()
        self.asked.append(Asked(Task.PUSH, *self.listen(PUSH_S)))
        self.guide.let_go()
        self.listen(LET_GO_S)

    def watch_weight(self, mass_kg: float) -> None:
        """Ask for a known mass and listen to it."""
        self.guide.hang(mass_kg)
        self.listen(0.0)
        start, stop = self.listen(WEIGHED_S)
        self.asked.append(Asked(Task.WEIGHT, start, stop, weight(mass_kg, STANDARD_GRAVITY)))


def watched(observation: Observation, *, mass_kg: float | None = None) -> Proposal:
    """Let the person push, and make of it what can be made; ask for what cannot be seen.

    Parameters
    ----------
    observation : Observation
        Of an open link.
    mass_kg : float, optional
        Of a known weight; asked for without it, where the sensitivity is not known.

    Raises
    ------
    DiscoveryError, LinkError
        If nothing can be made of it.
    """
    known, guide = observation.known, observation.guide
    proposal = _pushed(observation)
    if mass_kg is None and known.counts_per_newton is None:
        mass_kg = guide.weight()
    if mass_kg is not None:
        observation.watch_weight(mass_kg)
    if known.rated_force_n is None:
        known = replace(known, rated_force_n=guide.rated())
    if proposal.profile.force_column == "value" and proposal.profile.sensitivity == "unknown" and mass_kg is None:
        known = replace(known, unit=guide.unit())
    return discover(observation.capture, known)


def _pushed(observation: Observation) -> Proposal:
    """Watch pushes until one is seen."""
    observation.watch_push()
    proposal = discover(observation.capture, observation.known)
    for _ in range(TRIES - 1):
        if proposal.push_seen or observation.guide.silent:
            break
        observation.guide.again()
        observation.watch_push()
        proposal = discover(observation.capture, observation.known)
    return proposal


def open_serial(port: str, *, baud: int | None, start: str, stop: str) -> SerialLink:
    """Open a serial port at the given baud rate, or at the first of the usual ones."""
    return SerialLink(port, baud=baud or USUAL_BAUD[0], start=start.encode(), stop=stop.encode())


def baud_finding(link: SerialLink, *, given: int | None, starts: bool, guide: Guide) -> tuple[Finding, tuple[int, ...]]:
    """Find the baud rate of an open port, or see that the given one is right; return it with what was tried.

    Raises
    ------
    DiscoveryError, LinkError
        As `find_baud`.
    """
    attempts = find_baud(
        link,
        starts=starts,
        clock=time.monotonic,
        rates=USUAL_BAUD if given is None else (given,),
        told=guide.attempted,
    )
    best, tried = attempts[-1], tuple(dict.fromkeys(attempt.baud for attempt in attempts))
    others = f", nothing at {', '.join(str(rate) for rate in tried if rate != best.baud)}" if len(tried) > 1 else ""
    why = f"{best.legible.frames} {best.legible.what} could be read at it{others}"
    sure = Confidence.SURE if best.legible.conclusive else Confidence.LIKELY
    sure = sure if given is None else Confidence.GIVEN
    return Finding(key="baud", value=best.baud, confidence=sure, why=why), tried


def choose_notifier(found: Sequence[Notifier], listen_to: Callable[[Notifier], Legibility], guide: Guide) -> Notifier:
    """Return the characteristic whose notifications read best; the only one without listening.

    Raises
    ------
    DiscoveryError
        SILENT, if several notify and none sends anything.
    """
    if len(found) == 1:
        return found[0]
    heard = {}
    for each in found:
        heard[each] = listen_to(each)
        guide.notified(each, heard[each])
    best = max(found, key=lambda each: (heard[each].share, heard[each].frames))
    if not heard[best].frames:
        raise DiscoveryError(
            "none of its characteristics sends lines or packets: if its manual names a command that starts it, give it "
            "with --start",
            reason=DiscoveryFailure.SILENT,
        )
    return best


def open_bluetooth(port: str, *, start: str, stop: str, guide: Guide) -> tuple[Link, tuple[Finding, ...]]:
    """Open a Bluetooth sensor at the characteristic that sends; return the findings of its link.

    Raises
    ------
    DiscoveryError, LinkError
        If it cannot be reached, or sends nothing.
    """
    # only needed over Bluetooth, and slow to import
    from acquire.links.bluetooth import BluetoothLink  # noqa: PLC0415
    from acquire.links.bluetooth_services import notifiers  # noqa: PLC0415

    def provisional(each: Notifier) -> Profile:
        """Lines, since those are handed on as they come."""
        return Profile(
            name="new-sensor",
            title="being looked at",
            link="bluetooth",
            service=each.service,
            characteristic=each.characteristic,
            framing="lines",
            columns=("counts",),
            rate_hz=10.0,
            rated_force_n=500.0,
            counts_per_newton=1.0,
            start=start,
            stop=stop,
        )

    def listen_to(each: Notifier) -> Legibility:
        with BluetoothLink(port, provisional(each)) as link:
            return legibility(Capture(chunks=tuple(listen(link, LISTEN_S, time.monotonic)), datagrams=True))

    found = notifiers(port)
    chosen = choose_notifier(found, listen_to, guide)
    why = "it notifies" if len(found) == 1 else f"of {len(found)} that notify, it reads best"
    return BluetoothLink(port, provisional(chosen)), bluetooth_findings(*chosen, why=why)


def bluetooth_findings(service: str, characteristic: str, *, why: str) -> tuple[Finding, ...]:
    """Return what is known of the link of a Bluetooth sensor."""
    return (
        Finding(key="link", value="bluetooth", confidence=Confidence.GIVEN, why="as you said"),
        Finding(key="service", value=service, confidence=Confidence.SURE, why="it holds the characteristic"),
        Finding(key="characteristic", value=characteristic, confidence=Confidence.SURE, why=why),
    )
