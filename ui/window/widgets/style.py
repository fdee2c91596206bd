"""How the window looks: the colours of a theme as Qt's palette, a short style sheet, and ticks that can be seen.

What a widget is, is said by its object name: `panel`, `title`, `heading`, `quiet`, `good`, `warn`, `bad`, `cue`,
`tab`, `main` (the button that goes on). Whatever has the focus wears a ring of two pixels in the theme's colour for
it; every widget keeps that space free, so that nothing moves when the focus does.
"""

from __future__ import annotations

from collections.abc import Callable

from PyQt6.QtCore import Qt
from PyQt6.QtGui import QColor, QPalette
from PyQt6.QtWidgets import QApplication

from ui.model.theme import DARK, LIGHT, Theme
from ui.window.widgets.drawn import RING, DrawnStyle

_STYLE: list[DrawnStyle] = []
"""The style of the one application a process has; it must not be collected while Qt paints with it."""

LEAST_POINTS = 10.5
"""Text is this large at least, whatever the system says."""

SHEET = """
QFrame#panel, QFrame#trial {{ background: {panel}; border: none; border-radius: 8px; }}
QFrame#banner {{ background: {panel}; border: 2px solid {warn}; border-radius: 8px; }}
QLabel#quiet {{ color: {quiet}; }}
QLabel#title {{ font-size: {title}pt; font-weight: bold; }}
QLabel#heading {{ font-weight: bold; }}
QLabel#good {{ color: {good}; }}
QLabel#warn {{ color: {warn}; }}
QLabel#bad {{ color: {bad}; }}
QLabel#cue {{ color: {cue}; }}
QPushButton, QToolButton {{
    background: {panel}; color: {text}; border: {ring}px solid {border}; border-radius: 6px; padding: 5px 12px; }}
QPushButton:hover, QPushButton:pressed, QPushButton:checked, QToolButton:hover, QToolButton:checked {{
    background: {band}; }}
QPushButton, QToolButton {{ outline: none; }}
QPushButton#main {{ background: {band}; color: {cue}; font-weight: bold; }}
QPushButton:disabled, QPushButton#main:disabled, QToolButton:disabled {{
    color: {quiet}; border: {ring}px dotted {edge}; }}
QPushButton#tab {{ background: transparent; border: {ring}px solid transparent; border-radius: 0;
    padding: 6px 10px; color: {quiet}; font-size: {title}pt; }}
QPushButton#tab:checked {{ color: {text}; border-bottom: 3px solid {curve}; }}
QLineEdit, QPlainTextEdit {{
    background: {panel}; color: {text}; border: 1px solid {border}; margin: 1px; border-radius: 6px; padding: 4px;
    selection-background-color: {band}; selection-color: {text}; }}
QLineEdit:disabled {{ color: {quiet}; border-style: dotted; }}
QAbstractSpinBox, QComboBox {{ min-height: 26px; }}
QTableView, QListView, QTreeView, QTextEdit, QTextBrowser, QGraphicsView, QScrollArea {{
    background: transparent; color: {text}; border: {ring}px solid transparent; border-radius: 6px;
    selection-background-color: {band}; selection-color: {text}; }}
QScrollArea#scrolled {{ border: none; border-radius: 0; }}
QComboBox QAbstractItemView {{ background: {panel}; border: 1px solid {quiet}; }}
QTableView {{ alternate-background-color: {window}; gridline-color: {edge}; }}
QTableView::item:selected, QListView::item:selected, QTreeView::item:selected {{ background: {band}; color: {text}; }}
QHeaderView, QTableCornerButton::section {{ background: transparent; border: none; }}
QHeaderView::section {{
    background: {panel}; color: {quiet}; border: none; border-bottom: 1px solid {edge}; padding: 3px 6px; }}
QMenu {{ background: {panel}; color: {text}; border: 1px solid {quiet}; padding: 4px; }}
QMenu::item {{ padding: 5px 24px; border: {ring}px solid transparent; }}
QMenu::item:selected {{ background: {band}; border-color: {focus}; }}
QToolTip {{ background: {panel}; color: {text}; border: 1px solid {quiet}; padding: 4px; }}
QAbstractScrollArea::corner {{ background: transparent; border: none; }}
QProgressBar {{ background: {edge}; border: none; border-radius: 4px; }}
QProgressBar::chunk {{ background: {curve}; border-radius: 4px; }}
QScrollBar {{ background: transparent; border: none; margin: 0; }}
QScrollBar:vertical {{ width: 12px; }}
QScrollBar:horizontal {{ height: 12px; }}
QScrollBar::handle {{ background: {edge}; border-radius: 5px; min-height: 30px; min-width: 30px; margin: 1px; }}
QScrollBar::handle:hover {{ background: {quiet}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QPushButton:focus, QPushButton#tab:focus, QPushButton#main:focus, QToolButton:focus, QTableView:focus, QListView:focus,
QTreeView:focus, QTextEdit:focus, QTextBrowser:focus, QGraphicsView:focus, QScrollArea:focus {{
    border: {ring}px solid {focus}; }}
QLineEdit:focus, QPlainTextEdit:focus {{
    border: {ring}px solid {focus}; margin: 0; }}
"""


