"""The look of the window: colours of the theme, a ring of two pixels about what has the focus, ticks that are seen."""

import pytest
from PyQt6.QtCore import Qt
from PyQt6.QtGui import QColor, QPalette
from PyQt6.QtWidgets import (
    QCheckBox,
    QComboBox,
    QFrame,
    QLabel,
    QLineEdit,
    QListWidget,
    QPlainTextEdit,
    QPushButton,
    QRadioButton,
    QSpinBox,
    QTableWidget,
    QTextBrowser,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ui.model.theme import DARK, LIGHT
from ui.window.widgets.style import LEAST_POINTS, apply_style, follow_system, system_theme, theme_for

RINGED = {
    "button": lambda: QPushButton("Go on"),
    "main button": lambda: named(QPushButton("Go on"), "main"),
    "tab": lambda: named(QPushButton("Plan"), "tab"),
    "tool button": QToolButton,
    "field": QLineEdit,
    "lines": QPlainTextEdit,
    "choice": QComboBox,
    "number": QSpinBox,
    "table": lambda: QTableWidget(2, 2),
    "list": QListWidget,
    "page": QTextBrowser,
    "box to tick": lambda: QCheckBox("Understood"),
    "circle to tick": lambda: QRadioButton("left"),
}


def named(widget, name):
    widget.setObjectName(name)
    return widget


@pytest.fixture(params=[DARK, LIGHT], ids=lambda theme: theme.name)
def theme(request, qapp):
    apply_style(qapp, request.param)
    return request.param


@pytest.fixture
def card(qtbot):
    """Show a widget on a card, beside another that takes the focus at first."""
    windows = []  # whatever nobody holds is deleted

    def make(widget):
        window, panel, other = QWidget(), named(QFrame(), "panel"), QPushButton("other")
        inside, around = QVBoxLayout(panel), QVBoxLayout(window)
        inside.addWidget(other)
        inside.addWidget(widget)
        around.addWidget(panel)
        window.resize(400, 300)
        qtbot.addWidget(window)
        window.show()
        window.activateWindow()
        qtbot.waitUntil(window.isActiveWindow)
        other.setFocus()
        windows.append(window)
        return window

    return make


def colours_across(widget):
    """The colours of the widget's picture, from top to bottom, through the first of its words."""
    image = widget.grab().toImage()
    return [image.pixelColor(40, y) for y in range(image.height())]


def off(one, other):
    """How far two colours are apart, 0 to 255."""
    return max(abs(one.red() - other.red()), abs(one.green() - other.green()), abs(one.blue() - other.blue()))


def rows_like(widget, colour):
    """The rows of a widget, through the first of its words, that have a colour all but exactly."""
    return [y for y, one in enumerate(colours_across(widget)) if off(one, QColor(colour)) < 12]


@pytest.mark.parametrize("kind", RINGED)
def test_ring_of_two_pixels_shows_the_focus(theme, card, kind):
    widget = RINGED[kind]()
    card(widget)
    before = rows_like(widget, theme.focus)
    widget.setFocus(Qt.FocusReason.TabFocusReason)
    assert widget.hasFocus()
    after = [y for y in rows_like(widget, theme.focus) if y not in before]
    top = [y for y in after if y < widget.height() / 2]
    bottom = [y for y in after if y >= widget.height() / 2]
    assert len(top) >= 2
    assert len(bottom) >= 2
    assert top[1] == top[0] + 1


@pytest.mark.usefixtures("theme")
@pytest.mark.parametrize("kind", RINGED)
def test_nothing_moves_when_the_focus_does(card, kind):
    widget = RINGED[kind]()
    window = card(widget)
    before = widget.geometry(), widget.sizeHint()
    widget.setFocus(Qt.FocusReason.TabFocusReason)
    window.layout().activate()
    assert (widget.geometry(), widget.sizeHint()) == before


@pytest.mark.parametrize("kind", ["box to tick", "circle to tick"])
def test_tick_is_seen(theme, card, kind):
    widget = RINGED[kind]()
    card(widget)
    empty = count_like(widget, theme.text, width=18)
    frame = count_like(widget, theme.border, width=18)
    widget.setChecked(True)
    assert frame > 10
    assert count_like(widget, theme.text, width=18) > empty + 4


def count_like(widget, colour, *, width):
    """How many pixels at the left of a widget have a colour all but exactly."""
    image, wanted = widget.grab().toImage(), QColor(colour)
    places = [(x, y) for x in range(min(width, image.width())) for y in range(image.height())]
    return sum(off(image.pixelColor(x, y), wanted) < 40 for x, y in places)


@pytest.mark.parametrize("kind", ["choice", "number"])
def test_arrow_is_seen(theme, card, kind):
    widget = RINGED[kind]()
    card(widget)
    image = widget.grab().toImage()
    right = [image.pixelColor(x, y) for x in range(image.width() - 22, image.width() - 4) for y in range(6, 24)]
    assert sum(one == QColor(theme.quiet) for one in right) >= 5


@pytest.mark.parametrize("name", ["quiet", "good", "warn", "bad", "cue"])
def test_words_take_the_colour_of_their_name(theme, card, name):
    label = named(QLabel("\u2588\u2588"), name)
    card(label)
    assert count_like(label, getattr(theme, name), width=20) > 20


def test_card_and_window_have_their_colours(theme, card):
    label = QLabel("words")
    window = card(label)
    image = window.grab().toImage()
    assert image.pixelColor(2, image.height() // 2) == QColor(theme.window)
    assert image.pixelColor(image.width() // 2, image.height() - 14) == QColor(theme.panel)


def test_palette_speaks_for_what_no_sheet_reaches(qapp, theme):
    palette = qapp.palette()
    assert palette.color(QPalette.ColorRole.Window) == QColor(theme.window)
    assert palette.color(QPalette.ColorRole.Text) == QColor(theme.text)
    disabled = palette.color(QPalette.ColorGroup.Disabled, QPalette.ColorRole.ButtonText)
    assert disabled == QColor(theme.quiet)


def test_letters_are_not_small(qapp):
    apply_style(qapp, DARK)
    assert qapp.font().pointSizeF() >= LEAST_POINTS


def test_theme_can_change_while_the_window_is_shown(qapp, card):
    box = QCheckBox("Understood")
    window = card(box)
    for theme in (LIGHT, DARK, LIGHT):
        apply_style(qapp, theme)
        assert window.grab().toImage().pixelColor(2, 150) == QColor(theme.window)
        assert count_like(box, theme.border, width=18) > 10


@pytest.mark.parametrize(
    ("scheme", "theme"),
    [(Qt.ColorScheme.Dark, DARK), (Qt.ColorScheme.Light, LIGHT), (Qt.ColorScheme.Unknown, LIGHT)],
)
def test_scheme_of_the_system_chooses_the_theme(scheme, theme):
    assert theme_for(scheme) is theme


def test_theme_of_the_system_is_that_of_its_scheme(qapp):
    assert system_theme(qapp) is theme_for(qapp.styleHints().colorScheme())


def test_change_of_the_system_is_followed(qapp):
    seen = []
    follow_system(qapp, seen.append)
    qapp.styleHints().colorSchemeChanged.emit(Qt.ColorScheme.Dark)
    qapp.styleHints().colorSchemeChanged.emit(Qt.ColorScheme.Light)
    assert [theme_for(scheme) for scheme in seen] == [DARK, LIGHT]
