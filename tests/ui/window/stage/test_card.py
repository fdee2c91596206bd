"""The card and its figure as they are seen: nothing cut, nothing over anything else, every mark in the picture."""

import msgspec
import pytest
from PyQt6.QtCore import QRect
from PyQt6.QtGui import QColor, QFontMetrics
from PyQt6.QtWidgets import QLabel, QWidget

from acquire.values.records import TrialContext
from analysis.battery.actions import load_actions
from ui.model.theme import DARK, LIGHT
from ui.window.stage.card import FIGURE_SHARE, ActionCard, Sign
from ui.window.stage.figure_view import FigureView
from ui.window.widgets.style import apply_style
from ui.words.words import Words, languages

ACTIONS = load_actions()
SIZES = ((300, 430), (420, 800), (250, 460), (900, 500))

every_action = pytest.mark.parametrize("key", ACTIONS)
every_language = pytest.mark.parametrize("language", languages())
both_themes = pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)


@pytest.fixture
def card_for(qtbot, qapp):
    def make(key, language="en", size=(300, 430), theme=DARK):
        apply_style(qapp, theme)
        card = ActionCard(Words(language), theme)
        qtbot.addWidget(card)
        card.resize(*size)
        action = ACTIONS.get(key)
        card.show_context(TrialContext(action=key, side="left", method="belt"), action)
        card.show()
        return card

    return make


def seen(card):
    """Return the parts of the card that show something."""
    parts = card.findChildren(QWidget)
    return [part for part in parts if part.isVisible() and not (isinstance(part, QLabel) and not part.text())]


def texts(card):
    return [label.text() for label in card.findChildren(QLabel) if label.isVisible()]


@pytest.mark.parametrize("size", SIZES)
@every_language
@every_action
def test_nothing_is_cut_at_any_size(card_for, key, language, size):
    card = card_for(key, language, size)
    for label in card.findChildren(QLabel):
        assert label.heightForWidth(label.width()) <= label.height(), label.text()
        longest = max(QFontMetrics(label.font()).horizontalAdvance(word) for word in label.text().split())
        assert longest <= label.width(), label.text()
    for part in seen(card):
        assert card.rect().contains(part.geometry()), part.geometry()


@pytest.mark.parametrize("size", SIZES)
@every_language
@every_action
def test_nothing_lies_over_anything_else(card_for, key, language, size):
    card = card_for(key, language, size)
    places = [part.geometry() for part in seen(card)]
    for at, one in enumerate(places):
        assert not any(one.intersects(other) for other in places[at + 1 :])


@pytest.mark.parametrize("size", SIZES[:2])
@every_language
@every_action
def test_figure_keeps_its_share(card_for, key, language, size):
    card = card_for(key, language, size)
    assert card.figure.height() >= (FIGURE_SHARE - 0.01) * card.height()


@every_action
def test_letters_grow_with_the_card(card_for, key):
    card = card_for(key, size=(300, 430))
    small = [label.font().pixelSize() for label in card.findChildren(QLabel)]
    card.resize(420, 800)
    large = [label.font().pixelSize() for label in card.findChildren(QLabel)]
    assert min(small) >= 12
    assert all(big >= 1.4 * little for little, big in zip(small, large, strict=True))


def test_card_says_all_of_the_action(card_for):
    card = card_for("knee-extension")
    shown = texts(card)
    assert shown[0] == "left, seated, belt"
    for expected in ("limb", "pad", "push", "stabilisation", "say", "front of the lower leg, just above the ankle"):
        assert expected in shown


def test_card_in_german(card_for):
    card = card_for("knee-extension", "de")
    assert "Vorderseite des Unterschenkels, dicht über dem Knöchel" in texts(card)


def test_action_without_a_file_leaves_no_words_of_the_last_one(card_for):
    card = card_for("knee-extension")
    card.show_context(TrialContext(action="toe-tap", side="right"), None)
    assert texts(card) == ["right, by hand", "say", Words("en")("test.script")]
    assert card.figure.drawing is None


