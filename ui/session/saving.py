"""Saving a session while it is recorded: what fails is told, and tried again until it succeeds."""

from __future__ import annotations

from collections.abc import Callable

from acquire.errors import ArchiveError
from ui.session.events import ChangedError, SessionEvent, Trouble, TroubleSource
from ui.session.store import SessionStore

SAVE_AGAIN_S = 3.0
"""A session that could not be saved is tried again after so long."""


class Saving:
    """Saves a store, and remembers whether that is still to be done.

    Parameters
    ----------
    store : SessionStore
        What is saved.
    clock : callable
        Monotonic seconds.
    """

    def __init__(self, store: SessionStore, clock: Callable[[], float]) -> None:
        self._store, self._clock = store, clock
        self._again_at: float | None = None

    @property
    def due(self) -> bool:
        """Whether it is time to save again what could not be saved."""
        return self._again_at is not None and self._clock() >= self._again_at

    def ask(self) -> None:
        """Let the next look save."""
        self._again_at = self._clock()

    def done(self) -> None:
        """Take it that all is saved."""
        self._again_at = None

    def save(self) -> list[SessionEvent]:
        """Save the session; when that fails it is told, and tried again later."""
        before = self._store.path
        try:
            self._store.save()
        except ArchiveError as error:
            self._again_at = self._clock() + SAVE_AGAIN_S
            return [Trouble(error, TroubleSource.FILE)]
        was, self._again_at = self._again_at, None
        told: list[SessionEvent] = [] if was is None else [Trouble(None, TroubleSource.FILE)]
        if self._store.path != before:
            told.append(Trouble(ChangedError(before, self._store.path), TroubleSource.CHANGED))
        return told
