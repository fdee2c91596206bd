"""A report that is there already is replaced only where that is confirmed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PyQt6.QtWidgets import QMessageBox, QWidget

from ui.words.words import Words

if TYPE_CHECKING:
    from ui.papers.report.write import Written


def may_replace(places: Written, words: Words, parent: QWidget) -> bool:
    """Return whether a report may be written: none is there, or the user says that it may be replaced."""
    if not (places.pdf.is_file() or places.page.is_file()):
        return True
    box = QMessageBox(parent)
    box.setWindowTitle(words("stage.replace_title"))
    box.setText(words("stage.replace_ask", pdf=places.pdf))
    yes = box.addButton(words("stage.replace"), QMessageBox.ButtonRole.AcceptRole)
    no = box.addButton(words("review.ask.cancel"), QMessageBox.ButtonRole.RejectRole)
    box.setDefaultButton(no)
    box.exec()
    return box.clickedButton() is yes
