"""What Test says in sentences: what was wrong, what comes next, how the sensor is doing; and the trials of a set."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from acquire.values.units import ForceUnit, from_newtons
from analysis.battery.actions import Action, in_language
from analysis.trial.faults import Fault
from analysis.trial.number import Kind
from ui.session.cues import Cue
from ui.words.bluetooth_text import bluetooth_text
from ui.words.fault_text import fault_advice, fault_name, fault_sentence
from ui.words.shown import Shown
from ui.words.words import Words

if TYPE_CHECKING:
    from acquire.stream.pipeline import Pipeline
    from acquire.values.records import TrialContext
    from ui.session.battery_progress import Result
    from ui.session.engine import View
    from ui.session.live import LiveSession

NOTHING = "\u2013"
ASKS = {Cue.PLACE, Cue.REST, Cue.PAUSED, Cue.DONE}
"""In these the space bar does something, and what it does is said."""


@dataclass(frozen=True, slots=True)
class TrialText:
    """One trial of a set in words."""

    title: str
    force: str
    verdict: str
    colour: str
    """The name of a colour of the theme; what it means stands in words beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TestText:
    """The sentences of Test in a language and a unit; without a force while the person tested must see none."""

    words: Words
    unit: ForceUnit
    actions: Mapping[str, Action]
    hidden: bool = False
    """Whether forces are hidden from the person."""

    __test__ = False  # not a test, whatever its name

    def force(self, newtons: float | None) -> str:
        """Return a force as a bare number, or a dash."""
        return NOTHING if newtons is None or self.hidden else f"{round(from_newtons(newtons, self.unit))}"

    def named(self, context: TrialContext) -> str:
        """Return the action and the side."""
        side = self.words(f"test.{context.side}") if context.side else ""
        return ", ".join(word for word in (self.action_name(context), side) if word)

    def action_name(self, context: TrialContext) -> str:
        """Return the action; its key in words where no file describes it, and nothing where there is none."""
        action = self.actions.get(context.action or "")
        if action is not None:
            return in_language(action, self.words.language).name
        return (context.action or "").replace("-", " ").capitalize()

    def message(self, session: LiveSession, view: View) -> str:
        """Return what was wrong with the last trial, or what the space bar does."""
        pressed = self._pressed(session)
        if pressed is not None:
            return self.words(f"test.{pressed}")
        if view.halted:
            return self._of_which(view) + self.words("test.halted")
        if view.fault is not None:
            return self._of_which(view) + self._sentence(view.fault)
        if view.cue is Cue.REST and view.least_s > 0.0:
            return self.words("test.rest_least", seconds=view.least_s)
        if view.cue not in ASKS:
            return ""
        return self.words("test.space", what=self.words(f"test.space_{view.cue.value}"))

    def _pressed(self, session: LiveSession) -> str | None:
        """Return the word for what presses on the sensor and is no trial; None when nothing does."""
        if session.loaded or session.restless:
            return "loaded" if session.loaded else "restless"
        return None if session.contact_n is None else "contact"

    def _of_which(self, view: View) -> str:
        """Return which trial the sentence is about, where the next one is another's."""
        last, now = view.last, view.item.context
        if last is None or (last.action, last.side) == (now.action, now.side):
            return ""
        return f"{self.named(last)}: "

    def _sentence(self, fault: Fault) -> str:
        if self.hidden and fault.names_force:
            name, advised = fault_name(fault.code, self.words), fault_advice(fault, self.words)
            return self.words("fault.sentence", finding=name, advice=advised)
        return fault_sentence(fault, self.words, self.unit)

    def trial(self, place: int, results: tuple[Result, ...], *, now: bool = True) -> TrialText:
        """Return a trial of a set, done, tried `now` or to come, by its place from 0."""
        title = self.words("test.trial", number=place + 1)
        if place == len(results) and now:
            return TrialText(title, "\u25b8", self.words("test.now"), "curve")
        if place >= len(results):
            return TrialText(title, "", self.words("test.to_come"), "edge")
        return self.tried(title, results[place])

    def tried(self, title: str, done: Result) -> TrialText:
        """Return a trial that is done."""
        good = done.verdict == "accepted"
        force = self.force(done.plateau_n)
        shown = force if force == NOTHING else f"{force} {self.unit.symbol}"
        why = fault_name(done.codes[0], self.words) if done.codes else ""
        verdict = why if why and not good else ": ".join(filter(None, (self.words("test.accepted"), why)))
        return TrialText(title, ("\u2713 " if good else "\u21bb ") + shown, verdict, "good" if good else "warn")

    def status(self, session: LiveSession, view: View, *, sound: str) -> str:
        """Return who is tested, how far the battery is, and how sensor and sound are doing."""
        person = session.store.session.context.person.code
        done = self.words("test.done_of", done=view.done, items=view.items)
        left_out = self.words("stage.left_out", count=view.left_out) if view.left_out else ""
        told = (person, done, left_out, self._sensor(session), self.words(f"test.sound_{sound}"))
        return "     ".join(word for word in told if word)

    def _sensor(self, session: LiveSession) -> str:
        pipeline = session.recorder.pipeline
        rate, lost = pipeline.flow
        if rate is None:
            said = self.words("test.sensor_waiting")
        else:
            said = self.words("test.sensor_ok", rate=rate.rate_hz, lost=lost)
            if not self.hidden:
                said += self.words("test.zero", zero=self._zero(pipeline))
        signal = bluetooth_text(session.recorder.link.bluetooth, self.words)
        unbroken = signal.replace(" dBm", "\u00a0dBm")  # the line may wrap, but not there
        return f"{said}, {unbroken}" if signal else said

    def _zero(self, pipeline: Pipeline) -> str:
        """Return how far the zero is from that of the calibration."""
        known = pipeline.calibration
        moved_n = (pipeline.zero_counts - known.zero_counts) * known.newtons_per_count
        return Shown(moved_n, Kind.FORCE, self.unit).written("+.1f", self.words.language)
