"""The stored sessions beside Review: newest first, found by person or file, opened by Enter or a double click."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QFontMetrics, QKeyEvent, QShowEvent
from PyQt6.QtWidgets import QLabel, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from ui.model.stored_sessions import StoredSession, matching, session_lines, stored_sessions
from ui.window.widgets.ask import pick_folder
from ui.window.widgets.background import Background
from ui.window.widgets.pieces import button_of
from ui.words.words import Words

PickFolder = Callable[[QWidget, str, Path], Path | None]
MOST = 500
"""So many lines are shown; whoever looks for an older session types its person."""


class SessionsPane(QWidget):
    """The list, the field that narrows it, and the button for another folder.

    Parameters
    ----------
    words : Words
        Language.
    folder : callable
        Returns the folder where sessions were written last.
    pick : callable, optional
        How the user picks a folder.
    """

    opened = pyqtSignal(object)
    """Carries the path of the session."""
    listed = pyqtSignal()
    """The folder has been read."""

    def __init__(self, words: Words, folder: Callable[[], Path], *, pick: PickFolder = pick_folder) -> None:
        super().__init__()
        self._words, self._usual, self._pick = words, folder, pick
        self._other: Path | None = None
        self._sessions: tuple[StoredSession, ...] = ()
        self._background = Background(self)
        self._build()

    @property
    def folder(self) -> Path:
        """The folder that is listed."""
        return self._other or self._usual()

    @property
    def sessions(self) -> tuple[StoredSession, ...]:
        """All that are stored there, the newest first."""
        return self._sessions

    @property
    def busy(self) -> bool:
        """Whether the folder is being read."""
        return self._background.busy

    def renew(self) -> None:
        """Read the folder anew; what is listed stays until that is done."""
        folder = self.folder
        if not self._sessions:
            self._about.setText(self._words("review.sessions.reading"))
        self._background.do(lambda: stored_sessions(folder), self._take, lambda error: self._about.setText(str(error)))

    def end(self) -> None:
        """Wait for what is under way."""
        self._background.close()

    def mark(self, path: Path | None) -> None:
        """Mark the session that is open."""
        rows = [at for at in range(self.list.count()) if self._path(at) == path]
        self.list.setCurrentRow(rows[0] if rows else -1)

    def showEvent(self, event: QShowEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Look what has come since."""
        super().showEvent(event)
        self.renew()

    def _take(self, sessions: tuple[StoredSession, ...]) -> None:
        if sessions != self._sessions:
            self._sessions = sessions
            self._fill()
        self._tell()
        self.listed.emit()

    def _fill(self) -> None:
        """List what matches; the session that was marked stays so."""
        current = self._path(self.list.currentRow())
        self.list.clear()
        for session in matching(self._sessions, self.typed.text())[:MOST]:
            title, about = session_lines(session, self._words)
            item = QListWidgetItem(f"{title}\n{about}")
            item.setData(Qt.ItemDataRole.UserRole, session.path)
            item.setData(Qt.ItemDataRole.AccessibleTextRole, f"{title}, {about}")
            item.setToolTip(str(session.path))
            self.list.addItem(item)
        self.mark(current)
        self._tell()

    def _tell(self) -> None:
        typed, folder = self.typed.text().strip(), self.folder
        key = "review.sessions.none_match" if self._sessions else "review.sessions.none"
        self._about.setText("" if self.list.count() else self._words(key, typed=typed, folder=folder))
        self._about.setVisible(not self.list.count())
        self.list.setAccessibleDescription(str(folder))

    def _path(self, row: int) -> Path | None:
        item = self.list.item(row)
        return None if item is None else item.data(Qt.ItemDataRole.UserRole)

    def _open_row(self, row: int) -> None:
        path = self._path(row)
        if path is not None:
            self.opened.emit(path)

    def _choose_folder(self) -> None:
        folder = self._pick(self, self._words("review.sessions.folder_title"), self.folder)
        if folder is not None:
            self._other, self._sessions = folder, ()
            self.list.clear()
            self.renew()

    def _build(self) -> None:
        words = self._words
        self.typed = QLineEdit()
        self.typed.setPlaceholderText(words("review.sessions.person"))
        self.typed.setAccessibleName(words("review.sessions.person"))
        self.typed.setToolTip(words("review.sessions.person_tip"))
        self.typed.setClearButtonEnabled(True)
        self.typed.textChanged.connect(self._fill)
        self.typed.returnPressed.connect(lambda: self._open_row(max(0, self.list.currentRow())))
        self.list = _List()
        self.list.setAccessibleName(words("review.sessions.list"))
        self.list.setToolTip(words("review.sessions.list_tip"))
        self.list.opened.connect(self._open_row)
        self._about = QLabel()
        self._about.setObjectName("quiet")
        self._about.setWordWrap(True)
        self._folder_button = button_of(words, "review.sessions.folder", "")
        self._folder_button.clicked.connect(self._choose_folder)
        heading = QLabel(words("review.sessions.title"))
        heading.setObjectName("heading")
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(heading)
        column.addWidget(self.typed)
        column.addWidget(self._about)
        column.addWidget(self.list, 1)
        column.addWidget(self._folder_button)


class _List(QListWidget):
    """Lines that Enter, the space bar and a double click open."""

    opened = pyqtSignal(int)

    def __init__(self) -> None:
        super().__init__()
        self.setTextElideMode(Qt.TextElideMode.ElideRight)
        self.setUniformItemSizes(True)
        self.setSpacing(3)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setMinimumHeight(4 * QFontMetrics(self.font()).height())
        self.itemDoubleClicked.connect(lambda item: self.opened.emit(self.row(item)))

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Open the line; every other key is the list's own."""
        if event is not None and event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space}:
            self.opened.emit(self.currentRow())
            return
        super().keyPressEvent(event)
