"""The panel of the cue: what to do now, in giant letters; after a trial, for a moment, its verdict in their place."""

from __future__ import annotations

from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import QHBoxLayout, QLabel, QProgressBar, QVBoxLayout, QWidget

from ui.model.stage.verdict_text import Banner
from ui.window.widgets.pieces import set_font_size, set_name, window_height

SHARE = 0.14
"""The letters of cue and number are this share of the window's height."""
PANEL_SHARE = 0.29
"""The panel is this high, whatever it says: a message that gets longer moves nothing."""
ADVICE_SHARE = 0.038
TIME_SHARE = 0.045
MESSAGE_SHARE = 0.024


class CuePanel(QWidget):
    """The cue with its time, a bar of how much of it is done, and a sentence."""

    def __init__(self) -> None:
        super().__init__()
        self.cue, self.time, self.message, self._advice = QLabel(), QLabel(), QLabel(), QLabel()
        self.cue.setObjectName("cue")
        self.message.setObjectName("quiet")
        for label in (self.message, self._advice):
            label.setWordWrap(True)
        self._advice.hide()
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setTextVisible(False)
        self.bar.setFixedHeight(14)
        top = QHBoxLayout()
        top.addWidget(self.cue, 1)
        top.addWidget(self.time)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(top, 1)
        for widget in (self._advice, self.bar, self.message):
            column.addWidget(widget)
        self._cue_text = ""
        self._banner: Banner | None = None

    @property
    def banner(self) -> Banner | None:
        """The verdict that stands in the place of the cue."""
        return self._banner

    def show_cue(self, text: str, *, time: str, fraction: float, message: str) -> None:
        """Show what to do now; while a verdict stands in its place, it waits."""
        self._cue_text = text
        self.time.setText("" if self._banner else time)
        self.bar.setValue(int(1000 * fraction))
        self.message.setText(message)
        self._show_large(self._banner.word if self._banner else text)

    def show_banner(self, banner: Banner | None) -> None:
        """Show a verdict in the place of the cue, or the cue again."""
        if banner == self._banner:
            return
        self._banner = banner
        set_name(self.cue, "cue" if banner is None else "good" if banner.accepted else "warn")
        self._advice.setText(banner.advice if banner else "")
        self._advice.setVisible(banner is not None)
        self._show_large(banner.word if banner else self._cue_text)

    def fit_window(self) -> None:
        """Scale the fonts to the window."""
        height = window_height(self)
        self.setFixedHeight(int(PANEL_SHARE * height))
        self._fit_large()
        set_font_size(self.time, TIME_SHARE * height)
        set_font_size(self._advice, ADVICE_SHARE * height, bold=True)
        set_font_size(self.message, MESSAGE_SHARE * height)

    def _show_large(self, text: str) -> None:
        if text != self.cue.text():
            self.cue.setText(text)
            self._fit_large()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Choose the letters anew for the new width."""
        super().resizeEvent(event)
        self._fit_large()

    def _fit_large(self) -> None:
        """Choose letters as large as there is room for."""
        wanted = SHARE * window_height(self)
        set_font_size(self.cue, wanted, bold=True)
        room = self.bar.width() - (self.time.sizeHint().width() + 8 if self.time.text() else 0)
        needed = self.cue.fontMetrics().horizontalAdvance(self.cue.text())
        if needed > room > 0:
            set_font_size(self.cue, wanted * room / needed, bold=True)
