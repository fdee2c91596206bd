"""Pictures of the place Test with an invented person: a battery in which everything happens that is worth a look."""

from __future__ import annotations

from collections.abc import Callable

import msgspec
from PyQt6.QtCore import QEventLoop, QTimer
from PyQt6.QtWidgets import QWidget

from acquire.simulation.efforts import FAULTY, Effort
from ui.model.stage.hint import URGENT
from ui.session.cues import Cue
from ui.session.simulated_person import STEADY
from ui.session.transitions import Event
from ui.window.stage.place import TestPlace

Grab = Callable[[str, QWidget | None], None]
"""Takes a picture of the window, or of the widget that is given, under a name."""

LOOK_MS = 20
LIMIT_MS = 120_000
SETTLE_LOOKS = 12
"""A cue is shown for so many looks before it is grabbed."""
HELD_LOOKS = 3
"""An effort is held for so many looks before it is ended, or shown on the person's screen."""
AT_ONCE = {Cue.SET, Cue.GO, Cue.BUILD, Cue.STOP}
"""Cues that are over before that."""

KNOCK = msgspec.structs.replace(STEADY, plateau_n=22.0, ramp_s=0.15, hold_s=0.45)
STRONG = msgspec.structs.replace(STEADY, plateau_n=285.0)
HASTY = FAULTY["fast-ramp"]
WEAK = msgspec.structs.replace(STEADY, plateau_n=176.0)
FADING = msgspec.structs.replace(STEADY, drift_pct_per_s=-14.0)
EFFORTS: tuple[Effort, ...] = (KNOCK, HASTY, STEADY, STEADY, STRONG, STEADY, FADING, WEAK, *(STEADY,) * 6)
"""What the invented person does, one GO after another."""


class StageTour:
    """Presses where the window waits, halts, pauses and loses the sensor once each, and grabs each state once.

    Parameters
    ----------
    place : TestPlace
        Where a session has begun.
    grab : callable
        Takes the pictures.
    """

    def __init__(self, place: TestPlace, grab: Grab) -> None:
        self._place, self._grab = place, grab
        self._cue: Cue | None = None
        self._looks = 0
        self._done: set[str] = set()
        self._loop = QEventLoop()

    def run(self) -> None:
        """Go through the battery, up to the page at its end."""
        timer = QTimer()
        timer.timeout.connect(self._look)
        timer.start(LOOK_MS)
        QTimer.singleShot(LIMIT_MS, self._loop.quit)
        self._loop.exec()
        timer.stop()

    def _look(self) -> None:
        session = self._place.session
        if session is None:
            self._loop.quit()
            return
        self._place.tick()
        cue = session.engine.cue
        self._looks = self._looks + 1 if cue is self._cue else 0
        self._cue = cue
        banner = self._place.banner
        if banner is not None:
            self._take(f"test-{'accepted' if banner.accepted else 'rejected'}")
            self._dismiss()
            return
        if self._looks >= SETTLE_LOOKS or cue in AT_ONCE:
            self._take(f"test-{cue.value}")
        acts = {
            Cue.GO: self._go,
            Cue.BUILD: self._effort,
            Cue.HOLD: self._effort,
            Cue.REST: self._rest,
            Cue.PLACE: self._in_place,
            Cue.PAUSED: self._goes_on,
            Cue.DONE: self._end,
        }
        if cue in acts:
            acts[cue]()

    def _take(self, name: str, widget: QWidget | None = None) -> bool:
        """Take a picture once; return whether it was taken now."""
        if not self._once(name):
            return False
        self._grab(name, widget)
        return True

    def _once(self, name: str) -> bool:
        """Tell whether this is the first time."""
        if name in self._done:
            return False
        self._done.add(name)
        return True

    def _dismiss(self) -> None:
        if self._looks >= SETTLE_LOOKS:
            self._place.press()

    def _go(self) -> None:
        """Show a contact under GO, and take the word back after it."""
        session = self._place.session
        pressed = session is not None and (session.force_now_n or 0.0) > KNOCK.plateau_n / 2.0
        if pressed and "test-accepted" not in self._done and self._take("test-contact"):
            return
        if session is None or pressed:
            return
        if self._looks >= 5 * SETTLE_LOOKS and self._once("taken back"):
            self._place.halt()

    def _effort(self) -> None:
        """Show a hint and the person's screen; end one effort that is well under way."""
        hint = self._place.view.announcer.hint
        if hint in URGENT:
            self._take(f"test-hint-{hint}")
        if self._cue is not Cue.HOLD or self._looks < HELD_LOOKS:
            return
        if self._once("person"):
            self._person()
        elif "test-accepted" in self._done and self._once("halted"):
            self._place.halt()

    def _person(self) -> None:
        self._place.view.change_person_screen()
        self._place.tick()
        person, window = self._place.view.person, self._place.window()
        if person is not None and window is not None:
            person.resize(window.size())
            self._place.tick()
            self._take("test-person", person)
        self._place.view.change_person_screen()

    def _rest(self) -> None:
        """Show what is said of an effort that was ended; pause once."""
        if self._looks < SETTLE_LOOKS:
            return
        if "halted" in self._done and self._take("test-ended"):
            return
        if "test-rest" in self._done and self._once("paused"):
            self._place.pause()

    def _in_place(self) -> None:
        session = self._place.session
        if session is None or self._looks < SETTLE_LOOKS:
            return
        if session.engine.item.context.method == "belt":
            self._take("test-belt")
        if "test-ended" in self._done and self._once("lost"):
            session.engine.handle(Event.LOST)
            self._place.view.show_session(session, ())
            self._take("test-lost")
            session.engine.handle(Event.BACK)
            return
        self._place.press()

    def _goes_on(self) -> None:
        if self._looks >= SETTLE_LOOKS:
            self._place.press()

    def _end(self) -> None:
        """The page of the results has been shown."""
        if self._looks < SETTLE_LOOKS:
            return
        self._loop.quit()
