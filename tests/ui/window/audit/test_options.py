"""What an audit may be asked for: that it names nobody, that it judges by another protocol."""

from importlib import resources

import pytest
from audit_window import codes, done, press, said
from PyQt6.QtCore import Qt
from PyQt6.QtWidgets import QLabel


def test_blind_audit_names_nobody_and_still_shows_the_curves(place, qtbot):
    press(qtbot, Qt.Key.Key_B, Qt.KeyboardModifier.ControlModifier)
    assert not place.body.isVisible()
    done(qtbot, place)
    assert codes(place)[0].startswith("examiner ")
    place.body.shares.opened.emit(1)
    done(qtbot, place)
    words = [label.text() for label in place.findChildren(QLabel)] + [place.body.page.toPlainText()]
    words += [place.body.archive.toPlainText(), *codes(place)]
    assert place.body.behind.read.trials
    assert not [text for text in words if "EX-" in text]
    assert not place.save.buttons["coach"].isEnabled()
    assert place.save.buttons["csv"].isEnabled()


@pytest.mark.slow
def test_blind_is_remembered(place, placed, qtbot):
    place.set_blind(True)
    done(qtbot, place)
    assert placed()._blind.isChecked()


@pytest.mark.slow
def test_protocols_are_offered_and_another_one_is_judged_by_when_asked(audited, tmp_path, qtbot):
    text = (resources.files("analysis") / "data/protocols/ramp-and-hold.toml").read_text(encoding="utf-8")
    own = tmp_path / "lenient.toml"
    own.write_text(text.replace('name = "ramp-and-hold"', 'name = "lenient"'))
    place = audited(pick=lambda *_: own)
    place._protocols.aboutToShow.emit()
    names = [action.text() for action in place._protocols.actions() if action.text()]
    assert "ramp-and-hold" in names
    place._protocols.actions()[-1].trigger()
    assert said(place._note) == "Chosen: lenient. Press Audit to judge by it."
    place.press()
    done(qtbot, place)
    assert "judged by lenient" in place._about.text()
    assert said(place._note) == ""
