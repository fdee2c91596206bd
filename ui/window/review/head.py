"""The head of Review: what is open, what can be done with it, and the last thing there was to say."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QKeySequence, QShortcut
from PyQt6.QtWidgets import QCheckBox, QFrame, QHBoxLayout, QLabel, QPushButton, QVBoxLayout, QWidget

from analysis.results.settings import known_result_settings
from analysis.trial.protocol import known_protocols
from ui.model.review.banner import back_label, protocol_banner
from ui.model.review.review import ReviewModel
from ui.model.review.text import BAD, about, limits
from ui.window.widgets.ask import PickFile, pick_file
from ui.window.widgets.named_menu import NamedMenu
from ui.window.widgets.pieces import button_of, give_tip
from ui.words.words import Words

SESSIONS = "Ctrl+B"
OPEN, JUDGE, ALIKE, KEEP, DECIDE, REPORT, SCORE = "Ctrl+O", "Ctrl+J", "Ctrl+L", "Ctrl+K", "Del", "Ctrl+R", "Ctrl+E"
SEPARATOR = "   \u00b7   "


class ReviewHead(QWidget):
    """Title, buttons and messages of Review; every button has its key.

    Parameters
    ----------
    words : Words
        Language.
    model : ReviewModel
        What is shown.
    pick : callable, optional
        How the user picks a protocol file.
    """

    open_asked = pyqtSignal()
    decision_asked = pyqtSignal()
    report_asked = pyqtSignal()
    keep_asked = pyqtSignal()
    alike_set = pyqtSignal(bool)
    sessions_set = pyqtSignal(bool)
    back_asked = pyqtSignal()
    protocol_chosen = pyqtSignal(str)
    settings_chosen = pyqtSignal(str)

    def __init__(self, words: Words, model: ReviewModel, *, pick: PickFile = pick_file) -> None:
        super().__init__()
        self._words, self._model = words, model
        self._build(pick)
        self._connect()

    def show_file(self) -> None:
        """Show what is open and what can be done with it; messages go."""
        self._message.hide()
        self._told.hide()
        phrases = about(self._model, self._words)
        self._title.setText(phrases[0] if phrases else self._words("review.nothing_open"))
        self._about.setText(SEPARATOR.join(phrases[1:]))
        self._about.setVisible(len(phrases) > 1)
        self._about.setToolTip(limits(self._model, self._words))
        self._show_banner()
        shown = (self._alike_box, self._judge_button, self._score_button, self._decide_button, self._report_button)
        for each in shown:
            each.setVisible(bool(self._model.trials))
        for each in (self._score_button, self._report_button):
            each.setEnabled(self._model.can_decide)
        tip = "review.report_tip" if self._model.can_decide else "review.no_report"
        give_tip(self._report_button, self._words(tip, keys=REPORT))

    def show_sessions(self, shown: bool) -> None:
        """Show whether the list of sessions is there."""
        self.sessions_button.setChecked(shown)

    def _show_banner(self) -> None:
        """Say where the trials are judged by other limits than they were recorded under."""
        sentence, back = protocol_banner(self._model, self._words), back_label(self._model, self._words)
        self._banner_text.setText(f"! {sentence}")
        self._banner.setVisible(bool(sentence))
        self._back.setText(back)
        self._back.setAccessibleName(back)
        give_tip(self._back, self._words("review.banner.back_tip"))
        self._back.setVisible(bool(back))

    def show_trial(self) -> None:
        """Show what can be decided about the selected trial."""
        index = self._model.selected
        aside = index is not None and self._model.is_aside(index)
        decides = index is not None and self._model.can_decide
        self._decide_button.setText(self._words("review.take_back" if aside else "review.aside"))
        tip = "review.no_decisions" if not decides else "review.take_back_tip" if aside else "review.aside_tip"
        give_tip(self._decide_button, self._words(tip, keys=DECIDE))
        self._decide_button.setEnabled(decides)

    def complain(self, sentence: str) -> None:
        """Say what went wrong, in the line of the file, so that nothing moves."""
        self._told.hide()
        self._about.hide()
        self._message.setText(f"{BAD} {sentence}")
        self._message.show()

    def tell(self, sentence: str) -> None:
        """Say what was done, in the line of the file, so that nothing moves."""
        self._message.hide()
        self._about.hide()
        self._told.setText(sentence)
        self._told.show()

    def _build(self, pick: PickFile) -> None:
        self._title, self._about = QLabel(), QLabel()
        self._title.setObjectName("heading")
        self._about.setObjectName("quiet")
        self._about.setWordWrap(True)
        self._message, self._told = QLabel(), QLabel()
        self._message.setObjectName("bad")
        self._message.setWordWrap(True)
        self._told.setWordWrap(True)
        self._told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._told.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(8)
        column.addLayout(self._row(pick))
        for line in (self._about, self._message, self._told):
            column.addWidget(line)
        column.addWidget(self._build_banner())

    def _build_banner(self) -> QFrame:
        self._banner, self._banner_text, self._back = QFrame(), QLabel(), QPushButton()
        self._banner.setObjectName("banner")
        self._banner_text.setObjectName("warn")
        self._banner_text.setWordWrap(True)
        self._back.setAutoDefault(True)
        row = QHBoxLayout(self._banner)
        row.setContentsMargins(14, 6, 10, 6)
        row.addWidget(self._banner_text, 1)
        row.addWidget(self._back)
        return self._banner

    def _row(self, pick: PickFile) -> QHBoxLayout:
        self.sessions_button = button_of(self._words, "review.sessions.show", SESSIONS)
        self.sessions_button.setCheckable(True)
        self.sessions_button.setChecked(True)
        self._open_button = button_of(self._words, "review.open", OPEN)
        self._judge_button = button_of(self._words, "review.judge", JUDGE)
        self._decide_button = button_of(self._words, "review.aside", DECIDE)
        self._report_button = button_of(self._words, "review.report", REPORT)
        self._alike_box = QCheckBox(self._words("review.alike"))
        self._alike_box.setChecked(self._model.alike)
        give_tip(self._alike_box, self._words("review.alike_tip", keys=ALIKE))
        self._protocols = NamedMenu(
            self._words,
            self,
            asked="judge",
            names=known_protocols(),
            in_use=lambda: self._model.protocol.name,
            pick=pick,
        )
        self._judge_button.setMenu(self._protocols)
        self._score_button = button_of(self._words, "review.score", SCORE)
        self._scorings = NamedMenu(
            self._words,
            self,
            asked="score",
            names=known_result_settings(),
            in_use=lambda: self._model.settings.name,
            pick=pick,
        )
        self._score_button.setMenu(self._scorings)
        row = QHBoxLayout()
        row.setSpacing(8)
        row.addWidget(self._title, 1)
        for each in (
            self._alike_box,
            self.sessions_button,
            self._open_button,
            self._judge_button,
            self._score_button,
            self._decide_button,
            self._report_button,
        ):
            row.addWidget(each)
        return row

    def _connect(self) -> None:
        self._open_button.clicked.connect(self.open_asked)
        self._alike_box.toggled.connect(self.alike_set)
        self.sessions_button.clicked.connect(self.sessions_set)
        self._back.clicked.connect(self.back_asked)
        self._decide_button.clicked.connect(self.decision_asked)
        self._report_button.clicked.connect(self.report_asked)
        self._protocols.chosen.connect(self.protocol_chosen)
        self._scorings.chosen.connect(self.settings_chosen)
        shortcuts: tuple[tuple[str, Callable[[], object]], ...] = (
            (OPEN, self.open_asked.emit),
            (SESSIONS, self.sessions_button.click),
            (JUDGE, self._judge_button.click),
            (SCORE, self._score_button.click),
            (ALIKE, self._alike_box.click),
            (KEEP, self.keep_asked.emit),
            (DECIDE, self._decide_button.click),
            (REPORT, self._report_button.click),
        )
        for keys, act in shortcuts:
            QShortcut(QKeySequence(keys), self, context=Qt.ShortcutContext.WindowShortcut).activated.connect(act)
