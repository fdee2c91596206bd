"""The Plan place as a user meets it: by keyboard, in both languages."""

import pytest
from msgspec.structs import replace
from planned import DOWN, NOW, SPACE, TAB, cell, shown, typed
from PyQt6.QtCore import QRect, Qt
from PyQt6.QtWidgets import QAbstractButton, QApplication, QComboBox, QLabel, QLineEdit, QSpinBox

from acquire.values.records import Person
from ui.model.plan.checks import problems
from ui.model.plan.plan import contexts_of
from ui.model.plan.problems import ProblemCode
from ui.model.theme import DARK, LIGHT
from ui.window.plan.table import ACTION
from ui.words.words import Words, languages

# a session planned without a mouse


@pytest.mark.slow
@pytest.mark.parametrize("language", languages())
def test_plan_is_filled_and_begun_by_keyboard(qtbot, placed, tmp_path, language):
    place = placed(language)
    place.setFocus()
    assert QApplication.focusWidget() is place.who.code
    begun = []
    place.begin.connect(begun.append)
    typed(qtbot, "P-014", TAB, DOWN, TAB, "34", TAB, "61,5", TAB, "168", TAB, DOWN, DOWN, TAB, TAB, "X01", TAB, "260")
    while QApplication.focusWidget() is not place.last.understood:
        typed(qtbot, TAB)
    typed(qtbot, SPACE, TAB, SPACE)
    (draft,) = begun
    assert draft.person == Person(
        code="P-014", sex="female", age_years=34.0, mass_kg=61.5, height_m=1.68, dominant_side="right"
    )
    assert (draft.examiner, draft.examiner_limit_n, draft.limit_measured) == ("X01", 260.0, False)
    assert (draft.cautions_acknowledged, draft.language) == (NOW, language)
    assert draft.out == str(tmp_path / "ramphold" / "P-014_2026-03-02_0905.h5")
    assert (tmp_path / "ramphold").is_dir()
    assert problems(draft) == ()
    assert len(contexts_of(draft)) == 26


def test_tab_goes_through_everything_once_and_comes_round(qtbot, place):
    place.show_draft(replace(place.draft, port="COM3", sensor="bridge-80"))  # or the simulated sensor's are passed by
    place.setFocus()
    turns = []
    for _ in place.in_turn():
        turns.append(QApplication.focusWidget())
        typed(qtbot, TAB)
    assert [_owner(place, widget) for widget in turns] == place.in_turn()
    assert QApplication.focusWidget() is place.who.code


def _owner(place, widget):
    return next((field for field in place.in_turn() if field is widget or field.isAncestorOf(widget)), widget)


def test_every_field_has_a_name_and_its_label_is_its_buddy(place):
    fields = [w for w in place.in_turn() if isinstance(w, QLineEdit | QComboBox | QSpinBox)]
    buddies = [label.buddy() for label in place.findChildren(QLabel) if label.buddy() is not None]
    assert set(fields) <= set(buddies)
    for widget in place.in_turn():
        name = widget.accessibleName() or (widget.text() if isinstance(widget, QAbstractButton) else "")
        assert name
        assert "&" not in widget.accessibleName()


def test_letter_of_a_label_goes_to_its_field(qtbot, place):
    qtbot.keyClick(place, Qt.Key.Key_M, Qt.KeyboardModifier.AltModifier)
    assert place.who.mass.hasFocus()


# what keeps it from beginning


def test_begin_is_blocked_until_the_cautions_are_acknowledged(qtbot, place, good):
    place.show_draft(replace(good, cautions_acknowledged=None))
    with qtbot.assertNotEmitted(place.begin):
        place.press()
    assert place.last.understood.hasFocus()
    assert place.last.status.text() == "! Still open: the cautions, to be read and acknowledged"
    assert place.last.status.font().bold()
    typed(qtbot, SPACE)
    assert place.draft.cautions_acknowledged == NOW
    assert place.last.status.text() == "All is there: begin."
    with qtbot.waitSignal(place.begin) as begun:
        place.press()
    assert begun.args[0].person.code == "P-014"


def test_cautions_taken_back_block_again(qtbot, place, good):
    place.show_draft(good)
    place.last.understood.setFocus()
    typed(qtbot, SPACE)
    assert [problem.code for problem in problems(place.draft)] == [ProblemCode.CAUTIONS]


