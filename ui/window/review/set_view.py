"""The set beside the trials: both sides of the action that is looked at, their difference, and last time's values."""

from __future__ import annotations

from html import escape

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QTextBrowser

from ui.model.review.sets import SetCard, SetLine
from ui.model.theme import Theme
from ui.words.words import Words


class SetView(QTextBrowser):
    """A small table to read; it scrolls with the arrow keys, and its words can be copied."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self._words, self._theme = words, theme
        self._shown: SetCard | None = None
        self.setOpenLinks(False)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByKeyboard | Qt.TextInteractionFlag.TextSelectableByMouse
        )
        self.setAccessibleName(words("review.set.title"))

    def show_card(self, card: SetCard | None) -> None:
        """Show a set; nothing for None."""
        if card == self._shown:
            return
        self._shown = card
        self.setHtml("" if card is None else set_page(card, self._theme))
        self.setAccessibleDescription("" if card is None else card.heard)

    def wanted_height(self) -> int:
        """Return how high it is when nothing of it has to be scrolled to, pixels."""
        page = self.document()
        return 0 if page is None else round(page.size().height()) + 8


def set_page(card: SetCard, theme: Theme) -> str:
    """Return the card as a page."""
    heads = "".join(_cell(f'<b style="color:{theme.quiet}">{escape(side)}</b>', right=True) for side in card.sides)
    rows = "".join(_row(line, theme, bold=not at) for at, line in enumerate(card.lines))
    said = "".join(
        f'<div style="margin-top:4px; color:{colour}">{escape(text)}</div>'
        for text, colour in ((card.difference, theme.text), (card.last_time, theme.quiet))
        if text
    )
    table = f'<table width="100%" cellspacing="0" cellpadding="2"><tr><td></td>{heads}</tr>{rows}</table>'
    return f"<div><b>{escape(card.title)}</b></div>{table}{said}"


def _row(line: SetLine, theme: Theme, *, bold: bool) -> str:
    cells = "".join(_cell(f"<b>{escape(value)}</b>" if bold else escape(value), right=True) for value in line.values)
    label = f'<span style="color:{theme.quiet}">{escape(line.label)}</span>'
    return f"<tr>{_cell(label, right=False)}{cells}</tr>"


def _cell(inside: str, *, right: bool) -> str:
    return f'<td align="{"right" if right else "left"}" style="white-space:nowrap">{inside}</td>'
