"""The window: four places, and one key that does the next sensible thing in each."""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import QEvent, QObject, Qt, pyqtSignal
from PyQt6.QtGui import QCloseEvent, QGuiApplication, QKeyEvent, QKeySequence, QShortcut
from PyQt6.QtWidgets import (
    QAbstractButton,
    QAbstractItemView,
    QAbstractSpinBox,
    QApplication,
    QComboBox,
    QHBoxLayout,
    QLineEdit,
    QMainWindow,
    QMessageBox,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from ui.window.audit.place import AuditPlace
from ui.window.help import HelpDialog
from ui.window.plan.place import PlanPlace
from ui.window.review.place import ReviewPlace
from ui.window.stage.place import TestPlace
from ui.window.widgets.scrolled import Scrolled
from ui.words.words import Words

PLACES = ("plan", "test", "review", "audit")
KEEPS_SPACE = (QLineEdit, QAbstractButton, QComboBox, QAbstractSpinBox, QAbstractItemView)
"""In these, outside Test, the space bar does what it does everywhere: type, press, choose."""


class MainWindow(QMainWindow):
    """The four places.

    Parameters
    ----------
    words : Words
        The language.
    plan, test, review, audit : QWidget
        The places.
    """

    closing = pyqtSignal()
    """It closes now; nothing keeps it any more."""

    def __init__(
        self, words: Words, *, plan: PlanPlace, test: TestPlace, review: ReviewPlace, audit: AuditPlace
    ) -> None:
        super().__init__()
        self.plan, self.test, self.review, self.audit = plan, test, review, audit
        self._places: tuple[QWidget, ...] = (plan, test, review, audit)
        self.on_close: Callable[[], bool] = lambda: True
        """Is asked before the window closes, and may refuse."""
        self.asks_in_trial = True
        """Whether it asks before it closes while a trial is under way."""
        self.words = words
        self.help: HelpDialog | None = None
        """The help that is open."""
        self.setWindowTitle("Ramphold")
        self._stack = QStackedWidget()
        self._tabs: list[QPushButton] = []
        row = QHBoxLayout()
        row.setContentsMargins(18, 10, 18, 0)
        for number, (name, place) in enumerate(zip(PLACES, (plan, test, review, audit), strict=True)):
            row.addWidget(self._tab(number, name))
            self._stack.addWidget(Scrolled(place))
        row.addStretch(1)
        body = QWidget()
        column = QVBoxLayout(body)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(row)
        column.addWidget(self._stack, 1)
        self.setCentralWidget(body)
        self.go("plan")
        self._screens()
        application = QApplication.instance()
        if application is not None:
            application.installEventFilter(self)

    @property
    def place(self) -> str:
        """Which place is shown."""
        return PLACES[self._stack.currentIndex()]

    def go(self, name: str) -> None:
        """Show a place."""
        at = PLACES.index(name)
        self._stack.setCurrentIndex(at)
        for number, tab in enumerate(self._tabs):
            tab.setChecked(number == at)
        self._places[at].setFocus()

    def press(self) -> None:
        """Do the next sensible thing in the place that is shown."""
        (self.plan, self.test, self.review, self.audit)[self._stack.currentIndex()].press()

    def explain(self) -> None:
        """Explain the place that is shown; the help stays open beside it."""
        if self.help is not None:
            self.help.close()
        self.help = HelpDialog(self.words, self.place, self)
        self.help.finished.connect(self._help_is_gone)
        self.help.show()

    def _help_is_gone(self) -> None:
        self.help = None

    def next_screen(self) -> None:
        """Show the window on the next screen, over all of it."""
        screens, handle = QGuiApplication.screens(), self.windowHandle()
        if handle is None or not screens:
            return
        here = next((at for at, screen in enumerate(screens) if screen is handle.screen()), 0)
        there = screens[(here + 1) % len(screens)]
        self.showNormal()
        handle.setScreen(there)
        self.setGeometry(there.availableGeometry())
        self.showFullScreen()

    def full_screen(self) -> None:
        """Cover the screen, or no longer."""
        if self.isFullScreen():
            self.showNormal()
        else:
            self.showFullScreen()

    def eventFilter(self, watched: QObject | None, event: QEvent | None) -> bool:  # noqa: N802 (Qt's name)
        """Catch the space bar before a button of Test does, and leave it to what is edited elsewhere."""
        if not isinstance(event, QKeyEvent) or event.type() != QEvent.Type.KeyPress:
            return False
        if event.key() != Qt.Key.Key_Space or not isinstance(watched, QWidget) or not self._takes_space(watched):
            return False
        if not event.isAutoRepeat():
            self.press()
        return True

    def _takes_space(self, watched: QWidget) -> bool:
        """Tell whether the space bar, pressed there, means the next sensible thing."""
        if watched.window() is not self or QApplication.activeModalWidget() is not None:
            return False
        return self.place == "test" or not isinstance(self.focusWidget(), KEEPS_SPACE)

    def closeEvent(self, event: QCloseEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Save what is under way, then close; in mid-trial it asks once, and where it cannot be saved it stays."""
        if self._asks() or not self.on_close():
            if event is not None:
                event.ignore()
            return
        application = QApplication.instance()
        if application is not None:
            application.removeEventFilter(self)
        self.closing.emit()
        self.hide()  # an audit under way ends with the batches that are being measured
        self.audit.end()
        self.review.end()
        super().closeEvent(event)

    def _asks(self) -> bool:
        """Ask whether to close in mid-trial; return whether it has been asked now, so that the window stays."""
        if not (self.asks_in_trial and self.test.in_trial):
            return False
        self.asks_in_trial = False
        box = QMessageBox(self)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.setWindowTitle(self.words("stage.close_title"))
        box.setText(self.words("stage.close_ask"))
        yes = box.addButton(self.words("stage.close_yes"), QMessageBox.ButtonRole.DestructiveRole)
        no = box.addButton(self.words("stage.close_no"), QMessageBox.ButtonRole.RejectRole)
        box.setDefaultButton(no)
        box.finished.connect(lambda _: self._answered(close=box.clickedButton() is yes))
        box.open()
        return True

    def _answered(self, *, close: bool) -> None:
        self.asks_in_trial = not close
        if close:
            self.close()

    def _screens(self) -> None:
        for keys, do in (("F1", self.explain), ("F11", self.full_screen), ("Shift+F11", self.next_screen)):
            QShortcut(QKeySequence(keys), self).activated.connect(do)

    def _tab(self, number: int, name: str) -> QPushButton:
        tab = QPushButton(self.words(f"place.{name}"))
        tab.setObjectName("tab")
        tab.setCheckable(True)
        tab.setFlat(True)
        tab.setAccessibleName(self.words(f"place.{name}"))
        keys = f"Ctrl+{number + 1}"
        tab.setToolTip(self.words(f"help.tab_{name}", keys=keys))
        tab.clicked.connect(lambda: self.go(name))
        QShortcut(QKeySequence(keys), self).activated.connect(lambda: self.go(name))
        self._tabs.append(tab)
        return tab
