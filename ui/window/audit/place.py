"""Audit: who needs coaching in what, from the curves of a whole archive, and the curves behind every number."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from concurrent.futures import BrokenExecutor
from pathlib import Path

from PyQt6.QtCore import Qt, QTimer
from PyQt6.QtGui import QKeyEvent, QKeySequence, QResizeEvent, QShortcut
from PyQt6.QtWidgets import (
    QAbstractButton,
    QCheckBox,
    QFrame,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from acquire.errors import AcquireError
from acquire.values.units import ForceUnit
from analysis.audit.archive import Mapper
from analysis.audit.archive_audit import Audit
from analysis.errors import AnalysisError
from analysis.trial.protocol import known_protocols, load_protocol
from ui.model.audit.audit import AuditModel
from ui.model.audit.run import AuditRun, AuditStoppedError, store_for
from ui.model.audit.text import about, hint, notes, progress_text, title_of
from ui.model.plan.remembered import AuditChoice, Remembered
from ui.model.review.text import BAD
from ui.model.theme import Theme
from ui.window.audit.ask import pick_target
from ui.window.audit.body import AuditBody
from ui.window.audit.save import PickFolder, PickTarget, SaveRow
from ui.window.widgets.ask import pick_file, pick_folder
from ui.window.widgets.background import LOOK_MS, Background
from ui.window.widgets.named_menu import NamedMenu
from ui.window.widgets.panels import font_size, grow, say
from ui.window.widgets.pieces import button_of, give_tip, panel
from ui.words.words import Words

CHOOSE, JUDGE, BLIND, RUN, CANCEL = "Ctrl+O", "Ctrl+J", "Ctrl+B", "Ctrl+R", "Esc"
SEPARATOR = "   \u00b7   "
LINE = 52
"""A line of the page without results is this many times as long as its letters are high."""


class AuditPlace(QWidget):
    """The place where the technique of examiners is looked at.

    Parameters
    ----------
    words, theme, unit
        Language, colours and unit of force.
    remembered : Remembered
        What the program remembers between starts: the archive that was audited last.
    mapper : callable, optional
        Where sessions are measured; in as many processes as there are cores when not given.
    folder, target, pick : callable
        How the user picks a folder, a file to write, and a protocol file.
    """

    def __init__(
        self,
        words: Words,
        theme: Theme,
        unit: ForceUnit,
        remembered: Remembered,
        *,
        mapper: Mapper | None = None,
        folder: PickFolder = pick_folder,
        target: PickTarget = pick_target,
        pick: Callable[[QWidget, str, str], Path | None] = pick_file,
    ) -> None:
        super().__init__()
        self._words, self._remembered, self._mapper = words, remembered, mapper
        self._folder, self._pick = folder, pick
        self.model = AuditModel(remembered.audit)
        self._run: AuditRun | None = None
        self._background = Background(self)
        self._timer = QTimer(self)
        self._timer.setInterval(LOOK_MS)
        self._timer.timeout.connect(self._show_progress)
        behind = self._background
        self.body = AuditBody(words, theme, unit, model=self.model, background=behind, say=self._say)
        self.save = SaveRow(words, model=self.model, background=behind, say=self._say, folder=folder, target=target)
        self._build()
        self._connect()
        self._show_all()

    # what others call

    @property
    def running(self) -> bool:
        """Whether an audit is under way."""
        return self._run is not None

    @property
    def busy(self) -> bool:
        """Whether anything is under way: an audit, trials that are read, a file that is written."""
        return self._background.busy

    def press(self) -> None:
        """Choose an archive, audit it, then look at one examiner after another."""
        if self.running:
            return
        if not self.model.choice.folder:
            self._choose()
        elif self.model.audit is None or self.model.stale:
            self.run()
        else:
            self.body.press()
            self.save.renew()

    def open_folder(self, folder: Path) -> None:
        """Choose an archive; it is not audited before that is asked for, so that blind mode can be chosen first."""
        if self.running:
            return
        self.model.choose_folder(folder)
        self._keep_choice()

    def judge_by(self, name_or_path: str) -> None:
        """Choose the protocol of the next audit, or say in the window why it cannot be used."""
        try:
            load_protocol(name_or_path)
        except AnalysisError as error:
            self._say(str(error))
            return
        self.model.judge_by(name_or_path)
        self._keep_choice()

    def set_blind(self, blind: bool) -> None:
        """Show numbers instead of codes, or codes again; what is shown is taken away at once, and audited anew."""
        again = self.model.audit is not None
        self.model.set_blind(blind)
        self._keep_choice()
        if again:
            self.run()

    def run(self) -> None:
        """Audit the archive that is chosen."""
        if self.running or not self.model.choice.folder:
            return
        try:
            store = store_for(Path(self.model.choice.folder), self._remembered.path.parent)
        except AcquireError as error:
            self._say(str(error))
            return
        run = AuditRun(self.model.choice, store=store, mapper=self._mapper)
        self._run = run
        self._background.do(run, lambda audit: self._found(audit, run.choice), self._failed)
        self._timer.start()
        self._show_all()

    def cancel(self) -> None:
        """Stop the audit under way; results so far stay in the store."""
        if self._run is not None:
            self._run.stop()
            self._show_progress()

    def end(self) -> None:
        """Stop whatever is under way, and wait for it: the window is going."""
        self.cancel()
        self._timer.stop()
        self._background.close()

    # what the user does

    def _choose(self) -> None:
        start = Path(self.model.choice.folder or Path.home())
        folder = self._folder(self, self._words("audit.choose_title"), start)
        if folder is not None:
            self.open_folder(folder)

    def _keep_choice(self) -> None:
        self._remembered.audited(self.model.choice)
        self._show_all()

    # what came of it

    def _found(self, audit: Audit, choice: AuditChoice) -> None:
        self._ended()
        self.model.found(audit, choice)
        self._show_all()
        if self.isVisible():
            self.setFocus()

    def _failed(self, error: Exception) -> None:
        self._ended()
        self._show_all()
        if isinstance(error, AuditStoppedError):
            say(self._note, self._words("audit.stopped"))
        elif isinstance(error, BrokenExecutor):
            self._say(self._words("audit.broken"))
        elif isinstance(error, sqlite3.Error):
            self._say(self._words("audit.unkept", why=error))
        else:
            self._say(str(error))

    def _ended(self) -> None:
        self._run = None
        self._timer.stop()

    # what is shown

    def _say(self, sentence: str) -> None:
        """Say what went wrong; what was shown stays."""
        say(self._message, f"{BAD} {sentence}")

    def _show_all(self) -> None:
        model, words = self.model, self._words
        self._message.hide()
        there = bool(model.examiners)
        self._title.setText(title_of(model, words))
        self._about.setText(SEPARATOR.join(about(model, words)))
        say(self._note, "   ".join(notes(model, words)))
        self._hint.setText("\n\n".join(hint(model, words)))
        self._empty.setVisible(not there)
        self.body.setVisible(there)
        self.save.setVisible(model.audit is not None)
        self._blind.setChecked(model.choice.blind)
        key, keys = ("audit.run", RUN) if model.choice.folder else ("audit.choose", CHOOSE)
        self._first.setText(words(key))
        give_tip(self._first, words(f"{key}_tip", keys=keys))
        self._first.setVisible(not self.running)
        for each in (self._choose_button, self._judge_button, self._blind):
            each.setEnabled(not self.running)
        self._run_button.setEnabled(not self.running and bool(model.choice.folder))
        self.setFocusProxy(self.body.table if there else self._first)
        self.body.show_audit()
        self.save.clear()
        self.save.renew()
        self._show_progress()

    def _show_progress(self) -> None:
        run = self._run
        self._working.setVisible(run is not None)
        if run is None:
            return
        progress = run.progress
        counted = progress is not None and progress.total > 0 and not progress.measured
        self._bar.setRange(0, progress.total if progress is not None and counted else 0)
        self._bar.setValue(progress.done if progress is not None and counted else 0)
        self._so_far.setText(progress_text(progress, stopping=run.stopping, words=self._words))
        self._cancel.setEnabled(not run.stopping)

    # layout

    def _build(self) -> None:
        self._message, self._note = QLabel(), QLabel()
        self._message.setObjectName("bad")
        self._note.setObjectName("warn")
        for label in (self._message, self._note):
            label.setWordWrap(True)
        self._working, self._empty = self._progress_row(), self._nothing()
        column = QVBoxLayout(self)
        column.setContentsMargins(18, 8, 18, 10)
        column.setSpacing(8)
        column.addLayout(self._head())
        for row in (self._message, self._note, self._working):
            column.addWidget(row)
        column.addWidget(self._empty, 1)
        column.addWidget(self.body, 1)
        column.addWidget(self.save)

    def _progress_row(self) -> QFrame:
        self._bar, self._so_far = QProgressBar(), QLabel()
        self._bar.setTextVisible(False)
        self._bar.setAccessibleName(self._words("audit.run"))
        self._cancel = button_of(self._words, "audit.cancel", CANCEL)
        inside = QWidget()
        row = QHBoxLayout(inside)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self._bar, 1)
        row.addWidget(self._so_far)
        row.addWidget(self._cancel)
        return panel(inside)

    def _nothing(self) -> QFrame:
        """Return what is shown while there is no examiner: why, and the way on."""
        self._hint = QLabel()
        self._hint.setWordWrap(True)
        self._first = QPushButton()
        self._first.setAutoDefault(True)
        self._first.setObjectName("main")
        self._page = QWidget()
        column = QVBoxLayout(self._page)
        column.setSpacing(18)
        column.addStretch(2)
        column.addWidget(self._hint)
        column.addWidget(self._first, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(3)
        around = QWidget()
        row = QHBoxLayout(around)
        row.addStretch(1)
        row.addWidget(self._page)
        row.addStretch(1)
        return panel(around)

    def _head(self) -> QHBoxLayout:
        self._title, self._about = QLabel(), QLabel()
        self._title.setObjectName("heading")
        self._about.setObjectName("quiet")
        self._about.setWordWrap(True)
        self._choose_button = button_of(self._words, "audit.choose", CHOOSE)
        self._judge_button = button_of(self._words, "audit.judge", JUDGE)
        self._run_button = button_of(self._words, "audit.run", RUN)
        self._blind = QCheckBox(self._words("audit.blind"))
        give_tip(self._blind, self._words("audit.blind_tip", keys=BLIND))
        self._protocols = NamedMenu(
            self._words,
            self,
            asked="judge",
            names=known_protocols(),
            in_use=lambda: self.model.choice.protocol,
            pick=self._pick,
        )
        self._judge_button.setMenu(self._protocols)
        words = QVBoxLayout()
        words.setSpacing(0)
        words.addWidget(self._title)
        words.addWidget(self._about)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addLayout(words, 1)
        for button in (self._blind, self._choose_button, self._judge_button, self._run_button):
            row.addWidget(button)
        return row

    def _connect(self) -> None:
        self._first.clicked.connect(self.press)
        self._choose_button.clicked.connect(self._choose)
        self._run_button.clicked.connect(self.run)
        self._cancel.clicked.connect(self.cancel)
        self._blind.clicked.connect(self.set_blind)
        self._protocols.chosen.connect(self.judge_by)
        shortcuts: tuple[tuple[str, QAbstractButton], ...] = (
            (CHOOSE, self._choose_button),
            (JUDGE, self._judge_button),
            (BLIND, self._blind),
            (RUN, self._run_button),
            (CANCEL, self._cancel),
        )
        for keys, button in shortcuts:
            QShortcut(QKeySequence(keys), self).activated.connect(button.click)

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Let the space bar do the next sensible thing from wherever nothing else takes it."""
        if event is not None and event.key() == Qt.Key.Key_Space:
            self.press()
            return
        super().keyPressEvent(event)

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Scale the font with the window."""
        super().resizeEvent(event)
        pixels = font_size((self.window() or self).height())
        grow(self, pixels)
        self.body.set_font_size(pixels)
        self._page.setFixedWidth(min(LINE * pixels, max(200, self.width() - 80)))
