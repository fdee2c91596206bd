"""What the examiner is asked while a session is recorded: why a trial is set aside, and what there is to note.

No new trial begins while a question is open.
"""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QDialog, QWidget

from acquire.values.records import SetAside
from ui.model.stage.text import NOTHING, TestText
from ui.session.live import LiveSession
from ui.window.widgets.ask import DecisionDialog, line_dialog
from ui.window.widgets.panels import grow
from ui.words.local_time import local_now


def ask_aside(parent: QWidget, session: LiveSession, text: TestText, decide: Callable[[int, SetAside], None]) -> None:
    """Ask why the last trial is set aside, and hand its index and the decision over; nothing where there is none."""
    index = session.to_set_aside
    if index is None:
        return
    examiner = session.store.session.context.examiner or ""
    dialog = DecisionDialog(text.words, title=_aside_title(session, index, text), examiner=examiner, parent=parent)
    dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)

    def accept() -> None:
        reason, by = dialog.reason.text().strip(), dialog.by.text().strip()
        decide(index, SetAside(aside=True, reason=reason, by=by, at=local_now()))

    dialog.accepted.connect(accept)
    _open(dialog, parent, session)


def ask_note(parent: QWidget, session: LiveSession, text: TestText, keep: Callable[[str], None]) -> None:
    """Ask for a note on the trial under way, else on the last, and hand it over where it is not empty."""
    dialog = line_dialog(parent, title=text.words("test.note_title"), text=text.words("test.note_ask"))
    dialog.textValueSelected.connect(lambda note: keep(note.strip()) if note.strip() else None)
    _open(dialog, parent, session)


def _aside_title(session: LiveSession, index: int, text: TestText) -> str:
    """Return which trial would be set aside: action, side and force."""
    trial = session.store.session.trials[index]
    force = text.force(None if trial.verdict is None else trial.verdict["plateau_force_n"])
    shown = force if force == NOTHING else f"{force} {text.unit.symbol}"
    return text.words("stage.ask_aside", what=text.named(trial.context), force=shown)


def _open(dialog: QDialog, parent: QWidget, session: LiveSession) -> None:
    dialog.finished.connect(lambda _: _keep_busy(session, busy=False))
    _keep_busy(session, busy=True)
    grow(dialog, parent.font().pixelSize())
    dialog.open()


def _keep_busy(session: LiveSession, *, busy: bool) -> None:
    session.busy = busy
