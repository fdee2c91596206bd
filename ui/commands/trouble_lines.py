"""What is in trouble while a session is recorded, as lines of the command line."""

from __future__ import annotations

from acquire.errors import LinkError, LinkFailure
from acquire.stream.recorder import StreamUnfit, Unsettled
from ui.session.live import ContactNoticed, CueChanged, SessionEvent, Trouble, TroubleSource, Verdict
from ui.words.unfit_text import unfit_sentence
from ui.words.words import ENGLISH

SILENCE = frozenset({LinkFailure.SILENT, LinkFailure.STALLED})


class TroubleLines:
    """Words each trouble, and its end; which end it is depends on what was wrong before."""

    def __init__(self) -> None:
        self._before: dict[TroubleSource, bool] = {}
        """Whether the last trouble of each was silence."""

    def line(self, event: SessionEvent) -> str | None:
        """Return the line for an event; None where there is nothing to say."""
        if isinstance(event, Unsettled):
            return ENGLISH("line.unsettled")
        if isinstance(event, StreamUnfit):
            return unfit_sentence(event, ENGLISH)
        if isinstance(event, CueChanged | Verdict | ContactNoticed):
            return None
        return self._ended(event.of) if event.error is None else self._begun(event)

    def _begun(self, trouble: Trouble) -> str:
        error = trouble.error
        silent = isinstance(error, LinkError) and error.reason in SILENCE
        self._before[trouble.of] = silent
        if trouble.of is TroubleSource.FILE:
            return ENGLISH("line.unsaved", error=error)
        if silent:
            return str(error)
        return ENGLISH("line.lost", error=error)

    def _ended(self, of: TroubleSource) -> str:
        if of is TroubleSource.FILE:
            return ENGLISH("line.saved")
        return ENGLISH("line.sends" if self._before.get(of) else "line.back")
