"""The window takes another language and the system's theme, and offers what it must."""

import gc
import weakref

import msgspec
import pytest
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QApplication, QPushButton

from acquire.values.units import ForceUnit
from ui.model.plan.plan import PlanDraft
from ui.model.plan.remembered import Remembered
from ui.model.theme import DARK, LIGHT
from ui.window import app
from ui.window.app import Shell
from ui.window.main_window import PLACES
from ui.window.stage.board import Board
from ui.window.stage.sound import Sound


@pytest.fixture
def shell(qapp, tmp_path, monkeypatch):
    monkeypatch.setattr(app, "Sound", lambda words: Sound(words, volume=0.0))
    shell = Shell(qapp, Remembered(tmp_path / "remembered.json"), PlanDraft(out=str(tmp_path / "s.h5")))
    yield shell
    shell.window.close()


def test_another_language_opens_the_window_anew_in_it(qtbot, shell):
    first = shell.window
    first.plan.edit(lambda draft: msgspec.structs.replace(draft, language="de"))
    qtbot.waitUntil(lambda: shell.window is not first)
    assert shell.window.words.language == "de"
    assert shell.window.plan.draft.language == "de"
    assert next(tab.text() for tab in shell.window.findChildren(QPushButton, "tab")) == "Planen"


def test_theme_of_the_system_is_followed(shell):
    first = shell.window
    other = LIGHT if shell._theme is DARK else DARK
    QApplication.styleHints().colorSchemeChanged.emit(Qt.ColorScheme.Light if other is LIGHT else Qt.ColorScheme.Dark)
    assert shell.window is not first
    assert shell._theme is other


@pytest.mark.slow
def test_shell_that_is_gone_is_forgotten_with_its_window(qapp, tmp_path):
    shell = Shell(qapp, Remembered(tmp_path / "remembered.json"), PlanDraft(out=str(tmp_path / "s.h5")))
    shell.window.close()
    gone = weakref.ref(shell)
    del shell
    gc.collect()
    assert gone() is None


def test_every_place_is_reached_by_the_keyboard_and_named(qtbot, shell):
    for number, place in enumerate(PLACES):
        qtbot.keyClick(shell.window, Qt.Key(Qt.Key.Key_1 + number), Qt.KeyboardModifier.ControlModifier)
        assert shell.window.place == place
    assert all(tab.accessibleName() for tab in shell.window.findChildren(QPushButton, "tab"))


@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080)])
def test_cue_and_number_are_a_tenth_of_the_height_at_least(shell, size):
    window = shell.window
    window.resize(*size)
    window.go("test")
    QApplication.processEvents()
    board = Board(window.words, DARK, ForceUnit.NEWTON)
    board.fit_window(window.height())
    board.resize(window.test.size())
    board.show()
    board.cue.show_cue("HOLD", "", "cue", 0.0)
    board.number.show_force("248", "N", heard="")
    for text in (board.cue.big, board.number.number):
        assert text.fitted.cap >= 0.1 * size[1]
    assert window.minimumSizeHint().width() <= 1280
    assert window.minimumSizeHint().height() <= 720


def test_space_in_a_text_field_is_a_space(qtbot, shell):
    shell.window.activateWindow()
    field = shell.window.plan.who.code
    field.setFocus()
    qtbot.keyClick(field, Qt.Key.Key_Space)
    assert shell.window.place == "plan"
    assert field.text() == " "
