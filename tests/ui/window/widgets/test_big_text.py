"""Text that fits its place, measured with the metrics of the font that it is painted with."""

import pytest
from PyQt6.QtGui import QFont, QFontMetricsF

from ui.window.widgets.big_text import NARROWEST, BigText, fitting, pitch_of, sized

pytestmark = pytest.mark.usefixtures("qapp")

PLACES = [(900.0, 300.0), (400.0, 90.0), (180.0, 300.0), (90.0, 30.0)]


@pytest.mark.parametrize("text", ["GO", "IN PLACE?", "NULLPUNKT VERSCHOBEN", "ÜBERSCHWUNGEN", "1234 N", "keep pushing"])
@pytest.mark.parametrize(("width", "height"), PLACES)
def test_text_fits_its_place(text, width, height):
    font = QFont()
    font.setBold(True)
    found = fitting(text, font, width=width, height=height, cap=160.0)
    metrics = QFontMetricsF(sized(font, found.pixels))
    assert " ".join(found.lines) == text
    assert NARROWEST - 1e-9 <= found.narrowed <= 1.0
    assert all(found.narrowed * metrics.horizontalAdvance(line) <= width + 1.0 for line in found.lines)
    tall = sum(metrics.tightBoundingRect(line).height() for line in found.lines[:1])
    assert tall + pitch_of(found.lines) * metrics.capHeight() * (len(found.lines) - 1) <= height + 2.0
    assert metrics.capHeight() <= 160.0 + 1.0


def test_text_is_as_large_as_is_wanted_where_there_is_room():
    assert fitting("GO", QFont(), width=2000.0, height=400.0, cap=120.0).cap == pytest.approx(120.0, abs=1.0)


def test_letters_are_narrowed_before_they_are_made_smaller():
    font = QFont()
    wide = QFontMetricsF(sized(font, 100.0)).horizontalAdvance("HALTEN")
    found = fitting("HALTEN", font, width=0.8 * wide, height=500.0, cap=QFontMetricsF(sized(font, 100.0)).capHeight())
    assert (found.pixels, found.narrowed) == (pytest.approx(100.0, abs=1.0), pytest.approx(0.8, abs=0.02))


def test_words_go_over_two_lines_where_that_makes_them_larger():
    found = fitting("BEREIT MACHEN", QFont(), width=300.0, height=400.0, cap=100.0)
    assert found.lines == ("BEREIT", "MACHEN")


def test_screen_reader_hears_a_text_as_it_changes(qtbot):
    text = BigText("#000000", name="what to do now")
    qtbot.addWidget(text)
    text.show_text("HOLD")
    assert text.accessibleName() == "what to do now: HOLD"
    text.show_text("207", heard="207 newtons")
    assert text.accessibleName() == "207 newtons"
