"""What is in trouble while a session is recorded, as lines of the command line."""

from __future__ import annotations

from acquire.errors import LinkError, LinkFailure
from acquire.stream.recorder import StreamUnfit, Unsettled
from ui.session.events import ContactNoticed, CueChanged, SessionEvent, Trouble, TroubleSource, Verdict
from ui.words.unfit_text import unfit_sentence
from ui.words.words import ENGLISH

FILES = {TroubleSource.FILE: "unsaved", TroubleSource.JOURNAL: "unjournaled", TroubleSource.CHANGED: "changed"}
"""Troubles with the disk, and their words."""
SILENCE = frozenset({LinkFailure.SILENT, LinkFailure.STALLED})


class TroubleLines:
    """Words each trouble, and its end; which end it is depends on what was wrong before."""

    def __init__(self) -> None:
        self._before: dict[TroubleSource, bool] = {}
        """Whether the last trouble of each was silence."""
        self._unwritten: set[TroubleSource] = set()
        self._said: dict[TroubleSource, str] = {}
        """The line of each trouble that is not over."""

    def line(self, event: SessionEvent) -> str | None:
        """Return the line for an event; None where there is nothing to say."""
        if isinstance(event, Unsettled):
            return ENGLISH("line.unsettled")
        if isinstance(event, StreamUnfit):
            return unfit_sentence(event, ENGLISH)
        if isinstance(event, CueChanged | Verdict | ContactNoticed):
            return None
        if event.error is None:
            self._said.pop(event.of, None)
            return self._ended(event.of)
        line = self._begun(event)
        again, self._said[event.of] = self._said.get(event.of) == line, line
        return None if again else line  # saving is tried again every few seconds

    def _begun(self, trouble: Trouble) -> str:
        error = trouble.error
        silent = isinstance(error, LinkError) and error.reason in SILENCE
        self._before[trouble.of] = silent
        if trouble.of in FILES:
            self._unwritten.add(trouble.of)
            both = TroubleSource.JOURNAL in self._unwritten and trouble.of is TroubleSource.FILE
            return ENGLISH("line.unkept" if both else f"line.{FILES[trouble.of]}", error=error)
        if silent:
            return str(error)
        return ENGLISH("line.lost", error=error)

    def _ended(self, of: TroubleSource) -> str:
        self._unwritten.discard(of)
        if of in FILES:
            return ENGLISH("line.saved" if of is TroubleSource.FILE else "line.journaled")
        return ENGLISH("line.sends" if self._before.get(of) else "line.back")