def test_text_of_a_file_is_shown_as_it_is_not_as_markup(card_for):
    card = card_for("knee-extension")
    odd = msgspec.structs.replace(ACTIONS["knee-extension"], limb="<b>knee</b>")
    card.show_context(TrialContext(action="knee-extension", side="left"), odd)
    assert "<b>knee</b>" in texts(card)
    label = next(label for label in card.findChildren(QLabel) if label.text() == "<b>knee</b>")
    assert label.heightForWidth(label.width()) <= label.height()


def test_card_and_figure_speak_to_a_screen_reader(card_for):
    card = card_for("knee-flexion")
    assert card.accessibleName() == "Card of the action"
    assert card.figure.accessibleName() == "Figure of the position"
    assert "heel backwards, under the seat" in card.figure.accessibleDescription()


@both_themes
def test_rows_carry_the_signs_of_the_figure(card_for, theme):
    card = card_for("knee-flexion", theme=theme)
    signs = [sign for sign in card.findChildren(Sign) if sign.isVisible()]
    shown = [{c for c in (theme.warn, theme.curve, theme.good) if pixels(sign, c)} for sign in signs]
    assert shown == [set(), {theme.warn}, {theme.curve}, {theme.good}, set()]


# the figure


@pytest.fixture
def figure_for(qtbot):
    def make(key, theme=DARK, size=(280, 200), side="right"):
        view = FigureView(theme)
        qtbot.addWidget(view)
        view.resize(*size)
        view.setStyleSheet(f"background: {theme.panel};")
        view.show_action(ACTIONS.get(key), side)
        return view

    return make


def pixels(view, colour):
    """Return where a picture has a colour."""
    image = view.grab().toImage()
    wanted = QColor(colour).rgb()
    return [(x, y) for x in range(image.width()) for y in range(image.height()) if image.pixel(x, y) == wanted]


def middle(spots):
    return tuple(sum(axis) / len(spots) for axis in zip(*spots, strict=True))


@both_themes
@every_action
def test_limb_pad_push_and_steady_marks_are_in_the_picture(figure_for, key, theme):
    view = figure_for(key, theme)
    for colour in (theme.text, theme.warn, theme.curve, theme.good):
        assert len(pixels(view, colour)) >= 5, colour


def test_pad_of_knee_extension_is_before_the_shin_and_the_push_before_the_pad(figure_for):
    view = figure_for("knee-extension")
    pad, push = middle(pixels(view, DARK.warn)), middle(pixels(view, DARK.curve))
    assert push[0] > pad[0]
    assert abs(push[1] - pad[1]) < 3


def test_left_side_is_mirrored(figure_for):
    right = middle(pixels(figure_for("knee-extension"), DARK.warn))
    left = middle(pixels(figure_for("knee-extension", side="left"), DARK.warn))
    assert left[0] == pytest.approx(279 - right[0], abs=2)
    assert left[1] == pytest.approx(right[1], abs=2)


@pytest.mark.parametrize("size", [(60, 40), (280, 200), (900, 300), (200, 700)])
def test_figure_fills_the_room_it_has(figure_for, size):
    view = figure_for("hip-flexion", size=size)
    left, top, right, bottom = view.drawing.box
    scale = min(size[0] / (right - left), size[1] / (bottom - top))
    spots = [(x, y) for colour in (DARK.edge, DARK.text) for x, y in pixels(view, colour)]
    extent = QRect(*map(min, zip(*spots, strict=True)), 1, 1)
    for x, y in spots:
        extent = extent.united(QRect(x, y, 1, 1))
    assert extent.width() == pytest.approx(scale * (right - left), abs=3 + 0.02 * size[0])
    assert view.rect().contains(extent)


def test_no_action_is_an_empty_picture(figure_for):
    view = figure_for(None)
    image = view.grab().toImage()
    assert len({image.pixel(x, y) for x in range(0, 280, 7) for y in range(0, 200, 5)}) == 1


def test_a_figure_without_room_is_no_error(figure_for):
    for size in ((0, 0), (1, 1), (300, 1)):
        assert not figure_for("elbow-flexion", size=size).grab().isNull() or size == (0, 0)
