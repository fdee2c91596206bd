"""Leads a person in a terminal through the look at a sensor that nobody has described."""

from __future__ import annotations

import contextlib
from typing import TYPE_CHECKING

from acquire.discovery import Legibility
from acquire.discovery.listening import Attempt
from acquire.values.units import ForceUnit
from ui.commands.dialogue import Dialogue

if TYPE_CHECKING:
    from acquire.links.bluetooth_services import Notifier


class TerminalGuide:
    """A `ui.session.describe_sensor.Guide` that asks by a dialogue."""

    def __init__(self, dialogue: Dialogue) -> None:
        self._dialogue = dialogue
        self.silent = dialogue.silent

    def attempted(self, attempt: Attempt) -> None:
        """Say what a baud rate gave."""
        self._dialogue.tell(_attempt(attempt))

    def notified(self, notifier: Notifier, heard: Legibility) -> None:
        """Say what a characteristic gave."""
        self._dialogue.tell(f"  {notifier.characteristic}: {heard.frames} {heard.what}")

    def lay_down(self) -> None:
        """Ask to leave the sensor alone, and wait until it is."""
        self._dialogue.ask("Lay the sensor down so that nothing touches it, and press Enter.")

    def quiet(self, seconds: float) -> None:
        """Say that the unloaded sensor is looked at for so long."""
        self._dialogue.tell(f"1. Leave it alone for {seconds:.0f} seconds ...")

    def push(self) -> None:
        """Ask for a push."""
        self._dialogue.tell("2. Now PUSH on it, firmly, for three seconds ...")

    def let_go(self) -> None:
        """Ask to let go."""
        self._dialogue.tell("3. Let go ...")

    def again(self) -> None:
        """Say that no push was seen."""
        self._dialogue.tell("No push was seen. Once more:")

    def weight(self) -> float | None:
        """Ask for the mass of a known weight, kg."""
        return self._dialogue.number("Known weight at hand? Its mass in kg, or only Enter to go without:")

    def hang(self, mass_kg: float) -> None:
        """Ask to hang a weight, and wait until it hangs."""
        hint = f"Hang or lay {mass_kg:g} kg on the sensor, let it come to rest, and press Enter."
        self._dialogue.wait_for_enter(hint)

    def rated(self) -> float | None:
        """Ask for the most the sensor may carry, N."""
        return self._dialogue.number(
            "The most the sensor may carry, in newtons, from its label; only Enter if unknown:"
        )

    def unit(self) -> ForceUnit | None:
        """Ask for the unit of the numbers that are sent."""
        question = "The numbers have a point: are they N, kgf or lbf? Only Enter if unknown:"
        while answer := self._dialogue.ask(question):
            with contextlib.suppress(ValueError):
                return ForceUnit.parse(answer)
        return None


def _attempt(attempt: Attempt) -> str:
    if not attempt.size:
        return f"  {attempt.baud:>8} bit/s: nothing came"
    legible = attempt.legible
    read = f"{legible.frames} {legible.what}" if legible.frames else "nothing that could be read"
    return f"  {attempt.baud:>8} bit/s: {attempt.size} bytes, {read}"
