"""What happens in a session, as lines of the command line."""

from __future__ import annotations

from typing import TextIO

from acquire.values.records import TrialContext
from acquire.values.units import ForceUnit
from analysis.results.sets import SetState
from analysis.trial.number import Kind
from ui.commands.trouble_lines import TroubleLines
from ui.papers.tables import trial_lines
from ui.session.events import ContactNoticed, SessionEvent, Verdict
from ui.session.live import LiveSession
from ui.words.set_text import set_sentence
from ui.words.shown import Shown
from ui.words.words import ENGLISH

CLEAR_LINE = "\r\x1b[K"


class SessionLines:
    """Prints each trial with its set, each contact, each trouble, and what is recorded now.

    Parameters
    ----------
    session : LiveSession
        What is recorded.
    out : TextIO
        Where the lines go.
    unit : ForceUnit
        Of the forces.
    """

    def __init__(self, session: LiveSession, out: TextIO, unit: ForceUnit) -> None:
        self._session, self._out, self._unit = session, out, unit
        self._troubles = TroubleLines()
        self._item = session.engine.item.context
        self._trials = len(session.store.session.trials)
        self._drawn = ""
        self.is_terminal = out.isatty()

    def show(self, event: SessionEvent) -> None:
        """Print what an event is about; a first verdict is left to the final one."""
        if isinstance(event, Verdict):
            if event.final:
                self._show_trial(event)
        elif isinstance(event, ContactNoticed):
            self.say(self._contact_line(event))
        elif line := self._troubles.line(event):
            self.say(line)

    def _contact_line(self, contact: ContactNoticed) -> str:
        peak = Shown(contact.peak_n, Kind.FORCE, self._unit)
        return ENGLISH("keys.contact_second" if contact.second else "keys.contact", force=peak)

    def say(self, text: str) -> None:
        """Print a line, and draw the line at the bottom of a terminal again below it."""
        before = CLEAR_LINE if self._drawn else ""
        self._out.write(f"{before}{text}\n{self._drawn}")
        self._out.flush()

    def draw(self, text: str) -> None:
        """Draw the line at the bottom of a terminal."""
        self._drawn = text
        self._out.write(f"{CLEAR_LINE}{text}")
        self._out.flush()

    def say_item(self) -> None:
        """Print what is recorded now."""
        self.say(_item_line(self._item))

    def _show_trial(self, verdict: Verdict) -> None:
        self._trials += 1
        engine, trial = self._session.engine, verdict.judged.trial
        self.say(trial_lines(self._trials, verdict.judged, self._unit))
        if not (verdict.second or trial.is_aside) and (state := self._set_of(trial.context)) is not None:
            self.say(f"     {set_sentence(state, ENGLISH)}")
        if engine.hands_free and engine.item.context is not self._item and not self._session.complete:
            self._item = engine.item.context
            self.say_item()

    def _set_of(self, context: TrialContext) -> SetState | None:
        battery = self._session.engine.battery
        return next((battery.state(battery.items[place]) for place in battery.places(context)), None)


def _item_line(item: TrialContext) -> str:
    words = [word for word in ((item.action or "").replace("-", " "), item.side or "", item.method) if word]
    return ENGLISH("line.now", what=", ".join(words), script=ENGLISH("test.script"))
