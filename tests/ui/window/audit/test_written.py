"""Tables, pages and coaching sheets of an audit, written where the user says."""

import csv
import json

import pytest
from audit_window import done, said
from pypdf import PdfReader
from PyQt6.QtWidgets import QFileDialog

from ui.window.audit.ask import pick_target
from ui.window.widgets.ask import pick_folder


@pytest.mark.slow
def test_tables_json_pages_and_coaching_sheet_are_written(audited, tmp_path, qtbot):
    (tmp_path / "out").mkdir()
    place = audited(
        folder=lambda *_: tmp_path / "out" / "tables",
        target=lambda _parent, _title, start, _kinds: tmp_path / "out" / start.name,
    )
    for kind, file in (("json", "audit.json"), ("pdf", "audit.pdf"), ("coach", "coaching-EX-1.pdf"), ("csv", "tables")):
        place.save.buttons[kind].click()
        done(qtbot, place)
        assert place.save.said == f"Written: {tmp_path / 'out' / file}"
    assert json.loads((tmp_path / "out" / "audit.json").read_text())["sessions"] == 34
    assert "Audit of examiners" in PdfReader(tmp_path / "out" / "audit.pdf").pages[0].extract_text()
    assert "EX-1" in PdfReader(tmp_path / "out" / "coaching-EX-1.pdf").pages[0].extract_text()
    with (tmp_path / "out" / "tables" / "examiners.csv").open() as file:
        assert {row["examiner"] for row in csv.DictReader(file)} == {"EX-1", "EX-2", "EX-3", "EX-4", "EX-10"}


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["csv", "json", "pdf", "coach"])
def test_what_cannot_be_written_is_told(audited, tmp_path, qtbot, kind):
    (tmp_path / "file").write_text("in the way")
    wrong = tmp_path / "file" / "inside"
    place = audited(folder=lambda *_: wrong, target=lambda *_: wrong)
    place.save.buttons[kind].click()
    done(qtbot, place)
    assert str(wrong) in said(place._message)
    assert place.save.said == ""


def test_nothing_is_written_where_nothing_is_picked(audited):
    place = audited(folder=lambda *_: None, target=lambda *_: None)
    for button in place.save.buttons.values():
        button.click()
    assert not place.busy
    assert place.save.said == ""


def test_dialogs_give_paths(placed, monkeypatch, tmp_path):
    place = placed()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: str(tmp_path))
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "a.pdf"), ""))
    assert pick_folder(place, "", tmp_path) == tmp_path
    assert pick_target(place, "", tmp_path, "") == tmp_path / "a.pdf"
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_: "")
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    assert pick_folder(place, "", tmp_path) is pick_target(place, "", tmp_path, "") is None
