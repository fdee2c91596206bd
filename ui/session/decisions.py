"""What the examiner decides about items and trials of a session, and takes back; and what they note."""

from __future__ import annotations

from acquire.values.records import Note, SetAside, Trial, TrialContext
from acquire.values.remarks import ProgramReason
from ui.session.battery_progress import result_of_stored
from ui.session.engine import Engine
from ui.session.store import SessionStore
from ui.session.transitions import Event
from ui.words.local_time import local_now


class Decisions:
    """Carries decisions out in store and engine, and remembers them for `undo`.

    Each returns whether the session has changed and is to be saved. That nobody pushes is for the caller to see to.

    Parameters
    ----------
    store : SessionStore
        Where trials are kept.
    engine : Engine
        What is tried.
    """

    def __init__(self, store: SessionStore, engine: Engine) -> None:
        self._store, self._engine = store, engine
        self._made: list[int | TrialContext] = []
        """What `undo` takes back, the last at the end: a trial that was set aside or ended, or an item left out."""
        self._notes: list[Note] = []
        """What was written about the trial that is still to be cut."""

    def skip(self) -> bool:
        """Leave the item as it is and go on to the next."""
        if not self._engine.may(Event.SKIP):
            return False
        context = self._engine.item.context
        self._made.append(context)
        self._store.leave_out(context)
        self._engine.handle(Event.SKIP)
        return True

    def undo(self, by: str) -> bool:
        """Take the last decision back."""
        if not (self._made and self._engine.may(Event.CHANGED)):
            return False
        last = self._made.pop()
        if isinstance(last, TrialContext):
            self._store.take_back_item(last)
            self._engine.take_back(last)
        else:
            self._store.decide(last, SetAside(aside=False, reason=ProgramReason.UNDONE, by=by, at=local_now()))
            trial = self._store.session.trials[last]
            if trial.verdict is not None:
                self._engine.recount(trial.context, result_of_stored(trial.verdict, last))
        return True

    def repeat(self, context: TrialContext) -> bool:
        """Try an item once more; what is kept changes only where it was left out."""
        if not self._engine.may(Event.CHANGED):
            return False
        left_out = any(item.skipped for item in self._engine.items if item.context == context)
        if left_out:
            self._store.take_back_item(context)
        self._engine.repeat(context)
        return left_out

    @property
    def to_set_aside(self) -> int | None:
        """Which trial would be set aside now; None where there is none, or it is set aside already."""
        last = self._engine.last_stored if self._engine.may(Event.CHANGED) else None
        return last if last is not None and not self._store.session.trials[last].is_aside else None

    def set_aside(self, index: int, decision: SetAside) -> None:
        """Set a trial aside; its item is tried again."""
        self._store.decide(index, decision)
        self._made.append(index)
        self._engine.uncount(index)

    def remember(self, index: int) -> None:
        """Remember a trial that was ended, so that `undo` takes that back."""
        self._made.append(index)

    def note(self, text: str, by: str, *, under_way: bool) -> bool:
        """Keep a note with the last trial; with the one that is cut next where one is under way, or none is kept."""
        note = Note(text=text, by=by, at=local_now())
        last = len(self._store.session.trials) - 1
        if last < 0 or under_way:
            self._notes.append(note)
            return False
        self._store.note(last, note)
        return True

    def with_notes(self, trial: Trial) -> Trial:
        """Return a trial that has been cut with what was noted about it."""
        for note in self._notes:
            trial = trial.noted(note)
        self._notes.clear()
        return trial
