"""The invented person on the simulated sensor, who pushes a moment after each word to go."""

from __future__ import annotations

from collections.abc import Callable

import msgspec

from acquire.simulation.device import CUE
from acquire.simulation.efforts import FAULTY, GOOD, Effort
from ui.session.cues import Cue

STEADY = msgspec.structs.replace(GOOD, plateau_n=212.0, hold_s=6.2)
"""Holds until told to stop."""

DEMO_EFFORTS: tuple[Effort, ...] = (FAULTY["fast-ramp"], *(STEADY,) * 6, FAULTY["short-hold"], *(STEADY,) * 7)
"""What the person does, cue after cue: mostly well, now and then as people do."""


class SimulatedPerson:
    """Pushes once for each `GO`.

    Parameters
    ----------
    send : callable
        Sends bytes to the simulated sensor.
    """

    def __init__(self, send: Callable[[bytes], None]) -> None:
        self._send = send
        self.pushes = 0

    def on_cue(self, cue: Cue) -> None:
        """Push, if that is what the cue asks for."""
        if cue is Cue.GO:
            self.pushes += 1
            self._send(CUE)
