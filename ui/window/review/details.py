"""What one trial came to, as a page to read: verdict, faults, decisions, measures, and what was withheld and why."""

from __future__ import annotations

from html import escape

from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QTextBrowser

from ui.model.review.text import Details, FaultLine, MeasureLine
from ui.model.theme import Theme
from ui.words.words import Words


class DetailsView(QTextBrowser):
    """A page about one trial; it scrolls with the arrow keys, and its words can be copied."""

    def __init__(self, words: Words, theme: Theme) -> None:
        super().__init__()
        self._words, self._theme = words, theme
        self._shown: Details | None = None
        self.setOpenLinks(False)
        self.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByKeyboard | Qt.TextInteractionFlag.TextSelectableByMouse
        )
        self.setAccessibleName(words("review.details"))

    def show_details(self, details: Details | None) -> None:
        """Show a trial from its top; nothing for None."""
        if details == self._shown:
            return
        self._shown = details
        self.setHtml("" if details is None else details_page(details, self._words, self._theme))


def details_page(details: Details, words: Words, theme: Theme) -> str:
    """Return the page of a trial."""
    colour = theme.quiet if details.aside else theme.good if details.accepted else theme.bad
    parts = [
        f"<div><b>{escape(details.title)}</b></div>",
        f'<div style="color:{colour}"><b>{escape(details.verdict)}</b></div>',
        _lines(tuple(filter(None, (details.cut_off, details.stored))), theme.quiet),
        "" if details.cut_off else _faults(details.faults, words, theme),
        _section(words("review.decisions"), _lines(details.decisions, theme.text), theme),
        _section(words("review.notes"), _lines(details.notes, theme.text), theme),
        _section(words("review.damage"), _lines(details.damage, theme.text), theme),
        _section(words("review.measures"), _measures(details.measures, theme), theme),
        _section(words("review.withheld"), "".join(_why(*pair, theme) for pair in details.withheld), theme),
    ]
    return "".join(parts)


def _section(heading: str, body: str, theme: Theme) -> str:
    """Return a body under its heading; nothing when there is none."""
    return f'<p style="margin:10px 0 3px 0; color:{theme.quiet}"><b>{escape(heading)}</b></p>{body}' if body else ""


def _lines(lines: tuple[str, ...], colour: str) -> str:
    return "".join(f'<div style="color:{colour}">{escape(line)}</div>' for line in lines)


def _faults(faults: tuple[FaultLine, ...], words: Words, theme: Theme) -> str:
    if not faults:
        return _section(words("review.faults"), _lines((words("review.no_faults"),), theme.text), theme)
    body = "".join(
        f'<div style="margin-bottom:5px"><b style="color:{theme.bad if fault.rejects else theme.warn}">'
        f"{escape(fault.mark)} {escape(fault.name)}</b><br>{escape(fault.text)}</div>"
        for fault in faults
    )
    return _section(words("review.faults"), body, theme)


def _measures(measures: tuple[MeasureLine, ...], theme: Theme) -> str:
    rows = "".join(
        f'<tr><td>{escape(line.name)}<br><span style="color:{theme.quiet}">{escape(line.meaning)}</span></td>'
        f'<td align="right" style="white-space:nowrap"><b>{escape(line.value)}</b></td>'
        f'<td style="white-space:nowrap; color:{theme.quiet}">{escape(line.unit)}</td></tr>'
        for line in measures
    )
    return f'<table width="100%" cellspacing="0" cellpadding="2">{rows}</table>' if rows else ""


def _why(names: str, reason: str, theme: Theme) -> str:
    why = f'<span style="color:{theme.quiet}">{escape(reason)}</span>'
    return f'<div style="margin-bottom:4px">{escape(names)}<br>{why}</div>'
