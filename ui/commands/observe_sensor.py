"""Look at a sensor that nobody has described: open it, find its baud rate, and let a person push on it."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from acquire.discovery import Asked, Capture, Confidence, Finding, Known, Legibility, Task, legibility
from acquire.discovery.listening import USUAL_BAUD, Attempt, find_baud, listen
from acquire.errors import DiscoveryError, DiscoveryFailure
from acquire.links.base import Chunk, Link
from acquire.links.serial import SerialLink
from acquire.sensor.profile import Profile
from acquire.values.gravity import STANDARD_GRAVITY, weight
from ui.commands.dialogue import Dialogue

if TYPE_CHECKING:
    from acquire.links.bluetooth_services import Notifier

QUIET_S = 4.0
PUSH_S = 5.0
"""For a push of three seconds, and for hearing that it is wanted."""
LET_GO_S = 2.0
WEIGHED_S = 2.5
LISTEN_S = 2.0
"""To hear what a characteristic notifies."""


@dataclass(kw_only=True)
class Observation:
    """A sensor under way: its link, what it has sent, and what was asked meanwhile."""

    link: Link
    dialogue: Dialogue
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
        self.dialogue.ask("Lay the sensor down so that nothing touches it, and press Enter.")
        self.dialogue.tell(f"1. Leave it alone for {QUIET_S:.0f} seconds ...")
        self.asked.append(Asked(Task.QUIET, *self.listen(QUIET_S)))
        self.dialogue.tell("2. Now PUSH on it, firmly, for three seconds ...")
        self.asked.append(Asked(Task.PUSH, *self.listen(PUSH_S)))
        self.dialogue.tell("3. Let go ...")
        self.listen(LET_GO_S)

    def watch_weight(self, mass_kg: float) -> None:
        """Ask for a known mass and listen to it."""
        self.dialogue.wait_for_enter(f"Hang or lay {mass_kg:g} kg on the sensor, let it come to rest, and press Enter.")
        self.listen(0.0)
        start, stop = self.listen(WEIGHED_S)
        self.asked.append(Asked(Task.WEIGHT, start, stop, weight(mass_kg, STANDARD_GRAVITY)))


def open_serial(port: str, *, baud: int | None, start: str, stop: str) -> SerialLink:
    """Open a serial port at the given baud rate, or at the first of the usual ones."""
    return SerialLink(port, baud=baud or USUAL_BAUD[0], start=start.encode(), stop=stop.encode())


def baud_finding(
    link: SerialLink, *, given: int | None, starts: bool, dialogue: Dialogue
) -> tuple[Finding, tuple[int, ...]]:
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
        told=lambda each: dialogue.tell(_attempt(each)),
    )
    best, tried = attempts[-1], tuple(dict.fromkeys(attempt.baud for attempt in attempts))
    others = f", nothing at {', '.join(str(rate) for rate in tried if rate != best.baud)}" if len(tried) > 1 else ""
    why = f"{best.legible.frames} {best.legible.what} could be read at it{others}"
    sure = Confidence.SURE if best.legible.conclusive else Confidence.LIKELY
    sure = sure if given is None else Confidence.GIVEN
    return Finding(key="baud", value=best.baud, confidence=sure, why=why), tried


def _attempt(attempt: Attempt) -> str:
    if not attempt.size:
        return f"  {attempt.baud:>8} bit/s: nothing came"
    legible = attempt.legible
    read = f"{legible.frames} {legible.what}" if legible.frames else "nothing that could be read"
    return f"  {attempt.baud:>8} bit/s: {attempt.size} bytes, {read}"


def choose_notifier(
    found: Sequence[Notifier], listen_to: Callable[[Notifier], Legibility], dialogue: Dialogue
) -> Notifier:
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
        dialogue.tell(f"  {each.characteristic}: {heard[each].frames} {heard[each].what}")
    best = max(found, key=lambda each: (heard[each].share, heard[each].frames))
    if not heard[best].frames:
        raise DiscoveryError(
            "none of its characteristics sends lines or packets: if its manual names a command that starts it, give it "
            "with --start",
            reason=DiscoveryFailure.SILENT,
        )
    return best


def open_bluetooth(port: str, *, start: str, stop: str, dialogue: Dialogue) -> tuple[Link, tuple[Finding, ...]]:
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
    chosen = choose_notifier(found, listen_to, dialogue)
    why = "it notifies" if len(found) == 1 else f"of {len(found)} that notify, it reads best"
    return BluetoothLink(port, provisional(chosen)), bluetooth_findings(*chosen, why=why)


def bluetooth_findings(service: str, characteristic: str, *, why: str) -> tuple[Finding, ...]:
    """Return what is known of the link of a Bluetooth sensor."""
    return (
        Finding(key="link", value="bluetooth", confidence=Confidence.GIVEN, why="as you said"),
        Finding(key="service", value=service, confidence=Confidence.SURE, why="it holds the characteristic"),
        Finding(key="characteristic", value=characteristic, confidence=Confidence.SURE, why=why),
    )
