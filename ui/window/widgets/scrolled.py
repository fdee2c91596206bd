"""What is scrolled before any of it is cut: it asks for the room of what is in it, and makes do with less."""

from __future__ import annotations

from PyQt6.QtCore import QSize, Qt
from PyQt6.QtGui import QResizeEvent
from PyQt6.QtWidgets import QFrame, QScrollArea, QSizePolicy, QWidget

LEAST_PX = 60
"""So high at least."""


class Scrolled(QScrollArea):
    """A frame that shows nothing of its own.

    Parameters
    ----------
    inside : QWidget
        What is scrolled; its text may go over several lines.
    """

    def __init__(self, inside: QWidget) -> None:
        super().__init__()
        self.setObjectName("scrolled")
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Preferred)
        self.setMinimumHeight(LEAST_PX)
        self._inside = inside
        self.setWidget(_Held(inside))
        for ground in (self.widget(), self.viewport()):
            if ground is not None:
                ground.setAutoFillBackground(False)

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Ask for all of what is in it, as wide as it is now."""
        inside = self._inside
        hint = inside.sizeHint()
        width = max(self.width(), inside.minimumSizeHint().width())
        return QSize(hint.width(), inside.heightForWidth(width) if inside.hasHeightForWidth() else hint.height())

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Ask anew: in another width, text has another height."""
        super().resizeEvent(event)
        self.updateGeometry()


class _Held(QWidget):
    """Holds one widget, which is never larger than the room there is unless it needs to be.

    A scroll area gives text that goes over several lines the height it would like, not the one it can do with.
    """

    def __init__(self, inside: QWidget) -> None:
        super().__init__()
        self._inside = inside
        inside.setParent(self)
        self.setFocusProxy(inside)

    def minimumSizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Need what is in it needs."""
        return self._inside.minimumSizeHint().expandedTo(self._inside.minimumSize())

    def sizeHint(self) -> QSize:  # noqa: N802 (Qt's name)
        """Like what is in it likes."""
        return self._inside.sizeHint()

    def resizeEvent(self, event: QResizeEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Give all the room away."""
        super().resizeEvent(event)
        self._inside.resize(self.size())
