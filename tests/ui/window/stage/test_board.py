"""Test as it is read from three metres: every text measured in its panel, at every size, scaling and language.

25 mm for a capital letter is what the people who work with it asked for; a screen's millimetres follow from its
diagonal (1920 by 1080 at 15.6 inches: 5.56 pixels a millimetre).
"""

import math

import pytest

from acquire.values.units import ForceUnit
from analysis.battery.actions import in_language, load_actions
from analysis.trial.faults import CODES
from ui.model.theme import DARK
from ui.session.cues import Cue
from ui.window.stage.board import Board
from ui.words.words import Words, languages

MARGIN, FOOT = 18, 80
"""Beside the board, and what tabs and status line take from its height."""
SIZES = [(1280, 720), (1366, 768), (1920, 1080)]
SCALES = [1.0, 1.25, 1.5, 2.0]
CAP_MM = 25.0
FROM_AFAR = [Cue.PLACE, Cue.SET, Cue.GO, Cue.BUILD, Cue.HOLD, Cue.STOP, Cue.HALTED, Cue.REST, Cue.PAUSED, Cue.DONE]


def pixels_per_mm(width, height, inches):
    return math.hypot(width, height) / (25.4 * inches)


@pytest.fixture
def board_at(qtbot):
    def make(width, height, language="en"):
        board = Board(Words(language), DARK, ForceUnit.NEWTON)
        qtbot.addWidget(board)
        board.fit_window(height)
        board.resize(width - 2 * MARGIN, height - FOOT)
        board.show()
        return board

    return make


def fits(text):
    found = text.fitted
    return found is None or (found.width <= text.width() + 1.0 and found.cap <= text.height())


@pytest.mark.parametrize("inches", [14.0, 15.6, 16.0])
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("size", SIZES)
def test_cue_and_number_can_be_read_from_three_metres(board_at, size, language, inches):
    words, board = Words(language), board_at(*size, language)
    millimetre = pixels_per_mm(*size, inches)
    board.number.show_force("248", "newtons", heard="")
    caps = {"248": board.number.number.fitted.cap / millimetre}
    for cue in FROM_AFAR:
        board.cue.show_cue(words(f"cue.{cue.value}"), "", "cue", 0.0)
        caps[cue.value] = board.cue.big.fitted.cap / millimetre
    least = CAP_MM if inches > 14.0 else 0.88 * CAP_MM
    assert {text: round(cap, 1) for text, cap in caps.items() if cap < least - 0.5} == {}


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("size", SIZES)
def test_every_text_fits_its_panel(board_at, size, language, scale):
    words, board = Words(language), board_at(round(size[0] / scale), round(size[1] / scale), language)
    for cue in Cue:
        board.cue.show_cue(words(f"cue.{cue.value}"), words("test.rest_least", seconds=59.0), "cue", 0.5)
        assert fits(board.cue.big), cue
        assert fits(board.cue.below), cue
    for code in CODES:
        board.cue.show_cue(words(f"verdict.word.{code}"), words(f"verdict.advice.{code}"), "warn", 0.0)
        assert fits(board.cue.big), code
        assert fits(board.cue.below), code
    for number in ("0", "248", "1234", "-12"):
        board.number.show_force(number, words("test.newtons"), heard="")
        assert fits(board.number.number), number
        assert fits(board.number.unit)
    for action in load_actions().values():
        for side in ("left", "right"):
            name = in_language(action, language).name
            board.side.show_limb(side, word=words(f"test.{side}").upper(), action=name, method=words("test.hand"))
            assert fits(board.side.side)
            assert fits(board.side.action), name
            assert fits(board.side.method)


def test_longer_message_moves_nothing(board_at, qapp):
    board = board_at(1366, 768)
    before = board.trace.geometry(), board.cue.big.geometry(), board.trials.geometry()
    board.cue.show_cue("GO", "a message that is very much longer than what stood there before " * 3, "cue", 0.0)
    board.layout().activate()
    qapp.processEvents()
    assert (board.trace.geometry(), board.cue.big.geometry(), board.trials.geometry()) == before