def apply_style(app: QApplication, theme: Theme) -> None:
    """Give the whole program the colours of a theme; may be called again with another one."""
    _style_of(app).theme = theme
    font = app.font()
    if font.pointSizeF() < LEAST_POINTS:
        font.setPointSizeF(LEAST_POINTS)
        app.setFont(font)
    app.setPalette(_palette(theme))
    colours = {name: getattr(theme, name) for name in Theme.__slots__ if name != "name"}
    app.setStyleSheet(SHEET.format(**colours, ring=RING, title=round(1.3 * font.pointSizeF(), 1)))


def _style_of(app: QApplication) -> DrawnStyle:
    """Return the program's style, made once: to replace one while there are widgets was seen to crash Qt."""
    if not _STYLE:
        style = DrawnStyle()
        app.setStyle(style)
        _STYLE.append(style)
    return _STYLE[0]


def system_theme(app: QApplication) -> Theme:
    """Return the theme that the system asks for; the light one where it does not say."""
    hints = app.styleHints()
    return LIGHT if hints is None else theme_for(hints.colorScheme())


def follow_system(app: QApplication, changed: Callable[[Qt.ColorScheme], None]) -> None:
    """Call `changed` each time the system goes from light to dark or back; a method, until its object is gone."""
    hints = app.styleHints()
    if hints is not None:
        hints.colorSchemeChanged.connect(changed)


def theme_for(scheme: Qt.ColorScheme) -> Theme:
    """Return the theme of a colour scheme of Qt.

    Examples
    --------
    >>> theme_for(Qt.ColorScheme.Dark).name, theme_for(Qt.ColorScheme.Unknown).name
    ('dark', 'light')
    """
    return DARK if scheme is Qt.ColorScheme.Dark else LIGHT


def _palette(theme: Theme) -> QPalette:
    """Return the palette, for all that no style sheet reaches."""
    role = QPalette.ColorRole
    colours = {
        role.Window: theme.window,
        role.Base: theme.panel,
        role.AlternateBase: theme.window,
        role.Button: theme.panel,
        role.ToolTipBase: theme.panel,
        role.WindowText: theme.text,
        role.Text: theme.text,
        role.ButtonText: theme.text,
        role.ToolTipText: theme.text,
        role.BrightText: theme.text,
        role.PlaceholderText: theme.quiet,
        role.Highlight: theme.band,
        role.HighlightedText: theme.text,
        role.Link: theme.curve,
        role.Accent: theme.focus,
    }
    palette = QPalette()
    for key, colour in colours.items():
        palette.setColor(key, QColor(colour))
    for key in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, key, QColor(theme.quiet))
    return palette
