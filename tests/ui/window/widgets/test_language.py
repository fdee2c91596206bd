"""Qt speaks the language of the window: its buttons, and the decimal sign of its fields and charts."""

from datetime import UTC, datetime

import pytest
from PyQt6.QtCore import QLocale
from PyQt6.QtWidgets import QDialogButtonBox, QDoubleSpinBox, QInputDialog

from ui.model.theme import LIGHT
from ui.window.widgets.chart import Chart, DateAxis
from ui.window.widgets.language import speak

Button = QDialogButtonBox.StandardButton


@pytest.fixture
def speaking(qapp):
    qapp.processEvents()
    before = QLocale()
    yield speak
    speak("en")
    QLocale.setDefault(before)


# CLDR 45, "de": the decimal sign of German numbers is a comma.
@pytest.mark.parametrize(("language", "cancel", "half"), [("de", "Abbrechen", "0,5"), ("en", "Cancel", "0.5")])
def test_qt_speaks_the_language_of_the_window(speaking, qtbot, language, cancel, half):
    speaking(language)
    buttons, field, chart = QDialogButtonBox(Button.Cancel), QDoubleSpinBox(), Chart(LIGHT, bottom="s", left="N")
    for widget in (buttons, field, chart):
        qtbot.addWidget(widget)
    field.setDecimals(1)
    field.setValue(0.5)
    axis = chart.getPlotItem().getAxis("left")
    assert buttons.button(Button.Cancel).text().replace("&", "") == cancel
    assert field.text() == half
    assert axis.tickStrings([0.5], 1.0, 0.1) == [half]


@pytest.mark.parametrize("language", ["de", "en"])
def test_buttons_of_qts_dialogs_are_whole(speaking, qtbot, language):
    speaking(language)
    dialog = QInputDialog()
    dialog.setInputMode(QInputDialog.InputMode.DoubleInput)
    qtbot.addWidget(dialog)
    dialog.show()
    for button in dialog.findChild(QDialogButtonBox).buttons():
        needed = button.fontMetrics().horizontalAdvance(button.text().replace("&", ""))
        assert button.width() >= needed + 24  # the padding of the style, twice 12 pixels


@pytest.mark.parametrize(("language", "may"), [("de", "Mai"), ("en", "May")])
def test_months_of_charts_are_those_of_the_language(speaking, qtbot, language, may):
    speaking(language)
    axis = DateAxis("bottom", utcOffset=0)
    chart = Chart(LIGHT, bottom="date", left="N", axes={"bottom": axis})
    qtbot.addWidget(chart)
    chart.resize(900, 300)
    first, middle, last = (datetime(2026, month, 1, tzinfo=UTC).timestamp() for month in (1, 5, 9))
    chart.setXRange(first, last)
    chart.grab()  # the axis knows its density once it is painted
    assert axis.tickStrings([middle], 1.0, 2_592_000.0) == [may]
