"""What Audit says in sentences: of one examiner, and of the archive as a whole."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from PyQt6.QtCore import Qt, pyqtSignal
from PyQt6.QtGui import QKeyEvent
from PyQt6.QtWidgets import QTextBrowser

from ui.model.audit.text import FINDING, Page, Section
from ui.model.theme import Theme
from ui.words.words import Words

CEILING = "ceiling"
"""Where the one link of a page leads: to the plateaus that pile up."""


class AuditPage(QTextBrowser):
    """A page to read; it scrolls with the arrow keys, and its words can be copied.

    `opened` is emitted when the trials behind a ceiling are asked for, by the link or by Enter.
    """

    opened = pyqtSignal()

    def __init__(self, words: Words, theme: Theme, name: str) -> None:
        super().__init__()
        self._words, self._theme = words, theme
        self._linked = False
        self.setOpenLinks(False)
        flags = Qt.TextInteractionFlag
        self.setTextInteractionFlags(
            flags.TextSelectableByKeyboard | flags.TextSelectableByMouse | flags.LinksAccessibleByMouse
        )
        self.setAccessibleName(name)
        self.anchorClicked.connect(lambda _: self.opened.emit())

    def show_page(self, page: Page | None) -> None:
        """Show what is said of an examiner; nothing for None."""
        self._linked = page is not None and page.piled
        self.setHtml("" if page is None else examiner_page(page, self._words, self._theme))

    def show_sections(self, sections: Sequence[Section]) -> None:
        """Show what is said of the archive."""
        self._linked = False
        self.setHtml("".join(_section(section, self._theme) for section in sections))

    def keyPressEvent(self, event: QKeyEvent | None) -> None:  # noqa: N802 (Qt's name)
        """Follow the one link by Enter."""
        if event is not None and self._linked and event.key() in {Qt.Key.Key_Return, Qt.Key.Key_Enter}:
            self.opened.emit()
            return
        super().keyPressEvent(event)


def examiner_page(page: Page, words: Words, theme: Theme) -> str:
    """Return the page of an examiner."""
    colour = theme.text if page.finding else theme.quiet
    mark = f'<b style="color:{theme.bad}">{FINDING}</b> ' if page.finding else ""
    lines = "".join(f'<div style="color:{colour}; margin-bottom:5px">{mark}{escape(line)}</div>' for line in page.lines)
    link = f'<div><a href="{CEILING}" style="color:{theme.curve}">{escape(words("audit.behind_ceiling"))}</a></div>'
    sets = _lines(page.sets, theme.text)
    return (
        f"<div><b>{escape(page.title)}</b></div>{_heading(words('audit.findings'), theme)}{lines}"
        f"{link if page.piled else ''}{_heading(words('audit.sets'), theme) + sets if sets else ''}"
    )


def _section(section: Section, theme: Theme) -> str:
    rows = "".join(
        f'<tr><td style="color:{theme.quiet}">{escape(name)}</td><td align="right"><b>{escape(value)}</b></td></tr>'
        for name, value in section.pairs
    )
    table = f'<table cellspacing="0" cellpadding="2">{rows}</table>' if rows else ""
    return _heading(section.heading, theme) + _lines(section.lines, theme.text) + table


def _heading(text: str, theme: Theme) -> str:
    return f'<p style="margin:10px 0 3px 0; color:{theme.quiet}"><b>{escape(text)}</b></p>'


def _lines(lines: Sequence[str], colour: str) -> str:
    return "".join(f'<div style="color:{colour}; margin-bottom:4px">{escape(line)}</div>' for line in lines)
