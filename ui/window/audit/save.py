"""Buttons that write an audit: tables, JSON, pages to print, and the coaching sheet of one examiner."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

from PyQt6.QtWidgets import QHBoxLayout, QLabel, QPushButton, QWidget

from acquire.errors import ArchiveError
from acquire.files.atomic import replace_file
from analysis.audit.archive_audit import Audit
from ui.model.audit.audit import AuditModel
from ui.papers.audit.coaching_sheet import coach
from ui.papers.audit.files import audit_json, write_csv
from ui.window.audit.ask import pick_target
from ui.window.widgets.ask import pick_folder
from ui.window.widgets.background import Background
from ui.words.words import Words

PickFolder = Callable[[QWidget, str, Path], Path | None]
PickTarget = Callable[[QWidget, str, Path, str], Path | None]
KINDS = ("csv", "json", "pdf", "coach")


class SaveRow(QWidget):
    """A row of buttons, and where the last one wrote.

    Parameters
    ----------
    words : Words
        The language.
    model : AuditModel
        What is written.
    background : Background
        Where it is drawn and written.
    say : callable
        Says in the window what went wrong.
    folder, target : callable
        How the user picks a folder, and a file to write.
    """

    def __init__(
        self,
        words: Words,
        *,
        model: AuditModel,
        background: Background,
        say: Callable[[str], None],
        folder: PickFolder = pick_folder,
        target: PickTarget = pick_target,
    ) -> None:
        super().__init__()
        self._words, self._model, self._background, self._say = words, model, background, say
        self._folder, self._target = folder, target
        self._said = QLabel()
        self._said.setObjectName("good")
        self._said.setWordWrap(True)
        self.buttons = {kind: QPushButton(words(f"audit.{kind}")) for kind in KINDS}
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.addWidget(self._said, 1)
        for kind, button in self.buttons.items():
            button.setAccessibleName(words(f"audit.{kind}"))
            button.clicked.connect(getattr(self, f"_{kind}"))
            row.addWidget(button)
        self.renew()

    @property
    def said(self) -> str:
        """Where the last one was written."""
        return self._said.text()

    def renew(self) -> None:
        """Let the buttons do what can be done now: a coaching sheet is for somebody, so not for a number."""
        blind = self._model.audited is not None and self._model.audited.blind
        self.buttons["coach"].setEnabled(self._model.selected is not None and not blind)
        for kind, button in self.buttons.items():
            tip = self._words("audit.coach_blind" if kind == "coach" and blind else f"audit.{kind}_tip")
            button.setToolTip(tip)
            button.setAccessibleDescription(tip)

    def clear(self) -> None:
        """Say nothing of what was written before."""
        self._said.clear()

    def _csv(self) -> None:
        audit = self._model.audit
        path = self._folder(self, self._words("audit.csv_title"), self._beside())
        if audit is not None and path is not None:
            self._write(path, lambda: write_csv(audit, path))

    def _json(self) -> None:
        audit, path = self._model.audit, self._ask("json", "audit.json")
        if audit is not None and path is not None:
            self._write(path, lambda: _write_json(audit, path))

    def _pdf(self) -> None:
        audit, path = self._model.audit, self._ask("pdf", "audit.pdf")
        if audit is not None and path is not None:
            self._write(path, lambda: _write_pages(audit, path, self._words))

    def _coach(self) -> None:
        audit, examiner, choice = self._model.audit, self._model.selected, self._model.audited
        if audit is None or examiner is None or choice is None:
            return
        title = self._words("audit.coach_title", code=examiner.code)
        start = self._beside() / f"coaching-{examiner.code}.pdf"
        path = self._target(self, title, start, self._words("audit.pdf_files"))
        if path is not None:
            archive, words = Path(choice.folder), self._words
            self._write(path, lambda: coach(audit, archive, examiner.code, path, words))

    def _ask(self, kind: str, name: str) -> Path | None:
        title, kinds = self._words(f"audit.{kind}_title"), self._words(f"audit.{kind}_files")
        return self._target(self, title, self._beside() / name, kinds)

    def _beside(self) -> Path:
        """Return the folder that is offered: not the archive itself, which holds sessions and nothing else."""
        return Path(self._model.choice.folder).parent

    def _write(self, path: Path, write: Callable[[], object]) -> None:
        self._said.setText(self._words("audit.writing"))
        self._background.do(
            write,
            lambda _: self._said.setText(self._words("audit.written", path=path)),
            self._failed,
        )

    def _failed(self, error: Exception) -> None:
        self._said.clear()
        self._say(str(error))


def _write_json(audit: Audit, path: Path) -> None:
    text = json.dumps(audit_json(audit), indent=1, allow_nan=False)
    try:
        replace_file(path, lambda aside: aside.write_text(text, encoding="utf-8"))
    except OSError as error:
        raise ArchiveError(f"{path}: cannot be written: {error.strerror or error}") from error


def _write_pages(audit: Audit, path: Path, words: Words) -> None:
    from ui.papers.audit.pages import write_audit_pages  # noqa: PLC0415 (drawing is heavy)

    write_audit_pages(audit, path, words)
