"""What a person gave in the session before: read and judged in the background, once for each way of judging it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from PyQt6.QtCore import QObject, pyqtSignal

from acquire.storage.session_file import read_session
from acquire.values.records import SessionContext
from analysis.results.settings import ResultSettings
from analysis.stored.results import summarise_session
from analysis.trial.protocol import Protocol
from ui.model.review.sets import LastTime
from ui.model.stored_sessions import StoredSession, session_before
from ui.window.widgets.background import Background


class LastTimes(QObject):
    """Finds and keeps what was last time; `read` is emitted when something has come."""

    read = pyqtSignal()

    def __init__(self, parent: QObject) -> None:
        super().__init__(parent)
        self._background = Background(self)
        self._known: dict[tuple[Path, str, str], LastTime | None] = {}

    def of(
        self, context: SessionContext, sessions: Sequence[StoredSession], protocol: Protocol, settings: ResultSettings
    ) -> LastTime | None:
        """Return what the person of a session gave before it; None where there is nothing, or nothing yet."""
        before = session_before(sessions, context)
        if before is None:
            return None
        key = (before.path, protocol.hash, settings.hash)
        if key not in self._known:
            self._known[key] = None
            self._background.do(
                lambda: _last_time(before.path, protocol, settings),
                lambda last: self._take(key, last),
                lambda _: None,  # a file that cannot be read is named where it is opened
            )
        return self._known[key]

    @property
    def busy(self) -> bool:
        """Whether a session is being read."""
        return self._background.busy

    def end(self) -> None:
        """Wait for what is under way."""
        self._background.close()

    def _take(self, key: tuple[Path, str, str], last: LastTime) -> None:
        self._known[key] = last
        self.read.emit()


def _last_time(path: Path, protocol: Protocol, settings: ResultSettings) -> LastTime:
    session = read_session(path)
    return LastTime(
        started=session.context.started, actions=summarise_session(session, protocol, settings=settings).actions
    )
