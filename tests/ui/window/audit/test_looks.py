"""The place Audit in both languages and themes and at every size: nothing is cut, everything has a name."""

import pytest
from PyQt6.QtWidgets import QAbstractButton, QApplication, QLabel

from ui.model.theme import DARK, LIGHT
from ui.words.words import Words, languages


@pytest.mark.slow
@pytest.mark.parametrize("size", [(1280, 668), (1920, 1028)], ids=["720", "1080"])
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_nothing_is_cut(audited, theme, language, size):
    place = audited(language, theme=theme, size=size)
    place.body.said.show_view("shares")
    QApplication.processEvents()
    assert (place.width(), place.height()) == size
    assert place.minimumSizeHint().width() <= size[0]
    for button in place.findChildren(QAbstractButton):
        if button.isVisible() and button.text():
            assert button.width() >= button.sizeHint().width(), button.text()
    for label in place.findChildren(QLabel):
        if label.isVisible() and label.wordWrap():
            assert label.height() >= label.heightForWidth(label.width()), label.text()
    for table in (place.body.table, place.body.shares):
        assert table.horizontalScrollBar().maximum() == 0
        heads = table.horizontalHeader()
        for column in range(table.columnCount()):
            wanted = heads.fontMetrics().horizontalAdvance(table.horizontalHeaderItem(column).text())
            assert heads.sectionSize(column) >= wanted, table.horizontalHeaderItem(column).text()


@pytest.mark.parametrize("language", languages())
def test_first_page_is_not_cut(placed, language):
    place = placed(language)
    QApplication.processEvents()
    assert place._hint.height() >= place._hint.heightForWidth(place._hint.width())
    assert place._first.text() == Words(language)("audit.choose")


def test_everything_has_a_name_for_those_who_do_not_see_it(place):
    body = place.body
    for widget in (body.table, body.shares, body.page, body.archive, body.funnel, *body.courses.values(), place._bar):
        assert widget.accessibleName()
