"""A session carried through by keys of the terminal: one key for what comes next, one for each thing else."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from acquire.values.records import SetAside, TrialContext
from acquire.values.units import ForceUnit, from_newtons
from analysis.battery.actions import Action
from ui.commands.keys import ESCAPE, TerminalKeys
from ui.session.battery_progress import ItemState
from ui.session.cues import Cue
from ui.session.events import SessionEvent
from ui.session.live import LiveSession
from ui.session.store import PROGRAM
from ui.words.local_time import local_now
from ui.words.words import Words

GO_ON = frozenset({" ", "\n", "\r"})
BACKSPACE = frozenset({"\x08", "\x7f"})


class _Typed(NamedTuple):
    """A line that is being typed."""

    question: str
    """Key of what is asked."""
    then: Callable[[str], None]
    """Takes the line, once it is there."""
    text: str = ""


class Keyboard:
    """Does what each key asks for, and shows the cue.

    Parameters
    ----------
    keys : TerminalKeys
        What is pressed.
    session : LiveSession
        What is carried through.
    actions : mapping of str to Action
        How each action is tested.
    unit : ForceUnit
        Of the forces shown.
    say : callable
        Prints a line.
    show : callable
        Shows what came of a key.
    draw : callable, optional
        Draws the line at the bottom of a terminal anew; without one it is left out.
    """

    def __init__(
        self,
        keys: TerminalKeys,
        session: LiveSession,
        *,
        actions: Mapping[str, Action],
        unit: ForceUnit,
        say: Callable[[str], None],
        show: Callable[[SessionEvent], None],
        draw: Callable[[str], None] | None,
    ) -> None:
        self._keys, self._session, self._actions, self._unit = keys, session, actions, unit
        self._say, self._show_event, self._draw = say, show, draw
        self._words = Words()
        self._typed: _Typed | None = None
        self._item: TrialContext | None = None
        self._cue: Cue | None = None
        self._drawn = ""
        self._do: dict[str, Callable[[], None]] = {
            ESCAPE: session.halt,
            "p": session.pause,
            "s": self._skip,
            "r": self._ask_reason,
            "n": self._ask_note,
            "u": self._undo,
            "l": self._list,
        }

    def look(self) -> bool:
        """Take what was pressed and show where the session stands; return whether it goes on."""
        for key in self._keys.pressed():
            if self._typed is not None:
                self._type(self._typed, key)
            elif key in GO_ON and self._session.complete:
                return False
            elif key in GO_ON:
                self._press()
            elif key == "q":
                return False
            elif key in self._do:
                self._do[key]()
        self._show()
        return True

    # what the keys do

    def _press(self) -> None:
        if self._session.restless or self._session.loaded:
            self._say(self._words("test.restless" if self._session.restless else "test.loaded"))
        self._session.press()

    def _skip(self) -> None:
        before = self._session.engine.item.context
        happened = self._session.skip()
        if self._session.engine.item.context is not before or self._session.complete:
            self._say(self._words("keys.left_out", what=_named(before)))
        self._show_all(happened)

    def _undo(self) -> None:
        self._show_all(self._session.undo(self._by))

    def _ask_reason(self) -> None:
        index = self._session.to_set_aside
        if index is None:
            self._say(self._words("keys.nothing_to_set_aside"))
            return
        self._ask("keys.ask_reason", lambda reason: self._set_aside(index, reason))

    def _set_aside(self, index: int, reason: str) -> None:
        decision = SetAside(aside=True, reason=reason, by=self._by, at=local_now())
        self._show_all(self._session.set_aside(index, decision))

    def _ask_note(self) -> None:
        self._ask("keys.ask_note", self._note)

    def _note(self, text: str) -> None:
        self._show_all(self._session.note(text, self._by))
        self._say(self._words("keys.noted"))

    def _ask(self, question: str, then: Callable[[str], None]) -> None:
        """Ask for a line; no trial begins by itself until it is there."""
        self._typed, self._session.busy = _Typed(question, then), True
        if self._draw is None:
            self._say(self._words(question))

    def _type(self, typed: _Typed, key: str) -> None:
        if key == ESCAPE:
            self._typed, self._session.busy = None, False
        elif key in BACKSPACE:
            self._typed = typed._replace(text=typed.text[:-1])
        elif key not in "\r\n":
            self._typed = typed._replace(text=typed.text + key)
        elif typed.text.strip():
            self._typed, self._session.busy = None, False
            typed.then(typed.text.strip())

    def _show_all(self, events: list[SessionEvent]) -> None:
        for event in events:
            self._show_event(event)

    @property
    def _by(self) -> str:
        return self._session.store.session.context.examiner or PROGRAM

    # what is shown

    def _list(self) -> None:
        engine = self._session.engine
        for item in engine.items:
            how = self._words(f"keys.item_{self._how_far(item)}")
            self._say(f"  {_named(item.context):<40} {len(item.results)}  {how}")

    def _how_far(self, item: ItemState) -> str:
        battery = self._session.engine.battery
        if item.skipped:
            return "left_out"
        if battery.is_complete(item):
            return "done"
        return "now" if item is battery.item else "open"

    def _show(self) -> None:
        view = self._session.engine.view()
        if view.cue is not self._cue:
            self._cue = view.cue
            if view.cue is Cue.PLACE:
                self._show_item(view.item.context)
            self._say(self._words(f"cue.{view.cue.value}"))
            if view.halted and view.cue is not Cue.HALTED:
                self._say(self._words("test.halted"))
            if view.cue is Cue.DONE:
                self._say(self._words("keys.end"))
        if self._draw is not None:
            self._draw_status(view.seconds)

    def _show_item(self, context: TrialContext) -> None:
        if context is self._item:
            return
        self._item = context
        self._say(f"now: {_named(context)}")
        action = self._actions.get(context.action or "")
        if action is None:
            return
        self._say("     " + self._words("keys.position", text=self._words(f"test.{action.position}")))
        for part in ("limb", "pad", "push", "steady"):
            self._say("     " + self._words(f"keys.{part}", text=getattr(action, part)))

    def _draw_status(self, seconds: float) -> None:
        if self._typed is not None:
            line = self._words(self._typed.question) + self._typed.text
        else:
            force = self._session.force_now_n
            shown = "" if force is None else f"{from_newtons(force, self._unit):.0f} {self._unit.symbol}"
            left = self._words("test.seconds", seconds=seconds) if seconds > 0.05 else ""
            words = (self._words(f"cue.{self._cue.value}") if self._cue else "", shown, left)
            line = "   ".join(word for word in words if word)
        if line != self._drawn and self._draw is not None:
            self._drawn = line
            self._draw(line)


def _named(context: TrialContext) -> str:
    words = ((context.action or "").replace("-", " "), context.side or "", context.method)
    return ", ".join(word for word in words if word)