@pytest.mark.parametrize("language", languages())
def test_cautions_are_all_to_be_read(placed, language):
    place = placed(language)
    said = [label.text() for label in place.last.findChildren(QLabel)]
    for key in ("pain", "breath", "injury", "clearance", "belt", "rules"):
        assert Words(language)(f"caution.{key}") in said


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"person": Person()}, "who.code"),
        ({"person": Person(code="P", age_years=200.0)}, "who.age"),
        ({"person": Person(code="P", mass_kg=900.0)}, "who.mass"),
        ({"person": Person(code="P", height_m=0.17)}, "who.stature"),
        ({"examiner": ""}, "who.examiner"),
        ({"examiner_limit_n": 0.0}, "who.limit"),
        ({"rest_s": 30.0}, "what.rest"),
        ({"trials": 0}, "what.trials"),
        ({"sides": ()}, "what.sides"),
        ({"battery": "own"}, "what.table"),
        ({"battery": "nowhere.toml"}, "what.battery"),
        ({"port": "COM3", "sensor": ""}, "sensor.sensor"),
        ({"port": "COM3", "sensor": "nowhere"}, "sensor.sensor"),
        ({"port": "", "sensor": "bridge-80"}, "sensor.port"),
        ({"port": "COM3", "sensor": "bridge-80", "calibration": "nowhere.toml"}, "sensor.calibration"),
        ({"protocol": "nowhere.toml"}, "sensor.protocol"),
        ({"out": " "}, "sensor.out"),
        ({"out": "/nowhere/at/all/p.h5"}, "sensor.out"),
    ],
)
def test_press_goes_to_the_first_thing_missing_and_says_what(qtbot, place, good, change, field):
    place.show_draft(replace(good, **change))
    place.last.begin.setFocus()
    with qtbot.assertNotEmitted(place.begin):
        place.press()
    card, name = field.split(".")
    wanted = getattr(getattr(place, card), name)
    assert _owner(place, QApplication.focusWidget()) is wanted
    assert place.last.status.text().startswith("! Still open: ")


def test_press_goes_to_the_first_lever_arm_that_is_missing(place, good):
    arms = {"shoulder-flexion": {"left": 0.25, "right": 0.25}, "shoulder-extension": {"left": 0.25}}
    place.show_draft(replace(good, want_torque=True, lever_arms=arms))
    place.press()
    assert place.what.table.hasFocus()
    assert place.what.table.currentIndex() == cell(place, "shoulder-extension", "right")
    assert shown(place, "shoulder-extension", "right") == "missing"


def test_folder_that_cannot_be_made_is_said(qtbot, place, good, tmp_path):
    place.show_draft(replace(good, out=str(tmp_path / "new" / "p.h5")))
    (tmp_path / "new").symlink_to(tmp_path / "gone")  # neither there, nor can it be made
    with qtbot.assertNotEmitted(place.begin):
        place.press()
    assert "its folder cannot be made" in place.last.status.text()


def test_trouble_of_a_session_is_shown_and_gone_with_the_next_edit(place, good):
    place.show_draft(good)
    place.show_trouble("there is no port COM3")
    assert place.last.status.text() == "! there is no port COM3"
    place.edit(lambda draft: replace(draft, trials=4))
    assert place.last.status.text() == "All is there: begin."


# the look


LOOKS = [(language, theme) for language in languages() for theme in (LIGHT, DARK)]


@pytest.mark.parametrize("look", LOOKS, ids=lambda look: f"{look[0]}-{look[1].name}")
@pytest.mark.parametrize("size", [(1280, 670), (1920, 1020)], ids=["720", "1080"])
def test_nothing_is_cut(qtbot, placed, good, look, size):
    language, theme = look
    place = placed(language, theme=theme)
    draft = replace(good, want_torque=True, port="/dev/ttyACM7", sensor="bridge-80", language=language)
    place.show_draft(replace(draft, person=Person(code="Maria")))
    place.press()
    place.resize(*size)
    qtbot.waitUntil(lambda: cut(place) == [])
    assert (place.width(), place.height()) == size


def cut(place):
    """Return the texts that are not whole, and the fields that are not all there."""
    found = []
    for label in place.findChildren(QLabel):
        if label.isVisible() and label.text():
            needed = label.heightForWidth(label.width()) if label.wordWrap() else label.sizeHint().height()
            if label.width() < label.minimumSizeHint().width() or label.height() < needed:
                found.append(label.text())
    for widget in place.in_turn():
        area = QRect(widget.mapTo(place, widget.rect().topLeft()), widget.size())
        if not place.rect().contains(area) or widget.height() < widget.minimumSizeHint().height():
            found.append(widget.accessibleName())
    return found


@pytest.mark.parametrize("language", languages())
def test_names_of_actions_are_whole_beside_lever_arms(qtbot, placed, good, language):
    place = placed(language)
    place.show_draft(replace(good, want_torque=True))
    place.press()
    table = place.what.table
    qtbot.waitUntil(lambda: table.columnWidth(ACTION) >= table.sizeHintForColumn(ACTION))
