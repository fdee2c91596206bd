"""Audit: an empty place that says so."""

import pytest
from PyQt6.QtWidgets import QLabel

from ui.model.theme import DARK, LIGHT
from ui.model.words import Words, languages
from ui.window.audit_place import AuditPlace
from ui.window.style import apply_style


@pytest.mark.parametrize("size", [(1280, 668), (1920, 1028)], ids=["720", "1080"])
@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("theme", [DARK, LIGHT], ids=lambda theme: theme.name)
def test_place_says_what_will_be_there_and_nothing_is_cut(qtbot, qapp, theme, language, size):
    apply_style(qapp, theme)
    words = Words(language)
    place = AuditPlace(words, theme)
    qtbot.addWidget(place)
    place.resize(*size)
    place.show()
    qtbot.waitExposed(place)
    labels = [label for label in place.findChildren(QLabel) if label.text()]
    assert [label.text() for label in labels] == [
        words(f"audit.{key}") for key in ("title", "what", "like", "time", "until")
    ]
    qtbot.waitUntil(lambda: all(label.height() >= label.heightForWidth(label.width()) for label in labels))
    assert place.width() == size[0]


def test_press_does_nothing(qtbot):
    place = AuditPlace(Words("en"), LIGHT)
    qtbot.addWidget(place)
    place.press()
    assert place.accessibleName() == "Audit comes later"
